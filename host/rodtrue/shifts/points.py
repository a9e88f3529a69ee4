"""Shift points at one throttle opening and rod error, and the speeds that end the two forced downshifts."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rodtrue.model.shifts import Governor, ShiftData, Speed
from rodtrue.model.units import kmh_to_mph, kpa_to_psi
from rodtrue.shifts.governor import curve_speeds_kmh, speed_at_pressure_kmh
from rodtrue.shifts.throttle import is_past_detent, lever_travel_mm, pressure_at_lever_kpa
from rodtrue.shifts.valve import Cause, downshift_governor_kpa, upshift_governor_kpa


@dataclass(frozen=True)
class Unit:
    """What the shift points of one unit follow from; `lever_free_mm` as in its profile's `lever`."""

    data: ShiftData
    lever_free_mm: float = 0.0


@dataclass(frozen=True)
class ShiftPoint:
    """What the valve does at one throttle opening.

    upshift: above this speed it goes up. downshift: below this speed it comes back, pushed by
    `downshift_by`. part_throttle_downshift, kickdown: the same speed where that plug does it, so that
    opening the throttle this far at any lower speed in third shifts down at once.
    """

    throttle_pressure_kpa: float
    throttle_pressure_psi: float
    upshift: Speed
    downshift: Speed
    downshift_by: Cause
    part_throttle_downshift: Speed
    kickdown: Speed


def shift_point(unit: Unit, travel_mm: float, rod_error_mm: float) -> ShiftPoint:
    """Return the shift point at a pin travel with a rod error, both in mm at the driving end."""
    data = unit.data
    lever_mm = lever_travel_mm(travel_mm, rod_error_mm)
    past_detent = is_past_detent(data.throttle, lever_mm)
    throttle_kpa = pressure_at_lever_kpa(data.throttle, lever_mm, unit.lever_free_mm)
    up = _speed(
        data.governor, upshift_governor_kpa(data.valve, throttle_kpa), "it goes up at no speed of the governor curve"
    )
    down_kpa, cause = downshift_governor_kpa(data.valve, throttle_kpa, past_detent)
    down = _speed(data.governor, down_kpa, "it comes back at every speed of the governor curve")
    return ShiftPoint(
        throttle_pressure_kpa=throttle_kpa,
        throttle_pressure_psi=kpa_to_psi(throttle_kpa),
        upshift=up,
        downshift=down,
        downshift_by=cause,
        part_throttle_downshift=down if cause == "part-throttle plug" else _none(_why_no_part_throttle(cause)),
        kickdown=down if cause == "kickdown plug" else _none(_why_no_kickdown(past_detent)),
    )


def part_throttle_end(unit: Unit, rod_error_mm: float) -> Speed:
    """Return the speed from which no throttle opening short of the detent shifts down."""
    throttle = unit.data.throttle
    farthest_mm = lever_travel_mm(throttle.wide_open_mm, rod_error_mm)
    before_detent_mm = min(farthest_mm, math.nextafter(throttle.detent_mm, 0.0))
    return shift_point(unit, before_detent_mm, 0.0).part_throttle_downshift


def kickdown_end(unit: Unit, rod_error_mm: float) -> Speed:
    """Return the speed from which no kickdown happens, not even at wide-open throttle."""
    return shift_point(unit, unit.data.throttle.wide_open_mm, rod_error_mm).kickdown


def _speed(governor: Governor, needed_kpa: float, beyond: str) -> Speed:
    kmh = speed_at_pressure_kmh(governor, needed_kpa)
    if kmh is not None:
        return Speed(kmh, kmh_to_mph(kmh))
    end_kmh, end_kpa = curve_speeds_kmh(governor)[-1], governor.pressure_kpa[-1]
    return _none(
        f"{beyond}: it takes a governor pressure of {kpa_to_psi(needed_kpa):.0f} psi ({needed_kpa:.0f} kPa), and the "
        f"curve ends at {kmh_to_mph(end_kmh):.0f} mph ({end_kmh:.0f} km/h) with {kpa_to_psi(end_kpa):.0f} psi "
        f"({end_kpa:.0f} kPa)"
    )


def _none(why_not: str) -> Speed:
    return Speed(None, None, why_not)


def _why_no_part_throttle(cause: Cause) -> str:
    if cause == "kickdown plug":
        return "past the detent the kickdown plug does it"
    return "throttle pressure on the part-throttle plug does not outweigh the spring"


def _why_no_kickdown(past_detent: bool) -> str:
    if past_detent:
        return "the kickdown plug does not push harder than the spring and the part-throttle plug"
    return "the lever does not reach the kickdown detent"
