"""Whole guided runs by the short way, and the scenarios they stand on."""

import numpy as np
import pytest

from plant.invented_units import drawn_scenario
from rodtrue.model.errors import InputError
from rodtrue.model.samples import BASELINE, RESPONSE, STEPS, SWEEP, ZERO
from rodtrue.profiles import load_profile
from rodtrue.virtual.direct import play, run_samples
from rodtrue.virtual.motion import adjustment, guided_run
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import load_scenario, shipped_scenarios


def of_step(samples, step):
    return samples.where(samples.step == step)


@pytest.mark.parametrize("rod_error_mm", [-15.0, -3.0, 0.0, 3.0, 12.0])
def test_run_has_every_step_and_shows_what_the_rod_does(rod_error_mm):
    samples, truth = run_samples(load_profile(), rod_error_mm=rod_error_mm, seed=1, sweeps=3)
    assert np.all(np.diff(samples.time_s) > 0)
    assert {STEPS[step] for step in np.unique(samples.step)} == {"", "zero", "baseline", "response", "sweep"}
    zero_mm = of_step(samples, ZERO).travel_mm.mean()
    baseline = of_step(samples, BASELINE).pressure_kpa
    baseline_kpa = float(np.median(baseline))
    sweep = of_step(samples, SWEEP)
    assert of_step(samples, RESPONSE).pressure_kpa.max() > baseline_kpa + 60.0
    assert baseline.max() > baseline_kpa + 20.0, "the taps show"
    assert abs(np.percentile(sweep.travel_mm, 1) - zero_mm) < 0.2, "the pin comes back to its stop"
    idle_kpa = sweep.pressure_kpa[sweep.travel_mm < zero_mm + 0.05].mean() - baseline_kpa
    expected = max(0.0, rod_error_mm + truth.transfer_mm) * truth.slope_kpa_per_mm
    assert idle_kpa == pytest.approx(expected, abs=0.03 * expected + 7.0)


def test_codes_and_truth_are_told_apart_by_seed():
    first, truth = run_samples(load_profile(), rod_error_mm=-3.0, seed=1, sweeps=1)
    again, same = run_samples(load_profile(), rod_error_mm=-3.0, seed=1, sweeps=1)
    _, other = run_samples(load_profile(), rod_error_mm=-3.0, seed=2, sweeps=1)
    np.testing.assert_array_equal(first.pressure_kpa, again.pressure_kpa)
    assert truth == same
    assert truth != other


def test_steps_scheduled_by_device_time_give_the_same_codes_as_steps_begun_one_by_one():
    rate_hz = 500
    plant = Plant(drawn_scenario(-3.0), 1)
    steps = guided_run(plant.hand, sweeps=1)
    by_steps = play(plant, steps, rate_hz)
    other = Plant(drawn_scenario(-3.0), 1)
    end_us = other.handle.schedule_steps(guided_run(other.hand, sweeps=1), 0)
    codes = other.samples(rate_hz, end_us / 1e6)
    assert len(codes) == len(by_steps)
    travel = (codes[:, 0] / 65536 - 0.1) / 0.8 * 100.0
    np.testing.assert_allclose(travel, by_steps.travel_mm)


def test_run_after_an_adjustment_measures_the_new_rod():
    plant = Plant(drawn_scenario(-5.0), 1)
    play(plant, guided_run(plant.hand, sweeps=1))
    samples = play(plant, [adjustment(plant.hand, 5.0), *guided_run(plant.hand, sweeps=1)])
    assert plant.truth.rod_error_mm == pytest.approx(0.0)
    sweep = of_step(samples, SWEEP)
    zero_mm = of_step(samples, ZERO).travel_mm.mean()
    part = (sweep.travel_mm > zero_mm + 3.5) & (sweep.travel_mm < zero_mm + 4.0)
    risen = sweep.pressure_kpa[part].mean() - np.median(of_step(samples, BASELINE).pressure_kpa)
    assert risen > 2.5 * plant.truth.slope_kpa_per_mm


def test_every_shipped_scenario_is_marked_invented():
    names = shipped_scenarios()
    assert "invented-shop-direct" in names
    for name in names:
        scenario = load_scenario(name)
        assert scenario.invented
        assert scenario.name == name


def test_unknown_scenario_is_refused_with_the_names_there_are():
    with pytest.raises(InputError) as refusal:
        load_scenario("the-moon")
    assert "invented-shop-direct" in refusal.value.next_step


@pytest.mark.parametrize("rod_error_mm", [-15.1, 12.1, float("nan")])
def test_rod_error_outside_the_fixtures_range_is_refused(rod_error_mm):
    with pytest.raises(InputError, match="outside what the virtual fixture covers"):
        drawn_scenario(rod_error_mm)
