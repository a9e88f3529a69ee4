"""The decision rule against published cases with their own guards, and its properties."""

import csv
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rodtrue.analysis.decision import (
    coverage_factor,
    decide,
    decide_characteristic,
    probabilities,
    settle,
)

PUBLISHED = Path(__file__).parents[1] / "data" / "published"


def rows(name: str) -> list[dict[str, str]]:
    with (PUBLISHED / name).open() as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("case", rows("guard_band_cases.csv"), ids=lambda c: f"y={c['y']},u={c['u']}")
def test_guard_band_cases_run_with_their_own_guard(case):
    # Asymmetric tolerance after JCGM 106:2012, guard 1.645 u (ISO 14253-1); computed with scipy.
    y, u, low, high = (float(case[name]) for name in ("y", "u", "T_L", "T_U"))
    assert decide(y, low, high, float(case["guard_1p645u"])) == case["decision_guard_band"]
    found = probabilities(y, u, 1e9, low, high)
    assert found.short == pytest.approx(float(case["p_below"]), rel=1e-6, abs=1e-15)
    assert found.correct == pytest.approx(float(case["p_in"]), rel=1e-6)
    assert found.long == pytest.approx(float(case["p_above"]), rel=1e-6, abs=1e-15)


def test_breakdown_voltage_of_jcgm_106():
    # JCGM 106:2012 clause 7 (from memory): limit -5.40 V, reading -5.47 V, u 0.05 V: 92 % conforming.
    found = probabilities(-5.47, 0.05, 1e9, -math.inf, -5.40)
    assert found.correct == pytest.approx(0.919243340766, rel=1e-9)


@pytest.mark.parametrize("case", rows("student_t_chi2.csv"), ids=lambda c: "dof=" + next(iter(c.values())))
def test_coverage_factor_is_student_t(case):
    # NIST/SEMATECH e-Handbook table of Student t (values of the file computed with scipy, agree with it).
    freedom = float(next(iter(case.values())))
    assert coverage_factor(0.95, freedom) == pytest.approx(float(case["t_0.975"]), abs=1e-8)


def test_a_value_on_a_limit_is_inside_the_closed_tolerance():
    assert decide(1.0, -0.5, 1.0, 0.0) == "correct"
    assert decide(-0.5, -0.5, 1.0, 0.0) == "correct"
    assert decide(math.nextafter(1.0, 2), -0.5, 1.0, 0.0) == "long"
    assert decide(math.nextafter(-0.5, -1), -0.5, 1.0, 0.0) == "short"


@given(
    value=st.floats(-20, 20), guard=st.floats(0, 5), more=st.floats(0, 5), low=st.floats(-5, 0), high=st.floats(0, 5)
)
def test_a_wider_guard_only_ever_turns_a_word_into_undecided(value, guard, more, low, high):
    narrow, wide = decide(value, low, high, guard), decide(value, low, high, guard + more)
    assert wide in (narrow, "undecided")


@given(value=st.floats(-20, 20), u=st.floats(1e-6, 5), freedom=st.floats(1, 1e6))
def test_probabilities_sum_to_one(value, u, freedom):
    found = probabilities(value, u, freedom, -0.5, 1.0)
    assert found.long + found.short + found.correct == pytest.approx(1, abs=1e-9)
    assert min(found.long, found.short, found.correct) >= 0


@pytest.mark.parametrize("bad", [(math.nan, 0, 1, 0), (0, 1, 0, 0), (0, 0, 1, -1), (0, 0, 1, math.inf)])
def test_senseless_arguments_are_refused(bad):
    with pytest.raises(ValueError, match="must"):
        decide(*bad)


@pytest.mark.parametrize(
    ("value", "limits", "decision"),
    [
        (10.0, (5.0, 60.0), "within"),
        (70.0, (5.0, 60.0), "above"),
        (1.0, (5.0, 60.0), "below"),
        (5.5, (5.0, 60.0), "undecided"),
        (1e9, (5.0, None), "within"),
        (-1e9, (None, 60.0), "within"),
        (10.0, (None, None), "not judged"),
        (None, (5.0, 60.0), "not judged"),
    ],
)
def test_characteristics_follow_the_same_rule_with_open_sides(value, limits, decision):
    assert decide_characteristic(value, 1.0, limits) == decision


def test_settle_says_what_more_sweeps_can_do():
    limits = (-0.5, 1.0)
    cannot = settle(0.9, 0.05, 0.10, 9, 2, 6, 0.95, limits, "zero transfer to the slide")
    assert (cannot.possible, cannot.sweeps, cannot.limiting_row) == (False, None, "zero transfer to the slide")
    can = settle(0.75, 0.12, 0.08, 9, 2, 6, 0.95, limits, "stroke to stroke")
    assert can.possible and can.sweeps is not None and can.sweeps > 0
    # The number it names is enough: with the statistical part shrunk accordingly the value is decided.
    shrunk = math.hypot(0.12 * math.sqrt(6 / (6 + can.sweeps)), 0.08)
    assert decide(0.75, *limits, coverage_factor(0.95, 1e9) * shrunk) == "correct"
    assert settle(0.25, 0.01, 0.05, 9, 2, 6, 0.95, limits, None).sweeps == 0
