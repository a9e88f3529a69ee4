"""Runs of the separate generator with samples lost near the lever start, beside the same runs whole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rodtrue.analysis.judge import judge
from rodtrue.findings_table import load_findings_table
from rodtrue.model.conditions import Conditions
from rodtrue.model.result import Judgement
from rodtrue.model.samples import STEPS, Samples
from rodtrue.profiles import load_profile
from separate_generator import Case, draw_case, make_arrays

Gaps = list[tuple[int, float, float]]
"""Stroke, and between which travels of the pin in mm its samples are lost."""

NO_NARROWER = 0.95
"""A gap of a few samples moves the scatter's own estimate by chance, by so much at most."""


@dataclass(frozen=True)
class Pair:
    """One run judged whole and with gaps. lost: samples lost."""

    case: Case
    gaps: Gaps
    whole: Judgement
    gapped: Judgement
    lost: int

    @property
    def is_wrong(self) -> bool:
        """Whether the verdict contradicts the truth."""
        return self.gapped.verdict in self.case.wrong_verdicts

    @property
    def covers(self) -> bool | None:
        """Whether the interval holds the truth; None where there is none."""
        error = self.gapped.rod_error
        if error is None or error.interval_mm is None:
            return None
        return error.interval_mm[0] <= self.case.rod_error_mm <= error.interval_mm[1]

    @property
    def fewer_strokes(self) -> bool:
        """Whether strokes were refused for the gaps."""
        return _used(self.gapped) < _used(self.whole)

    @property
    def is_honest(self) -> bool:
        """Whether strokes were refused, the interval has not become narrower, or nothing is said any more."""
        before, after = _uncertainty_mm(self.whole), _uncertainty_mm(self.gapped)
        return self.fewer_strokes or before is None or after is None or after >= NO_NARROWER * before


def drawn_pair(seed: int) -> Pair:
    """Return a run whose rod is near a limit or well off it, with gaps drawn near its lever start.

    The gaps are in a few strokes or in all, from a few samples to 8 mm long, within 3 mm of the lever start or, where
    that lies before the stop, on the first 3 mm.
    """
    rng = np.random.default_rng((seed, 33391))
    rod_error_mm = float(rng.choice([-0.5, 1.0, -3.0, 2.5, 0.2]) + rng.uniform(-0.6, 0.6))
    case = draw_case(seed, rod_error_mm=rod_error_mm, drive="slide", sweeps=int(rng.integers(4, 7)))
    share = rng.choice([0.2, 0.5, 1.0])
    gaps: Gaps = []
    for stroke in range(2 * case.sweeps):
        if stroke == 2 or rng.random() < share:
            start_mm = case.lever_start_mm
            middle_mm = start_mm + rng.uniform(-3.0, 3.0) if start_mm > 0.0 else rng.uniform(0.0, 3.0)
            half_mm = 0.5 * float(np.exp(rng.uniform(np.log(0.05), np.log(8.0))))
            gaps.append((stroke, middle_mm - half_mm, middle_mm + half_mm))
    arrays = make_arrays(case)
    lost = np.zeros(len(arrays["time_s"]), bool)
    for stroke, low_mm, high_mm in gaps:
        lost |= (arrays["stroke"] == stroke) & (arrays["pin_mm"] >= low_mm) & (arrays["pin_mm"] <= high_mm)
    whole = np.ones(len(lost), bool)
    return Pair(case, gaps, _judged(arrays, whole), _judged(arrays, ~lost), int(lost.sum()))


def _judged(arrays: dict[str, NDArray[np.generic]], kept: NDArray[np.bool_]) -> Judgement:
    steps = np.array([STEPS.index(str(word)) for word in arrays["step"][kept]], np.uint8)
    columns = (arrays[name][kept].astype(float) for name in ("time_s", "travel_mm", "pressure_kpa"))
    samples = Samples(*columns, steps)
    return judge(samples, load_profile(), Conditions(drive="slide"), load_findings_table())


def _used(judgement: Judgement) -> int:
    return sum(stroke.used for stroke in judgement.strokes)


def _uncertainty_mm(judgement: Judgement) -> float | None:
    return judgement.rod_error.expanded_uncertainty_mm if judgement.rod_error else None
