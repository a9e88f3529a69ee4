"""A repeatability study on the plant: 10 units, 3 operators, 3 trials: `python -m bench.lab_study`.

Every unit has its own rod error and every operator sets the slide's stop with an own habit; each reading is a whole
run through plant and judgement, the plant drawing an instrument's errors anew each time, which is the repeatability.
What the study finds of units and operators is held against what was drawn.
"""

from __future__ import annotations

import numpy as np

from bench.study import page
from rodtrue.analysis.judge import judge
from rodtrue.findings_table import load_findings_table
from rodtrue.lab.plan import plan_study
from rodtrue.lab.repeatability import by_analysis_of_variance
from rodtrue.lab.study import Reading, arrange
from rodtrue.model.conditions import Conditions
from rodtrue.profiles import load_profile
from rodtrue.virtual.direct import run_samples

SEED = 20261125
UNITS_SD_MM, HABIT_SD_MM = 1.2, 0.15
PARTS, OPERATORS, TRIALS = [str(i) for i in range(1, 11)], ["A", "B", "C"], 3


def main() -> None:
    """Take the ninety readings, analyse them, and write the results and the report."""
    rng = np.random.default_rng(SEED)
    units = dict(zip(PARTS, rng.normal(-1.0, UNITS_SD_MM, len(PARTS)), strict=True))
    habits = dict(zip(OPERATORS, rng.normal(0, HABIT_SD_MM, len(OPERATORS)), strict=True))
    profile, table = load_profile(), load_findings_table()
    readings = []
    for planned in plan_study(PARTS, OPERATORS, TRIALS, SEED):
        error_mm = units[planned.part] + habits[planned.operator]
        samples, _ = run_samples(profile, rod_error_mm=error_mm, seed=SEED + planned.order)
        judged = judge(samples, profile, Conditions(kind="virtual", drive="slide", rod_unhooked=True), table)
        value_mm = judged.rod_error.value_mm if judged.rod_error is not None else None
        if value_mm is None:
            raise SystemExit(f"reading {planned.order} has no value: {judged.verdict}, {judged.reason}")
        readings.append(Reading(planned.part, planned.operator, str(planned.trial), value_mm))
    study = arrange(readings)
    found = by_analysis_of_variance(study)
    drawn = {"part": UNITS_SD_MM, "reproducibility": HABIT_SD_MM}
    lines = []
    for name in ("repeatability", "reproducibility", "gauge_rr", "part", "total"):
        low, high = found.interval[name]
        sd_mm = drawn.get(name)
        goal = "-" if sd_mm is None else f"{sd_mm:.4f} was drawn"
        shown = f"{getattr(found, name):.4f} ({low:.4f} to {high:.4f})"
        met = None if sd_mm is None else low <= sd_mm <= high
        lines.append(page.Line(f"{name.replace('_', ' ')}, sd / mm", goal, shown, met=met))
    page.Page(
        "lab_study",
        "Repeatability study on the plant",
        f"10 units, 3 operators, 3 trials, seed {SEED}; {len(readings)} runs judged",
        lines,
        notes=[f"- {remark}" for remark in found.remarks],
    ).write()


if __name__ == "__main__":
    main()
