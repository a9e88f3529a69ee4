"""A simple run from closed forms: no lag, no pump, friction as two levels. For tests of one thing at a time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rodtrue.model.samples import STEPS, Samples


@dataclass(frozen=True)
class MadeUp:
    """What a made-up run is made of; mm, kPa, s."""

    rod_error_mm: float = 0.0
    slope: float = 12.0
    baseline_kpa: float = 25.0
    top_kpa: float = 420.0
    friction_mm: float = 0.2
    noise_kpa: float = 0.3
    travel_noise_mm: float = 0.005
    sweeps: int = 6
    full_mm: float = 30.0
    seconds: tuple[float, ...] = (2.0, 3.0)
    rate_hz: float = 250.0
    rest_mm: float = 0.0
    later_rest_mm: float = 0.0
    origin_mm: float = 12.0
    connected: bool = False
    response: bool = True
    closings: bool = True
    seed: int = 1

    def samples(self) -> Samples:
        """Return the run as samples; travel is counted from `origin_mm`."""
        rng = np.random.default_rng(self.seed)
        parts: list[tuple[str, np.ndarray, np.ndarray]] = []
        hold = self._pressure(np.zeros(self._n(2.0)), 0.0) if self.connected else self._level(2.0)
        parts.append(("zero", np.zeros(self._n(2.0)), hold))
        base = np.concatenate([hold, self._tap(), hold, self._tap(), hold, self._tap(), hold])
        if self.connected:
            base = np.tile(hold, 4)
        parts.append(("baseline", np.zeros(len(base)), base))
        if self.response:
            pushed = self.baseline_kpa + 60 * np.sin(np.linspace(0, np.pi, self._n(1.5)))
            parts.append(("response", np.zeros(len(pushed)), pushed))
        rest = np.full(self._n(1.0), self.rest_mm)
        parts.append(("sweep", rest, self._pressure(rest, 0.0)))
        for number in range(self.sweeps):
            seconds = self.seconds[number % len(self.seconds)]
            phase = 0.5 - 0.5 * np.cos(np.linspace(0, np.pi, self._n(seconds)))
            start = self.rest_mm if number == 0 else self.later_rest_mm
            opening = start + (self.full_mm - start) * phase
            parts.append(("sweep", opening, self._pressure(opening, +1.0)))
            closing = self.full_mm - (self.full_mm - self.later_rest_mm) * phase
            closing = closing if self.closings else closing[-1:]
            parts.append(("sweep", closing, self._pressure(closing, -1.0)))
            pause = np.full(self._n(0.8), self.later_rest_mm)
            parts.append(("sweep", pause, self._pressure(pause, 0.0)))
        travel = np.concatenate([t for _, t, _ in parts])
        pressure = np.concatenate([p for _, _, p in parts])
        step = np.concatenate([np.full(len(t), STEPS.index(name), np.uint8) for name, t, _ in parts])
        return Samples(
            time_s=np.arange(len(travel)) / self.rate_hz,
            travel_mm=self.origin_mm + travel + self.travel_noise_mm * rng.standard_normal(len(travel)),
            pressure_kpa=pressure + self.noise_kpa * rng.standard_normal(len(travel)),
            step=step,
            travel_step_mm=0.03,
        )

    def _n(self, seconds: float) -> int:
        return round(seconds * self.rate_hz)

    def _level(self, seconds: float) -> np.ndarray:
        return np.full(self._n(seconds), self.baseline_kpa)

    def _tap(self) -> np.ndarray:
        return self.baseline_kpa + 40 * np.sin(np.linspace(0, np.pi, self._n(0.4)))

    def _pressure(self, travel: np.ndarray, way: float) -> np.ndarray:
        lever = travel + self.rod_error_mm - way * self.friction_mm / 2
        return np.minimum(self.baseline_kpa + self.slope * np.maximum(0.0, lever), self.top_kpa)
