"""Control charts: individuals and moving range, means with ranges or standard deviations, EWMA.

Limits and factors: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2. Run rules (zone tests): the same, 6.3.2,
the eight-in-a-row set, each on one side of the centre line.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from rodtrue.lab.constants import c4, d2, d3
from rodtrue.model.errors import InputError

LEAST_POINTS = 5
"""Fewer points than this say nothing of a spread worth drawing a limit from."""

MOVING_RANGE_DIVISOR = 1.128
"""Mean range of two values over their standard deviation, to the digits that published charts use."""

ENOUGH_POINTS = 20
"""Limits set from fewer points move a good deal with the next ones (common practice, no source)."""


@dataclass(frozen=True)
class Signal:
    """A run rule broken at a point (0 is the first), in words."""

    point: int
    rule: str


@dataclass(frozen=True)
class Track:
    """One line of a chart: points, centre line, limits (a number a point, for they may vary), what it signals."""

    name: str
    points: list[float]
    centre: float
    lower: list[float]
    upper: list[float]
    signals: list[Signal] = field(default_factory=list)


@dataclass(frozen=True)
class Chart:
    """A control chart: its tracks, the standard deviation behind the limits, and how many points set them."""

    kind: str
    sd: float
    set_from: int
    tracks: list[Track]

    @property
    def remark(self) -> str:
        """What to think of the limits; empty where nothing speaks against them."""
        if self.set_from >= ENOUGH_POINTS:
            return ""
        return f"{self.set_from} points set these limits; with fewer than {ENOUGH_POINTS} they are rough."

    @property
    def in_control(self) -> bool:
        return not any(track.signals for track in self.tracks)


def individuals(values: NDArray[np.float64], set_from: int | None = None) -> Chart:
    """Chart of single values and of the moving ranges of two.

    set_from: limits come from the first so many values, the rest is watched; by default from all.
    Raises: InputError with fewer than five values to set the limits, or where they are all equal.
    """
    count = _count(len(values), set_from, LEAST_POINTS, "values")
    ranges = np.abs(np.diff(values))
    mean_range = float(ranges[: count - 1].mean())
    sd = mean_range / MOVING_RANGE_DIVISOR
    _refuse_no_spread(sd)
    centre = float(values[:count].mean())
    single = _level("value", values, centre, np.full(len(values), sd))
    upper = mean_range * (1 + 3 * d3(2) / d2(2))
    moving = Track(
        "moving range",
        ranges.tolist(),
        mean_range,
        [0.0] * len(ranges),
        [upper] * len(ranges),
        [Signal(int(i), "the step to this value is beyond its limit") for i in np.flatnonzero(ranges > upper)],
    )
    return Chart("individuals", sd, count, [single, moving])


def means(groups: NDArray[np.float64], spread: str = "range", set_from: int | None = None) -> Chart:
    """Chart of subgroup means with their ranges (`range`) or standard deviations (`sd`).

    groups: shape (subgroups, size), size 2 or more.
    Raises: InputError with fewer than five subgroups to set the limits, or where nothing spreads.
    """
    size = groups.shape[1]
    count = _count(len(groups), set_from, LEAST_POINTS, "subgroups")
    if spread == "range":
        within, name, to_sd, to_spread = np.ptp(groups, axis=1), "range", d2(size), d3(size)
    else:
        within, name, to_sd = groups.std(axis=1, ddof=1), "standard deviation", c4(size)
        to_spread = sqrt(1 - c4(size) ** 2)
    if not np.ptp(groups[:count], axis=1).any():  # rounding leaves equal values a standard deviation above nought
        _refuse_no_spread(0.0)
    mean_within = float(within[:count].mean())
    sd = mean_within / to_sd
    _refuse_no_spread(sd)
    averages = groups.mean(axis=1)
    level = _level("mean", averages, float(averages[:count].mean()), np.full(len(groups), sd / sqrt(size)))
    upper = mean_within + 3 * to_spread * sd
    lower = max(mean_within - 3 * to_spread * sd, 0.0)
    signals = [Signal(int(i), f"the {name} is above its limit") for i in np.flatnonzero(within > upper)]
    signals += [Signal(int(i), f"the {name} is below its limit") for i in np.flatnonzero(within < lower)]
    inside = Track(
        name, within.tolist(), mean_within, [lower] * len(within), [upper] * len(within), sorted(signals, key=_place)
    )
    return Chart(f"means and {name}s", sd, count, [level, inside])


def weighted(
    values: NDArray[np.float64],
    weight: float = 0.3,
    *,
    centre: float | None = None,
    sd: float | None = None,
    set_from: int | None = None,
) -> Chart:
    """Exponentially weighted moving average; it sees a small drift sooner than single values do.

    weight: of the newest value, above 0 up to 1. centre, sd: from the record's past; by default from the values
    (mean, mean moving range). Limits are the steady ones, three standard deviations of the average.
    """
    if not 0 < weight <= 1:
        raise InputError(f"weight {weight:g} is not above 0 and up to 1", "Give --weight 0.2 or 0.3, as usual.")
    count = _count(len(values), set_from, LEAST_POINTS, "values")
    if sd is None:
        sd = float(np.abs(np.diff(values[:count])).mean()) / MOVING_RANGE_DIVISOR
    _refuse_no_spread(sd)
    if centre is None:
        centre = float(values[:count].mean())
    averages, average = [], centre
    for value in values.tolist():
        average = weight * value + (1 - weight) * average
        averages.append(average)
    reach = 3 * sd * sqrt(weight / (2 - weight))
    signals = [
        Signal(i, f"the weighted average is {'above' if point > centre else 'below'} its limit")
        for i, point in enumerate(averages)
        if abs(point - centre) > reach
    ]
    lower, upper = [centre - reach] * len(averages), [centre + reach] * len(averages)
    track = Track("weighted average", averages, centre, lower, upper, signals)
    return Chart("weighted average", sd, count, [track])


def run_rules(points: NDArray[np.float64], centre: float, sd: NDArray[np.float64]) -> list[Signal]:
    """Signals of the zone tests, in order of the points.

    Beyond three standard deviations; two of three in a row beyond two; four of five beyond one; eight in a row: each
    on one side of the centre line.
    """
    distance = (points - centre) / sd
    signals = []
    for sign, side in ((1, "above"), (-1, "below")):
        z = sign * distance
        for i in range(len(z)):
            if z[i] > 3:
                signals.append(Signal(i, f"beyond the limit, {side} the centre line"))
            elif z[i] > 2 and np.sum(z[max(i - 2, 0) : i + 1] > 2) >= 2:
                signals.append(Signal(i, f"two of three in a row beyond two standard deviations, {side}"))
            elif z[i] > 1 and np.sum(z[max(i - 4, 0) : i + 1] > 1) >= 4:
                signals.append(Signal(i, f"four of five in a row beyond one standard deviation, {side}"))
            elif i >= 7 and np.all(z[i - 7 : i + 1] > 0):
                signals.append(Signal(i, f"eight in a row {side} the centre line"))
    return sorted(signals, key=_place)


def _level(name: str, points: NDArray[np.float64], centre: float, sd: NDArray[np.float64]) -> Track:
    lower, upper = (centre - 3 * sd).tolist(), (centre + 3 * sd).tolist()
    return Track(name, points.tolist(), centre, lower, upper, run_rules(points, centre, sd))


def _place(signal: Signal) -> int:
    return signal.point


def _count(available: int, set_from: int | None, least: int, what: str) -> int:
    count = available if set_from is None else set_from
    if count > available:
        raise InputError(f"limits from the first {count} {what}, but there are {available}", "Give a smaller number.")
    if count < least:
        raise InputError(
            f"{count} {what} are too few to set limits", f"Give {least} {what} or more; twenty-five are usual."
        )
    return count


def _refuse_no_spread(sd: float) -> None:
    if not sd > 0:
        raise InputError(
            "the values that set the limits are all equal; no limit can be drawn from them",
            "Record more digits, or check that the sensor is alive.",
        )
