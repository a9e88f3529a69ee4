"""The generator's own sanity: its truth is in its data, found here by plain construction."""

import ast
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import kstest

from separate_generator import Case, draw_case, large_cases, make_arrays, standard_cases, write_csv
from separate_generator.case import WORDS, nonlinearity_half_width_mm
from separate_generator.motion import STEPS
from separate_generator.valve import through_friction

QUIET = {
    "ripple_kpa": 0.0,
    "wander_kpa": 0.0,
    "noise_kpa": 0.0,
    "travel_noise_mm": 0.0,
    "scatter_mm": 0.0,
    "rest_jitter_mm": 0.0,
    "tremor_mm": 0.0,
    "lag_s": 0.0,
    "bits": None,
    "sweeps": 3,
}


def onsets_mm(arrays: dict, baseline_kpa: float) -> tuple[float, float]:
    """Opening and closing onset: the straight part of each stroke carried down to the baseline."""
    found: tuple[list[float], list[float]] = ([], [])
    for stroke in range(2, int(arrays["stroke"].max()) + 1):  # the first sweep turns the friction round
        above = arrays["pressure_kpa"] - baseline_kpa
        part = (arrays["stroke"] == stroke) & (above > 120.0) & (above < 200.0)
        slope, start = np.polyfit(arrays["travel_mm"][part], above[part], 1)
        found[stroke % 2].append(-start / slope)
    return float(np.mean(found[0])), float(np.mean(found[1]))


@pytest.mark.parametrize("rod_error_mm", [-12.7, -3.0, -0.4, 0.0, 0.8, 5.0])
@pytest.mark.parametrize("friction_mm", [0.0, 0.6])
def test_middle_of_the_onsets_is_the_lever_start_and_their_difference_the_friction(rod_error_mm, friction_mm):
    case = Case(
        rod_error_mm=rod_error_mm,
        friction_mm=friction_mm,
        amplitude_mm=32.0,
        friction_stiffness=25.0,
        bend_from_mm=40.0,
        **QUIET,
    )
    opening, closing = onsets_mm(make_arrays(case), case.baseline_kpa)
    assert (opening + closing) / 2.0 == pytest.approx(case.lever_start_mm, abs=0.002)
    assert opening - closing == pytest.approx(friction_mm, abs=0.004)


@pytest.mark.parametrize(
    ("error", "shift_mm"),
    [
        ({"transfer_mm": 0.12}, -0.12),
        ({"centre_error_mm": 0.05}, 0.05),
        ({"travel_scale": 0.005}, 0.02),
        ({"axis_scale": -0.002}, -0.008),
        ({"nonlinearity_mm": 0.05}, 0.05),
        ({"zero_reading_mm": 2.5}, 2.5),
        ({"pressure_gain": 0.01, "pressure_offset_kpa": 2.0}, 0.0),
    ],
)
def test_each_hidden_error_moves_the_reading_by_what_it_says(error, shift_mm):
    case = Case(rod_error_mm=-4.0, amplitude_mm=30.0, friction_stiffness=25.0, **{**QUIET, **error})
    arrays = make_arrays(case)
    baseline = float(np.median(arrays["pressure_kpa"][arrays["step"] == "zero"]))
    assert np.mean(onsets_mm(arrays, baseline)) == pytest.approx(4.0 + shift_mm, abs=0.003)


@pytest.mark.parametrize("lag_order", [1, 2])
def test_lag_carries_both_onsets_along_by_speed_times_lag(lag_order):
    given = QUIET | {"lag_s": 0.02, "lag_order": lag_order}
    case = Case(
        rod_error_mm=-3.0, friction_mm=0.0, motion="constant", stroke_s=(3.0, 3.0), amplitude_mm=30.0, **given
    )
    arrays = make_arrays(case)
    opening, closing = onsets_mm(arrays, case.baseline_kpa)
    speed = 2.0 * 29.4 / (2.0 * 2.92)  # amplitudes lie within 4 % below the 30 mm; 80 ms go to getting under way
    assert opening - 3.0 == pytest.approx(speed * 0.02, rel=0.05)
    assert 3.0 - closing == pytest.approx(speed * 0.02, rel=0.05)


def test_error_of_the_baseline_sits_in_the_early_steps_only():
    with_error = make_arrays(Case(baseline_error_kpa=0.4, **QUIET))
    without = make_arrays(Case(**QUIET))
    difference = with_error["pressure_kpa"] - without["pressure_kpa"]
    early = np.isin(with_error["step"], ["zero", "baseline", "response"])
    assert np.allclose(difference[early], 0.4)
    assert np.allclose(difference[~early], 0.0)


def test_steps_come_in_the_order_of_a_run():
    arrays = make_arrays(Case(adjusted_from_mm=-2.0))
    changes = np.flatnonzero(arrays["step"][1:] != arrays["step"][:-1])
    order = [str(arrays["step"][0]), *(str(arrays["step"][i + 1]) for i in changes)]
    assert order == ["zero", "baseline", "response", "", "sweep", "adjusted", "", "sweep"]
    assert set(np.unique(arrays["step"])) <= set(STEPS)


def test_baseline_holds_at_least_three_taps_and_the_response_raises_pressure_with_the_pin_still():
    arrays = make_arrays(Case(rod_error_mm=2.0))
    for step, rises in (("baseline", 3), ("response", 1)):
        rows = arrays["step"] == step
        high = arrays["pressure_kpa"][rows] > 25.0 + 10.0
        assert np.count_nonzero(high[1:] & ~high[:-1]) >= rises
        assert np.ptp(arrays["pin_mm"][rows]) == 0.0


def test_long_rod_raises_idle_pressure_once_hooked_and_a_rod_on_its_pin_hides_it():
    free = make_arrays(Case(rod_error_mm=4.0, **QUIET))
    on_pin = make_arrays(Case(rod_error_mm=4.0, rod_on_pin_at_baseline=True, **QUIET))
    rest = np.flatnonzero(free["step"] == "sweep")[100]
    assert free["pressure_kpa"][rest] > 60.0
    assert np.median(free["pressure_kpa"][free["step"] == "zero"]) == pytest.approx(25.0)
    assert np.median(on_pin["pressure_kpa"][on_pin["step"] == "zero"]) > 60.0


def test_a_seed_gives_the_same_capture_and_another_seed_another():
    first, again, other = (make_arrays(draw_case(seed, sweeps=2)) for seed in (3, 3, 4))
    assert all(np.array_equal(first[name], again[name]) for name in first)
    assert len(first["time_s"]) != len(other["time_s"]) or not np.array_equal(first["travel_mm"], other["travel_mm"])


def test_an_override_changes_no_other_draw():
    drawn, overridden = draw_case(11), draw_case(11, rate_hz=250, lag_s=0.0)
    assert overridden == type(drawn)(**{**vars(drawn), "rate_hz": 250, "lag_s": 0.0})


def test_hidden_errors_are_rectangular_with_the_budgets_half_widths():
    cases = [draw_case(seed, drive="slide") for seed in range(600)]
    shares = {
        "transfer": [case.transfer_mm / 0.15 for case in cases],
        "scale": [case.travel_scale / 0.005 for case in cases],
        "axis": [case.axis_scale / 0.002 for case in cases],
        "nonlinearity": [case.nonlinearity_mm / nonlinearity_half_width_mm(case.rod_error_mm) for case in cases],
        "baseline": [case.baseline_error_kpa / 0.5 for case in cases],
        "centre": [case.centre_error_mm / (case.friction_mm / 4.0) for case in cases],
    }
    for name, values in shares.items():
        assert kstest(values, "uniform", args=(-1.0, 2.0)).pvalue > 1e-3, name
    assert all(draw_case(seed).transfer_mm == 0.0 for seed in range(20))


def test_readings_come_in_whole_converter_steps():
    arrays = make_arrays(Case(sweeps=1))
    for name, step in (("travel_mm", 125.0 / 4096.0), ("pressure_kpa", 2585.0 / 4096.0)):
        codes = arrays[name] / step
        assert np.allclose(codes, np.round(codes), atol=1e-6)


def test_ripple_near_the_sample_rate_folds_to_a_slow_one():
    given = QUIET | {"ripple_kpa": 3.0, "ripple_hz": 248.0, "ripple_drift_hz": 0.0}
    arrays = make_arrays(Case(rate_hz=250, **given))
    quiet = arrays["pressure_kpa"][arrays["step"] == "zero"]
    spectrum = np.abs(np.fft.rfft(quiet - quiet.mean()))
    assert np.fft.rfftfreq(len(quiet), 1.0 / 250.0)[np.argmax(spectrum)] == pytest.approx(2.0, abs=0.5)


def test_sharp_friction_is_a_play_of_both_half_widths():
    rng = np.random.default_rng(5)
    load = np.cumsum(rng.normal(0.0, 1.0, 3000))
    load -= load[0]
    up, down = np.full(3000, 4.0), np.full(3000, 2.5)
    play = np.empty(3000)
    p = 0.0
    for i, now in enumerate(load):
        p = min(max(p, now - 4.0), now + 2.5)
        play[i] = p
    assert np.allclose(through_friction(load, up, down, 1e9), play, atol=1e-4)


def test_what_is_lost_is_missing_from_the_rows_and_leaves_its_gap_in_time():
    arrays = make_arrays(Case(rod_error_mm=-4.0, missing_strokes=(3,), gaps_mm=((0, 3.0, 5.0),)))
    assert 3 not in arrays["stroke"]
    first = arrays["pin_mm"][arrays["stroke"] == 0]
    assert not np.any((first >= 3.0) & (first <= 5.0))
    assert np.count_nonzero(np.diff(arrays["time_s"]) > 0.01) == 2


def test_csv_holds_the_named_columns_row_for_row(tmp_path):
    case = Case(sweeps=1)
    lines = write_csv(case, tmp_path / "capture.csv").read_text("utf-8").splitlines()
    arrays = make_arrays(case)
    assert lines[0] == "time_s,travel_mm,pressure_kpa,step"
    assert len(lines) == 1 + len(arrays["time_s"])
    time_s, travel_mm, pressure_kpa, step = lines[1000].split(",")
    assert float(time_s) == pytest.approx(arrays["time_s"][999], abs=1e-6)
    assert float(travel_mm) == pytest.approx(arrays["travel_mm"][999], abs=1e-4)
    assert float(pressure_kpa) == pytest.approx(arrays["pressure_kpa"][999], abs=1e-3)
    assert step == arrays["step"][999]


def test_wrong_verdicts_follow_the_truth_with_closed_limits():
    truths = {-0.51: "short", -0.5: "correct", 1.0: "correct", 1.01: "long"}
    for rod_error_mm, state in truths.items():
        assert Case(rod_error_mm=rod_error_mm).wrong_verdicts == WORDS - {state}
    assert "long" in Case(rod_error_mm=3.0, forbidden=frozenset({"long"})).wrong_verdicts


def test_named_cases_cover_the_range_and_both_limits():
    cases = standard_cases()
    errors = np.array([case.rod_error_mm for case in cases])
    assert len(cases) >= 60
    assert len({case.name for case in cases}) == len(cases)
    assert errors.min() == -15.0 and errors.max() == 12.0
    assert np.count_nonzero(np.abs(errors + 0.5) < 0.25) >= 4
    assert np.count_nonzero(np.abs(errors - 1.0) < 0.25) >= 4
    assert {case.baseline for case in cases} >= {"connected", "unknown"}
    assert all(case.wrong_verdicts for case in cases)


def test_random_cases_differ_and_repeat():
    assert large_cases(20) == large_cases(20)
    assert len({case.rod_error_mm for case in large_cases(20)}) == 20


def test_generator_imports_nothing_of_the_program():
    for path in Path(__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            else:
                names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not any(name.split(".")[0] in ("rodtrue", "rodtrue_protocol") for name in names), path.name
