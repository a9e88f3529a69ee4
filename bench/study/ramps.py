"""Level-ramp-level data with white noise, their Cramer-Rao bound, and curve_fit on the same model."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import curve_fit

from rodtrue.analysis.stream import LevelRampLevel, RunningBins

Array = NDArray[np.float64]
SLOPE = 12.0
LEVEL = 20.0
LOW_MM, HIGH_MM = -2.0, 20.0


def course(x: Array, level: float, lower: float, slope: float, width: float = np.inf) -> Array:
    """Return the pressure: `level`, from `lower` on a ramp, `width` later level again."""
    return level + slope * np.clip(x - lower, 0.0, width)


def running_fit(x: Array, p: Array) -> LevelRampLevel | None:
    """Return the running fit of samples that arrived at once."""
    bins = RunningBins(LOW_MM - 0.5, HIGH_MM + 0.5, LEVEL)
    bins.add(x, p)
    return bins.fit()


def bound(x: Array, lower: float, width: float, sd: float) -> float:
    """Return the Cramer-Rao bound of `lower`: the root of its diagonal in the inverse information.

    Source: Seber and Wild, Nonlinear Regression (1989), chapter 2 (from memory); columns are the model's
    derivatives by level, slope, lower and, where the ramp ends within the data, upper.
    """
    upper = lower + width
    columns = [np.ones_like(x), np.clip(x - lower, 0.0, width), -SLOPE * ((x > lower) & (x <= upper))]
    if upper < x.max():
        columns = [np.ones_like(x), columns[1], -SLOPE * (x > lower), SLOPE * (x > upper)]
    design = np.column_stack(columns)
    return float(sd * np.sqrt(np.linalg.inv(design.T @ design)[2, 2]))


def curve_fit_from(x: Array, p: Array, start: list[float]) -> Array | None:
    """Return curve_fit's parameters (level, lower, slope and, with four starts, width), None where it gives up."""
    try:
        found, _ = curve_fit(course, x, p, start, maxfev=2000)
    except RuntimeError:
        return None
    return np.asarray(found)
