"""The figures of a sensor: nonlinearity, hysteresis and repeatability, in percent of full scale.

Terms: the sense of IEC 61298-2 and ISA-37, from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import linprog

from rodtrue.calibration.fit import NoFit, fit_polynomial

Array = NDArray[np.float64]
Direction = Literal["up", "down"]


class NotInOrder(ValueError):
    """Rows that do not go up where they say up, or down where they say down; `row` counts from 0."""

    def __init__(self, row: int, text: str) -> None:
        super().__init__(text)
        self.row = row


@dataclass(frozen=True)
class Performance:
    """Figures in percent of full scale; None where the points do not tell.

    nonlinearity_least_squares, _terminal, _independent: the largest departure of the mean of up and down from
    the least-squares line, the line through the mean end points, and the line that makes the largest departure
    smallest. hysteresis: largest |down - up| at one input in one whole cycle. repeatability: largest spread of
    readings from one direction at one input over the cycles.
    """

    full_scale: float
    nonlinearity_least_squares: float | None
    nonlinearity_terminal: float | None
    nonlinearity_independent: float | None
    hysteresis: float | None
    repeatability: float | None


def performance(
    inputs: ArrayLike,
    readings: ArrayLike,
    cycles: Sequence[int],
    directions: Sequence[Direction],
    full_scale: float,
) -> Performance:
    """Return a sensor's figures from its rows in the order taken.

    inputs, readings: shape (n,). full_scale: nominal span of the readings, above 0.
    Raises: NotInOrder.
    """
    xs, ys = np.asarray(inputs, np.float64), np.asarray(readings, np.float64)
    refuse_disorder(xs, cycles, directions)
    by_run: dict[tuple[int, Direction], dict[float, list[float]]] = {}
    for x, y, cycle, direction in zip(xs, ys, cycles, directions, strict=True):
        by_run.setdefault((cycle, direction), {}).setdefault(float(x), []).append(float(y))
    runs = {key: {x: float(np.mean(seen)) for x, seen in run.items()} for key, run in by_run.items()}
    whole = [cycle for cycle in dict.fromkeys(cycles) if (cycle, "up") in runs and (cycle, "down") in runs]

    percent = 100.0 / full_scale
    apart = [
        abs(runs[cycle, "down"][x] - runs[cycle, "up"][x])
        for cycle in whole
        for x in runs[cycle, "up"].keys() & runs[cycle, "down"].keys()
    ]
    x_means, y_means = _means_up_and_down(runs, whole)
    squares, terminal, independent = _nonlinearities(x_means, y_means)
    return Performance(
        full_scale,
        _times(percent, squares),
        _times(percent, terminal),
        _times(percent, independent),
        hysteresis=percent * max(apart) if apart else None,
        repeatability=_times(percent, _largest_spread(runs)),
    )


def refuse_disorder(inputs: Sequence[float] | Array, cycles: Sequence[int], directions: Sequence[Direction]) -> None:
    """Refuse rows of a direction that do not run that way. Raises: NotInOrder, with the row."""
    last: dict[tuple[int, Direction], float] = {}
    for row, (x, cycle, direction) in enumerate(zip(inputs, cycles, directions, strict=True)):
        before = last.get((cycle, direction))
        if before is not None and (x < before if direction == "up" else x > before):
            raise NotInOrder(row, f"cycle {cycle} says {direction}, but goes from {before:g} to {x:g}")
        last[cycle, direction] = float(x)


def _means_up_and_down(
    runs: dict[tuple[int, Direction], dict[float, float]], whole: list[int]
) -> tuple[Array, Array]:
    """Return the mean of up and down at each input over the whole cycles, inputs rising."""
    both: dict[float, list[float]] = {}
    for cycle in whole:
        up, down = runs[cycle, "up"], runs[cycle, "down"]
        for x in up.keys() & down.keys():
            both.setdefault(x, []).append((up[x] + down[x]) / 2)
    places = sorted(both)
    return np.array(places), np.array([float(np.mean(both[x])) for x in places])


def _nonlinearities(x: Array, y: Array) -> tuple[float | None, float | None, float | None]:
    """Return the largest departures from the least-squares, the terminal and the independent line."""
    if len(x) < 3:
        return None, None, None
    try:
        squares = float(np.abs(y - fit_polynomial(x, y).value(x)).max())
    except NoFit:
        return None, None, None
    terminal = y[0] + (y[-1] - y[0]) * (x - x[0]) / (x[-1] - x[0])
    return squares, float(np.abs(y - terminal).max()), least_largest_departure(x, y)


def least_largest_departure(x: Array, y: Array) -> float:
    """Return the largest departure from the straight line that makes it smallest, by linear programming."""
    span = float(np.ptp(x))
    u = (x - x.mean()) / span
    ones = np.ones_like(u)
    above = np.column_stack([-ones, -u, -ones])
    below = np.column_stack([ones, u, -ones])
    centred = y - y.mean()
    solved = linprog(
        [0.0, 0.0, 1.0],
        A_ub=np.vstack([above, below]),
        b_ub=np.concatenate([-centred, centred]),
        bounds=[(None, None), (None, None), (0, None)],
    )
    if not solved.success:
        raise ArithmeticError(f"no line of least largest departure: {solved.message}")
    return float(solved.fun)


def _largest_spread(runs: dict[tuple[int, Direction], dict[float, float]]) -> float | None:
    seen: dict[tuple[Direction, float], list[float]] = {}
    for (_, direction), run in runs.items():
        for x, y in run.items():
            seen.setdefault((direction, x), []).append(y)
    spreads = [max(readings) - min(readings) for readings in seen.values() if len(readings) > 1]
    return max(spreads) if spreads else None


def _times(factor: float, value: float | None) -> float | None:
    return None if value is None else factor * value
