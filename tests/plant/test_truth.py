"""What is drawn: keyed, repeatable, and from the distributions that the budget assumes."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from plant.invented_units import drawn_scenario
from rodtrue.model.profile import Lever
from rodtrue.virtual.truth import draw_truth, stream

DRAWS = 400
FROZEN_TRANSFER_MM = -0.09455062303472578


def drawn(name: str, scenario) -> np.ndarray:
    return np.array([getattr(draw_truth(scenario, seed), name) for seed in range(DRAWS)])


def even(values: np.ndarray, low: float, high: float) -> bool:
    """Whether values may come from the rectangle (Kolmogorov-Smirnov, p over 1e-4), none outside it."""
    inside = bool(np.all((values >= low) & (values <= high)))
    return inside and stats.kstest(values, stats.uniform(low, high - low).cdf).pvalue > 1e-4


@pytest.mark.parametrize(
    ("name", "half_width"),
    [
        ("transfer_mm", 0.15),
        ("travel_scale", 0.005),
        ("axis_and_arc", 0.002),
        ("nonlinearity_mm", 0.05),
        ("baseline_drift_kpa", 0.5),
    ],
)
def test_systematic_errors_fill_the_profiles_rectangles(name, half_width):
    assert even(drawn(name, drawn_scenario(-3.0)), -half_width, half_width)


def test_nonlinearity_grows_to_one_percent_of_the_distance():
    assert even(drawn("nonlinearity_mm", drawn_scenario(-12.0)), -0.12, 0.12)
    assert even(drawn("nonlinearity_mm", drawn_scenario(10.0)), -0.10, 0.10)


def test_friction_asymmetry_fills_a_quarter_of_the_friction():
    scenario = drawn_scenario(-3.0)
    share = drawn("friction_asymmetry_mm", scenario) / drawn("friction_mm", scenario)
    assert even(share, -0.25, 0.25)


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("baseline_kpa", 15.0, 40.0),
        ("slope_kpa_per_mm", 10.0, 14.0),
        ("friction_mm", 0.1, 0.45),
        ("lag_s", 0.008, 0.025),
        ("full_pressure_kpa", 380.0, 470.0),
        ("ripple_hz", 60.0, 300.0),
        ("noise_kpa", 0.5, 2.0),
    ],
)
def test_healthy_units_fill_the_scenarios_ranges(name, low, high):
    assert even(drawn(name, drawn_scenario(0.0)), low, high)


def test_ripple_grows_with_pressure_and_stays_within_one_to_three_kpa():
    low, full = drawn("ripple_low_kpa", drawn_scenario()), drawn("ripple_full_kpa", drawn_scenario())
    assert low.min() >= 1.0
    assert full.max() <= 3.0
    assert np.all(full > low)


def test_half_widths_come_from_the_profile_that_judges():
    scenario = drawn_scenario(-3.0)
    wide = replace(scenario, instrument=replace(scenario.instrument, slide_transfer_mm=1.5))
    assert even(drawn("transfer_mm", wide), -1.5, 1.5)
    free = replace(scenario, lever=Lever(free_mm=1.0, free_half_width_mm=0.2))
    assert even(drawn("lever_free_mm", free), 0.8, 1.2)


@pytest.mark.parametrize("drive", ["throttle", "bench"])
def test_only_a_slide_has_a_transfer(drive):
    assert not drawn("transfer_mm", replace(drawn_scenario(-3.0), drive=drive)).any()


def test_key_is_seed_rod_error_layout_and_fault():
    base = drawn_scenario(-3.0)
    first = stream(base, 1, "truth").random()
    assert first == stream(base, 1, "truth").random()
    others = [
        stream(base, 2, "truth"),
        stream(drawn_scenario(-3.1), 1, "truth"),
        stream(drawn_scenario(-3.0, "air"), 1, "truth"),
        stream(replace(base, layout="two-bell-cranks"), 1, "truth"),
        stream(base, 1, "noise"),
    ]
    assert first not in [other.random() for other in others]


def test_minus_zero_is_zero():
    assert draw_truth(drawn_scenario(-0.0), 1) == draw_truth(drawn_scenario(0.0), 1)


def test_key_gives_the_same_unit_on_every_machine():
    """Frozen draw: SHA-256 and numpy's PCG64 are both fixed by their specifications."""
    assert draw_truth(drawn_scenario(-3.0), 1).transfer_mm == pytest.approx(FROZEN_TRANSFER_MM, abs=1e-12)


def test_truth_tells_the_onsets():
    truth = draw_truth(drawn_scenario(-3.0), 4)
    assert truth.lever_start_mm == 3.0
    assert truth.opening_onset_mm - truth.closing_onset_mm == pytest.approx(truth.friction_mm)
    middle = (truth.opening_onset_mm + truth.closing_onset_mm) / 2
    assert middle == pytest.approx(3.0 + truth.lever_free_mm + truth.friction_asymmetry_mm)
