"""What every virtual unit under the fixture's converter has: samples made of conversions, and its two switches."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rodtrue.virtual import sensors

Codes = NDArray[np.uint16]
Times = NDArray[np.int64]


class Converted:
    """Keeps the device time of the last conversion, and when button and foot switch changed."""

    def __init__(self) -> None:
        self._last_us: int | None = None
        self._switches: list[tuple[int, bool, bool]] = [(0, False, False)]

    def conversions(self, times_us: Times) -> Codes:
        """Return the converter's codes at device times, shape (n, 8), 12 bits each."""
        raise NotImplementedError

    def samples(self, rate_hz: int, seconds: float) -> Codes:
        """Return sample codes, shape (m, 2): travel and pressure, made as the fixture makes them.

        Four conversions spread evenly over each period, code = 4 x their sum. The first period follows
        that of the last conversion.
        """
        period_us = sensors.sample_period_us(rate_hz)
        start_us = 0 if self._last_us is None else self._last_us + period_us // 4
        times_us = sensors.conversion_times_us(start_us, period_us, round(seconds * rate_hz))
        return sensors.sample_codes(self.conversions(times_us))

    def switches(self, times_us: Times) -> NDArray[np.bool_]:
        """Return button and foot switch, shape (n, 2), pressed or not at device times already converted."""
        since_us = [change[0] for change in self._switches]
        states = np.array([change[1:] for change in self._switches], dtype=np.bool_)
        return states[np.searchsorted(since_us, times_us, side="right") - 1]

    def _note_switches(self, now_us: int, button: bool, foot_switch: bool) -> None:
        if self._switches[-1][1:] != (button, foot_switch):
            self._switches.append((now_us, button, foot_switch))
