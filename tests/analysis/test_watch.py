"""Where each finding begins: just within its threshold nothing is said, just beyond it is, with the numbers."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from analysis.made_up_ramp import BASELINE_KPA, SLOPE, pairs, ramp_of, stroke
from rodtrue.analysis.findings import Findings
from rodtrue.analysis.ramp import Ramp
from rodtrue.analysis.reference import Baseline, Rests
from rodtrue.analysis.strokes import Section
from rodtrue.analysis.watch import watch_fixture, watch_ramp, watch_rests, watch_samples, watch_sensor
from rodtrue.findings_table import load_findings_table
from rodtrue.model.conditions import Conditions
from rodtrue.model.result import Characteristic
from rodtrue.model.samples import BASELINE, SWEEP, Samples
from rodtrue.profiles import load_profile

PROFILE = load_profile("example-direct")
QUIET = Baseline(BASELINE_KPA, [BASELINE_KPA], 0.1)
STILL = Rests(0.0, BASELINE_KPA, [0.0, 0.0], [BASELINE_KPA, BASELINE_KPA])
STEADY = pairs([3.2] * 4, [3.0] * 4)


def found_by(watcher: Any, *arguments: Any, **more: Any) -> dict[str, dict[str, Any]]:
    findings = Findings(load_findings_table())
    watcher(findings, *arguments, **more)
    return {finding.code: finding.evidence for finding in findings.listed()}


def of_ramp(
    ramp: Ramp, friction: float | None = 0.2, reach: float = 0.05, *,
    rests: Rests = STILL, baseline: Baseline = QUIET, slope: str = "within", full: str = "within",
    on_stop: bool = False,
) -> dict[str, dict[str, Any]]:  # fmt: skip
    characteristics = [
        Characteristic("slope", SLOPE, "kPa/mm", 0.1, (5.0, 20.0), slope),
        Characteristic("full_pressure", 400.0, "kPa", 1.0, (300.0, None), full),
        Characteristic("friction", friction, "mm", None if friction is None else reach, (None, None), "not judged"),
    ]
    return found_by(watch_ramp, ramp, characteristics, rests, baseline, PROFILE, on_stop=on_stop)


# --- the ramp


def test_an_ordinary_ramp_gives_no_finding():
    assert of_ramp(ramp_of(STEADY)) == {}


@pytest.mark.parametrize(("shift_mm", "told"), [(0.24, False), (0.26, True)])
def test_a_jump_of_the_start_begins_at_its_threshold_and_says_how_far(shift_mm, told):
    strokes = pairs([3.2] * 3 + [3.2 + shift_mm] * 3, [3.0] * 3 + [3.0 + shift_mm] * 3)
    found = of_ramp(ramp_of(strokes))
    assert ("start_jump" in found) is told
    if told:
        assert found["start_jump"]["jump_mm"] == pytest.approx(shift_mm)
        assert found["start_jump"]["scatter_mm"] == pytest.approx(0.0, abs=1e-9)


def test_a_jump_is_the_best_split_whatever_its_place_and_its_scatter_is_what_is_left_about_both_levels():
    onsets = [3.0, 3.1, 4.0, 4.1, 4.0, 4.1]  # levels 3.05 and 4.05, jump 1; 0.05 off each of 6, less 2 levels
    strokes = [stroke("opening", onset) for onset in onsets] + [stroke("closing", 3.0, why_not="too short")]
    ramp = replace(ramp_of([*strokes, stroke("closing", 3.0)]), strokes=strokes)
    found = of_ramp(ramp)["start_jump"]
    assert found["jump_mm"] == pytest.approx(1.0)
    assert found["scatter_mm"] == pytest.approx(np.sqrt(6 * 0.05**2 / 4))


def test_scatter_without_a_level_is_scatter_and_no_jump():
    onsets = [3.0, 3.8, 3.1, 3.7, 3.0, 3.8]
    found = of_ramp(ramp_of(pairs(onsets, onsets)))
    assert "start_jump" not in found
    assert found["start_scatter"]["spread_mm"] == pytest.approx(np.std(np.repeat(onsets, 2), ddof=1))


def test_fewer_than_four_strokes_tell_of_neither():
    strokes = [stroke("opening", 3.0), stroke("closing", 3.0), stroke("opening", 5.0)]
    assert of_ramp(ramp_of(strokes)) == {}


@pytest.mark.parametrize(("friction", "told"), [(0.74, False), (0.75, False), (0.76, True), (-0.76, True)])
def test_friction_is_high_beyond_half_the_tolerance(friction, told):
    assert ("friction_high" in of_ramp(ramp_of(STEADY), friction)) is told  # 0.5 short and 1 long: half is 0.75


def test_with_the_lag_not_told_only_what_is_surely_friction_counts_as_high():
    ramp = ramp_of(STEADY, lag_told=False)
    assert "friction_high" not in of_ramp(ramp, 1.2, 0.5)
    found = of_ramp(ramp, -1.3, 0.5)
    assert found["friction_high"]["friction_mm"] == pytest.approx(-0.8)
    assert found["one_speed_only"]["speeds_mm_per_s"] == [20.0, 20.0]


def test_openings_alone_are_said_to_lack_their_closings():
    found = of_ramp(ramp_of(STEADY), None)
    assert found["closings_missing"]["directions"] == ["opening", "closing"]


@pytest.mark.parametrize(("excess_kpa", "told"), [(4.9, False), (5.1, True)])
def test_idle_pressure_is_high_beyond_what_friction_holds(excess_kpa, told):
    # Friction 0.2 mm at 10 kPa/mm holds 2 kPa; 3 kPa more are let pass.
    rests = Rests(0.0, BASELINE_KPA + excess_kpa, [0.0], [BASELINE_KPA])
    found = of_ramp(ramp_of(STEADY), rests=rests)
    assert ("idle_pressure_high" in found) is told
    if told:
        assert found["idle_pressure_high"] == pytest.approx({"excess_kpa": excess_kpa, "friction_kpa": 2.0})


@pytest.mark.parametrize(("shift_kpa", "told"), [(-3.1, True), (-2.9, False), (3.9, False), (4.1, True)])
def test_on_its_stop_only_friction_holds_the_pressure_off_the_baseline(shift_kpa, told):
    # After a closing friction of 0.2 mm at 10 kPa/mm holds 1 kPa, upwards; 3 kPa more are let pass either way.
    rests = Rests(0.0, BASELINE_KPA, [0.0, 0.0], [BASELINE_KPA + shift_kpa - 0.1, BASELINE_KPA + shift_kpa + 0.1])
    found = of_ramp(ramp_of(STEADY), rests=rests, on_stop=True)
    assert ("baseline_changed" in found) is told
    if told:
        assert found["baseline_changed"]["shift_kpa"] == pytest.approx(shift_kpa)
    assert "baseline_changed" not in of_ramp(ramp_of(STEADY), rests=rests), "off its stop the lever may hold pressure"


@pytest.mark.parametrize(("shift_kpa", "told"), [(-4.1, True), (-3.9, False), (3.9, False), (4.1, True)])
def test_without_a_rest_after_a_closing_friction_may_hold_the_pressure_either_way(shift_kpa, told):
    rests = Rests(0.0, BASELINE_KPA + shift_kpa, [], [])
    assert ("baseline_changed" in of_ramp(ramp_of(STEADY), rests=rests, on_stop=True)) is told
    assert "baseline_changed" not in of_ramp(ramp_of(STEADY), rests=Rests(None, None, [], []), on_stop=True)


def test_with_openings_alone_and_with_noise_more_is_let_pass_on_the_stop():
    rests = Rests(0.0, BASELINE_KPA, [0.0], [BASELINE_KPA + 7.9])
    assert "baseline_changed" in of_ramp(ramp_of(STEADY), rests=rests, on_stop=True)
    # A valve's friction is at most 1 mm where it was not measured: 5 kPa.
    assert "baseline_changed" not in of_ramp(ramp_of(STEADY), None, rests=rests, on_stop=True)
    noisy = replace(QUIET, noise_kpa=5.0)
    assert "baseline_changed" not in of_ramp(ramp_of(STEADY), rests=rests, baseline=noisy, on_stop=True)


def test_a_noisy_baseline_and_an_untold_lag_let_more_idle_pressure_pass():
    rests = Rests(0.0, BASELINE_KPA + 7.9, [0.0], [BASELINE_KPA])
    assert "idle_pressure_high" in of_ramp(ramp_of(STEADY), rests=rests)
    assert "idle_pressure_high" not in of_ramp(ramp_of(STEADY), rests=rests, baseline=replace(QUIET, noise_kpa=2.0))
    more = replace(rests, first_kpa=BASELINE_KPA + 8.1)  # beyond 2 kPa held and three times the noise
    assert "idle_pressure_high" in of_ramp(ramp_of(STEADY), rests=more, baseline=replace(QUIET, noise_kpa=2.0))
    untold = ramp_of(STEADY, lag_told=False)
    assert "idle_pressure_high" not in of_ramp(untold, 0.2, 0.3, rests=rests)


def test_ripple_is_the_root_mean_square_of_all_residuals():
    ramp = ramp_of(STEADY, residual_kpa=[np.array([7.0, -7.0]), np.array([1.0, -1.0])])
    assert of_ramp(ramp) == {}  # exactly 5 kPa
    louder = ramp_of(STEADY, residual_kpa=[np.array([7.1, -7.1]), np.array([1.0, -1.0])])
    assert of_ramp(louder)["ripple_high"]["ripple_kpa"] == pytest.approx(np.sqrt((7.1**2 + 1) / 2))


@pytest.mark.parametrize(("lag_s", "told"), [(0.06, False), (0.061, True)])
def test_pressure_is_sluggish_beyond_its_lag(lag_s, told):
    assert ("pressure_sluggish" in of_ramp(ramp_of(STEADY, lag_s=lag_s))) is told


def test_strokes_too_fast_are_counted():
    refused = [stroke("opening", 3.2, why_not="too fast: 70 on the ramp"), stroke("closing", 3.0, why_not="x")]
    assert of_ramp(ramp_of([*STEADY, *refused]))["sweep_too_fast"]["strokes"] == 1


@pytest.mark.parametrize(("decision", "told"), [("within", 0), ("undecided", 0), ("above", 1), ("below", 1)])
def test_a_slope_surely_outside_its_range_is_told(decision, told):
    assert ("slope_out_of_range" in of_ramp(ramp_of(STEADY), slope=decision)) == told


def test_full_pressure_is_low_only_where_it_surely_is():
    assert [c for d in ("above", "undecided", "below") for c in of_ramp(ramp_of(STEADY), full=d)] == [
        "full_pressure_low"
    ]


# --- rests


@pytest.mark.parametrize(
    ("first_mm", "later_mm", "codes"),
    [
        (0.2, [0.2], set()),
        (0.21, [0.0], {"rod_holds_throttle"}),
        (-0.21, [0.0], {"rod_holds_throttle"}),
        (None, [0.21], {"rod_holds_throttle", "idle_moved"}),
        (0.0, [0.0, -0.21], {"idle_moved"}),
        (0.0, [1.0], {"idle_moved"}),
        (0.0, [0.0, 1.01], {"idle_moved", "travel_not_returned"}),
        (0.5, [1.4], {"rod_holds_throttle", "idle_moved"}),
        (-0.1, [0.95], {"idle_moved"}),
        (0.0, [], set()),
    ],
)
def test_rests_are_told_beyond_their_limits(first_mm, later_mm, codes):
    rests = Rests(first_mm, BASELINE_KPA, later_mm, [BASELINE_KPA] * len(later_mm))
    assert set(found_by(watch_rests, rests, QUIET, PROFILE)) == codes


@pytest.mark.parametrize(("after_kpa", "told"), [(45.0, False), (45.1, True)])
def test_pressure_that_does_not_return_is_told_by_its_highest_rest(after_kpa, told):
    rests = Rests(0.0, 25.0, [0.0, 0.0], [after_kpa, 25.0])
    found = found_by(watch_rests, rests, QUIET, PROFILE)
    assert ("pressure_not_returned" in found) is told
    if told:
        assert found["pressure_not_returned"]["excess_kpa"] == pytest.approx(20.1)


# --- samples and sensors


def run(pressure: np.ndarray, baseline_rows: int = 100) -> Samples:
    n = len(pressure)
    step = np.where(np.arange(n) < baseline_rows, BASELINE, SWEEP).astype(np.uint8)
    return Samples(np.arange(n) * 0.01, np.zeros(n), pressure, step)


def of_samples(samples: Samples, baseline: Baseline, **conditions: Any) -> dict[str, dict[str, Any]]:
    return found_by(watch_samples, samples, [], baseline, PROFILE, Conditions(**conditions))


NOISE = 25 + np.random.default_rng(4).standard_normal(400)


@pytest.mark.parametrize(("still", "told"), [(30, False), (33, True)])
def test_a_reading_that_stands_still_for_longer_than_the_threshold_is_clipped(still, told):
    pressure = NOISE.copy()
    pressure[200 : 200 + still] = 412.0  # rows of 10 ms; 33 of them last 0.32 s
    found = of_samples(run(pressure), replace(QUIET, noise_kpa=1.0))
    assert ("sensor_clipped" in found) is told
    if told:
        assert found["sensor_clipped"]["pressure_kpa"] == 412.0
        assert found["sensor_clipped"]["seconds"] == pytest.approx(0.32)
        assert found["sensor_clipped"]["limit_s"] == pytest.approx(0.3)


def test_what_stands_still_in_the_baseline_too_or_without_noise_is_a_coarse_sensor_and_not_clipped():
    pressure = NOISE.copy()
    pressure[200:250] = 412.0
    pressure[10:25] = 25.0  # 0.14 s in the baseline: five times that is let pass
    assert "sensor_clipped" not in of_samples(run(pressure), replace(QUIET, noise_kpa=1.0))
    assert "sensor_clipped" not in of_samples(run(np.full(400, 25.0), 100), replace(QUIET, noise_kpa=0.2))


def test_lost_samples_are_told_by_their_gaps_and_how_long_those_lasted():
    def section(begin_s: float, end_s: float, broken_before: bool) -> Section:
        time_s = np.linspace(begin_s, end_s, 20)
        return Section(time_s, np.zeros(20), np.zeros(20), np.zeros(20), 0.01, broken_before)

    sections = [section(0, 1, False), section(1.5, 2, True), section(3, 4, False), section(4.25, 5, True)]
    found = found_by(watch_samples, run(NOISE), sections, QUIET, PROFILE, Conditions())
    assert found["samples_lost"] == {"gaps": 2, "seconds": pytest.approx(0.75)}
    assert "samples_lost" not in found_by(watch_samples, run(NOISE), sections[2:3], QUIET, PROFILE, Conditions())


@pytest.mark.parametrize(("level", "told"), [(4.9, True), (5.0, False), (60.0, False), (60.1, True)])
def test_a_baseline_outside_the_profiles_range_is_implausible(level, told):
    assert ("baseline_implausible" in of_samples(run(NOISE), replace(QUIET, level_kpa=level))) is told


@pytest.mark.parametrize(("highest", "told"), [(2000.0, False), (2000.1, True)])
def test_pressure_over_the_hoses_limit_is_told(highest, told):
    pressure = NOISE.copy()
    pressure[300] = highest
    assert ("pressure_over_limit" in of_samples(run(pressure), QUIET)) is told


def test_a_baseline_not_proven_outweighs_one_only_assumed():
    assert set(of_samples(run(NOISE), QUIET, rod_unhooked=None, baseline_assumed=True)) == {"baseline_not_proven"}
    assert set(of_samples(run(NOISE), QUIET, baseline_assumed=True)) == {"baseline_assumed_unhooked"}


@pytest.mark.parametrize(
    ("middle", "codes"),
    [(-60.0, set()), (-60.5, {"sensor_open"}), (2100.0, set()), (2100.5, {"sensor_shorted"}), (25.0, set())],
)
def test_a_sensor_open_or_shorted_is_told_by_the_middle_of_the_sweeps(middle, codes):
    pressure = np.full(401, 25.0)
    pressure[100:] = middle
    assert set(found_by(watch_sensor, run(pressure), PROFILE)) == codes
    assert found_by(watch_sensor, run(pressure, 401), PROFILE) == {}, "no sweep, nothing to tell"


# --- what the fixture says of itself


@pytest.mark.parametrize(
    ("conditions", "codes"),
    [
        ({"supply_v": 4.5}, set()),
        ({"supply_v": 4.49}, {"supply_low"}),
        ({"fluid_degc": 40.0}, set()),
        ({"fluid_degc": 39.0}, {"fluid_cold"}),
        ({"calibration": "in order"}, set()),
        ({"calibration": "missing"}, {"calibration_missing"}),
        ({"calibration": "overdue"}, {"calibration_overdue"}),
        ({"calibration": "of another fixture"}, {"calibration_mismatched"}),
        ({"kind": "board"}, {"profile_invented"}),
    ],
)
def test_supply_fluid_calibration_and_an_invented_profile(conditions, codes):
    found = found_by(watch_fixture, Conditions(**{"kind": "virtual"} | conditions), PROFILE)
    assert set(found) == codes
    if "fluid_cold" in codes:
        assert found["fluid_cold"]["fluid_degf"] == pytest.approx(102.2)  # 39 degC


def test_stop_findings_come_first_then_warnings_then_notes_each_in_the_tables_order():
    table = load_findings_table()
    findings = Findings(table)
    findings.add("baseline_assumed_unhooked")
    findings.add("supply_low", supply_v=4.0, limit_v=4.5)
    assert not findings.stop
    findings.add("travel_not_returned", short_of_stop_mm=2.0)
    assert findings.stop
    assert [f.severity for f in findings.listed()] == ["stop", "warning", "note"]
    assert findings.has("supply_low") and not findings.has("fluid_cold")
    assert not table["profile_invented"].casts_doubt and table["baseline_not_proven"].casts_doubt
    with pytest.raises(KeyError):
        findings.add("no such code")
