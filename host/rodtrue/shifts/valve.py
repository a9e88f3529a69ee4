"""The 2-3 shift valve: the governor pressure at which it goes up, and at which it comes back, and why."""

from __future__ import annotations

from typing import Literal

from rodtrue.model.shifts import ShiftValve
from rodtrue.shifts.balance import balancing_pressure_kpa, pressure_force_n, spring_force_n

Cause = Literal["spring", "part-throttle plug", "kickdown plug"]
"""What pushes the valve back to second."""


def upshift_governor_kpa(valve: ShiftValve, throttle_kpa: float) -> float:
    """Return the governor pressure above which the valve leaves second, in kPa.

    Governor pressure on its area in second against throttle pressure on the valve's face and the spring.
    """
    return balancing_pressure_kpa(
        valve.governor_area_second_mm2,
        pressure_force_n(throttle_kpa, valve.throttle_area_mm2),
        valve.spring_preload_n,
    )


def downshift_governor_kpa(valve: ShiftValve, throttle_kpa: float, past_detent: bool) -> tuple[float, Cause]:
    """Return the governor pressure below which the valve leaves third, in kPa, and what pushes it.

    In third throttle pressure is cut off from the valve's face, and governor pressure acts on the larger
    area. The plugs lie behind the spring: one that pushes harder than the spring takes its place, one
    that does not rests on its stop. The kickdown plug is fed past the detent only.
    """
    pushes: list[tuple[float, Cause]] = [
        (spring_force_n(valve.spring_preload_n, valve.spring_rate_n_per_mm, valve.stroke_mm), "spring"),
        (pressure_force_n(throttle_kpa, valve.part_throttle_area_mm2), "part-throttle plug"),
    ]
    if past_detent:
        pushes.append((pressure_force_n(throttle_kpa, valve.kickdown_area_mm2), "kickdown plug"))
    force_n, cause = max(pushes, key=lambda push: push[0])
    return balancing_pressure_kpa(valve.governor_area_third_mm2, force_n), cause
