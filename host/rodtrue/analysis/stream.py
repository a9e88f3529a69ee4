"""Level, ramp, level from running sums: a fit that costs the same however long the run has been going.

Samples go into travel bins of six sums each (count, u, u^2, p, p u, p^2, with u from the bin's centre and p from
a reference, so that no digits cancel). A fit needs no starting guess: all pairs of knots on a grid of edges are
tried by closed form, then the partition they make is refined: mean of the level, line of the ramp, mean of the
plateau, intersect, repeat. At the optimum each knot is where its two pieces meet, which is the least-squares
solution (see `hinge`); bins that hold a knot are left out of the sums.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

_Array = NDArray[np.float64]

BINS = 512
EDGES = 128
ROUNDS = 12
_NOT_ABOVE = np.tril(np.ones((EDGES, EDGES), dtype=bool))


@dataclass(frozen=True)
class LevelRampLevel:
    """lower, upper: where the ramp begins and ends (upper None where it does not end within the data), in the
    travel's unit. level, top: the two levels (level None where the data begin on the ramp, top None with
    upper). slope: of the ramp. at_lower: pressure of the ramp's line at `lower`."""

    lower: float
    upper: float | None
    level: float | None
    slope: float
    top: float | None
    at_lower: float

    def meets(self, pressure: float) -> float:
        """Return the travel at which the ramp's line, carried on, has this pressure."""
        return self.lower + (pressure - self.at_lower) / self.slope


class RunningBins:
    """Sums over `BINS` bins of the travel range [low, high]; samples outside it are counted in `outside`."""

    def __init__(self, low: float, high: float, reference: float = 0.0) -> None:
        """reference: a pressure near the data's, from which p is counted. Raises: ValueError: high not above low."""
        if not high > low:
            raise ValueError("high must be above low")
        self._low, self._width, self._reference = low, (high - low) / BINS, reference
        self._sums = np.zeros((6, BINS))
        self.outside = 0

    def add(self, travel: _Array, pressure: _Array) -> None:
        """Take samples, shape (n,) each; groups of some hundred cost hardly more than one sample."""
        place = (travel - self._low) / self._width
        index = place.astype(np.intp)
        inside = (place >= 0) & (index < BINS)
        if not inside.all():
            self.outside += int(len(inside) - inside.sum())
            place, index, pressure = place[inside], index[inside], pressure[inside]
        u = (place - index - 0.5) * self._width
        p = pressure - self._reference
        for row, weight in enumerate((None, u, u * u, p, p * u, p * p)):
            self._sums[row] += np.bincount(index, weight, BINS)

    def fit(self) -> LevelRampLevel | None:
        """Return the least-squares fit, None with fewer than eight filled bins or without a rise."""
        centres = np.asarray(self._low + (np.arange(BINS) + 0.5) * self._width, dtype=np.float64)
        sums = _Moments.of(self._sums, centres)
        filled = np.flatnonzero(sums.n)
        if len(filled) < 8:
            return None
        edges = self._low + np.linspace(filled[0], filled[-1] + 1, EDGES) * self._width
        lower, upper = _coarse(sums, edges)
        span = (edges[0], edges[-1])
        fit = None
        for _ in range(ROUNDS):
            refined = _refine(sums, lower, upper, self._width, span)
            if refined is None:
                break
            moved = abs(refined.lower - lower) + abs((refined.upper or span[1]) - upper)
            fit, lower, upper = refined, refined.lower, refined.upper or span[1]
            if moved < 1e-12 * max(1.0, abs(lower)):
                break
        if fit is None or not fit.slope > 0:
            return None
        offset = self._reference
        return replace(
            fit,
            level=None if fit.level is None else fit.level + offset,
            top=None if fit.top is None else fit.top + offset,
            at_lower=fit.at_lower + offset,
        )


@dataclass(frozen=True)
class _Moments:
    """Running totals up to and with each bin, about a travel origin: n, x, xx, p, px. Shape (BINS + 1,)."""

    n: _Array
    centre: _Array
    totals: _Array
    origin: float

    @staticmethod
    def of(sums: _Array, centre: _Array) -> _Moments:
        n, u, uu, p, pu, _ = sums
        origin = float(centre[BINS // 2])
        c = centre - origin
        rows = np.stack([n, u + n * c, uu + 2 * c * u + n * c * c, p, pu + c * p])
        return _Moments(n, centre, np.concatenate([np.zeros((5, 1)), np.cumsum(rows, axis=1)], axis=1), origin)

    def between(self, start: int, stop: int) -> _Array:
        """Return n, x, xx, p, px over bins [start, stop)."""
        return self.totals[:, stop] - self.totals[:, start]


def _coarse(sums: _Moments, edges: _Array) -> tuple[float, float]:
    """Return the best pair of edges for p = level + slope (clip(x, a, b) - a).

    The ramp's regressor is max(0, x - a) - max(0, x - b), so its moments for every pair follow from those of
    max(0, x - k) at each edge: sum T, sum of squares Q, and W with p about its mean.
    """
    at = np.clip(np.searchsorted(sums.centre, edges), 0, BINS)
    n, x, xx, p, px = sums.totals[:, -1:] - sums.totals[:, at]
    k = edges - sums.origin
    total_n, total_p = sums.totals[0, -1], sums.totals[3, -1]
    p, px = p - n * (total_p / total_n), px - x * (total_p / total_n)
    t, q, w = x - k * n, xx - 2 * k * x + k * k * n, px - k * p
    z = t[:, None] - t
    spread = q[:, None] - (q + 2 * k * t) + (2 * k)[:, None] * t - z * z / total_n
    with np.errstate(divide="ignore", invalid="ignore"):
        gain = (w[:, None] - w) ** 2 / spread
    gain[~(spread > 1e-9 * q[0])] = 0.0
    gain[_NOT_ABOVE] = 0.0
    i, j = divmod(int(np.argmax(gain)), len(k))
    return float(edges[i]), float(edges[j])


def _refine(
    sums: _Moments, lower: float, upper: float, width: float, span: tuple[float, float]
) -> LevelRampLevel | None:
    """Return the pieces' own fits for this partition and where they meet."""
    first = sums.centre - width / 2
    below = int(np.searchsorted(first, lower - width, side="right"))
    start = int(np.searchsorted(first, lower, side="left"))
    stop = int(np.searchsorted(first, upper - width, side="right"))
    after = int(np.searchsorted(first, upper, side="left"))
    ends = upper < span[1] - 2 * width and sums.between(after, BINS)[0] > 0
    if not ends:
        stop = after = BINS
    n, x, xx, p, px = sums.between(start, stop)
    if n < 3:
        return None
    spread = xx - x * x / n
    if spread <= 0:
        return None
    slope = (px - x * p / n) / spread
    middle_x, middle_p = x / n, p / n
    flat = sums.between(0, below)
    if slope == 0:
        return None
    if flat[0] > 0:
        level: float | None = float(flat[3] / flat[0])
        at_lower = float(flat[3] / flat[0])
        begins = float(middle_x + (at_lower - middle_p) / slope + sums.origin)
    else:
        level, begins = None, span[0]
        at_lower = float(middle_p + slope * (span[0] - sums.origin - middle_x))
    top = reaches = None
    if ends:
        plateau = sums.between(after, BINS)
        top = float(plateau[3] / plateau[0])
        reaches = float(middle_x + (top - middle_p) / slope + sums.origin)
    return LevelRampLevel(begins, reaches, level, float(slope), top, at_lower)
