"""Whether a profile's shift data can be of a unit that works at all."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import asdict
from itertools import pairwise

from rodtrue.model.shifts import Governor, ShiftData, ShiftValve, ThrottlePressure
from rodtrue.shifts.valve import downshift_governor_kpa, upshift_governor_kpa

LEAST, MOST = 1e-6, 1e9
"""Between these lies every quantity above 0, in any unit of a profile; beyond, sums and ratios lose their meaning."""

Problem = tuple[str, str]
"""The field, from `shifts` on, and what is wrong with it."""


def first_problem(data: ShiftData) -> Problem | None:
    """Return the first thing wrong with a profile's shift data, or None where they are in order."""
    for problems in (_throttle(data.throttle), _governor(data.governor), _valve(data.valve)):
        for problem in problems:
            return problem
    return next(_hunting(data.throttle, data.valve), None)


def _throttle(throttle: ThrottlePressure) -> Iterator[Problem]:
    yield from _not_positive("shifts.throttle", asdict(throttle), may_be_zero="baseline_kpa")
    if not throttle.baseline_kpa < throttle.plateau_kpa <= throttle.full_kpa:
        yield "shifts.throttle", "must keep baseline_kpa < plateau_kpa <= full_kpa"
    if not throttle.detent_mm < throttle.wide_open_mm:
        yield (
            "shifts.throttle.detent_mm",
            f"is {throttle.detent_mm}; an exact rod must reach it before wide_open_mm ({throttle.wide_open_mm})",
        )


def _governor(governor: Governor) -> Iterator[Problem]:
    yield from _rising("shifts.governor.pressure_kpa", governor.pressure_kpa)
    if governor.pressure_kpa[0] != 0.0:
        yield "shifts.governor.pressure_kpa", "must begin with 0, at the speed where the governor begins to act"
    speeds, unused = ("road_kmh", "shaft_rpm") if governor.road_kmh is not None else ("shaft_rpm", "road_kmh")
    values = getattr(governor, speeds)
    if values is None or getattr(governor, unused) is not None:
        yield "shifts.governor", "needs either road_kmh or shaft_rpm, not both"
        return
    yield from _rising(f"shifts.governor.{speeds}", values)
    if len(values) != len(governor.pressure_kpa):
        yield (
            f"shifts.governor.{speeds}",
            f"has {len(values)} values and pressure_kpa has {len(governor.pressure_kpa)}; they belong in pairs",
        )
    drive_line = {"axle_ratio": governor.axle_ratio, "tyre_radius_mm": governor.tyre_radius_mm}
    for name, value in drive_line.items():
        if (value is not None) != (speeds == "shaft_rpm"):
            yield f"shifts.governor.{name}", "belongs with shaft_rpm, and with nothing else"
    yield from _not_positive(
        "shifts.governor", {name: value for name, value in drive_line.items() if value is not None}
    )


def _valve(valve: ShiftValve) -> Iterator[Problem]:
    yield from _not_positive("shifts.valve", asdict(valve), may_be_zero="spring_rate_n_per_mm")


def _hunting(throttle: ThrottlePressure, valve: ShiftValve) -> Iterator[Problem]:
    """Yield where the valve would come back at once after going up.

    The distance between both governor pressures is concave in throttle pressure (a straight line less the
    largest of straight lines), so the ends of each range of throttle pressure tell for all between.
    """
    ends = [(throttle.baseline_kpa, False), (throttle.plateau_kpa, False)]
    ends += [(throttle.plateau_kpa, True), (throttle.full_kpa, True)]
    for throttle_kpa, past_detent in ends:
        up = upshift_governor_kpa(valve, throttle_kpa)
        down, cause = downshift_governor_kpa(valve, throttle_kpa, past_detent)
        if down >= up:
            yield (
                "shifts.valve",
                f"would hunt: at {throttle_kpa:g} kPa throttle pressure it goes up above {up:.0f} kPa governor "
                f"pressure, but the {cause} brings it back below {down:.0f} kPa",
            )


def _rising(field: str, values: tuple[float, ...]) -> Iterator[Problem]:
    if len(values) < 2 or not all(math.isfinite(value) and value >= 0.0 for value in values):
        yield field, "must hold two or more finite numbers, 0 or more"
    elif not all(low < high for low, high in pairwise(values)):
        yield field, "must rise from each value to the next"
    elif values[-1] > MOST or min(value for value in values if value > 0.0) < LEAST:
        yield field, f"holds what no unit has: above 0 they lie between {LEAST:g} and {MOST:g}"


def _not_positive(table: str, numbers: dict[str, float], may_be_zero: str = "") -> Iterator[Problem]:
    for name, value in numbers.items():
        if not (math.isfinite(value) and (value > 0.0 or (value == 0.0 and name == may_be_zero))):
            yield f"{table}.{name}", f"is {value}; it must be a finite number above 0"
        elif value > MOST or 0.0 < value < LEAST:
            yield f"{table}.{name}", f"is {value}, which no unit has; it must lie between {LEAST:g} and {MOST:g}"
