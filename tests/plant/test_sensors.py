"""Sensor scaling, rails and the converter."""

import json

import numpy as np
import pytest

from plant.invented_units import exact_scenario
from rodtrue.capture.scaling import NOMINAL
from rodtrue.model.units import KPA_PER_PSI
from rodtrue.resources import room
from rodtrue.virtual import sensors
from rodtrue.virtual.truth import draw_truth

UNIT = draw_truth(exact_scenario(), 1)


def test_transducer_spans_three_hundred_psi_from_half_a_volt_to_four_and_a_half():
    """The psi: NIST SP 811, appendix B."""
    assert sensors.pressure_ratio(np.array(0.0), UNIT) * 5.0 == pytest.approx(0.5)
    assert sensors.pressure_ratio(np.array(300 * KPA_PER_PSI), UNIT) * 5.0 == pytest.approx(4.5, abs=0.001)


def test_pressure_below_nothing_reads_as_nothing():
    ratios = sensors.pressure_ratio(np.array([-50.0, -1.0, 0.0]), UNIT)
    np.testing.assert_array_equal(ratios, 0.1)


def test_pressure_far_over_the_span_stops_at_the_transducers_rail():
    assert sensors.pressure_ratio(np.array(5000.0), UNIT) == pytest.approx(0.95)


def test_travel_stops_at_the_live_zero_and_the_live_end():
    np.testing.assert_allclose(
        sensors.travel_ratio(np.array([-5.0, 0.0, 50.0, 100.0, 120.0])), [0.1, 0.1, 0.5, 0.9, 0.9]
    )


def test_converter_rounds_to_its_twelve_bits_and_ends_at_its_rails():
    codes = sensors.converter_codes(np.array([-0.2, 0.0, 0.5, 0.50013, 1.0, 1.3]))
    np.testing.assert_array_equal(codes, [0, 0, 2048, 2049, 4095, 4095])


def test_nominal_scaling_undoes_the_sensors():
    travel = np.linspace(0.0, 100.0, 41)
    pressure = np.linspace(0.0, 2068.0, 41)
    travel_codes = sensors.converter_codes(sensors.travel_ratio(travel)) * 16
    pressure_codes = sensors.converter_codes(sensors.pressure_ratio(pressure, UNIT)) * 16
    np.testing.assert_allclose(sensors.nominal_travel_mm(travel_codes), travel, atol=0.51 * sensors.TRAVEL_STEP_MM)
    np.testing.assert_allclose(
        sensors.nominal_pressure_kpa(pressure_codes), pressure, atol=0.51 * sensors.PRESSURE_STEP_KPA
    )


def test_thermistor_halves_the_supply_at_25_degrees_and_falls_with_heat():
    """Beta equation R = R25 exp(B (1/T - 1/298.15)); 10 kOhm against 10 kOhm at 25 degC (textbook)."""
    ratios = sensors.thermistor_ratio(np.array([0.0, 25.0, 80.0]))
    assert ratios[1] == pytest.approx(0.5)
    assert np.all(np.diff(ratios) < 0)


@pytest.mark.parametrize(("rate_hz", "period_us"), [(500, 2000), (1000, 1000), (100, 10_000), (300, 3332)])
def test_period_is_four_whole_intervals_of_the_timer(rate_hz, period_us):
    assert sensors.sample_period_us(rate_hz) == period_us
    times = sensors.conversion_times_us(70, period_us, 2)
    np.testing.assert_array_equal(times, 70 + period_us // 4 * np.arange(8))


def test_channels_are_those_of_the_pin_map():
    pins = json.loads((room("hardware") / "pins.json").read_text("utf-8"))
    numbers = {channel["name"]: channel["channel"] for channel in pins["converter"]["channels"]}
    assert numbers == {
        "travel": sensors.TRAVEL,
        "pressure": sensors.PRESSURE,
        "thermistor": sensors.THERMISTOR,
        "supply": sensors.SUPPLY,
    }
    assert 2 ** pins["converter"]["bits"] == sensors.CONVERTER_CODES


def test_nominal_scaling_is_the_captures_own():
    codes = np.arange(0, 65521, 40, dtype=np.uint16)
    np.testing.assert_allclose(sensors.nominal_travel_mm(codes), NOMINAL.travel.values(codes))
    np.testing.assert_allclose(sensors.nominal_pressure_kpa(codes), NOMINAL.pressure.values(codes))
