"""Confidence intervals of sums and differences of mean squares.

Modified large-sample limits: F. A. Graybill and C. M. Wang, JASA 75 (1980), for sums; N. Ting and others, J. Stat.
Comput. Simul. 35 (1990), for differences, with their cross term between a positive and a negative mean square. For
one single mean square they are the exact chi-square limits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from scipy.stats import chi2, f


@dataclass(frozen=True)
class MeanSquare:
    """A mean square, what it is multiplied by, and its degrees of freedom."""

    factor: float
    value: float
    degrees_of_freedom: float


def combination_interval(terms: Sequence[MeanSquare], confidence: float) -> tuple[float, float]:
    """Two-sided limits of the sum of factor times expected mean square; factors may be negative.

    Limits may be negative; what a variance below nought means is the caller's to say.
    """
    alpha = (1 - confidence) / 2
    estimate = sum(term.factor * term.value for term in terms)
    below = above = 0.0
    for term in terms:
        size = (term.factor * term.value) ** 2
        narrow = (1 - term.degrees_of_freedom / chi2.isf(alpha, term.degrees_of_freedom)) ** 2
        wide = (term.degrees_of_freedom / chi2.ppf(alpha, term.degrees_of_freedom) - 1) ** 2
        below += size * (narrow if term.factor > 0 else wide)
        above += size * (wide if term.factor > 0 else narrow)
    for plus in (term for term in terms if term.factor > 0):
        for minus in (term for term in terms if term.factor < 0):
            product = plus.factor * -minus.factor * plus.value * minus.value
            below += product * _cross(plus.degrees_of_freedom, minus.degrees_of_freedom, alpha)
            above += product * _cross(plus.degrees_of_freedom, minus.degrees_of_freedom, 1 - alpha)
    return estimate - sqrt(max(below, 0.0)), estimate + sqrt(max(above, 0.0))


def _cross(of_plus: float, of_minus: float, upper_tail: float) -> float:
    """The term that makes the limit exact where one of the two mean squares is nought."""
    quantile = f.isf(upper_tail, of_plus, of_minus)
    g_or_h = 1 - of_plus / chi2.isf(upper_tail, of_plus)
    h_or_g = of_minus / chi2.isf(1 - upper_tail, of_minus) - 1
    return float(((quantile - 1) ** 2 - (g_or_h * quantile) ** 2 - h_or_g**2) / quantile)
