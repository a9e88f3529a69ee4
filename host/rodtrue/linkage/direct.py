"""The direct layout: one slotted rod between the throttle's pin and the transmission's lever.

Loop closure along the rod: pin travel, plus the rod's length from the slot's rear end to the lever,
less the lever end's travel, is constant. A rod longer by 1 mm so moves the lever by 1 mm at every pin
travel: errors at the adjuster and at the driving end are equal. The angle between sensor axis and rod
and the pin's arc are left to the uncertainty budget.

Signs: pin travel is 0 at curb idle and positive towards wide open; a rod error is positive for a rod
longer than exact. Lever travel is 0 on the lever's own stop and is never negative.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def lever_start_mm(rod_error_mm: float) -> float:
    """Return the pin travel at which the lever leaves its stop; negative where it has left already."""
    return 0.0 - rod_error_mm


def lever_travel_mm(
    pin_travel_mm: ArrayLike,
    rod_error_mm: float,
    *,
    hooked: bool = True,
    lever_full_mm: float = math.inf,
) -> Array:
    """Return the lever's travel for the pin's, both in mm at the driving end, shape as given.

    The pin pushes the rear end of the slot and cannot pull: a short rod leaves a gap that the pin
    crosses first. Unhooked, the rod moves nothing and the lever stays on its stop.
    lever_full_mm: where the lever meets its full-travel stop.
    """
    pin = np.asarray(pin_travel_mm, dtype=np.float64)
    if not hooked:
        return np.zeros_like(pin)
    return np.clip(pin + rod_error_mm, 0.0, lever_full_mm)


def pin_travel_at_lever_mm(lever_mm: float, rod_error_mm: float) -> float:
    """Return the pin travel that brings the lever to `lever_mm` (above 0), such as the kickdown detent."""
    return lever_mm - rod_error_mm


def pin_limits_mm(
    rod_error_mm: float, *, slot_length_mm: float, lever_full_mm: float, hooked: bool = True
) -> tuple[float, float]:
    """Return the least and greatest pin travel that the rod allows, in mm; infinite where it sets none.

    Hooked, a rod shorter than the slot can take up holds the pin off its idle stop with the slot's
    front end, and a long one brings the lever to its full-travel stop early. Unhooked, nothing does.
    """
    if not hooked:
        return -math.inf, math.inf
    held_off_mm = -rod_error_mm - slot_length_mm
    return held_off_mm if held_off_mm > 0.0 else -math.inf, lever_full_mm - rod_error_mm


def length_change_mm(rod_error_mm: float) -> float:
    """Return the change of rod length at the adjuster that cancels a rod error, in mm.

    Positive: lengthen. Equal and opposite to the error, by loop closure.
    """
    return 0.0 - rod_error_mm


def adjuster_turns(change_mm: float, pitch_mm: float | None) -> float | None:
    """Return the turns of the adjuster for a change of length; None for a slip joint, which has no thread.

    pitch_mm: change of rod length for one turn.
    """
    return None if pitch_mm is None else change_mm / pitch_mm
