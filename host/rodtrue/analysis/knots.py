"""Where the ramp lies, found without a starting guess: level, ramp, and what comes after it.

Model for one direction, over travel bins: p = level + slope (clip(x, k1, k2) - k1) + after max(0, x - k2),
with `after` no steeper than the ramp: a rounded knee must not pass for a short ramp before a long one. The
third slope takes a plateau and whatever follows it. All pairs of edges of a coarse grid are tried; for a pair
the best fit is linear and comes from prefix sums. A kickdown detent is steeper than the ramp and can be a
step to line pressure: travel from there on is left out beforehand. Travel is looked at only as far beyond the
first rise as the ramp's samples are taken from, so that what comes later cannot move the knee; further where
there is no level, as with a long rod, whose ramp is carried back.
Source of the idea of searching pairs from prefix sums: dynamic programming for segmented least squares
(Bellman and Roth, J. Am. Stat. Assoc. 64 (1969) 1079; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

_Array = NDArray[np.float64]

GRID_EDGES = 97
NEAR_MM = 12.0
FAR_MM = 17.0
"""Past the first rise: wide enough for the window of ramp samples, with a level and without."""
THIN_MM = 1.0
RAMP_SLOPE_MM = 5.0
DETENT_RATIO = 1.8
DETENT_GROWS = 0.3
PLATEAU_MM = 2.0
LEAST_RAMP_MM = 1.5
MOST_HELD_MM = 0.8
"""Friction at rest keeps pressure above the baseline by up to half a millimetre of ramp, and some."""
LONG_FLAT_MM, MOST_HELD_LONG_MM = 3.0, 1.5
"""A flat this long is no long rod held by friction: there a very sticky valve's level is one, too."""
LEAST_BEND = 0.4
"""A third slope must fall by this share of the ramp's, or there is no third slope: without it a short piece
of ramp and the rest of it would pass for two."""


@dataclass(frozen=True)
class Bins:
    """Travel bins of one direction, only those with samples. Arrays of shape (bins,).

    n: samples; travel_mm, pressure_kpa: means.
    """

    n: _Array
    travel_mm: _Array
    pressure_kpa: _Array


@dataclass(frozen=True)
class RampPlace:
    """Where the ramp lies in one direction.

    lower_mm: where the level ends (the first bin where there is no level). upper_mm: where the ramp
    ends (the last bin looked at where nothing follows). level_kpa, slope_kpa_per_mm: of level and ramp.
    has_level: whether data lie below lower_mm; level_mm: how much travel, 0 without. seen_mm: the last bin looked
    at. detent_mm: where a detent begins, infinite where none is seen. stands_mm, stands_kpa: where there is no level,
    the travel over which a free knot finds pressure standing still above the baseline all the same, and the pressure
    there.
    """

    lower_mm: float
    upper_mm: float
    level_kpa: float
    slope_kpa_per_mm: float
    has_level: bool
    seen_mm: float
    detent_mm: float
    level_mm: float = 0.0
    stands_mm: float = 0.0
    stands_kpa: float = 0.0


def bin_by_travel(travel_mm: _Array, pressure_kpa: _Array, bins: int = 512) -> Bins:
    """Return means over equal travel bins; travel and pressure of shape (n,), n > 0."""
    low, high = float(travel_mm.min()), float(travel_mm.max())
    width = max((high - low) / bins, 1e-9)
    place = np.minimum(((travel_mm - low) / width).astype(np.intp), bins - 1)
    n = np.bincount(place, minlength=bins).astype(np.float64)
    # Means from deviations: plain sums of large numbers would cancel.
    travel_sum = np.bincount(place, travel_mm - low, minlength=bins)
    p0 = float(pressure_kpa.mean())
    pressure_sum = np.bincount(place, pressure_kpa - p0, minlength=bins)
    filled = n > 0
    return Bins(n[filled], low + travel_sum[filled] / n[filled], p0 + pressure_sum[filled] / n[filled])


def find_ramp(bins: Bins, noticeable_kpa: float, baseline_kpa: float, edges: int = GRID_EDGES) -> RampPlace | None:
    """Return where the ramp lies, or None where fewer than six bins are filled.

    noticeable_kpa: a rise that noise cannot feign. baseline_kpa: a level far above it is no level, but the
    held or lag-rounded end of a ramp that begins below the least travel, as with a long rod. Bins count
    alike whatever their samples: a pin that rests long at one place must not outweigh the ramp.
    """
    rise, detent = _rise_and_detent(bins, noticeable_kpa)
    place = _look(bins, rise + NEAR_MM, detent, edges, free=True)
    if place is None:
        return None
    stands_mm = place.lower_mm - float(bins.travel_mm[0])
    held_mm = MOST_HELD_MM if stands_mm < LONG_FLAT_MM else MOST_HELD_LONG_MM
    held_kpa = held_mm * max(place.slope_kpa_per_mm, 0.0)
    if place.has_level and place.level_kpa - baseline_kpa <= max(noticeable_kpa, held_kpa):
        return replace(place, level_mm=stands_mm)
    carried = _look(bins, rise + FAR_MM, detent, edges, free=False)
    if carried is None or not place.has_level:
        return carried
    return replace(carried, stands_mm=stands_mm, stands_kpa=place.level_kpa)


def _rise_and_detent(bins: Bins, noticeable_kpa: float) -> tuple[float, float]:
    """Return the travel of the first noticeable rise and that where a detent begins, infinite where there is none."""
    travel, pressure = _thinned(bins)
    risen = np.flatnonzero(pressure >= pressure[0] + noticeable_kpa)
    if len(risen) == 0:
        return float("inf"), float("inf")
    rise = float(travel[risen[0]])
    slope = np.gradient(pressure, travel)
    on_ramp = (travel >= rise) & (travel <= rise + RAMP_SLOPE_MM)
    ramp = float(np.median(slope[on_ramp]))
    detent = np.flatnonzero((slope > DETENT_RATIO * ramp) & (travel > rise + RAMP_SLOPE_MM / 2))
    if len(detent) == 0:
        return rise, float("inf")
    # The slope at a piece looks at both neighbours: the detent begins in the first of the three that rises more
    # than the piece before it did, be that on the ramp or on a plateau.
    rises = np.diff(pressure) / np.diff(travel)
    at = int(detent[0])
    three = range(max(2, at - 1), min(at + 2, len(travel)))
    begins = next((i for i in three if rises[i - 1] - rises[i - 2] > DETENT_GROWS * ramp), at)
    return rise, float(travel[begins] - THIN_MM / 2)


def plateau_kpa(bins: Bins, noticeable_kpa: float) -> float | None:
    """Return the pressure of the plateau after the ramp, None where the travel reaches none.

    A plateau is a stretch of at least `PLATEAU_MM` beyond the first rise on which pressure rises by less
    than a third of what the ramp does.
    """
    travel, pressure = _thinned(bins)
    risen = np.flatnonzero(pressure >= pressure[0] + noticeable_kpa)
    if len(risen) == 0 or len(travel) < 8:
        return None
    rise = travel[risen[0]]
    slope = np.gradient(pressure, travel)
    ramp = float(np.median(slope[(travel >= rise) & (travel <= rise + RAMP_SLOPE_MM)]))
    level = (slope < ramp / 3) & (travel > rise + THIN_MM)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], level.astype(np.int8), [0]])))
    stretches = [(a, b) for a, b in edges.reshape(-1, 2) if travel[b - 1] - travel[a] >= PLATEAU_MM]
    if not stretches:
        return None
    a, b = max(stretches, key=lambda stretch: stretch[1] - stretch[0])
    return float(pressure[a:b].mean())


def _thinned(bins: Bins) -> tuple[_Array, _Array]:
    """Return bin means joined to pieces of `THIN_MM` of travel: coarse enough for slopes to mean something."""
    piece = ((bins.travel_mm - bins.travel_mm[0]) / THIN_MM).astype(np.intp)
    n = np.bincount(piece, bins.n)
    filled = n > 0
    travel = np.bincount(piece, bins.n * bins.travel_mm)[filled] / n[filled]
    pressure = np.bincount(piece, bins.n * bins.pressure_kpa)[filled] / n[filled]
    if len(travel) < 3:
        return bins.travel_mm, bins.pressure_kpa
    return travel, pressure


def _look(bins: Bins, end_mm: float, detent_mm: float, edges: int, *, free: bool) -> RampPlace | None:
    """Return the best fit up to `end_mm` or the detent, its lower knot free or held at the first bin."""
    near = bins.travel_mm <= min(end_mm, detent_mm)
    x, p = bins.travel_mm[near], bins.pressure_kpa[near]
    if len(x) < 6:
        return None
    grid = np.linspace(x[0], x[-1], edges)
    lowers = grid if free else x[:1]
    lower, upper = _search(x, p, lowers, grid)
    step = grid[1] - grid[0]
    for _ in range(2):
        fine_lower = np.clip(np.linspace(lower - step, lower + step, 21), x[0], x[-1])
        fine_lower = fine_lower if free else lowers
        fine_upper = np.clip(np.linspace(upper - step, upper + step, 21), x[0], x[-1])
        lower, upper = _search(x, p, fine_lower, fine_upper)
        step /= 10
    design = np.column_stack([np.ones_like(x), np.clip(x, lower, upper) - lower, np.maximum(0.0, x - upper)])
    coefficients, *_ = np.linalg.lstsq(design, p, rcond=None)
    return RampPlace(
        lower_mm=lower,
        upper_mm=upper,
        level_kpa=float(coefficients[0]),
        slope_kpa_per_mm=float(coefficients[1]),
        has_level=bool(np.count_nonzero(x < lower) >= 2),
        seen_mm=float(x[-1]),
        detent_mm=detent_mm,
    )


def _search(x: _Array, p: _Array, lowers: _Array, uppers: _Array) -> tuple[float, float]:
    """Return the pair (k1, k2) of smallest residual sum among all k1 < k2 of the two grids.

    Only pairs whose slope falls at k2 count; where a single hinge does as well, k2 is the last travel.
    """
    centre, scale = x[0], max(x[-1] - x[0], 1e-12)
    u, v = (x - centre) / scale, p - p.mean()
    a, b = (lowers - centre) / scale, (uppers - centre) / scale

    def tail(knots: _Array) -> tuple[_Array, _Array, _Array]:
        """Moments of max(0, u - knot): sum, sum of squares, and with v."""
        start = np.searchsorted(u, knots, side="right")
        sums = [
            np.concatenate([np.cumsum(c[::-1])[::-1], [0.0]])[start] for c in (np.ones_like(u), u, u * u, v, u * v)
        ]
        n, s, ss, t, st = sums
        return s - knots * n, ss - 2 * knots * s + knots**2 * n, st - knots * t

    a1, aa, av = tail(a)
    b1, bb, bv = tail(b)
    # With A = max(0, u - a) and B = max(0, u - b), a < b: sum(A B) runs over u > b only.
    ab = bb[None, :] + (b[None, :] - a[:, None]) * b1[None, :]
    n = float(len(u))
    # Columns after removing the mean: A and B (the ramp is A - B, the rest B; the span is the same).
    caa = (aa - a1**2 / n)[:, None]
    cbb = (bb - b1**2 / n)[None, :]
    cab = ab - np.outer(a1, b1) / n
    cav, cbv = av[:, None], bv[None, :]
    det = caa * cbb - cab**2
    with np.errstate(divide="ignore", invalid="ignore"):
        both = (cav**2 * cbb - 2 * cav * cbv * cab + cbv**2 * caa) / det
        alone = (cav**2 / caa)[:, 0]
        slope = (cav * cbb - cbv * cab) / det
        change = (cbv * caa - cav * cab) / det
    apart = uppers[None, :] - lowers[:, None] >= LEAST_RAMP_MM
    bends_down = apart & (det > 1e-10 * caa * np.maximum(cbb, 1e-30)) & (change <= -LEAST_BEND * slope)
    with_after = np.where(bends_down & np.isfinite(both), both, -np.inf)
    to_the_end = np.where(np.isfinite(alone), alone, -np.inf)
    if to_the_end.max() >= with_after.max():
        return float(lowers[int(np.argmax(to_the_end))]), float(x[-1])
    i, j = np.unravel_index(int(np.argmax(with_after)), with_after.shape)
    return float(lowers[i]), float(uppers[j])
