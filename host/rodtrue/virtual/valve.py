"""The throttle valve: pressure against lever travel, friction, supply, lag.

Pressure is followed as its rise above the baseline, in kPa. Order of events: the lever loads the spring
(`spring_rise_kpa`), friction lets the valve lag behind the spring (`Play`), the supply limits it and the
kickdown detent adds to it (`supplied_kpa`), and the line to the gauge smooths it (`FirstOrder`).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from rodtrue.virtual.truth import Truth

Array = NDArray[np.float64]


def spring_rise_kpa(lever_mm: Array, truth: Truth) -> Array:
    """Return the pressure above baseline that balances the spring, without friction; shape (n,).

    A straight ramp from the end of the lever's free travel, and beyond `straight_mm` a slope that
    changes by `bend_per_mm` of itself each millimetre.
    """
    loaded = np.maximum(lever_mm - truth.lever_free_mm, 0.0)
    beyond = np.maximum(loaded - truth.straight_mm, 0.0)
    return truth.slope_kpa_per_mm * (loaded + 0.5 * truth.bend_per_mm * beyond**2)


def supplied_kpa(valve_rise_kpa: Array, lever_mm: Array, full_kpa: Array, truth: Truth) -> Array:
    """Return gauge pressure for what the valve asks, the supply and the detent; each of shape (n,).

    full_kpa: what the pump can hold, at each instant. The ramp gives way softly to that plateau; past
    the detent a second, steeper ramp (or, where steep enough, a step) leads to line pressure.
    """
    asked = truth.baseline_kpa + valve_rise_kpa
    width = truth.rounding_kpa
    excess = np.clip((asked - full_kpa) / width, -50.0, 50.0)
    limited = np.where(excess < 50.0, asked - width * np.log1p(np.exp(excess)), full_kpa)
    detent = np.clip((lever_mm - truth.detent_mm) * truth.detent_slope_kpa_per_mm, 0.0, truth.detent_rise_kpa)
    return limited + detent


class Play:
    """Friction as a play operator: the output stays until the input has moved past a half-width.

    At rest it holds what it has. A tap on the lever lets a share of the held part go.
    """

    def __init__(self, rising: float, falling: float) -> None:
        """rising, falling: how far the output lags a rising, a falling input (same unit as the input)."""
        self.rising = rising
        self.falling = falling
        self.held = 0.0

    def follow(self, inputs: Array) -> Array:
        """Return the output for each input in turn, shape (n,)."""
        rising, falling, held = self.rising, self.falling, self.held
        outputs = []
        for value in inputs.tolist():
            if held < value - rising:
                held = value - rising
            elif held > value + falling:
                held = value + falling
            outputs.append(held)
        self.held = held
        return np.array(outputs)

    def release(self, around: float, share: float, chance: float) -> None:
        """Let friction go: the output settles near `around`, within what is left of the half-widths.

        share: the part let go, 0 to 1. chance: -1 to 1, where within the rest it settles.
        """
        width = self.rising if chance < 0 else self.falling
        self.held = around + (1.0 - share) * chance * width


class FirstOrder:
    """A first-order lag, exact for an input that runs straight between the given instants."""

    def __init__(self, time_constant_s: float) -> None:
        self.time_constant_s = time_constant_s
        self._input: float | None = None
        self._output = 0.0

    def follow(self, inputs: Array, steps_s: Array) -> Array:
        """Return the output at each instant, shape (n,); steps_s: time since the instant before.

        The first input ever seen is taken as settled.
        """
        tau = self.time_constant_s
        before = float(inputs[0]) if self._input is None else self._input
        output = before if self._input is None else self._output
        decay = np.exp(-steps_s / tau)
        # What a straight run contributes over one step: end - slope x tau, and its start likewise.
        shares = np.where(steps_s > 0.0, (1.0 - decay) * tau / np.where(steps_s > 0.0, steps_s, 1.0), 1.0)
        outputs = []
        for value, kept, share in zip(inputs.tolist(), decay.tolist(), shares.tolist(), strict=True):
            output = kept * output + (share - kept) * before + (1.0 - share) * value
            before = value
            outputs.append(output)
        self._input, self._output = before, output
        return np.array(outputs)


def time_constant_s(corner_hz: float) -> float:
    """Return the time constant of a first-order low-pass with that corner frequency."""
    return 1.0 / (2.0 * math.pi * corner_hz)
