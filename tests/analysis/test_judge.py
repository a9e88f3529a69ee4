"""The judgement on made-up runs: verdicts, safeguards, and what may not be said."""

from dataclasses import replace

import numpy as np
import pytest

from analysis.made_up_run import MadeUp
from rodtrue.analysis.judge import judge
from rodtrue.findings_table import load_findings_table
from rodtrue.model.conditions import Conditions, Plan
from rodtrue.model.result import Judgement
from rodtrue.model.samples import ADJUSTED, BASELINE, NO_STEP, RESPONSE, SWEEP, ZERO, Samples
from rodtrue.profiles import load_profile

PROFILE = load_profile("example-direct")
TABLE = load_findings_table()
UNHOOKED = Conditions(rod_unhooked=True)


def judged(samples: Samples, conditions: Conditions = UNHOOKED) -> Judgement:
    return judge(samples, PROFILE, conditions, TABLE)


def codes(judgement: Judgement) -> set[str]:
    return {finding.code for finding in judgement.findings}


@pytest.mark.parametrize("rod_error_mm", [-15.0, -12.7, -6.0, -2.0, -0.3, 0.0, 0.4, 2.0, 6.0, 12.0])
def test_rod_error_is_found_from_half_an_inch_short_to_far_too_long(rod_error_mm):
    # Half an inch short is what slack taken up the wrong way leaves (common practice, no source).
    found = judged(MadeUp(rod_error_mm=rod_error_mm).samples())
    assert found.rod_error is not None and found.rod_error.interval_mm is not None
    low, high = found.rod_error.interval_mm
    assert low <= rod_error_mm <= high
    assert found.rod_error.value_mm == pytest.approx(rod_error_mm, abs=0.08)
    expected = "short" if rod_error_mm < -0.5 else "long" if rod_error_mm > 1 else "correct"
    assert found.verdict == expected
    assert found.lever_start_mm == pytest.approx(-found.rod_error.value_mm)
    assert found.friction_mm == pytest.approx(0.2, abs=0.05)


def test_onsets_enclose_the_lever_start_by_half_the_friction():
    found = judged(MadeUp(rod_error_mm=-3.0, friction_mm=0.5).samples())
    assert found.opening_onset_mm == pytest.approx(3.25, abs=0.05)
    assert found.closing_onset_mm == pytest.approx(2.75, abs=0.05)


def test_correction_cancels_the_error_at_the_slip_joint():
    short = judged(MadeUp(rod_error_mm=-2.0).samples()).correction
    assert short is not None and short.direction == "lengthen"
    assert short.amount_mm == pytest.approx(2.0, abs=0.08)
    assert short.turns is None and "slip joint" in short.where and len(short.steps) == 1
    long = judged(MadeUp(rod_error_mm=3.0).samples()).correction
    assert long is not None and (long.direction, round(long.amount_mm or 0)) == ("shorten", 3)
    exact = judged(MadeUp().samples()).correction
    assert exact is not None and (exact.direction, exact.amount_mm) == ("none", 0.0)


def test_lever_free_travel_of_the_profile_is_taken_off():
    profile = replace(PROFILE, lever=replace(PROFILE.lever, free_mm=0.8, free_half_width_mm=0.1))
    found = judge(MadeUp(rod_error_mm=-3.0).samples(), profile, UNHOOKED, TABLE)
    assert found.lever_start_mm == pytest.approx(3.0 - 0.8, abs=0.08)
    assert "lever free travel" in {row.name for row in found.budget}


# --- the one false `correct`


@pytest.mark.parametrize("answer", [False, None])
def test_long_rod_with_its_baseline_taken_connected_is_never_called_correct(answer):
    # On the pin the lever cannot reach its stop, idle pressure passes for the baseline and the rod reads exact.
    found = judged(MadeUp(rod_error_mm=2.0, connected=True).samples(), Conditions(rod_unhooked=answer))
    assert found.rod_error is not None
    assert abs(found.rod_error.value_mm or 9) < 0.3, "the data cannot show it; that is the trap"
    assert found.verdict == "undecided"
    assert "baseline_not_proven" in codes(found)


def test_without_proof_long_is_not_said_but_short_is():
    assert judged(MadeUp(rod_error_mm=4.0).samples(), Conditions(rod_unhooked=None)).verdict == "undecided"
    assert judged(MadeUp(rod_error_mm=-4.0).samples(), Conditions(rod_unhooked=None)).verdict == "short"


@pytest.mark.parametrize("baseline_kpa", [3.0, 80.0])
def test_implausible_baseline_forbids_correct(baseline_kpa):
    found = judged(MadeUp(baseline_kpa=baseline_kpa).samples())
    assert found.verdict == "undecided"
    assert "baseline_implausible" in codes(found)


def test_a_baseline_nobody_vouched_for_is_noted_as_assumed():
    found = judged(MadeUp().samples(), Conditions(rod_unhooked=True, baseline_assumed=True))
    assert found.verdict == "correct"
    assert "baseline_assumed_unhooked" in codes(found)


# --- zero and rests


def test_rod_that_holds_the_throttle_off_its_stop_stops_and_gives_no_correction():
    found = judged(MadeUp(rod_error_mm=3.0, rest_mm=0.6, later_rest_mm=0.6).samples())
    assert found.verdict == "undecided"
    assert found.findings[0].code == "rod_holds_throttle" and found.findings[0].severity == "stop"
    assert found.correction is None


@pytest.mark.parametrize("rod_error_mm", [-3.0, 0.2, 4.0])
def test_idle_that_moved_leaves_the_verdict_undecided(rod_error_mm):
    found = judged(MadeUp(rod_error_mm=rod_error_mm, later_rest_mm=0.35).samples())
    assert found.verdict == "undecided"
    assert "idle_moved" in codes(found)


def test_a_shift_within_the_limit_is_a_budget_row_only():
    found = judged(MadeUp(rod_error_mm=-3.0, later_rest_mm=0.15).samples())
    assert found.verdict == "short"
    row = next(row for row in found.budget if row.name == "rests")
    assert row.half_width == pytest.approx(0.075, abs=0.02)


def test_pin_that_does_not_return_is_the_first_and_loudest_finding():
    found = judged(MadeUp(rod_error_mm=-3.0, later_rest_mm=2.5).samples())
    assert (found.findings[0].code, found.findings[0].severity) == ("travel_not_returned", "stop")
    assert found.correction is None and found.verdict == "undecided"


def test_without_zero_rows_travel_zero_is_the_reference():
    run = MadeUp(rod_error_mm=-2.0, origin_mm=0.0).samples()
    found = judged(run.where(run.step != ZERO))
    assert found.rod_error is not None
    assert found.rod_error.value_mm == pytest.approx(-2.0, abs=0.08)


# --- data that cannot say


def with_pressure(run: Samples, pressure: np.ndarray) -> Samples:
    return replace(run, pressure_kpa=pressure)


def test_sensor_the_other_way_round_gives_no_result():
    run = MadeUp(rod_error_mm=-2.0).samples()
    found = judged(replace(run, travel_mm=42.0 - run.travel_mm))
    assert found.verdict == "no result"
    assert "other way round" in (found.reason or "")
    assert found.rod_error is None and found.correction is None and found.probability is None


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda run: run.where(run.step != BASELINE), "no baseline"),
        (lambda run: run.where(run.step != SWEEP), "no sweep"),
        (lambda run: replace(run, step=np.full(len(run), NO_STEP, np.uint8)), "no baseline"),
        (lambda run: replace(run, travel_mm=np.full(len(run), 12.0)), "did not move"),
        (lambda run: replace(run, travel_mm=12 + 0.01 * np.sin(run.time_s)), "never moves"),
        (lambda run: replace(run, pressure_kpa=np.full(len(run), 412.0)), "at a rail"),
        (lambda run: replace(run, pressure_kpa=np.full(len(run), -258.0)), "unplugged"),
    ],
)
def test_data_that_cannot_say_give_no_result_with_the_reason(change, says):
    found = judged(change(MadeUp(rod_error_mm=-2.0).samples()))
    assert found.verdict == "no result"
    assert says in (found.reason or "")


def test_flat_pressure_after_a_shown_response_is_short_by_at_least_what_was_travelled():
    found = judged(MadeUp(rod_error_mm=-40.0, full_mm=20.0).samples())
    assert found.verdict == "short"
    assert found.rod_error is not None and found.rod_error.value_mm is None
    assert found.rod_error.at_most_mm is not None and -20 < found.rod_error.at_most_mm < -17
    assert found.rod_error.interval_mm is None and found.probability is None
    assert found.correction is not None
    assert (found.correction.direction, found.correction.amount_mm) == ("lengthen", None)
    assert found.correction.at_least_mm == -found.rod_error.at_most_mm


@pytest.mark.parametrize(
    ("run", "conditions"),
    [
        (MadeUp(rod_error_mm=-40.0, full_mm=20.0, response=False), UNHOOKED),
        (MadeUp(rod_error_mm=-40.0, full_mm=20.0), Conditions(rod_unhooked=None)),
        (MadeUp(rod_error_mm=-40.0, full_mm=20.0, baseline_kpa=80.0), UNHOOKED),
        (MadeUp(rod_error_mm=-40.0, full_mm=2.5, noise_kpa=1.5), UNHOOKED),
        (MadeUp(rod_error_mm=-40.0, full_mm=20.0, sweeps=2), UNHOOKED),
    ],
)
def test_flat_pressure_without_every_proof_is_no_result(run, conditions):
    assert judged(run.samples(), conditions).verdict == "no result"


def test_pressure_stuck_at_one_value_in_the_sweeps_is_no_short_rod():
    run = MadeUp(rod_error_mm=-40.0, full_mm=20.0).samples()
    for stuck in (25.0, 412.0):
        found = judged(with_pressure(run, np.where(run.step == SWEEP, stuck, run.pressure_kpa)))
        assert found.verdict == "no result" and "rail" in (found.reason or "")
    # For most of the run only: still no confident word.
    partly = (run.step == SWEEP) & (run.time_s > run.time_s[-1] * 0.4)
    found = judged(with_pressure(run, np.where(partly, 25.0, run.pressure_kpa)))
    assert found.verdict == "no result" and "rail" in (found.reason or "")


@pytest.mark.parametrize("error_mm", [-4.5, -5.5, -9.0])
def test_with_the_throttle_too_little_travel_advises_the_slide_and_never_opening_further(error_mm):
    run = MadeUp(rod_error_mm=error_mm, full_mm=6.0, noise_kpa=1.0, response=False).samples()
    throttle = judged(run, Conditions(rod_unhooked=True, drive="throttle"))
    words = (throttle.reason or "") + " ".join(f.text for f in throttle.findings)
    assert throttle.verdict == "no result"
    assert "hand slide" in words and "full travel" not in words
    assert "open further" not in words.replace("do not open the throttle further", "")
    assert "move the pin further" in (judged(run, Conditions(rod_unhooked=True, drive="slide")).reason or "")


def test_what_sweeps_cannot_mend_is_not_promised_to_settle():
    trap = judged(MadeUp(rod_error_mm=2.0, connected=True).samples(), Conditions(rod_unhooked=False))
    assert trap.settle is not None and not trap.settle.possible and trap.settle.sweeps is None
    few = judged(MadeUp(rod_error_mm=-5.0, sweeps=2).samples())
    assert few.settle is None or few.settle.possible


def test_a_record_that_begins_in_motion_still_notices_a_rod_that_holds_the_throttle():
    run = MadeUp(rod_error_mm=3.0, rest_mm=0.6, later_rest_mm=0.6).samples()
    first_move = np.flatnonzero((run.step == SWEEP) & (run.travel_mm > 13.5))[0]
    keep = (run.step != SWEEP) | (np.arange(len(run)) >= first_move)
    found = judged(run.where(keep))
    assert found.findings[0].code == "rod_holds_throttle"
    assert found.correction is None


def test_one_sweep_claims_little():
    found = judged(MadeUp(rod_error_mm=-5.0, sweeps=1, seconds=(2.0, 3.0)).samples())
    assert found.verdict in ("undecided", "no result")
    if found.rod_error is not None and found.rod_error.statistical is not None:
        assert found.rod_error.degrees_of_freedom < 1e6


def test_pressure_that_stays_high_is_not_taken_for_a_short_rod():
    run = MadeUp(rod_error_mm=-40.0, full_mm=20.0).samples()
    raised = run.pressure_kpa + np.where(run.step == SWEEP, 300.0, 0.0)
    found = judged(with_pressure(run, raised))
    assert found.verdict == "no result"
    assert "above the baseline" in (found.reason or "")


@pytest.mark.parametrize("sweeps", [1, 2])
def test_too_few_sweeps_are_undecided_at_best(sweeps):
    found = judged(MadeUp(rod_error_mm=-5.0, sweeps=sweeps).samples())
    assert found.verdict in ("undecided", "no result")


def test_friction_over_half_the_tolerance_forbids_correct():
    found = judged(MadeUp(friction_mm=0.9).samples())
    assert found.verdict == "undecided"
    assert "friction_high" in codes(found)
    assert judged(MadeUp(rod_error_mm=-4.0, friction_mm=0.9).samples()).verdict == "short"


def test_against_the_levers_own_stop_only_the_body_is_judged():
    found = judged(MadeUp(full_mm=40.0).samples(), Conditions(rod_unhooked=True, reference="lever_stop"))
    assert (found.verdict, found.reason) == ("no result", "no curb-idle reference")
    assert found.rod_error is None and found.correction is None
    assert found.body_verdict == "conforming"


def test_a_body_whose_full_pressure_was_not_reached_does_not_conform_where_it_has_limits():
    conditions = Conditions(rod_unhooked=True, reference="lever_stop")
    samples = MadeUp().samples()
    assert judged(samples, conditions).body_verdict == "undecided"
    free = replace(PROFILE, limits=replace(PROFILE.limits, full_pressure_kpa=(None, None)))
    assert judge(samples, free, conditions, TABLE).body_verdict == "conforming"


def test_against_the_levers_own_stop_the_free_travel_is_measured_and_judged():
    conditions = Conditions(rod_unhooked=True, reference="lever_stop", drive="bench")
    run = MadeUp(rod_error_mm=-0.9, full_mm=40.0).samples()  # the lever moves 0.9 mm before pressure rises
    for limits, decision, verdict in (
        ((None, 1.5), "within", "conforming"),
        ((None, 0.5), "above", "nonconforming"),
        ((None, 0.9), "undecided", "undecided"),
    ):
        profile = replace(PROFILE, limits=replace(PROFILE.limits, lever_free_travel_mm=limits))
        found = judge(run, profile, conditions, TABLE)
        free = found.characteristics[0]
        assert free.name == "lever_free_travel"
        assert free.value == pytest.approx(0.9, abs=0.08)
        assert (free.decision, found.body_verdict) == (decision, verdict)
        assert found.verdict == "no result"


def test_a_jump_of_the_start_is_never_pooled_in_silence():
    before, after = (
        MadeUp(rod_error_mm=0.9, sweeps=3).samples(),
        MadeUp(rod_error_mm=-0.3, sweeps=3, seed=2).samples(),
    )
    sweeps = after.where(after.step == SWEEP)
    both = Samples(
        np.concatenate([before.time_s, before.time_s[-1] + 0.004 + sweeps.time_s - sweeps.time_s[0]]),
        np.concatenate([before.travel_mm, sweeps.travel_mm]),
        np.concatenate([before.pressure_kpa, sweeps.pressure_kpa]),
        np.concatenate([before.step, sweeps.step]),
        0.03,
    )
    found = judged(both)
    assert found.verdict == "undecided"
    assert "start_jump" in codes(found)
    # The same with the adjustment marked: only what came after it counts.
    step = both.step.copy()
    step[len(before) - 1] = ADJUSTED
    marked = judged(replace(both, step=step))
    assert marked.verdict == "correct"
    assert marked.rod_error is not None and marked.rod_error.value_mm == pytest.approx(-0.3, abs=0.08)


# --- looks, budget, record


def test_plan_is_repeated_first_look_then_extension():
    run = MadeUp(rod_error_mm=-3.0, sweeps=12).samples()
    found = judged(run, Conditions(rod_unhooked=True, plan=Plan(6, 12, 1)))
    assert found.rod_error is not None and found.rod_error.coverage_probability == 0.975
    assert len(found.strokes) == 12, "decided after the first look: six sweeps are twelve strokes"
    one_look = judged(run)
    assert one_look.rod_error is not None and one_look.rod_error.coverage_probability == 0.95
    assert len(one_look.strokes) == 24
    undecided = judged(
        MadeUp(rod_error_mm=-0.5, sweeps=12).samples(), Conditions(rod_unhooked=True, plan=Plan(6, 12, 2))
    )
    assert len(undecided.strokes) == 24


def test_budget_rows_make_up_the_combined_uncertainty():
    found = judged(MadeUp(rod_error_mm=-3.0).samples(), Conditions(rod_unhooked=True, drive="slide"))
    assert found.rod_error is not None
    combined = np.sqrt(sum(row.standard_uncertainty_mm**2 for row in found.budget))
    assert found.rod_error.standard_uncertainty_mm == pytest.approx(combined)
    reach = found.rod_error.coverage_factor * combined
    assert found.rod_error.expanded_uncertainty_mm == pytest.approx(reach)
    names = [row.name for row in found.budget]
    assert len(names) == len(set(names)), "nothing twice"
    for name in ("zero transfer to the slide", "rests", "travel nonlinearity", "travel scale", "axis and arc",
                 "baseline since its step", "friction asymmetry", "ramp bend"):  # fmt: skip
        assert name in names
    # Half-widths of the profile, rectangular: a / sqrt(3) (JCGM 100:2008, 4.3.7).
    transfer = next(row for row in found.budget if row.name == "zero transfer to the slide")
    assert transfer.standard_uncertainty_mm == pytest.approx(0.15 / np.sqrt(3))


def test_transfer_row_stands_only_for_a_slide():
    for drive in (None, "throttle", "bench"):
        found = judged(MadeUp(rod_error_mm=-3.0).samples(), Conditions(rod_unhooked=True, drive=drive))
        assert "zero transfer to the slide" not in {row.name for row in found.budget}


def test_uncertainty_of_a_long_rod_grows_with_the_distance_carried_back():
    reach = [judged(MadeUp(rod_error_mm=e).samples()).rod_error.expanded_uncertainty_mm for e in (1.5, 5.0, 12.0)]
    assert reach[0] < reach[1] < reach[2]


def test_characteristics_come_in_their_fixed_order():
    found = judged(MadeUp(rod_error_mm=-3.0, full_mm=40.0).samples())
    names = [c.name for c in found.characteristics]
    assert names == ["lever_free_travel", "baseline", "full_pressure", "ripple", "return_error", "slope", "friction"]
    values = {c.name: c.value for c in found.characteristics}
    assert values["baseline"] == pytest.approx(25.0, abs=0.3)
    assert values["full_pressure"] == pytest.approx(420.0, abs=2)
    assert values["slope"] == pytest.approx(12.0, abs=0.1)


def test_one_speed_is_noted_and_the_lag_not_named():
    run = MadeUp(rod_error_mm=-3.0).samples()
    ramp = 15.0 * (1 - np.abs(((run.time_s / 2.5) % 2) - 1))
    travel = np.where(run.step == SWEEP, 12.0 + 2 * ramp, run.travel_mm)
    lever = travel - 12.0 - 3.0
    pressure = np.where(run.step == SWEEP, 25 + 12 * np.maximum(0, lever), run.pressure_kpa)
    constant = judged(replace(run, travel_mm=travel, pressure_kpa=pressure))
    assert constant.lag_s is None and "one_speed_only" in codes(constant)
    assert "lag not told apart" in {row.name for row in constant.budget}
    assert judged(run).lag_s is not None, "two speeds tell it"


def test_missing_samples_at_the_knee_drop_the_stroke_with_the_reason():
    run = MadeUp(rod_error_mm=-3.0).samples()
    travel = run.travel_mm - 12.0
    near = (run.step == SWEEP) & (travel > 2.0) & (travel < 12.0)
    first = np.flatnonzero(near)[0]
    stop = first + np.flatnonzero(~near[first:])[0]
    keep = np.ones(len(run), bool)
    keep[first:stop] = False
    found = judged(run.where(keep))
    assert found.verdict == "short"
    assert "samples_lost" in codes(found)
    assert any(s.why_not and "missing samples" in s.why_not for s in found.strokes)


def test_rows_without_a_step_after_the_preparation_are_the_sweeps_where_none_is_marked():
    run = MadeUp(rod_error_mm=-3.0).samples()
    unmarked = replace(run, step=np.where(run.step == SWEEP, NO_STEP, run.step).astype(np.uint8))
    assert judged(unmarked).rod_error == judged(run).rod_error


def test_response_rows_are_no_sweeps():
    run = MadeUp(rod_error_mm=-3.0).samples()
    assert (run.step == RESPONSE).any()
    assert len(judged(run).strokes) == 12
