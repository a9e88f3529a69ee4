"""Friction, lag, ripple, noise, drift and the systematic errors, read off the converter's codes."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import signal

from plant.invented_units import (
    BASELINE_KPA,
    ORIGIN_MM,
    SLOPE_KPA_PER_MM,
    drawn_scenario,
    exact_scenario,
    ramp,
    settled_kpa,
    take,
)
from rodtrue.virtual import sensors
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import Scenario


def loop(plant: Plant, top_mm: float = 20.0, seconds: float = 20.0):
    """Slow opening and closing; returns both ways as (travel, pressure)."""
    plant.handle.follow(ramp(0.0, top_mm, seconds))
    opening = take(plant, seconds)
    plant.handle.follow(ramp(top_mm, 0.0, seconds))
    return opening, take(plant, seconds)


def onset_mm(way) -> float:
    """Travel at which a line through the ramp's straight part meets the baseline."""
    travel, pressure = way
    lowest_kpa = max(BASELINE_KPA, pressure.min()) + 20.0
    part = (pressure > lowest_kpa) & (pressure < lowest_kpa + 70.0)
    slope, offset = np.polyfit(travel[part], pressure[part], 1)
    return float((BASELINE_KPA - offset) / slope)


@pytest.mark.parametrize("friction_mm", [0.2, 0.45, 1.0])
def test_friction_is_opening_onset_less_closing_onset(friction_mm):
    plant = Plant(exact_scenario(-3.0, friction_mm=friction_mm, noise_kpa=0.5, travel_noise_mm=0.02), 3)
    opening, closing = (onset_mm(way) for way in loop(plant))
    truth = plant.truth
    # What is left of the lag: 1 ms at 1 mm/s, each way.
    assert opening - closing == pytest.approx(friction_mm, abs=0.02)
    assert (opening + closing) / 2 == pytest.approx(3.0 + truth.friction_asymmetry_mm, abs=0.02)
    assert abs(truth.friction_asymmetry_mm) <= friction_mm / 4


def test_friction_holds_pressure_at_rest_until_the_lever_is_tapped():
    plant = Plant(exact_scenario(-3.0, friction_mm=0.8), 5)
    loop(plant, seconds=2.0)
    held_kpa = settled_kpa(plant, 0.0) - BASELINE_KPA
    most_kpa = SLOPE_KPA_PER_MM * (0.4 - plant.truth.friction_asymmetry_mm)
    assert held_kpa == pytest.approx(most_kpa, abs=0.7)
    plant.handle.rod_hooked = False
    plant.handle.holding_spring = True
    approaches = []
    for _ in range(8):
        plant.handle.tap_lever()
        take(plant, 0.6)
        approaches.append(settled_kpa(plant, 0.0) - BASELINE_KPA)
    assert np.max(np.abs(approaches)) < 0.3 * SLOPE_KPA_PER_MM * 0.6 + 0.7
    assert np.std(approaches) > 0.1, "approaches scatter"


@pytest.mark.parametrize("lag_s", [0.005, 0.03])
def test_pressure_follows_a_step_of_the_lever_with_the_lag(lag_s):
    """Step response of two first-order lags in series (valve and anti-alias filter), closed form."""
    plant = Plant(exact_scenario(0.0, lag_s=lag_s), 1)
    plant.handle.rod_hooked = False
    plant.handle.holding_spring = True
    take(plant, 0.1, rate_hz=1000)
    plant.handle.push_lever(lambda time_s: np.full_like(time_s, 10.0))
    _, pressure = take(plant, 0.2, rate_hz=1000)
    conversion_s = 0.25e-3
    filter_s = 1.0 / (2 * np.pi * sensors.ANTI_ALIAS_HZ)
    # The plant takes the jump as a straight line over one conversion interval: half of it earlier.
    time = conversion_s * (np.arange(4 * len(pressure)) + 0.5)
    two_lags = 1 - (lag_s * np.exp(-time / lag_s) - filter_s * np.exp(-time / filter_s)) / (lag_s - filter_s)
    expected = BASELINE_KPA + 10 * SLOPE_KPA_PER_MM * two_lags.reshape(-1, 4).mean(axis=1)
    np.testing.assert_allclose(pressure, expected, atol=0.9)


def test_ripple_has_its_frequency_its_amplitude_and_the_filters_loss():
    frequency_hz, amplitude_kpa = 180.0, 2.5
    scenario = exact_scenario(0.0)
    scenario = replace(
        scenario,
        pump=replace(
            scenario.pump,
            ripple_hz=(frequency_hz, frequency_hz),
            ripple_low_kpa=(amplitude_kpa, amplitude_kpa),
            ripple_full_kpa=(amplitude_kpa, amplitude_kpa),
        ),
    )
    plant = Plant(scenario, 1)
    settled_kpa(plant, 10.0)
    rate_hz = 4000
    last = plant.conversions(_next_times(plant, rate_hz, 2.0))[:, sensors.PRESSURE]
    pressure = (last / 4096 - 0.1) / 0.8 * 2068.0
    frequencies, power = signal.periodogram(pressure, rate_hz, scaling="spectrum")
    peak = int(np.argmax(power[1:])) + 1
    assert frequencies[peak] == pytest.approx(frequency_hz, abs=0.5)
    # First-order low-pass at 150 Hz: gain 1 / sqrt(1 + (f / fc)^2), textbook.
    through = amplitude_kpa / np.hypot(1.0, frequency_hz / 150.0)
    assert np.sqrt(2 * power[peak]) == pytest.approx(through, rel=0.03)


def _next_times(plant: Plant, rate_hz: int, seconds: float):
    period_us = 1_000_000 // rate_hz
    # The last sample of `settled_kpa` ended 0.6 s of device time after the start.
    return 600_000 + period_us * np.arange(int(seconds * rate_hz), dtype=np.int64)


def test_ripple_and_plateau_drift_with_engine_speed():
    plateau = []
    for wander in (0.0, 0.03):
        scenario = exact_scenario(0.0)
        scenario = replace(scenario, pump=replace(scenario.pump, speed_wander=(wander, wander)))
        plant = Plant(scenario, 2)
        settled_kpa(plant, 40.0)
        plateau.append(take(plant, 20.0)[1])
    assert np.ptp(plateau[0]) < 1.5
    assert 3.0 < np.ptp(plateau[1]) < 0.03 * 420.0 + 1.5


def test_noise_is_that_of_a_sample():
    plant = Plant(exact_scenario(0.0, noise_kpa=1.5, travel_noise_mm=0.02), 1)
    settled_kpa(plant, 5.0)
    travel, pressure = take(plant, 20.0)
    # Quantisation adds step^2 / 12 a conversion; four conversions a sample.
    expected_kpa = np.hypot(1.5, sensors.PRESSURE_STEP_KPA / np.sqrt(48))
    expected_mm = np.hypot(0.02, sensors.TRAVEL_STEP_MM / np.sqrt(48))
    assert pressure.std() == pytest.approx(expected_kpa, rel=0.03)
    assert travel.std() == pytest.approx(expected_mm, rel=0.05)
    assert abs(np.corrcoef(pressure[:-1], pressure[1:])[0, 1]) < 0.04, "white"


def with_instrument(scenario: Scenario, **half_widths: float) -> Scenario:
    return replace(scenario, instrument=replace(scenario.instrument, **half_widths))


def test_transfer_of_the_slide_shifts_the_onset_and_nothing_else():
    plant = Plant(with_instrument(exact_scenario(-3.0, noise_kpa=0.5), slide_transfer_mm=0.5), 4)
    assert abs(plant.truth.transfer_mm) > 0.05
    opening, _ = loop(plant)
    assert onset_mm(opening) == pytest.approx(3.0 - plant.truth.transfer_mm, abs=0.02)


def test_scale_stretches_the_onset():
    plant = Plant(with_instrument(exact_scenario(-10.0, noise_kpa=0.5), travel_scale=0.05), 6)
    assert abs(plant.truth.travel_scale) > 0.01
    opening, _ = loop(plant)
    assert onset_mm(opening) == pytest.approx(10.0 * (1 + plant.truth.travel_scale), abs=0.03)


@pytest.mark.parametrize("rod_error_mm", [-8.0, 5.0])
def test_nonlinearity_has_its_drawn_value_at_the_knee(rod_error_mm):
    scenario = with_instrument(exact_scenario(rod_error_mm, noise_kpa=0.5), travel_nonlinearity_mm=0.4)
    plant = Plant(scenario, 2)
    drawn = plant.truth.nonlinearity_mm
    assert abs(drawn) > 0.1
    opening, _ = loop(plant)
    # The reading stretches the way from zero to the knee, on whichever side it lies, by the drawn value.
    knee_mm = -rod_error_mm
    assert onset_mm(opening) == pytest.approx(knee_mm + np.sign(knee_mm) * drawn, abs=0.03)


def test_baseline_drifts_between_its_step_and_the_sweeps():
    plant = Plant(with_instrument(exact_scenario(-3.0, noise_kpa=0.5), baseline_kpa=5.0), 4)
    plant.handle.rod_hooked = False
    plant.handle.holding_spring = True
    before_kpa = take(plant, 4.0)[1].mean()
    plant.handle.rod_hooked = True
    plant.handle.holding_spring = False
    take(plant, 10.0)
    after_kpa = take(plant, 4.0)[1].mean()
    assert abs(plant.truth.baseline_drift_kpa) > 0.5
    assert after_kpa - before_kpa == pytest.approx(plant.truth.baseline_drift_kpa, abs=0.15)


def test_unhooked_lever_hangs_off_its_stop_without_the_holding_spring():
    scenario = exact_scenario(0.0)
    scenario = replace(scenario, linkage=replace(scenario.linkage, hang_mm=(0.2, 0.2)))
    plant = Plant(scenario, 1)
    plant.handle.rod_hooked = False
    assert settled_kpa(plant, 0.0) == pytest.approx(BASELINE_KPA + 0.2 * SLOPE_KPA_PER_MM, abs=0.7)
    plant.handle.holding_spring = True
    assert settled_kpa(plant, 0.0) == pytest.approx(BASELINE_KPA, abs=0.7)


def test_supply_drift_cancels_in_the_ratios_and_shows_in_its_own_channel():
    codes = []
    for supply_v in (4.7, 5.3):
        scenario = exact_scenario(0.0)
        scenario = replace(scenario, sensors=replace(scenario.sensors, supply_v=(supply_v, supply_v)))
        codes.append(Plant(scenario, 1).conversions(500 * np.arange(400, dtype=np.int64)).mean(axis=0))
    np.testing.assert_array_equal(codes[0][:2], codes[1][:2])
    # An independent 3.0 V over the supply.
    assert codes[0][sensors.SUPPLY] == pytest.approx(3.0 / 4.7 * 4096, abs=1.0)
    assert codes[1][sensors.SUPPLY] == pytest.approx(3.0 / 5.3 * 4096, abs=1.0)


def test_zero_is_nowhere_near_nought_on_the_sensor():
    for seed in range(5):
        codes = Plant(drawn_scenario(0.0), seed).samples(500, 0.1)
        assert sensors.nominal_travel_mm(codes[:, 0]).mean() > 7.0
    assert ORIGIN_MM > 7.0
