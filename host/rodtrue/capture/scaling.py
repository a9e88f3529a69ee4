"""From converter codes to units: the nominal scaling of the fixture's sensors, or its calibration.

A code is four times the sum of four 12-bit conversions (0 to 65520); code / 65536 is the ratio r of
the sensor's output to its supply, which is the converter's reference too. A channel's value is
c0 + c1 (r - r0) + c2 (r - r0)^2, in mm or kPa.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rodtrue.model.codes import CODE_SPAN, CONVERTER_STEPS, LIVE_END, LIVE_ZERO, PRESSURE_SPAN_KPA, TRAVEL_SPAN_MM


@dataclass(frozen=True)
class Channel:
    """One channel's polynomial; coefficients in mm or kPa per power of the ratio."""

    r0: float
    c0: float
    c1: float
    c2: float = 0.0

    def values(self, codes: NDArray[np.generic]) -> NDArray[np.float64]:
        """Return values in mm or kPa, in the shape of `codes`."""
        ratio = codes.astype(np.float64) / CODE_SPAN - self.r0
        return self.c0 + ratio * (self.c1 + ratio * self.c2)

    def code(self, value: float) -> int:
        """Return the code of a value in mm or kPa, for a channel that rises with its code; beyond either end of
        the sensor's range (`LIVE_ZERO` to `LIVE_END`) the code of that end.
        """
        rise = value - self.c0
        slope_squared = self.c1**2 + 4.0 * self.c2 * rise
        # The root that stays near the straight line; none is left where the curve turns before it gets there.
        ratio = self.r0 + 2.0 * rise / (self.c1 + math.sqrt(slope_squared)) if slope_squared >= 0.0 else LIVE_END
        return round(CODE_SPAN * min(max(ratio, LIVE_ZERO), LIVE_END))

    @property
    def converter_step(self) -> float:
        """One step of the 12-bit converter at the live zero, in mm or kPa."""
        return abs(self.c1 + 2.0 * self.c2 * (LIVE_ZERO - self.r0)) / CONVERTER_STEPS


@dataclass(frozen=True)
class Scaling:
    """Both channels."""

    travel: Channel
    pressure: Channel


def _through_live_zero(span: float) -> Channel:
    return Channel(LIVE_ZERO, 0.0, span / (LIVE_END - LIVE_ZERO))


NOMINAL = Scaling(_through_live_zero(TRAVEL_SPAN_MM), _through_live_zero(PRESSURE_SPAN_KPA))
"""What holds while the fixture has no calibration."""


def scaling_of(calibration: dict[str, Any] | None) -> Scaling:
    """Return the scaling of a calibration as captures hold it (`channels`: travel, then pressure);
    None gives the nominal one.
    """
    if calibration is None:
        return NOMINAL
    travel, pressure = (Channel(row["r0"], row["c0"], row["c1"], row["c2"]) for row in calibration["channels"])
    return Scaling(travel, pressure)


SUPPLY_REFERENCE_V = 3.0
THERMISTOR_OHM_25C = 10_000.0
THERMISTOR_PULL_UP_OHM = 10_000.0
THERMISTOR_BETA_K = 3435.0
KELVIN_AT_0C = 273.15


def supply_v(code: int) -> float | None:
    """Return the sensors' supply in volts from the supply monitor's code; None for a dead channel."""
    return SUPPLY_REFERENCE_V * CODE_SPAN / code if code > 0 else None


def fluid_degc(code: int) -> float | None:
    """Return the fluid's temperature in degC from the thermistor's code; None for an open or shorted one.

    Source: the beta equation of a negative-coefficient thermistor (any such part's data sheet).
    """
    ratio = code / CODE_SPAN
    if not 0.02 < ratio < 0.98:
        return None
    ohm = THERMISTOR_PULL_UP_OHM * ratio / (1 - ratio)
    inverse_k = 1 / (25.0 + KELVIN_AT_0C) + math.log(ohm / THERMISTOR_OHM_25C) / THERMISTOR_BETA_K
    return 1 / inverse_k - KELVIN_AT_0C
