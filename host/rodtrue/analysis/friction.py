"""Friction as play: what the valve follows of the travel.

A valve held by friction does not answer a small reversal. Tremor and pauses make such reversals, and a fit that
follows the travel through them takes the held pressure for lag and reads the friction low.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_Array = NDArray[np.float64]


def followed(travel_mm: _Array, half_width_mm: float) -> _Array:
    """Return the travel through a play of both half-widths, shape (n,); it begins at the first value.

    In steady motion the result lags by `half_width_mm`; within twice that of a turn it stands still.
    Source: the play (backlash) operator of rate-independent hysteresis (M. Krasnosel'skii and A. Pokrovskii,
    Systems with Hysteresis, 1989; from memory). Raises: ValueError: a negative half-width.
    """
    if half_width_mm < 0:
        raise ValueError("the half-width must not be negative")
    if half_width_mm == 0:
        return travel_mm
    at = float(travel_mm[0])
    path = []
    for value in travel_mm.tolist():
        if value > at + half_width_mm:
            at = value - half_width_mm
        elif value < at - half_width_mm:
            at = value + half_width_mm
        path.append(at)
    return np.array(path)
