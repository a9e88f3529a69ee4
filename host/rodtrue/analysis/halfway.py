"""How far opening and closing lie apart half way up the pressure, and how late the pressure follows there.

Each stroke's travel at half the height, read off a line through its samples in the middle of the rise, against its
speed v there:

    opening: x = x_opening + tau v        closing: x = x_closing - tau v

Neither a level nor the ramp's start enters, so this stands where they cannot be found, as with a linkage that binds.
On a ramp that has gone on for some lags a first-order lag is a delay by tau, hence the straight line in v.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rodtrue.analysis.decision import coverage_factor
from rodtrue.analysis.knots import Bins, RampPlace
from rodtrue.analysis.ramp import DIRECTIONS, LARGEST_LAG_S, SPEED_SPREAD, Direction, pooled_bins
from rodtrue.analysis.strokes import Section, Span

LOWER, UPPER = 0.3, 0.7
"""The middle of the rise, as shares of its height."""
LEAST_COVERED = 0.9
LEAST_SAMPLES = 10
PROBABILITY = 0.95


@dataclass(frozen=True)
class Halfway:
    """What lies between opening and closing half way up, in mm of travel.

    apart_mm: opening less closing at zero speed; where the lag could not be told, at the speeds as they were.
    reach_mm: expanded uncertainty of apart_mm from the strokes' scatter, 95 %; 0 where there are too few to tell.
    lag_s: the lag, None where the speeds are too alike to tell it. speed_mm_per_s: mean speed by direction.
    """

    apart_mm: float
    reach_mm: float
    lag_s: float | None
    speed_mm_per_s: dict[Direction, float]

    def lag_mm(self, direction: Direction, most_s: float) -> float:
        """Return how far in mm the lag moves a direction's reading: the lag found, else at most `most_s`."""
        return (most_s if self.lag_s is None else self.lag_s) * self.speed_mm_per_s[direction]


def find_halfway(sections: list[Section], spans: list[Span], places: dict[Direction, RampPlace]) -> Halfway | None:
    """Return how far the directions lie apart half way up, None where one is missing or nothing rises.

    places: from `locate_ramps`; only their upper ends count, which keep plateau and detent out.
    """
    bins = {d: found for d in DIRECTIONS if (found := pooled_bins(sections, spans, d)) is not None}
    if len(bins) < 2 or len(places) < 2:
        return None
    low_kpa = max(float(b.pressure_kpa[:5].mean()) for b in bins.values())
    # Where something binds, one direction's ramp can be found far too short: the higher end counts, if both reach it.
    top_kpa = max(_upto(bins[d], places[d].upper_mm) for d in DIRECTIONS)
    top_kpa = min(top_kpa, *(float(b.pressure_kpa.max()) for b in bins.values()))
    if top_kpa <= low_kpa:
        return None
    height = top_kpa - low_kpa
    rows = []
    for direction in DIRECTIONS:
        edges = [_first_at(bins[direction], low_kpa + share * height) for share in (LOWER, UPPER)]
        for span in (s for s in spans if s.direction == direction):
            read = _read_off(sections[span.section], span, edges[0], edges[1], low_kpa + height / 2)
            if read is not None:
                rows.append((direction, *read))
    if {row[0] for row in rows} != set(DIRECTIONS):
        return None
    return _at_zero_speed(rows)


def _upto(bins: Bins, upper_mm: float) -> float:
    return float(bins.pressure_kpa[bins.travel_mm <= upper_mm].max(initial=-np.inf))


def _first_at(bins: Bins, pressure_kpa: float) -> float:
    return float(bins.travel_mm[np.argmax(bins.pressure_kpa >= pressure_kpa)])


def _read_off(
    section: Section, span: Span, lower_mm: float, upper_mm: float, half_kpa: float
) -> tuple[float, float] | None:
    """Return a stroke's travel at half height and its speed there, None where it does not cover the middle."""
    travel = section.smooth_mm[span.start : span.stop]
    inside = (travel >= lower_mm) & (travel <= upper_mm)
    count = int(np.count_nonzero(inside))
    if count < LEAST_SAMPLES or np.ptp(travel[inside]) < LEAST_COVERED * (upper_mm - lower_mm):
        return None
    x, p = travel[inside], section.pressure_kpa[span.start : span.stop][inside]
    away = x - x.mean()
    slope = float(away @ p / (away @ away))
    if slope <= 0:
        return None
    at_mm = float(x.mean()) + (half_kpa - float(p.mean())) / slope
    return at_mm, float(np.ptp(x)) / (count * section.period_s)


def _at_zero_speed(rows: list[tuple[Direction, float, float]]) -> Halfway:
    opening = np.array([row[0] == "opening" for row in rows])
    at_mm, speed = np.array([row[1] for row in rows]), np.array([row[2] for row in rows])
    speeds: dict[Direction, float] = {
        "opening": float(speed[opening].mean()),
        "closing": float(speed[~opening].mean()),
    }
    design = np.column_stack([opening, ~opening]).astype(np.float64)
    if max(float(speed[o].std() / speed[o].mean()) for o in (opening, ~opening)) < SPEED_SPREAD:
        apart, reach, _ = _difference(design, at_mm)
        return Halfway(apart, reach, None, speeds)
    signed: NDArray[np.float64] = np.where(opening, speed, -speed)
    apart, reach, lag = _difference(np.column_stack([design, signed]), at_mm)
    if not 0.0 <= lag <= LARGEST_LAG_S:
        # Scatter alone bends the line so: the lag nearest to it that can be.
        lag = min(max(lag, 0.0), LARGEST_LAG_S)
        apart, reach, _ = _difference(design, at_mm - lag * signed)
    return Halfway(apart, reach, lag, speeds)


def _difference(design: NDArray[np.float64], at_mm: NDArray[np.float64]) -> tuple[float, float, float]:
    """Return the first parameter less the second, its expanded uncertainty, and the last parameter."""
    solution, *_ = np.linalg.lstsq(design, at_mm, rcond=None)
    between = np.zeros(design.shape[1])
    between[:2] = 1.0, -1.0
    freedom = len(at_mm) - design.shape[1]
    reach = 0.0
    if freedom > 0:
        variance = float(np.sum((at_mm - design @ solution) ** 2)) / freedom
        reach = coverage_factor(PROBABILITY, freedom) * float(
            np.sqrt(variance * (between @ np.linalg.pinv(design.T @ design) @ between))
        )
    return float(between @ solution), reach, float(solution[-1])
