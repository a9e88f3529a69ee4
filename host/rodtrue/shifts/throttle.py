"""Throttle pressure against throttle opening, for a rod that is exact, long or short."""

from __future__ import annotations

from rodtrue.linkage import direct
from rodtrue.model.shifts import ThrottlePressure


def lever_travel_mm(travel_mm: float, rod_error_mm: float) -> float:
    """Return the lever's travel at a pin travel, both as equivalents at the driving end, in mm.

    The rod error is such an equivalent already, whatever the layout, so that it adds to the travel. With bell
    cranks that holds at the lever start; up to full travel it is within 0.2 mm for errors up to 4 mm on the
    shipped drawings.
    """
    return float(direct.lever_travel_mm(travel_mm, rod_error_mm))


def pressure_at_lever_kpa(throttle: ThrottlePressure, lever_mm: float, lever_free_mm: float = 0.0) -> float:
    """Return the throttle pressure at a lever travel, in kPa, without friction, lag or ripple.

    lever_free_mm: lever travel before pressure rises.
    """
    loaded_mm = max(lever_mm - lever_free_mm, 0.0)
    pressure = min(throttle.baseline_kpa + throttle.slope_kpa_per_mm * loaded_mm, throttle.plateau_kpa)
    if not is_past_detent(throttle, lever_mm):
        return pressure
    return min(pressure + throttle.detent_slope_kpa_per_mm * (lever_mm - throttle.detent_mm), throttle.full_kpa)


def is_past_detent(throttle: ThrottlePressure, lever_mm: float) -> bool:
    """Say whether the lever has opened the kickdown detent."""
    return lever_mm >= throttle.detent_mm
