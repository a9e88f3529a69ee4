"""The judgement on data nobody planned for: it answers with a word it may use, and never falls over."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analysis.made_up_run import MadeUp
from rodtrue.analysis.judge import judge
from rodtrue.findings_table import load_findings_table
from rodtrue.model.conditions import Conditions, Plan
from rodtrue.model.result import Judgement
from rodtrue.model.samples import STEPS, Samples
from rodtrue.profiles import load_profile

PROFILE = load_profile("example-direct")
TABLE = load_findings_table()


def judged(samples: Samples, conditions: Conditions | None = None) -> Judgement:
    return judge(samples, PROFILE, conditions or Conditions(rod_unhooked=True), TABLE)


def consistent(found: Judgement) -> None:
    """What holds of every judgement, whatever the data."""
    error = found.rod_error
    if found.verdict == "no result":
        assert found.reason and error is None and found.probability is None and found.correction is None
        return
    assert error is not None
    if error.value_mm is None:
        assert found.verdict == "short" and error.at_most_mm is not None and found.probability is None
        return
    low, high = error.interval_mm or (np.nan, np.nan)
    assert low <= error.value_mm <= high
    if found.verdict == "correct":
        assert low >= -0.5 and high <= 1.0
    if found.verdict == "long":
        assert low > 1.0
    if found.verdict == "short":
        assert high < -0.5
    if any(finding.severity == "stop" for finding in found.findings):
        assert found.correction is None and found.verdict != "correct"


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(
    seed=st.integers(0, 10**6),
    n=st.integers(0, 400),
    scale=st.sampled_from([1e-9, 1.0, 30.0, 1e6, 1e12]),
    pieces=st.integers(1, 8),
    kind=st.sampled_from(["noise", "walk", "steps", "constant", "sine"]),
)
def test_arbitrary_columns_never_raise(seed, n, scale, pieces, kind):
    rng = np.random.default_rng(seed)
    t = np.arange(n) * 0.002

    def column() -> np.ndarray:
        noise = rng.standard_normal(n)
        shapes = {
            "noise": noise,
            "walk": np.cumsum(noise),
            "steps": np.repeat(rng.standard_normal(n // 7 + 1), 7)[:n],
            "constant": np.zeros(n),
            "sine": np.sin(2 * np.pi * t * rng.uniform(0.5, 5)),
        }
        return scale * shapes[kind]

    step = np.repeat(rng.integers(0, len(STEPS), pieces), n // pieces + 1)[:n].astype(np.uint8)
    with np.errstate(all="raise", under="ignore"):
        found = judged(Samples(t, column(), column(), step))
    consistent(found)


@settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 10**6), cut=st.floats(0.02, 1.0), lost=st.floats(0, 0.6), error=st.floats(-8, 8))
def test_cut_and_torn_runs_stay_consistent(seed, cut, lost, error):
    rng = np.random.default_rng(seed)
    run = MadeUp(rod_error_mm=error, sweeps=4, seconds=(1.0, 2.0), noise_kpa=1.0, seed=seed).samples()
    keep = np.arange(len(run)) < cut * len(run)
    for _ in range(rng.integers(0, 6)):
        start = rng.integers(0, len(run))
        keep[start : start + int(lost * len(run) / 6)] = False
    if not keep.any():
        return
    found = judged(run.where(keep), Conditions(rod_unhooked=True, plan=Plan(3, 4, 2)))
    consistent(found)
    if found.verdict == "long":
        assert error > 0.9
    if found.verdict == "short":
        assert error < -0.4
    if found.verdict == "correct":
        assert -0.6 < error < 1.1


@pytest.mark.slow
def test_a_million_samples_are_judged():
    run = MadeUp(rod_error_mm=-3.0, sweeps=170, rate_hz=1000.0).samples()
    assert len(run) > 950_000
    found = judged(run)
    assert found.verdict == "short"
    assert found.rod_error is not None and found.rod_error.value_mm == pytest.approx(-3.0, abs=0.06)


def test_repeated_and_offset_values_change_nothing():
    run = MadeUp(rod_error_mm=-3.0).samples()
    first = judged(run)
    moved = judged(replace(run, travel_mm=run.travel_mm + 1000.0, time_s=run.time_s + 1e6))
    assert first.rod_error is not None and moved.rod_error is not None
    assert moved.rod_error.value_mm == pytest.approx(first.rod_error.value_mm, abs=1e-6)
