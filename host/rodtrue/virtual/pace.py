"""How much device time may be granted: as the wall clock goes, or as somebody says. Device times in us."""

from __future__ import annotations

import threading
import time
from typing import Literal

Pace = Literal["real", "manual"]

STEP_US = 10_000
LONGEST_LAG_US = 1_000_000


class ManualPace:
    """Device time passes up to a target that others set."""

    is_real = False

    def __init__(self) -> None:
        self.target_us = 0
        self._lock = threading.Lock()

    def raise_target(self, time_us: int) -> None:
        """Let device time pass up to time_us, if it has not yet."""
        with self._lock:
            self.target_us = max(self.target_us, time_us)

    def begin(self) -> None:
        """The board is there."""

    def limit_us(self, granted_us: int) -> int:
        """Return up to where time may be granted now."""
        return self.target_us

    def wait_s(self, granted_us: int) -> float | None:
        """Return how long until more may be granted; None where only a new target brings more."""
        return None


class RealPace:
    """Device time follows the wall clock, in steps, each granted when its end is due.

    clock_error: how much faster the board's crystal runs, relative.
    """

    is_real = True

    def __init__(self, clock_error: float = 0.0) -> None:
        self._us_per_s = 1e6 * (1.0 + clock_error)
        self._start: float | None = None

    def begin(self) -> None:
        """The board is there: from now on, once, device time passes."""
        if self._start is None:
            self._start = time.monotonic()

    def limit_us(self, granted_us: int) -> int:
        """Return up to where time may be granted now."""
        if self._start is None:
            return 0
        now_us = int((time.monotonic() - self._start) * self._us_per_s)
        lag_us = now_us - granted_us - LONGEST_LAG_US
        if lag_us > 0:
            # The machine slept or cannot keep up: device time stood still for that long.
            self._start += lag_us / self._us_per_s
            now_us -= lag_us
        return now_us // STEP_US * STEP_US

    def wait_s(self, granted_us: int) -> float | None:
        """Return how long until more may be granted; None before the board is there."""
        if self._start is None:
            return None
        return max(0.0, self._start + (granted_us + STEP_US) / self._us_per_s - time.monotonic())
