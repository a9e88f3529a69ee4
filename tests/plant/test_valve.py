"""The valve's parts against closed forms."""

from dataclasses import replace

import numpy as np
import pytest

from plant.invented_units import BASELINE_KPA, FULL_KPA, SLOPE_KPA_PER_MM, exact_scenario
from rodtrue.virtual.truth import draw_truth
from rodtrue.virtual.valve import FirstOrder, Play, spring_rise_kpa, supplied_kpa, time_constant_s

UNIT = draw_truth(exact_scenario(), 1)


def irregular_steps(n: int) -> np.ndarray:
    return np.random.default_rng(7).uniform(1e-4, 3e-3, n)


def test_lag_follows_a_straight_ramp_exactly_at_any_spacing():
    """Closed form of a first-order lag on a ramp: r (t - tau (1 - exp(-t/tau))) (textbook control theory)."""
    tau, rate = 0.015, 90.0
    steps = irregular_steps(500)
    time = np.cumsum(steps)
    lag = FirstOrder(tau)
    lag.follow(np.array([0.0]), np.array([0.0]))
    seen = lag.follow(rate * time, steps)
    np.testing.assert_allclose(seen, rate * (time - tau * (1.0 - np.exp(-time / tau))), rtol=1e-9, atol=1e-12)


def test_lag_answers_a_step_with_one_less_the_exponential():
    tau = 0.02
    lag = FirstOrder(tau)
    lag.follow(np.array([0.0]), np.array([0.0]))
    start = lag.follow(np.array([1.0]), np.array([1e-9]))[0]
    steps = irregular_steps(100)
    seen = lag.follow(np.ones(100), steps)
    np.testing.assert_allclose(seen, 1.0 - (1.0 - start) * np.exp(-np.cumsum(steps) / tau), rtol=1e-9)
    assert start == pytest.approx(0.0, abs=1e-6)


def test_corner_frequency_passes_half_the_power():
    tau = time_constant_s(150.0)
    assert abs(1.0 / (1.0 + 2j * np.pi * 150.0 * tau)) ** 2 == pytest.approx(0.5)


def test_play_lags_by_its_half_widths_and_holds_at_rest():
    play = Play(rising=2.0, falling=1.0)
    up = np.linspace(0.0, 10.0, 101)
    assert play.follow(up)[-1] == pytest.approx(8.0)
    assert play.follow(np.array([9.5, 8.0, 7.5]))[-1] == pytest.approx(8.0), "inside the play it holds"
    assert play.follow(np.array([3.0]))[-1] == pytest.approx(4.0)
    assert play.follow(np.full(50, 3.0))[-1] == pytest.approx(4.0), "at rest it holds"


@pytest.mark.parametrize("chance", [-1.0, -0.3, 0.0, 0.8, 1.0])
def test_release_leaves_no_more_than_the_share_not_let_go(chance):
    play = Play(rising=2.0, falling=1.0)
    play.follow(np.array([10.0, 0.0]))
    play.release(around=0.0, share=0.75, chance=chance)
    assert -0.5 <= play.held <= 0.25
    assert play.held == pytest.approx(0.25 * chance * (2.0 if chance < 0 else 1.0))


def test_spring_is_flat_then_straight_and_bends_only_later():
    bent = replace(UNIT, straight_mm=8.0, bend_per_mm=-0.004, lever_free_mm=0.5)
    lever = np.array([0.0, 0.5, 1.5, 8.5, 28.5])
    rise = spring_rise_kpa(lever, bent)
    np.testing.assert_allclose(rise[:4], SLOPE_KPA_PER_MM * np.array([0.0, 0.0, 1.0, 8.0]))
    assert rise[4] == pytest.approx(SLOPE_KPA_PER_MM * (28.0 - 0.002 * 20.0**2))


def test_supply_limits_the_ramp_and_the_detent_goes_beyond_it():
    lever = np.array([0.0, 10.0, 40.0, 43.0, 43.5, 46.0])
    full = np.full(lever.shape, FULL_KPA)
    pressure = supplied_kpa(spring_rise_kpa(lever, UNIT), lever, full, UNIT)
    np.testing.assert_allclose(
        pressure,
        [BASELINE_KPA, BASELINE_KPA + 120.0, FULL_KPA, FULL_KPA, FULL_KPA + 50.0, FULL_KPA + 100.0],
        atol=1e-6,
    )
