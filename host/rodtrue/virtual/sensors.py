"""The fixture's sensors and converter: from physical quantities to 12-bit codes, and nominally back.

All are ratiometric: the converter's reference is the sensors' supply, so a ratio of 0 to 1 is what is
read, and the supply's drift cancels. The supply itself is seen through an independent reference voltage.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rodtrue.virtual.truth import Truth

Array = NDArray[np.float64]

CHANNELS = 8
TRAVEL, PRESSURE, THERMISTOR, SUPPLY = range(4)
"""Converter channels."""

CONVERTER_CODES = 4096
SAMPLE_CODES = 65536
CONVERSIONS_PER_SAMPLE = 4
CODES_PER_SUM = 4
ANTI_ALIAS_HZ = 150.0

LIVE_ZERO = 0.1
LIVE_SPAN = 0.8
TRAVEL_SPAN_MM = 100.0
PRESSURE_SPAN_KPA = 2068.0
HIGHEST_PRESSURE_RATIO = 0.95

THERMISTOR_OHM_25C = 10_000.0
THERMISTOR_BETA_K = 3435.0
THERMISTOR_PULL_UP_OHM = 10_000.0
KELVIN_AT_0C = 273.15
SUPPLY_REFERENCE_V = 3.0

NONLINEARITY_SHORTEST_REACH_MM = 2.0


def travel_reading_mm(pin_mm: Array, truth: Truth) -> Array:
    """Return the travel sensor's position, shape (n,), from the pin's travel on its slide or throttle.

    Axis angle and arc stretch it on its way to the sensor.
    """
    return track_reading_mm(truth.travel_origin_mm + pin_mm * (1.0 + truth.axis_and_arc), truth)


def track_reading_mm(position_mm: Array, truth: Truth) -> Array:
    """Return what the travel sensor makes of its slider's position on the track, both shape (n,), in mm.

    Its scale is off, its track bows. The nonlinearity has its drawn value at the knee: for a short
    rod it grows until there and then stays, so that it shifts the knee and does not tilt the ramp; for a
    long one, whose knee lies outside the sensor's way, it tilts the ramp that is carried back to it.
    """
    pin_mm = position_mm - truth.travel_origin_mm
    reach = max(abs(truth.rod_error_mm), NONLINEARITY_SHORTEST_REACH_MM)
    part = pin_mm / reach
    shape = part if truth.rod_error_mm > 0 else np.sin(0.5 * np.pi * np.clip(part, -1.0, 1.0))
    along = position_mm / TRAVEL_SPAN_MM
    bow_mm = truth.travel_bow_mm * 4.0 * along * (1.0 - along)
    return position_mm + truth.travel_offset_mm + truth.travel_scale * pin_mm + bow_mm + truth.nonlinearity_mm * shape


def travel_ratio(reading_mm: Array) -> Array:
    """Return the potentiometer's ratio, shape (n,), for its position in mm."""
    return np.clip(LIVE_ZERO + LIVE_SPAN * reading_mm / TRAVEL_SPAN_MM, LIVE_ZERO, LIVE_ZERO + LIVE_SPAN)


def pressure_ratio(pressure_kpa: Array, truth: Truth, noise_kpa: Array | float = 0.0) -> Array:
    """Return the transducer's ratio, shape (n,). It reads no less than no gauge pressure.

    Past either end of its range the sensor's output stands still, noise and all. A signal that lies on the
    supply reads the supply.
    """
    if truth.pressure_shorted:
        return np.ones_like(pressure_kpa)
    pressure = np.maximum(pressure_kpa, 0.0)
    part = pressure / 600.0
    seen = (
        pressure * (1.0 + truth.pressure_gain)
        + truth.pressure_offset_kpa
        + truth.pressure_bow_kpa * 4.0 * part * (1.0 - part)
        + noise_kpa
    )
    return np.clip(LIVE_ZERO + LIVE_SPAN * seen / PRESSURE_SPAN_KPA, LIVE_ZERO, HIGHEST_PRESSURE_RATIO)


def thermistor_ratio(temperature_c: Array) -> Array:
    """Return the thermistor's share of the supply below its pull-up, by the beta equation; any shape."""
    kelvin = temperature_c + KELVIN_AT_0C
    ohm = THERMISTOR_OHM_25C * np.exp(THERMISTOR_BETA_K * (1.0 / kelvin - 1.0 / (25.0 + KELVIN_AT_0C)))
    return ohm / (ohm + THERMISTOR_PULL_UP_OHM)


def supply_ratio(supply_v: float) -> float:
    """Return the independent reference voltage over the supply."""
    return SUPPLY_REFERENCE_V / supply_v


def converter_codes(ratio: Array) -> NDArray[np.uint16]:
    """Return 12-bit codes for ratios, any shape: to the nearest step, at the rails beyond them."""
    return np.clip(np.floor(ratio * CONVERTER_CODES + 0.5), 0, CONVERTER_CODES - 1).astype(np.uint16)


def sample_period_us(rate_hz: int) -> int:
    """Return a sample's period as the fixture's timer makes it: four whole-microsecond intervals."""
    return CONVERSIONS_PER_SAMPLE * (1_000_000 // (CONVERSIONS_PER_SAMPLE * rate_hz))


def conversion_times_us(start_us: int, period_us: int, samples: int) -> NDArray[np.int64]:
    """Return the device times of the conversions of `samples` samples, shape (4 x samples,).

    period_us: of a sample, a multiple of 4.
    """
    interval_us = period_us // CONVERSIONS_PER_SAMPLE
    return start_us + interval_us * np.arange(samples * CONVERSIONS_PER_SAMPLE, dtype=np.int64)


def sample_codes(conversions: NDArray[np.uint16]) -> NDArray[np.uint16]:
    """Return sample codes, shape (m, 2), for conversion codes, shape (4 x m, 8): four times their sum."""
    both = conversions[:, [TRAVEL, PRESSURE]].astype(np.uint32)
    sums = both.reshape(-1, CONVERSIONS_PER_SAMPLE, 2).sum(axis=1)
    return (sums * CODES_PER_SUM).astype(np.uint16)


def nominal_travel_mm(codes: NDArray[np.uint16]) -> Array:
    """Return travel in mm for sample codes (0 to 65520), by nominal scaling."""
    return (codes / SAMPLE_CODES - LIVE_ZERO) / LIVE_SPAN * TRAVEL_SPAN_MM


def nominal_pressure_kpa(codes: NDArray[np.uint16]) -> Array:
    """Return pressure in kPa for sample codes (0 to 65520), by nominal scaling."""
    return (codes / SAMPLE_CODES - LIVE_ZERO) / LIVE_SPAN * PRESSURE_SPAN_KPA


TRAVEL_STEP_MM = TRAVEL_SPAN_MM / LIVE_SPAN / CONVERTER_CODES
PRESSURE_STEP_KPA = PRESSURE_SPAN_KPA / LIVE_SPAN / CONVERTER_CODES
"""One converter step, nominally."""
