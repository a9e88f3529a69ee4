"""A crossed study: every operator measures every part the same number of times."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rodtrue.model.errors import InputError


@dataclass(frozen=True)
class Reading:
    """One value of a study, and the line it came from for messages (0: no file)."""

    part: str
    operator: str
    trial: str
    value: float
    line: int = 0


@dataclass(frozen=True)
class Study:
    """Readings as an array of shape (parts, operators, trials), each part and operator in order of appearance."""

    parts: tuple[str, ...]
    operators: tuple[str, ...]
    values: NDArray[np.float64]


def arrange(readings: Sequence[Reading], where: str = "the study") -> Study:
    """Return readings as a balanced crossed study.

    Raises: InputError where a cell is missing or holds another number of trials, where a trial stands twice, where
    there are fewer than two parts, operators or trials, or where all values are equal.
    """
    if not readings:
        raise InputError(f"{where}: no readings", "Give rows of part, operator, trial and value.")
    parts = tuple(dict.fromkeys(reading.part for reading in readings))
    operators = tuple(dict.fromkeys(reading.operator for reading in readings))
    cells: dict[tuple[str, str], dict[str, float]] = {}
    for reading in readings:
        cell = cells.setdefault((reading.part, reading.operator), {})
        if reading.trial in cell:
            at = f", line {reading.line}" if reading.line else ""
            raise InputError(
                f"{where}{at}: part {reading.part}, operator {reading.operator}, trial {reading.trial} stands twice",
                "Give each trial of a part by an operator one row.",
            )
        cell[reading.trial] = reading.value
    for count, what in ((len(parts), "part"), (len(operators), "operator")):
        if count < 2:
            raise InputError(
                f"{where}: only one {what}, so the spread between {what}s cannot be told",
                f"A crossed study needs two {what}s or more; ten parts, three operators, three trials are usual.",
            )
    _refuse_unbalanced(parts, operators, cells, where)
    values = np.array([[list(cells[part, operator].values()) for operator in operators] for part in parts])
    if np.ptp(values) == 0:
        raise InputError(
            f"{where}: every value is {values.flat[0]:g}; the readings do not tell the parts apart",
            "Record more digits, or take parts that differ as much as those in service.",
        )
    return Study(parts, operators, values)


def _refuse_unbalanced(
    parts: Sequence[str], operators: Sequence[str], cells: dict[tuple[str, str], dict[str, float]], where: str
) -> None:
    counts = {(part, operator): len(cells.get((part, operator), {})) for part in parts for operator in operators}
    usual = max(counts.values())
    short = [f"part {part}, operator {operator}: {n}" for (part, operator), n in counts.items() if n != usual]
    if short:
        shown = "; ".join(short[:4]) + (f"; and {len(short) - 4} more" if len(short) > 4 else "")
        raise InputError(
            f"{where}: not every cell has {usual} trials ({shown})",
            "Measure what is missing, or leave the part or the operator out of the whole study.",
        )
    if usual < 2:
        raise InputError(
            f"{where}: one trial each, so repeatability cannot be told",
            "Measure each part twice or more by each operator.",
        )
