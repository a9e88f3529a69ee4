"""Capability: how a characteristic's spread sits inside its limits, with intervals.

Indices: NIST/SEMATECH e-Handbook 6.1.6. Interval of Cp: chi-square, exact under a normal distribution. Interval of
Cpk: the normal approximation in D. C. Montgomery, Introduction to Statistical Quality Control, chapter 8 (A. F.
Bissell, 1990). Normality: S. S. Shapiro and M. B. Wilk, Biometrika 52 (1965), as in scipy.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import asin, isfinite, pi, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2, norm, shapiro

from rodtrue.lab.charts import MOVING_RANGE_DIVISOR
from rodtrue.lab.constants import d2, d3
from rodtrue.model.errors import InputError

LEAST_VALUES = 8
LEAST_FOR_COMFORT = 30
NOT_NORMAL_BELOW = 0.05


@dataclass(frozen=True)
class Capability:
    """Indices of one characteristic. Within: from neighbouring values or subgroups; overall: from all values.

    cp and pp are None with one limit only. Intervals at `confidence`, None as the index is.
    """

    mean: float
    sd: float
    cp: float | None
    cpk: float
    overall_sd: float
    pp: float | None
    ppk: float
    n: int
    lower: float | None
    upper: float | None
    outside: int
    degrees_of_freedom: float
    normality_p: float | None
    confidence: float = 0.95
    cp_interval: tuple[float, float] | None = None
    cpk_interval: tuple[float, float] | None = None
    pp_interval: tuple[float, float] | None = None
    ppk_interval: tuple[float, float] | None = None
    remarks: list[str] = field(default_factory=list)


def capability(
    values: NDArray[np.float64],
    lower: float | None,
    upper: float | None,
    subgroups: NDArray[np.str_] | None = None,
    *,
    confidence: float = 0.95,
) -> Capability:
    """Return the indices of values in the order they were made.

    lower, upper: limits in the unit of the values, at least one. subgroups: a label a value; within-sd is then
    pooled over subgroups, else the mean moving range over 1.128.
    Raises: InputError for limits missing or the wrong way round, fewer than eight values, or no spread.
    """
    _refuse_limits(lower, upper)
    if len(values) < LEAST_VALUES:
        raise InputError(
            f"{len(values)} values are too few for a capability index",
            f"Give {LEAST_VALUES} or more; below {LEAST_FOR_COMFORT} the interval is too wide to promise anything.",
        )
    overall = float(values.std(ddof=1))
    if not np.ptp(values) > 0:  # rounding leaves equal values a standard deviation above nought
        raise InputError(
            f"all {len(values)} values are {values[0]:g}; there is no spread to judge",
            "Record more digits, or check that the sensor is alive.",
        )
    within, df_within = _within(values, subgroups)
    mean, df_overall = float(values.mean()), len(values) - 1
    p = float(shapiro(values).pvalue)
    cp, cpk = _indices(mean, within, lower, upper)
    pp, ppk = _indices(mean, overall, lower, upper)
    n = len(values)
    return Capability(
        mean,
        within,
        cp,
        cpk,
        overall,
        pp,
        ppk,
        n,
        lower,
        upper,
        _count_outside(values, lower, upper),
        df_within,
        p,
        confidence,
        None if cp is None else spread_interval(cp, df_within, confidence),
        centred_interval(cpk, n, df_within, confidence),
        None if pp is None else spread_interval(pp, df_overall, confidence),
        centred_interval(ppk, n, df_overall, confidence),
        _remarks(n, p, within, overall),
    )


def spread_interval(index: float, degrees_of_freedom: float, confidence: float = 0.95) -> tuple[float, float]:
    """Limits of Cp or Pp: index times the root of chi-square over its degrees of freedom."""
    alpha = (1 - confidence) / 2
    low, high = (float(q) / degrees_of_freedom for q in chi2.ppf([alpha, 1 - alpha], degrees_of_freedom))
    return index * sqrt(low), index * sqrt(high)


def centred_interval(
    index: float, n: int, degrees_of_freedom: float, confidence: float = 0.95
) -> tuple[float, float]:
    """Limits of Cpk or Ppk: index -+ z sqrt(1 / (9 n) + index^2 / (2 dof)), which 0 is no pole of."""
    reach = float(norm.isf((1 - confidence) / 2)) * sqrt(1 / (9 * n) + index**2 / (2 * degrees_of_freedom))
    return index - reach, index + reach


def _refuse_limits(lower: float | None, upper: float | None) -> None:
    for limit, name in ((lower, "lower"), (upper, "upper")):
        if limit is not None and not isfinite(limit):
            raise InputError(f"the {name} limit {limit:g} is not finite", f"Leave --{name} out for no limit.")
    if lower is None and upper is None:
        raise InputError("no limit is given", "Give --lower, --upper, or both.")
    if lower is not None and upper is not None and lower >= upper:
        raise InputError(
            f"the lower limit {lower:g} is not below the upper limit {upper:g}", "Turn --lower and --upper round."
        )


def _count_outside(values: NDArray[np.float64], lower: float | None, upper: float | None) -> int:
    below = 0 if lower is None else int(np.sum(values < lower))
    above = 0 if upper is None else int(np.sum(values > upper))
    return below + above


def _within(values: NDArray[np.float64], subgroups: NDArray[np.str_] | None) -> tuple[float, float]:
    if subgroups is None:
        mean_range = float(np.abs(np.diff(values)).mean())
        sd, df = mean_range / MOVING_RANGE_DIVISOR, moving_range_freedom(len(values))
    else:
        groups = [values[subgroups == label] for label in dict.fromkeys(subgroups.tolist())]
        df = float(sum(len(group) - 1 for group in groups))
        if df < 1:
            raise InputError(
                "every subgroup has one value, so the spread within cannot be told",
                "Leave the subgroup column out, or give subgroups of two or more.",
            )
        squares = sum(float(np.sum((group - group.mean()) ** 2)) for group in groups if np.ptp(group) > 0)
        sd = sqrt(squares / df)
    if not sd > 0:
        raise InputError(
            "neighbouring values do not differ; the spread within is nought",
            "Record more digits, or name no subgroups.",
        )
    return sd, df


def moving_range_freedom(n: int) -> float:
    """Degrees of freedom of the mean moving range of n values, from its variance.

    Neighbouring ranges share a value: with u, v normal of variance 2 and correlation -1/2,
    E|u||v| = (4 / pi)(sqrt(3)/2 + asin(1/2)/2). The variance of the mean range, over its square, is 1 / (2 dof).
    """
    count = n - 1
    shared = 4 / pi * (sqrt(3) / 2 + asin(0.5) / 2) - d2(2) ** 2
    variance = (count * d3(2) ** 2 + 2 * (count - 1) * shared) / count**2
    return d2(2) ** 2 / (2 * variance)


def _indices(mean: float, sd: float, lower: float | None, upper: float | None) -> tuple[float | None, float]:
    sides = [] if upper is None else [(upper - mean) / (3 * sd)]
    sides += [] if lower is None else [(mean - lower) / (3 * sd)]
    both = None if lower is None or upper is None else (upper - lower) / (6 * sd)
    return both, min(sides)


def _remarks(n: int, p: float, within: float, overall: float) -> list[str]:
    remarks = []
    if p < NOT_NORMAL_BELOW:
        remarks.append(
            f"The values do not look normal (Shapiro-Wilk, p = {p:.2g}): the indices promise what "
            "this distribution may not keep. Look at the plot: two kinds of part, an outlier, or a skew?"
        )
    if n < LEAST_FOR_COMFORT:
        remarks.append(f"{n} values are few: go by the lower end of the interval, not by the index.")
    if overall > 1.25 * within:
        remarks.append(
            f"The overall spread is {overall / within:.2g} times the spread within: the level moves. "
            "Put the values on a chart before believing Cp and Cpk."
        )
    return remarks
