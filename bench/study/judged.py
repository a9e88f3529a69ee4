"""Judging many runs of one kind, and what is kept of each."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from bench.study.plant_runs import Truth
from rodtrue.analysis.decision import coverage_factor
from rodtrue.analysis.findings import FindingTable
from rodtrue.analysis.judge import judge
from rodtrue.findings_table import load_findings_table
from rodtrue.model.conditions import Conditions
from rodtrue.model.profile import Profile
from rodtrue.model.result import Judgement
from rodtrue.model.samples import Samples
from rodtrue.profiles import load_profile

Array = NDArray[np.float64]
Make = Callable[[int], tuple[Samples, Truth]]
WORKERS = 2
FLOOR = "resolution"


@dataclass(frozen=True)
class Kept:
    """One judged run; None where there was no value. Lengths in mm.

    error: value less truth, the truth being the middle of the onsets. baseline_part: what of it is the
    baseline's own error (it has rows of its own in the budget), None where the truth of it is not known.
    half_width: of the statistical 95 % interval; free_half_width: the same without the resolution's floor.
    rod_error, reach: error against the rod's truth, and the full interval's half-width.
    """

    verdict: str
    reason: str | None
    error: float | None = None
    baseline_part: float | None = None
    half_width: float | None = None
    free_half_width: float | None = None
    floored: bool = False
    rod_error: float | None = None
    reach: float | None = None
    friction_error: float | None = None
    friction_reach: float | None = None
    lag_s: float | None = None
    findings: tuple[str, ...] = ()


@cache
def _standing() -> tuple[Profile, FindingTable]:
    return load_profile(), load_findings_table()


def judge_one(make: Make, conditions: Conditions, free_width: bool, seed: int) -> Kept:
    """Return what is kept of the judgement of run number `seed`, with `free_half_width` where asked for."""
    samples, truth = make(seed)
    profile, table = _standing()
    kept = keep(judge(samples, profile, conditions, table), truth)
    if not free_width or not kept.floored:
        return replace(kept, free_half_width=kept.half_width)
    # A converter step of nothing takes the floor away and leaves the two estimates from the data.
    free = keep(judge(replace(samples, travel_step_mm=0.0), profile, conditions, table), truth)
    return replace(kept, free_half_width=free.half_width)


def keep(judged: Judgement, truth: Truth) -> Kept:
    """Return the errors and half-widths of a judgement against its truth, `free_half_width` apart."""
    error = judged.rod_error
    codes = tuple(finding.code for finding in judged.findings)
    if error is None or error.value_mm is None or error.statistical is None or error.expanded_uncertainty_mm is None:
        return Kept(judged.verdict, judged.reason, findings=codes)
    by_name = {c.name: c for c in judged.characteristics}
    statistical = error.statistical
    freedom = statistical.degrees_of_freedom
    factor = coverage_factor(0.95, freedom) if freedom > 0 else np.inf
    row = next(row for row in judged.budget if row.name == "stroke to stroke")
    level = by_name["baseline"].value
    baseline_part = None
    if truth.baseline_kpa is not None and level is not None:
        baseline_part = -(level - truth.baseline_kpa) / truth.slope_kpa_per_mm
    friction = by_name["friction"]
    return Kept(
        verdict=judged.verdict,
        reason=judged.reason,
        error=error.value_mm + truth.middle_mm,
        baseline_part=baseline_part,
        half_width=factor * statistical.standard_uncertainty_mm,
        floored=row.note.endswith(FLOOR),
        rod_error=error.value_mm - truth.rod_error_mm,
        reach=error.expanded_uncertainty_mm,
        friction_error=None if friction.value is None else friction.value - truth.friction_mm,
        friction_reach=friction.expanded_uncertainty,
        lag_s=judged.lag_s,
        findings=codes,
    )


def judge_many(
    make: Make, seeds: Iterable[int], conditions: Conditions | None = None, *, free_width: bool = False
) -> list[Kept]:
    """Return the kept parts of all runs, in the order of the seeds; none is replaced.

    free_width: find the width without the resolution's floor too, at the price of a second judgement.
    """
    seeds = list(seeds)
    given = conditions or Conditions(kind="csv")
    with ProcessPoolExecutor(WORKERS) as pool:
        return list(pool.map(_Task(make, given, free_width), seeds, chunksize=max(1, len(seeds) // (8 * WORKERS))))


@dataclass(frozen=True)
class _Task:
    make: Make
    conditions: Conditions
    free_width: bool

    def __call__(self, seed: int) -> Kept:
        return judge_one(self.make, self.conditions, self.free_width, seed)
