"""The pump: engine speed that wanders, a ripple that follows it, and a plateau that follows it too.

Everything here is a function of device time alone, so that it does not depend on who asks when.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rodtrue.virtual.sensors import ANTI_ALIAS_HZ
from rodtrue.virtual.truth import Truth

Array = NDArray[np.float64]

SLOWEST_WANDER_HZ = 0.05
FASTEST_WANDER_HZ = 0.4
WAVES = 4
SECOND_HARMONIC = 0.25
PLATEAU_PER_SPEED = 0.5
"""Relative change of the plateau for a relative change of engine speed."""


class Pump:
    """Engine speed as a sum of slow waves, and what hangs on it."""

    def __init__(self, truth: Truth, rng: np.random.Generator) -> None:
        self.truth = truth
        self._wave_rad_per_s = 2 * np.pi * rng.uniform(SLOWEST_WANDER_HZ, FASTEST_WANDER_HZ, WAVES)
        self._wave_phase = rng.uniform(0, 2 * np.pi, WAVES)
        self._ripple_phase = rng.uniform(0, 2 * np.pi, 2)

    def relative_speed(self, time_s: Array) -> Array:
        """Return engine speed over its mean, shape (n,); never further off than `speed_wander`."""
        waves = np.sin(np.multiply.outer(time_s, self._wave_rad_per_s) + self._wave_phase)
        return 1.0 + self.truth.speed_wander * waves.mean(axis=-1)

    def full_pressure_kpa(self, time_s: Array) -> Array:
        """Return the plateau the supply can hold, shape (n,)."""
        wander = PLATEAU_PER_SPEED * (self.relative_speed(time_s) - 1.0)
        return self.truth.full_pressure_kpa * (1.0 + wander)

    def ripple_kpa(self, time_s: Array, pressure_kpa: Array) -> Array:
        """Return the ripple behind the anti-alias filter, shape (n,), in kPa.

        Its amplitude grows with pressure. The filter acts on it in closed form (gain and phase at the
        frequency of the moment), which holds at any spacing of the instants.
        """
        truth = self.truth
        share = np.clip(pressure_kpa / truth.full_pressure_kpa, 0.0, 1.0)
        amplitude = truth.ripple_low_kpa + (truth.ripple_full_kpa - truth.ripple_low_kpa) * share
        frequency_hz = truth.ripple_hz * self.relative_speed(time_s)
        turns = self._speed_integral_s(time_s) * truth.ripple_hz
        total = np.zeros_like(time_s)
        for order, strength, phase in (
            (1, 1.0, self._ripple_phase[0]),
            (2, SECOND_HARMONIC, self._ripple_phase[1]),
        ):
            ratio = order * frequency_hz / ANTI_ALIAS_HZ
            angle = 2 * np.pi * order * turns + phase - np.arctan(ratio)
            total += strength * np.sin(angle) / np.sqrt(1.0 + ratio**2)
        return amplitude * total

    def _speed_integral_s(self, time_s: Array) -> Array:
        """Return the integral of relative speed over time: what a shaft has turned, but for a factor."""
        waves = np.cos(np.multiply.outer(time_s, self._wave_rad_per_s) + self._wave_phase)
        return time_s - self.truth.speed_wander * (waves / self._wave_rad_per_s).mean(axis=-1)
