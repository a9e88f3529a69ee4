"""Where the ramp lies, found without a starting guess: level, ramp, and what comes after it.

Model for one direction, over travel bins: p = level + slope (clip(x, k1, k2) - k1) + after max(0, x - k2).
The third slope takes a plateau, a drooping one, or a kickdown detent, so that none of them moves the
first knot. All pairs of edges of a coarse grid are tried; for a pair the best fit is linear and comes
from prefix sums. Source of the idea of searching pairs from prefix sums: dynamic programming for
segmented least squares (Bellman and Roth, J. Am. Stat. Assoc. 64 (1969) 1079; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_Array = NDArray[np.float64]

GRID_EDGES = 97


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
    ends (the last bin where nothing follows). level_kpa, slope_kpa_per_mm: of level and ramp.
    after_kpa_per_mm: slope beyond upper_mm. top_kpa: pressure at upper_mm. rise_kpa: of the ramp.
    noise_kpa: scatter of the bin means about the fit. has_level: whether data lie below lower_mm.
    """

    lower_mm: float
    upper_mm: float
    level_kpa: float
    slope_kpa_per_mm: float
    after_kpa_per_mm: float
    noise_kpa: float
    has_level: bool
    has_after: bool

    @property
    def rise_kpa(self) -> float:
        return self.slope_kpa_per_mm * (self.upper_mm - self.lower_mm)

    @property
    def top_kpa(self) -> float:
        return self.level_kpa + self.rise_kpa


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


def find_ramp(bins: Bins, edges: int = GRID_EDGES) -> RampPlace | None:
    """Return where the ramp lies, or None where fewer than six bins are filled.

    Bins count alike whatever their samples: a pin that rests long at one place must not outweigh
    the ramp.
    """
    x, p = bins.travel_mm, bins.pressure_kpa
    if len(x) < 6:
        return None
    grid = np.linspace(x[0], x[-1], edges)
    lower, upper = _search(x, p, grid, grid)
    step = grid[1] - grid[0]
    for _ in range(2):
        fine_lower = np.clip(np.linspace(lower - step, lower + step, 21), x[0], x[-1])
        fine_upper = np.clip(np.linspace(upper - step, upper + step, 21), x[0], x[-1])
        lower, upper = _search(x, p, fine_lower, fine_upper)
        step /= 10
    ramp = np.clip(x, lower, upper) - lower
    design = np.column_stack([np.ones_like(x), ramp, np.maximum(0.0, x - upper)])
    coefficients, *_ = np.linalg.lstsq(design, p, rcond=None)
    residual = p - design @ coefficients
    return RampPlace(
        lower_mm=lower,
        upper_mm=upper,
        level_kpa=float(coefficients[0]),
        slope_kpa_per_mm=float(coefficients[1]),
        after_kpa_per_mm=float(coefficients[2]),
        noise_kpa=float(np.sqrt(residual @ residual / max(1, len(x) - 5))),
        has_level=bool(np.count_nonzero(x < lower) >= 2),
        has_after=bool(np.count_nonzero(x > upper) >= 4),
    )


def _search(x: _Array, p: _Array, lowers: _Array, uppers: _Array) -> tuple[float, float]:
    """Return the pair (k1, k2) of smallest residual sum among all k1 < k2 of the two grids."""
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
        alone = np.broadcast_to(cav**2 / caa, det.shape)
    gain = np.where(det > 1e-10 * caa * np.maximum(cbb, 1e-30), both, alone)
    gain = np.where((a[:, None] < b[None, :]) & np.isfinite(gain), gain, -np.inf)
    i, j = np.unravel_index(int(np.argmax(gain)), gain.shape)
    return float(lowers[i]), float(uppers[j])
