"""Governor pressure against road speed, both ways.

The governor's weights balance their centrifugal force, which goes with speed squared, against pressure
on a fixed area. So each stage is a straight line in speed squared; the second, lighter stage is flatter.
"""

from __future__ import annotations

import math
from bisect import bisect_right

from rodtrue.model.shifts import Governor

MINUTES_PER_HOUR = 60.0
MM_PER_KM = 1.0e6


def road_speed_kmh(shaft_rpm: float, axle_ratio: float, tyre_radius_mm: float) -> float:
    """Return the road speed in km/h at an output shaft speed, without slip of the tyre.

    axle_ratio: shaft turns for one of the wheel. tyre_radius_mm: rolling radius, one wheel turn being
    2 pi of it.
    """
    return shaft_rpm / axle_ratio * 2.0 * math.pi * tyre_radius_mm * MINUTES_PER_HOUR / MM_PER_KM


def curve_speeds_kmh(governor: Governor) -> list[float]:
    """Return the road speeds of the governor's points, rising, shape (n,).

    Raises: ValueError: a governor with neither road speeds nor shaft speeds with axle and tyre.
    """
    if governor.road_kmh is not None:
        return list(governor.road_kmh)
    if governor.shaft_rpm is None or governor.axle_ratio is None or governor.tyre_radius_mm is None:
        raise ValueError("a governor needs road_kmh, or shaft_rpm with axle_ratio and tyre_radius_mm")
    axle, radius = governor.axle_ratio, governor.tyre_radius_mm
    return [road_speed_kmh(rpm, axle, radius) for rpm in governor.shaft_rpm]


def governor_pressure_kpa(governor: Governor, road_kmh: float) -> float:
    """Return the governor pressure at a road speed: 0 before the first point, level after the last."""
    squares = [speed * speed for speed in curve_speeds_kmh(governor)]
    return _between(squares, governor.pressure_kpa, road_kmh * road_kmh)


def speed_at_pressure_kmh(governor: Governor, pressure_kpa: float) -> float | None:
    """Return the road speed at which the governor reaches a pressure; None where its curve ends below it."""
    if pressure_kpa > governor.pressure_kpa[-1]:
        return None
    squares = [speed * speed for speed in curve_speeds_kmh(governor)]
    return math.sqrt(_between(governor.pressure_kpa, squares, pressure_kpa))


def _between(xs: tuple[float, ...] | list[float], ys: tuple[float, ...] | list[float], x: float) -> float:
    """Return y at x on the polyline through the points, xs rising; held level beyond its ends."""
    if x <= xs[0]:
        return ys[0]
    if x >= xs[-1]:
        return ys[-1]
    i = bisect_right(xs, x) - 1
    return ys[i] + (ys[i + 1] - ys[i]) * (x - xs[i]) / (xs[i + 1] - xs[i])
