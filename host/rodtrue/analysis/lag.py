"""First-order lag on sampled travel, exact for travel that runs straight between samples."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

_Array = NDArray[np.float64]


def lagged(values: _Array, lag_s: float, period_s: float) -> _Array:
    """Return `values`, shape (n,), through a first-order lag of `lag_s`; settled at the first value.

    Source: the exact response of tau y' + y = x to x linear between samples (ramp-invariant
    discretisation). lag_s = 0 returns the values themselves.
    Raises: ValueError: a negative lag or a period not above 0.
    """
    if lag_s < 0 or period_s <= 0:
        raise ValueError("lag must not be negative and the period must be above 0")
    ratio = period_s / lag_s if lag_s > 0 else math.inf
    if ratio > 500:
        return values.copy()
    decay = math.exp(-ratio)
    mean_decay = (1 - decay) / ratio
    now, before = 1 - mean_decay, mean_decay - decay
    start = [values[0] - now * values[0]]
    filtered, _ = lfilter([now, before], [1.0, -decay], values, zi=start)
    return np.asarray(filtered)
