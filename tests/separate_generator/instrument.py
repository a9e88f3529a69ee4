"""Pump, noise and sensors: from what is there to what is read."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from separate_generator.case import Case

Array = NDArray[np.float64]

TRAVEL_SPAN_MM, PRESSURE_SPAN_KPA = 100.0 / 0.8, 2068.0 / 0.8
"""Full converter range: the sensors use 10 to 90 % of it."""


def ripple(case: Case, time_s: Array, pressure_kpa: Array, rng: np.random.Generator) -> Array:
    """Three harmonics of a fundamental that drifts; stronger where pressure is higher.

    Taken at the sample instants with nothing in front: what lies above half the rate folds down.
    """
    step = np.diff(time_s, prepend=time_s[0])
    period = rng.uniform(5.0, 15.0)
    drift = np.sin(2.0 * np.pi * (time_s / period + rng.random()))
    turns = np.cumsum((case.ripple_hz + case.ripple_drift_hz * drift) * step)
    wave = np.zeros_like(time_s)
    for order, share in ((1, 1.0), (2, 0.4), (3, 0.2)):
        wave += share * np.sin(2.0 * np.pi * (order * turns + rng.random()))
    return case.ripple_kpa * (0.4 + 0.6 * pressure_kpa / 200.0) * wave


def wander(case: Case, time_s: Array, rng: np.random.Generator) -> Array:
    """Slow Ornstein-Uhlenbeck drift of pressure, 4 s long, of standard deviation `wander_kpa`."""
    decay = np.exp(-(time_s[1] - time_s[0]) / 4.0)
    drive = rng.normal(0.0, np.sqrt(1.0 - decay**2), len(time_s))
    return case.wander_kpa * lfilter([1.0], [1.0, -decay], drive)


def converted(value: Array, span: float, bits: int | None) -> Array:
    """Return `value` in whole converter steps of `span`."""
    if bits is None:
        return value
    step = span / 2**bits
    return np.round(value / step) * step


def read_travel(case: Case, pin_mm: Array, rng: np.random.Generator) -> Array:
    """Return the travel channel's reading of the pin."""
    reach = max(0.5, case.lever_start_mm / 2.0)
    reading = pin_mm * (1.0 + case.travel_scale) * (1.0 + case.axis_scale)
    reading = reading + case.nonlinearity_mm * np.tanh(pin_mm / reach) + case.zero_reading_mm
    if case.dead_travel:
        reading = np.full_like(pin_mm, case.zero_reading_mm)
    if case.reversed_travel:
        reading = 60.0 - reading
    return converted(reading + rng.normal(0.0, case.travel_noise_mm, len(pin_mm)), TRAVEL_SPAN_MM, case.bits)


def read_pressure(case: Case, pressure_kpa: Array, rng: np.random.Generator) -> Array:
    """Return the pressure channel's reading; it cannot go below zero."""
    reading = pressure_kpa * (1.0 + case.pressure_gain) + case.pressure_offset_kpa
    reading = reading + rng.normal(0.0, case.noise_kpa, len(pressure_kpa))
    return np.maximum(converted(reading, PRESSURE_SPAN_KPA, case.bits), 0.0)
