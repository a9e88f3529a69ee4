"""What would decide: sweeps counted by hand, and probabilities at their edges."""

import math

import pytest

from analysis.made_up_run import MadeUp
from rodtrue.analysis.decision import (
    TWO_LOOKS,
    coverage_factor,
    decide_characteristic,
    look_by_plan,
    probabilities,
    settle,
)
from rodtrue.analysis.judge import judge
from rodtrue.findings_table import load_findings_table
from rodtrue.model.conditions import Conditions, Plan
from rodtrue.profiles import load_profile

LIMITS = (-0.5, 1.0)


def decided_after(value: float, random: float, systematic: float, sweeps: int, now: float, each: int) -> int:
    """Count up, sweep by sweep, from the definition: how many more until value and reach leave a limit free."""
    for more in range(200):
        total = sweeps + more
        u = random * math.sqrt(sweeps / total)
        combined = math.hypot(u, systematic)
        # Welch-Satterthwaite with one row that has degrees of freedom (JCGM 100:2008, G.2b).
        reach = coverage_factor(0.95, (now + each * more) * combined**4 / u**4) * combined
        inside = value - reach >= LIMITS[0] and value + reach <= LIMITS[1]
        if inside or value - reach > LIMITS[1] or value + reach < LIMITS[0]:
            return more
    raise AssertionError("never")


@pytest.mark.parametrize(("value", "random"), [(0.75, 0.12), (0.8, 0.15), (1.25, 0.12), (-0.75, 0.14), (-0.3, 0.1)])
@pytest.mark.parametrize(("now", "each"), [(9, 2), (10, 2), (4, 1), (5, 1)])
def test_it_names_the_fewest_sweeps_that_decide(value, random, now, each):
    found = settle(value, random, 0.05, now, each, 6, 0.95, LIMITS, "row")
    assert (found.possible, found.limiting_row) == (True, "row")
    assert found.sweeps == decided_after(value, random, 0.05, 6, now, each) > 0


@pytest.mark.parametrize(("run", "now", "each"), [
    # Scatter from stroke to stroke: two strokes a sweep, less a slope and two levels.
    (MadeUp(rod_error_mm=-0.75, noise_kpa=14.0, seed=0, sweeps=3), 2 * 3 - 3, 2),
    (MadeUp(rod_error_mm=1.6, noise_kpa=20.0, seed=3, sweeps=3), 2 * 3 - 3, 2),
    # Scatter from sweep to sweep: sweeps less one.
    (MadeUp(rod_error_mm=-0.75, noise_kpa=14.0, seed=1, sweeps=3), 3 - 1, 1),
    (MadeUp(rod_error_mm=-0.75, noise_kpa=14.0, seed=1, sweeps=4), 4 - 1, 1),
    (MadeUp(rod_error_mm=-0.75, noise_kpa=20.0, seed=1, sweeps=4), 4 - 1, 1),
    # One direction: one stroke a sweep, less a slope and a level.
    (MadeUp(rod_error_mm=1.35, noise_kpa=14.0, seed=1, sweeps=3, closings=False), 3 - 2, 1),
    (MadeUp(rod_error_mm=1.35, noise_kpa=14.0, seed=0, sweeps=4, closings=False), 4 - 2, 1),
])  # fmt: skip
def test_an_undecided_run_is_told_the_sweeps_that_decide_it_by_its_own_degrees_of_freedom(run, now, each):
    found = judge(run.samples(), load_profile("example-direct"), Conditions(rod_unhooked=True), load_findings_table())
    assert found.verdict == "undecided" and found.settle is not None and found.rod_error is not None
    statistical = found.rod_error.statistical
    assert statistical is not None and statistical.degrees_of_freedom == now
    random = statistical.standard_uncertainty_mm
    systematic = math.sqrt(found.rod_error.standard_uncertainty_mm**2 - random**2)
    expected = decided_after(found.rod_error.value_mm, random, systematic, run.sweeps, now, each)
    assert found.settle.sweeps == expected > 0, "none more would decide it already"


def test_beyond_the_most_sweeps_it_is_possible_but_no_number_is_named():
    assert settle(0.75, 0.12, 0.08, 9, 2, 6, 0.95, LIMITS, None, most_sweeps=6).sweeps is None
    enough = settle(0.75, 0.12, 0.08, 9, 2, 6, 0.95, LIMITS, None).sweeps
    assert enough is not None
    assert settle(0.75, 0.12, 0.08, 9, 2, 6, 0.95, LIMITS, None, most_sweeps=6 + enough).sweeps == enough
    short = settle(0.75, 0.12, 0.08, 9, 2, 6, 0.95, LIMITS, None, most_sweeps=5 + enough)
    assert (short.possible, short.sweeps) == (True, None)


def test_without_scatter_nothing_more_is_needed():
    assert settle(0.75, 0.0, 0.08, 9, 2, 6, 0.95, LIMITS, None).sweeps == 0


def test_where_the_systematic_part_straddles_a_limit_no_sweeps_help():
    # 1.96 x 0.1: the value must keep 0.196 from a limit.
    assert settle(0.80, 0.05, 0.1, 9, 2, 6, 0.95, LIMITS, "row").possible
    assert not settle(0.81, 0.05, 0.1, 9, 2, 6, 0.95, LIMITS, "row").possible


@pytest.mark.parametrize(("value", "decision"), [
    (6.0, "within"), (59.0, "within"), (5.99, "undecided"), (59.01, "undecided"), (61.0, "undecided"),
    (61.01, "above"), (4.0, "undecided"), (3.99, "below"),
])  # fmt: skip
def test_a_characteristic_on_its_guarded_limit_is_inside(value, decision):
    assert decide_characteristic(value, 1.0, (5.0, 60.0)) == decision


def test_one_open_side_is_infinitely_far():
    assert decide_characteristic(62.0, 1.0, (None, 60.0)) == "above"
    assert decide_characteristic(2.0, 1.0, (5.0, None)) == "below"
    assert decide_characteristic(10.0, None, (5.0, None)) == "not judged"


@pytest.mark.parametrize(("u", "freedom"), [(0.0, 5.0), (-1.0, 5.0), (0.1, 0.0)])
def test_probabilities_need_an_uncertainty_and_degrees_of_freedom(u, freedom):
    with pytest.raises(ValueError, match="above 0"):
        probabilities(0.0, u, freedom, *LIMITS)


def test_probabilities_are_those_of_students_t():
    # t(0.975) for 4 degrees of freedom is 2.776445 (NIST/SEMATECH e-Handbook, 1.3.6.7.2).
    found = probabilities(1.0 - 0.1 * 2.776445, 0.1, 4.0, -math.inf, 1.0)
    assert (found.long, found.short) == (pytest.approx(0.025, abs=1e-6), 0.0)
    found = probabilities(-0.5 + 0.1 * 2.776445, 0.1, 4.0, -0.5, math.inf)
    assert (found.long, found.short) == (0.0, pytest.approx(0.025, abs=1e-6))


class Looked:
    def __init__(self, verdict: str) -> None:
        self.verdict = verdict


@pytest.mark.parametrize(("plan", "sweeps", "verdict", "looks"), [
    (Plan(6, 12, 0), 12, "short", [6]),
    (Plan(6, 12, 0), 12, "undecided", [6, 12]),
    (Plan(6, 12, 2), 20, "undecided", [6, 12]),
    (Plan(6, 12, 2), 9, "undecided", [6, 9]),
    (Plan(6, 12, 1), 12, "undecided", [6]),
    (Plan(6, 12, 2), 6, "undecided", [6]),
    (Plan(6, 12, 2), 4, "undecided", [4]),
    (Plan(6, 12, 2), 7, "undecided", [6, 7]),
])  # fmt: skip
def test_a_plan_is_looked_at_once_and_once_more_only_while_undecided(plan, sweeps, verdict, looks):
    asked: list[int] = []

    def look(count: int) -> Looked:
        asked.append(count)
        return Looked(verdict)

    look_by_plan(plan, sweeps, look)
    assert asked == looks
    assert TWO_LOOKS == 1 - 0.05 / 2, "both looks together keep 5 %"
