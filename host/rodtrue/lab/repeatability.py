"""Repeatability and reproducibility of a crossed study, by analysis of variance or by ranges.

Model: value = mean + part + operator + part x operator + error, all random. Expected mean squares and the average
and range method: AIAG, Measurement Systems Analysis, 4th edition (2010), chapter III; the analysis of variance also
D. C. Montgomery, Design and Analysis of Experiments, two-factor random model. Intervals: `intervals`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import floor, hypot, inf, sqrt
from typing import Any, Literal

import numpy as np
from scipy.stats import f

from rodtrue.lab.constants import d2, d2_of_one_range
from rodtrue.lab.intervals import MeanSquare, combination_interval
from rodtrue.lab.study import Study
from rodtrue.model.counted import counted
from rodtrue.model.digits import percent
from rodtrue.model.errors import InputError

POOL_ABOVE_P = 0.25
CATEGORY_FACTOR = 1.41


Judgement = Literal["acceptable", "acceptable for some uses", "not acceptable"]

GUIDELINE = "AIAG, Measurement Systems Analysis, 4th edition"
"""What the words of a judgement come from; its bounds of 10 % and 30 % and the five categories are from memory."""


def judgement_of(percent_gauge_rr: float) -> Judgement:
    """Return what the guideline calls a gauge that takes so much of the total spread (as standard deviation)."""
    if percent_gauge_rr < 10:
        return "acceptable"
    return "acceptable for some uses" if percent_gauge_rr <= 30 else "not acceptable"


BOUNDS = (10.0, 30.0)
"""Percentages at which the guideline's word changes."""


@dataclass(frozen=True)
class Source:
    """A line of the table of the analysis of variance. F and p against the error; None for the error and total."""

    name: str
    degrees_of_freedom: int
    sum_of_squares: float
    mean_square: float | None
    f_ratio: float | None
    p: float | None


@dataclass(frozen=True)
class Repeatability:
    """Standard deviations in the unit of the values, and what they mean for the study.

    `interval` holds the limits of each of them at `confidence`, None with the range method. `remarks` says in words
    what a reader must know: a component below nought, the interaction pooled or kept, too few categories.
    """

    method: str
    repeatability: float
    reproducibility: float
    gauge_rr: float
    part: float
    total: float
    percent_gauge_rr: float
    distinct_categories: int
    judgement: Judgement
    operator: float | None = None
    interaction: float | None = None
    interval: dict[str, tuple[float, float]] | None = None
    confidence: float | None = None
    pooled: bool | None = None
    table: list[Source] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)


def by_analysis_of_variance(study: Study, *, pool: bool = False, confidence: float = 0.95) -> Repeatability:
    """Components of variance of a crossed study.

    study: shape (parts, operators, trials), balanced, each 2 or more.
    pool: drop the interaction where its p is above 0.25, its squares going to the error.
    A component whose estimate is below nought is set to nought, and said.
    """
    values = study.values
    parts, operators, trials = values.shape
    table = _table(values)
    part, operator, interaction, error = (line.mean_square or 0.0 for line in table[:4])
    df_part, df_operator, df_interaction, df_error = (line.degrees_of_freedom for line in table[:4])
    p = table[2].p if table[2].p is not None else 0.0  # against no error at all every interaction stands out
    remarks = []
    pooled = pool and p > POOL_ABOVE_P
    if pooled:
        both = df_interaction + df_error
        interaction = error = (df_interaction * interaction + df_error * error) / both
        df_interaction = df_error = both
        remarks.append(f"The interaction of part and operator is pooled with the error (p = {p:.2f}).")
    elif table[2].p is not None and p < 0.05:
        remarks.append(f"Operators differ from part to part (interaction, p = {p:.2g}): see how each measures.")

    per_operator, per_part = parts * trials, operators * trials
    of_error = MeanSquare(1.0, error, df_error)
    if pooled:
        less_error = _less(per_operator, error, df_error)
        variance_operator = [MeanSquare(1 / per_operator, operator, df_operator), less_error]
        variance_part = [MeanSquare(1 / per_part, part, df_part), _less(per_part, error, df_error)]
        variance_interaction: list[MeanSquare] = []
        gauge = [variance_operator[0], MeanSquare(1 - 1 / per_operator, error, df_error)]
        reproducible = variance_operator
        whole = [*gauge[:1], variance_part[0], MeanSquare(1 - 1 / per_operator - 1 / per_part, error, df_error)]
    else:
        less_interaction = _less(per_operator, interaction, df_interaction)
        variance_operator = [MeanSquare(1 / per_operator, operator, df_operator), less_interaction]
        variance_part = [MeanSquare(1 / per_part, part, df_part), _less(per_part, interaction, df_interaction)]
        variance_interaction = [MeanSquare(1 / trials, interaction, df_interaction), _less(trials, error, df_error)]
        reproducible = [
            variance_operator[0],
            MeanSquare((parts - 1) / per_operator, interaction, df_interaction),
            _less(trials, error, df_error),
        ]
        gauge = [*reproducible[:2], MeanSquare(1 - 1 / trials, error, df_error)]
        whole = [
            variance_operator[0],
            variance_part[0],
            MeanSquare(1 / trials - 1 / per_operator - 1 / per_part, interaction, df_interaction),
            MeanSquare(1 - 1 / trials, error, df_error),
        ]

    found = {
        "operator": _variance(variance_operator),
        "interaction": _variance(variance_interaction),
        "part": _variance(variance_part),
    }
    total = error + sum(max(variance, 0.0) for variance in found.values())
    remarks += _without_spread(study)
    for name, variance in found.items():
        if variance < 0:
            remarks.append(
                f"The variance of {_PHRASES[name]} comes out below nought ({percent(100 * variance / total)} % of "
                "the total's): taken as nought."
            )
    operator_sd, interaction_sd, part_sd = (sqrt(max(variance, 0.0)) for variance in found.values())
    repeatability = sqrt(error)
    reproducibility = sqrt(operator_sd**2 + interaction_sd**2)
    gauge_sd = hypot(repeatability, reproducibility)
    intervals = {
        "repeatability": (repeatability, [of_error]),
        "reproducibility": (reproducibility, reproducible),
        "gauge_rr": (gauge_sd, gauge),
        "part": (part_sd, variance_part),
        "total": (hypot(gauge_sd, part_sd), whole),
    }
    return _summed_up(
        "analysis of variance",
        repeatability,
        reproducibility,
        part_sd,
        remarks,
        operator=operator_sd,
        interaction=None if pooled else interaction_sd,
        interval={
            name: _root(combination_interval(terms, confidence), estimate)
            for name, (estimate, terms) in intervals.items()
        },
        confidence=confidence,
        pooled=pooled,
        table=table,
    )


def by_ranges(study: Study) -> Repeatability:
    """Average and range method: quick by hand, blind to the interaction, without intervals.

    Raises: InputError where neither averages nor trials differ.
    """
    values = study.values
    parts, operators, trials = values.shape
    mean_range = float(np.mean(np.ptp(values, axis=2)))
    repeatability = mean_range / d2(trials)
    between_operators = float(np.ptp(values.mean(axis=(0, 2)))) / d2_of_one_range(operators)
    operator_variance = between_operators**2 - repeatability**2 / (parts * trials)
    remarks = _without_spread(study)
    if operator_variance < 0:
        remarks.append(
            "The variance of the operators comes out below nought "
            f"({percent(100 * operator_variance / repeatability**2)} % of the repeatability's): taken as nought."
        )
    reproducibility = sqrt(max(operator_variance, 0.0))
    part = float(np.ptp(values.mean(axis=(1, 2)))) / d2_of_one_range(parts)
    return _summed_up("average and range", repeatability, reproducibility, part, remarks)


def _without_spread(study: Study) -> list[str]:
    """What to say where trials never differ: a gauge that shows no spread of its own need not have none."""
    if np.ptp(study.values, axis=2).any():
        return []
    return [
        "No two trials of a part by an operator differ: the readings have too few digits to show the repeatability, "
        "and the gauge may take more than is said here. Record more digits."
    ]


_PHRASES = {"operator": "the operators", "interaction": "the interaction of part and operator", "part": "the parts"}


def _summed_up(
    method: str, repeatability: float, reproducibility: float, part: float, remarks: list[str], **more: Any
) -> Repeatability:
    gauge_rr = hypot(repeatability, reproducibility)
    total = hypot(gauge_rr, part)
    if not total > 0:
        raise InputError(
            "the averages of the parts and of the operators do not differ, nor do the trials",
            "Leave --method range out: the analysis of variance also sees an operator who reads parts the other way.",
        )
    ratio = CATEGORY_FACTOR * part / gauge_rr if gauge_rr > 0 else inf
    categories = floor(ratio) if ratio != inf else _NO_SPREAD
    if categories < 5:
        remarks.append(
            f"The gauge tells {counted(categories, 'category', 'categories')} of part apart; "
            "five are the usual least."
        )
    percent = 100 * gauge_rr / total
    return Repeatability(
        method,
        repeatability,
        reproducibility,
        gauge_rr,
        part,
        total,
        percent,
        categories,
        judgement_of(percent),
        remarks=remarks,
        **more,
    )


_NO_SPREAD = 1_000_000
"""Stands for "more than anyone counts": the same value in every trial and by every operator."""


def _table(values: np.ndarray) -> list[Source]:
    parts, operators, trials = values.shape
    mean = values.mean()
    by_part, by_operator, by_cell = values.mean(axis=(1, 2)), values.mean(axis=(0, 2)), values.mean(axis=2)
    squares_part = operators * trials * float(np.sum((by_part - mean) ** 2))
    squares_operator = parts * trials * float(np.sum((by_operator - mean) ** 2))
    departure = by_cell - by_part[:, None] - by_operator[None, :] + mean
    squares_interaction = trials * float(np.sum(departure**2))
    differ = np.ptp(values, axis=2).any()  # rounding leaves equal trials a little off their mean
    squares_error = float(np.sum((values - by_cell[:, :, None]) ** 2)) if differ else 0.0
    df_error = parts * operators * (trials - 1)
    error = squares_error / df_error
    lines = []
    for name, df, squares in (
        ("part", parts - 1, squares_part),
        ("operator", operators - 1, squares_operator),
        ("part x operator", (parts - 1) * (operators - 1), squares_interaction),
    ):
        ratio = squares / df / error if error > 0 else None
        p = float(f.sf(ratio, df, df_error)) if ratio is not None else None
        lines.append(Source(name, df, squares, squares / df, ratio, p))
    lines.append(Source("error", df_error, squares_error, error, None, None))
    lines.append(Source("total", values.size - 1, float(np.sum((values - mean) ** 2)), None, None, None))
    return lines


def _less(count: int, mean_square: float, df: float) -> MeanSquare:
    return MeanSquare(-1 / count, mean_square, df)


def _variance(terms: list[MeanSquare]) -> float:
    return sum(term.factor * term.value for term in terms)


def _root(limits: tuple[float, float], estimate: float) -> tuple[float, float]:
    """Limits of a standard deviation from those of its variance; the estimate, no part below nought, lies in them."""
    low, high = (sqrt(max(limit, 0.0)) for limit in limits)
    return min(low, estimate), max(high, estimate)
