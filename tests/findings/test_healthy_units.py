"""A healthy unit raises nothing worth a warning, whatever its layout, speed, noise and rod error."""

import pytest

from rodtrue.analysis.judge import judge
from rodtrue.findings_table import load_findings_table
from rodtrue.linkage import RODS
from rodtrue.model.conditions import Conditions
from rodtrue.profiles import load_profile
from rodtrue.virtual.direct import run_samples

TABLE = load_findings_table()
SLIDE = Conditions(kind="virtual", drive="slide", rod_unhooked=True)
ERRORS_MM = (-12.0, -3.0, -0.6, 0.0, 0.6, 3.0, 8.0)
HALVES_S = ((3.0, 6.0), (2.0, 4.0), (2.5, 3.5))
RATES_HZ = (500, 250)
PARTS = 8
RUNS = 200
"""Of each layout: every draw of the invented shop, noise from a quarter to the whole of what it knows."""


@pytest.mark.slow
@pytest.mark.parametrize("layout", RODS)
@pytest.mark.parametrize("part", range(PARTS))
def test_no_warning_and_no_stop_in_200_healthy_runs_of_each_layout(layout, part):
    profile = load_profile(f"example-{layout}")
    raised = {}
    for number in range(part, RUNS, PARTS):
        samples, _ = run_samples(
            profile,
            rod_error_mm=ERRORS_MM[number % 7],
            seed=1000 + number,
            halves_s=HALVES_S[number % 3],
            rate_hz=RATES_HZ[number // 7 % 2],
        )
        found = [f.code for f in judge(samples, profile, SLIDE, TABLE).findings if f.severity != "note"]
        if found:
            raised[number] = found
    assert raised == {}
