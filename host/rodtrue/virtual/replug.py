"""A virtual unit that outlives its fixture: the cable comes out and goes in again, the unit stays as it is."""

from __future__ import annotations

import numpy as np

from rodtrue.virtual.converted import Codes, Times
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import Scenario

UNPLUGGED_US = 1_000_000
"""So much of the plant's time passes while nothing is plugged in."""


class LastingPlant(Plant):
    """A plant for one fixture after another: each begins at device time 0, the plant's own time goes on."""

    def __init__(self, scenario: Scenario, seed: int) -> None:
        super().__init__(scenario, seed)
        self._shift_us = 0
        self._newest_us = 0

    def plug_in(self) -> None:
        """The next conversions are those of a fixture that has just been powered."""
        self._shift_us = self._newest_us + UNPLUGGED_US

    def conversions(self, times_us: Times) -> Codes:
        """As `Plant.conversions`, at the times of the fixture that is plugged in."""
        own_us = np.asarray(times_us, dtype=np.int64) + self._shift_us
        if len(own_us):
            self._newest_us = int(own_us[-1])
        return super().conversions(own_us)

    def switches(self, times_us: Times) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        """As `Plant.switches`, likewise."""
        return super().switches(np.asarray(times_us, dtype=np.int64) + self._shift_us)
