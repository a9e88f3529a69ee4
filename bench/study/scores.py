"""Scores of many judged runs: coverage with its limits, width, bias, scatter."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import beta

from bench.study.judged import Kept

Array = NDArray[np.float64]
MILLI = 1000.0


@dataclass(frozen=True)
class Coverage:
    """How often an interval holds the truth, and whether it is as narrow as it could be.

    width_score: median half-width over the 95th percentile of the absolute error. share_floored: of the
    runs, in which the resolution's floor decides the statistical interval.
    """

    runs: int
    valued: int
    covered: int
    low: float
    high: float
    width_score: float
    median_half_width_um: float
    error_95_um: float
    bias_um: float
    rmse_um: float
    share_floored: float = 0.0

    @property
    def share(self) -> float:
        return self.covered / self.valued if self.valued else 0.0


def clopper_pearson(hits: int, of: int) -> tuple[float, float]:
    """Return the 95 % limits of a share. Source: Clopper and Pearson, Biometrika 26 (1934) 404-413."""
    low = float(beta.ppf(0.025, hits, of - hits + 1)) if hits else 0.0
    high = float(beta.ppf(0.975, hits + 1, of - hits)) if hits < of else 1.0
    return low, high


def score(errors: Array, half_widths: Array, widths_scored: Array, runs: int, floored: float = 0.0) -> Coverage:
    """Return the score of errors (mm) against half-widths (mm); widths_scored enter the width only."""
    valued = len(errors)
    if valued == 0:
        return Coverage(runs, 0, 0, 0.0, 1.0, np.nan, np.nan, np.nan, np.nan, np.nan)
    covered = int(np.count_nonzero(np.abs(errors) <= half_widths))
    low, high = clopper_pearson(covered, valued)
    reach = float(np.percentile(np.abs(errors), 95))
    middle = float(np.median(widths_scored))
    return Coverage(
        runs, valued, covered, low, high, middle / reach, MILLI * middle, MILLI * reach,
        MILLI * float(errors.mean()), MILLI * float(np.sqrt(np.mean(errors**2))), floored,
    )  # fmt: skip


def statistical(kept: Sequence[Kept], *, with_baseline: bool = False) -> Coverage:
    """Return the score of the statistical interval.

    The baseline's own error has rows of its own in the budget and is taken out of the error first, unless
    `with_baseline`. The floor counts for coverage and not for the width.
    """
    valued = [k for k in kept if k.error is not None]
    parts = [0.0 if with_baseline else (k.baseline_part or 0.0) for k in valued]
    errors = _column(k.error for k in valued) - np.array(parts)
    widths, free = _column(k.half_width for k in valued), _column(k.free_half_width for k in valued)
    return score(errors, widths, free, len(kept), float(np.mean([k.floored for k in valued])) if valued else 0.0)


def full(kept: Sequence[Kept]) -> Coverage:
    """Return the score of the full interval against the rod's own error."""
    valued = [k for k in kept if k.reach is not None]
    reach = _column(k.reach for k in valued)
    return score(_column(k.rod_error for k in valued), reach, reach, len(kept))


def _column(values: Iterable[float]) -> Array:
    return np.fromiter(values, dtype=np.float64)
