"""The clamp that holds the travel sensor; a loose one slips at both ends of a sweep."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

SLIPS_ABOVE_MM = 30.0
SLIPS_BELOW_MM = 0.5


class Clamp:
    """How far the sensor has slipped from where it was clamped."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.most_mm = 0.0
        self._rng = rng
        self._slip_mm = 0.0
        self._opened = False

    def slip_mm(self, pin_mm: Array) -> Array:
        """Return the slip at each pin travel in turn, shape (n,): a new one at every end of a stroke."""
        if self.most_mm == 0.0:
            return np.full_like(pin_mm, self._slip_mm)
        slips = []
        for pin in pin_mm.tolist():
            if pin < SLIPS_BELOW_MM if self._opened else pin > SLIPS_ABOVE_MM:
                self._opened = not self._opened
                self._slip_mm = float(self._rng.uniform(-self.most_mm, self.most_mm))
            slips.append(self._slip_mm)
        return np.array(slips)
