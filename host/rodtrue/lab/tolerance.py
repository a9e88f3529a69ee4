"""Tolerance intervals: limits that hold a stated share of the parts with a stated confidence.

Two-sided factor: W. G. Howe, JASA 64 (1969), as in the NIST/SEMATECH e-Handbook 7.2.6.3. One-sided: exact, from the
noncentral t distribution (the same place).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2, nct, norm

from rodtrue.model.errors import InputError

LEAST_VALUES = 8


@dataclass(frozen=True)
class ToleranceLimits:
    """Limits proposed from good parts; None on a side that is not asked for."""

    lower: float | None
    upper: float | None
    factor: float
    mean: float
    sd: float
    n: int
    coverage: float
    confidence: float


def tolerance_limits(
    values: NDArray[np.float64], side: str = "both", *, coverage: float = 0.95, confidence: float = 0.95
) -> ToleranceLimits:
    """Return limits for `side` both, lower or upper, of normally distributed values.

    Raises: InputError with fewer than eight values, no spread, or a share outside 0 to 1.
    """
    for share, name in ((coverage, "coverage"), (confidence, "confidence")):
        if not 0 < share < 1:
            raise InputError(f"the {name} {share:g} is not between 0 and 1", f"Give --{name} 0.95, for 95 %.")
    if len(values) < LEAST_VALUES:
        raise InputError(
            f"{len(values)} known-good parts are too few to propose limits from", f"Measure {LEAST_VALUES} or more."
        )
    mean, sd = float(values.mean()), float(values.std(ddof=1))
    if not np.ptp(values) > 0:  # rounding leaves equal values a standard deviation above nought
        raise InputError(f"all values are {mean:g}; there is no spread to draw limits from", "Record more digits.")
    factor = two_sided_factor(len(values), coverage, confidence)
    if side != "both":
        factor = one_sided_factor(len(values), coverage, confidence)
    lower = None if side == "upper" else mean - factor * sd
    upper = None if side == "lower" else mean + factor * sd
    return ToleranceLimits(lower, upper, factor, mean, sd, len(values), coverage, confidence)


def two_sided_factor(n: int, coverage: float, confidence: float) -> float:
    """Howe's factor k of mean -+ k sd, with n - 1 degrees of freedom."""
    z = norm.isf((1 - coverage) / 2)
    return float(z * sqrt((n - 1) * (1 + 1 / n) / chi2.ppf(1 - confidence, n - 1)))


def one_sided_factor(n: int, coverage: float, confidence: float) -> float:
    """Factor k of mean + k sd or mean - k sd: the noncentral t quantile over root n."""
    return float(nct.ppf(confidence, n - 1, norm.ppf(coverage) * sqrt(n)) / sqrt(n))
