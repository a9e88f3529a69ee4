"""What the stand-in board asks of a plant: conversions and contacts at device times."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray


class Converting(Protocol):
    """What a plant must do: `conversions` and `switches` as rodtrue.virtual.plant.Plant has them."""

    def conversions(self, times_us: NDArray[np.int64]) -> NDArray[np.uint16]:
        """Return codes, shape (n, 8), at increasing device times."""

    def switches(self, times_us: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Return button and foot switch, shape (n, 2)."""


class ConversionSource:
    """Asks a plant for each device time once, in order."""

    def __init__(self, plant: Converting) -> None:
        self._plant = plant
        self._last_us = -1
        self._last_row = np.zeros((1, 8), dtype=np.uint16)

    def convert(self, times_us: NDArray[np.int64]) -> tuple[NDArray[np.uint16], NDArray[np.uint8]]:
        """Return codes, shape (n, 8), and switches as bits, shape (n,).

        Where the sampling rhythm changed in the middle of a block, its first times have been converted
        already: the converter is taken to have held still.
        """
        fresh_us = times_us[times_us > self._last_us]
        codes = self._plant.conversions(fresh_us) if len(fresh_us) else np.empty((0, 8), dtype=np.uint16)
        held = np.repeat(self._last_row, len(times_us) - len(fresh_us), axis=0)
        codes = np.concatenate([held, codes])
        if len(fresh_us):
            self._last_us = int(fresh_us[-1])
            self._last_row = codes[-1:]
        return codes, self.switches(times_us)

    def switches(self, times_us: NDArray[np.int64]) -> NDArray[np.uint8]:
        """Return the contacts as bits: 1 button, 2 foot switch. Shape (n,)."""
        pressed = self._plant.switches(times_us)
        return (pressed[:, 0] + 2 * pressed[:, 1]).astype(np.uint8)
