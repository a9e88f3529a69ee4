"""The valve body: from the lever's position to the pressure at the port.

Friction is Dahl's (Dahl 1968, from memory), acting on the spool through the spring: the load of the
lever, in pressure units, is carried by pressure and friction together, and the friction turns round over a
short stretch of pressure. Under the minimum pressure, which a land of its own sets, spring and friction go on
acting, so that both onsets exist; that is why the lever's stop lies a little below its start here.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.signal import bilinear, lfilter, lfilter_zi

from separate_generator.case import Case
from separate_generator.motion import Motion

Array = NDArray[np.float64]


def rounded(value: Array, width: float) -> Array:
    """Return max(value, 0) with the corner replaced by a parabola `width` wide."""
    if width <= 0.0:
        return np.maximum(value, 0.0)
    inside = np.clip(value + width / 2.0, 0.0, width)
    return inside**2 / (2.0 * width) + np.maximum(value - width / 2.0, 0.0)


def lever_position(case: Case, motion: Motion) -> Array:
    """Return the lever's position from its start, in mm at the driving end, shape (n,)."""
    free_stop = -(1.1 + 4.0 / case.friction_stiffness) * case.friction_mm - case.knee_round_mm - 0.05
    held_stop = -(case.friction_mm / 2.0 - case.centre_error_mm)
    held_stop += case.return_hold_kpa / case.slope_kpa_per_mm
    stop = np.where(motion.hooked & (case.return_hold_kpa > 0.0), held_stop, free_stop)
    by_rod = np.where(motion.hooked, case.transfer_mm + motion.pin_mm + motion.rod_error_mm, stop)
    return np.maximum(np.maximum(by_rod, motion.hand_mm), stop)


def load_kpa(case: Case, lever_mm: Array) -> Array:
    """Return the lever's load in pressure units: straight near the start, bending later."""
    beyond = np.maximum(lever_mm - case.bend_from_mm, 0.0)
    return case.slope_kpa_per_mm * (lever_mm + 0.5 * case.bend_per_mm * beyond**2)


def through_friction(load: Array, rising: Array, falling: Array, stiffness: float) -> Array:
    """Return the pressure that balances `load` less friction, shape (n,).

    rising, falling: friction in kPa that a growing and a shrinking load must overcome, shape (n,).
    Dahl: d(friction)/d(pressure) = stiffness x (1 - friction / limit) going up, mirrored going down.
    """
    if not (np.any(rising) or np.any(falling)):
        return load.copy()
    pressure = np.empty_like(load)
    p = before = float(load[0])
    friction = 0.0
    for i, (now, up, down) in enumerate(zip(load.tolist(), rising.tolist(), falling.tolist(), strict=True)):
        change = now - before
        if change > 0.0:
            friction = now - p - change / (1.0 + stiffness * max(0.0, 1.0 - friction / (up + 1e-9)))
            p = now - min(friction, up)
        elif change < 0.0:
            friction = now - p - change / (1.0 + stiffness * max(0.0, 1.0 + friction / (down + 1e-9)))
            p = now - max(friction, -down)
        friction = now - p
        before = now
        pressure[i] = p
    return pressure


def valve_pressure(case: Case, motion: Motion, rate_hz: float, rng: np.random.Generator) -> Array:
    """Return gauge pressure at the port without ripple and noise, shape (n,)."""
    lever = lever_position(case, motion)
    speed = np.abs(np.gradient(lever)) * rate_hz
    level = 1.0 - case.friction_drop * (1.0 - np.exp(-speed / 5.0))
    half, k = case.friction_mm / 2.0, case.slope_kpa_per_mm
    rising, falling = (half + case.centre_error_mm) * k * level, (half - case.centre_error_mm) * k * level
    above = through_friction(load_kpa(case, lever), rising, falling, case.friction_stiffness)
    pressure = case.baseline_kpa + rounded(above, case.knee_round_mm * k)
    supply = _supply(case, lever, rate_hz, rng)
    pressure = supply - rounded(supply - pressure, 8.0)
    return _lagged(pressure + _detent(case, motion, supply), case, rate_hz)


def _supply(case: Case, lever: Array, rate_hz: float, rng: np.random.Generator) -> Array:
    """Supply pressure: drifts with the engine and sags while the valve draws on it."""
    decay = np.exp(-1.0 / (3.0 * rate_hz))
    drift = lfilter([1.0], [1.0, -decay], rng.normal(0.0, np.sqrt(1.0 - decay**2), len(lever)))
    slow = 1.0 - np.exp(-1.0 / (0.8 * rate_hz))
    sag = lfilter([slow], [1.0, slow - 1.0], (lever > 0.6 * case.supply_kpa / case.slope_kpa_per_mm) * 1.0)
    return case.supply_kpa * (1.0 + 0.004 * drift - case.supply_droop * sag)


def _detent(case: Case, motion: Motion, supply: Array) -> Array:
    """Kickdown near full travel: a steeper second ramp, or a step to line pressure."""
    if case.detent is None:
        return np.zeros_like(supply)
    past = np.where(motion.hooked, motion.pin_mm - (case.amplitude_mm - 3.0), -1.0)
    if case.detent == "ramp":
        return rounded(past, 0.4) * 3.0 * case.slope_kpa_per_mm
    return 0.6 * supply / (1.0 + np.exp(np.clip(-past / 0.08, -60.0, 60.0)))


def _lagged(pressure: Array, case: Case, rate_hz: float) -> Array:
    """First-order lag, or a second-order one whose delay behind a ramp is the same."""
    if case.lag_s == 0.0:
        return pressure
    if case.lag_order == 1:
        analogue = [1.0], [case.lag_s, 1.0]
    else:
        damping = 0.8
        natural = 2.0 * damping / case.lag_s
        analogue = [natural**2], [1.0, 2.0 * damping * natural, natural**2]
    b, a = bilinear(*analogue, fs=rate_hz)
    return lfilter(b, a, pressure, zi=lfilter_zi(b, a) * pressure[0])[0]
