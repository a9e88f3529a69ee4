"""CSV in: columns by name, every refusal with file, line and column."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from rodtrue.bounded import lines_of
from rodtrue.model.conditions import CALIBRATION_STATES, CalibrationState
from rodtrue.model.errors import InputError
from rodtrue.model.samples import STEPS, Samples

SAMPLE_COLUMNS = ("time_s", "travel_mm", "pressure_kpa")
STEP_COLUMN = "step"
CALIBRATION_COLUMN = "calibration"
"""In a CSV of ours: what state the fixture's calibration was in. Not needed; other words in it are ignored."""
FIXTURE_COLUMN = "fixture"
"""In a CSV of ours: what the fixture was. Not needed; any word but `virtual` in it is ignored."""

LARGEST = 1e12
SHORTEST_PERIOD_S, LONGEST_PERIOD_S = 1e-5, 1.0


def read_samples(path: Path) -> Samples:
    """Return the samples of a CSV with the columns time_s, travel_mm, pressure_kpa and step.

    Other columns are ignored. Times must rise from row to row; a missing stretch is simply a longer step.
    Raises: InputError naming file, line and column.
    """
    return read_run(path)[0]


def read_run(path: Path) -> tuple[Samples, CalibrationState | None, bool]:
    """Return the samples of a CSV; where it says so, the state of the calibration they were read with; and whether
    it says of any of them that a virtual fixture made it.

    Raises: as `read_samples`.
    """
    header = heading(path)
    said = [name for name in (CALIBRATION_COLUMN, FIXTURE_COLUMN) if header.count(name) == 1]
    numbers, (words, *others), lines = read_table(path, SAMPLE_COLUMNS, [STEP_COLUMN, *said])
    told = {name: set(column) for name, column in zip(said, others, strict=True)}
    time_s, travel_mm, pressure_kpa = numbers
    step = np.empty(len(words), dtype=np.uint8)
    for i, word in enumerate(words):
        if word not in STEPS:
            known = ", ".join(name for name in STEPS if name)
            raise InputError(
                f"{path}, line {lines[i]}, column {STEP_COLUMN}: unknown step {word!r}",
                f"A step is one of {known}, or empty.",
            )
        step[i] = STEPS.index(word)
    late = np.flatnonzero(np.diff(time_s) <= 0)
    if len(late):
        i = int(late[0]) + 1
        what = "repeats the time before" if time_s[i] == time_s[i - 1] else "goes back in time"
        raise InputError(
            f"{path}, line {lines[i]}, column time_s: {time_s[i]:g} s {what} ({time_s[i - 1]:g} s)",
            "Give the rows in the order they were measured, one row a time.",
        )
    period_s = float(np.median(np.diff(time_s))) if len(time_s) > 1 else LONGEST_PERIOD_S
    if not SHORTEST_PERIOD_S <= period_s <= LONGEST_PERIOD_S:
        raise InputError(
            f"{path}, column time_s: rows are {period_s:g} s apart, which does not look like seconds",
            f"Give time in seconds, {SHORTEST_PERIOD_S:g} to {LONGEST_PERIOD_S:g} s from row to row.",
        )
    samples = Samples(time_s, travel_mm, pressure_kpa, step)
    return samples, _state(told.get(CALIBRATION_COLUMN, set())), "virtual" in told.get(FIXTURE_COLUMN, set())


def _state(said: set[str]) -> CalibrationState | None:
    """Return the one state that a file's rows agree on, None where they say none of ours or several."""
    known: list[CalibrationState] = [state for state in CALIBRATION_STATES if state in said]
    return known[0] if len(known) == 1 else None


def read_columns(path: Path, columns: Sequence[str]) -> list[NDArray[np.float64]]:
    """Return the named columns of a CSV as arrays of shape (n,), rows in file order.

    Raises: InputError naming file, line and column.
    """
    return read_table(path, columns, [])[0]


def heading(path: Path) -> list[str]:
    """Return the column names of a CSV. Raises: InputError where it cannot be read or is empty."""
    _, header = next(_rows(path), (0, None))
    if header is None:
        raise InputError(f"{path}: the file is empty", "Give a CSV with a heading line.")
    return [name.strip() for name in header]


def read_table(
    path: Path, columns: Sequence[str], word_columns: Sequence[str]
) -> tuple[list[NDArray[np.float64]], list[list[str]], list[int]]:
    """Return columns of numbers, shape (n,) each, columns of words, stripped, and the line of each row.

    Raises: InputError naming file, line and column.
    """
    wanted = [*columns, *word_columns]
    numbers: list[list[float]] = [[] for _ in columns]
    words: list[list[str]] = [[] for _ in word_columns]
    lines: list[int] = []
    rows = _rows(path)
    _, header = next(rows, (0, None))
    if header is None:
        raise InputError(f"{path}: the file is empty", "Give a CSV with a heading line: " + ",".join(wanted))
    places = _places(path, [name.strip() for name in header], wanted)
    for line, row in rows:
        if not any(cell.strip() for cell in row):
            continue
        if len(row) <= max(places):
            raise InputError(
                f"{path}, line {line}: {len(row)} columns, the heading has {len(header)}",
                "Mend or delete that line.",
            )
        if any(cell.strip() for cell in row[len(header) :]):
            raise InputError(
                f"{path}, line {line}: {len(row)} columns, the heading has {len(header)}",
                "Write numbers with a point: 11.1; with a comma, 11,1, it is two. Or else mend or delete that line.",
            )
        for values, name, place in zip(numbers, columns, places, strict=False):
            values.append(_number(path, line, name, row[place]))
        for texts, place in zip(words, places[len(columns) :], strict=True):
            texts.append(row[place].strip())
        lines.append(line)
    if not lines:
        raise InputError(f"{path}: a heading but no rows", "Give a file with data.")
    return [np.array(values) for values in numbers], words, lines


def _rows(path: Path) -> Iterator[tuple[int, list[str]]]:
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            reader = csv.reader(lines_of(file))
            for row in reader:
                yield reader.line_num, row
    except FileNotFoundError as error:
        raise InputError(f"{path}: no such file", "Check the path.") from error
    except IsADirectoryError as error:
        raise InputError(f"{path}: is a folder, not a file", "Name the files in it.") from error
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise InputError(f"{path}: cannot be read as CSV ({error})", "Give a UTF-8 text file with commas.") from error


def _places(path: Path, header: list[str], wanted: Sequence[str]) -> list[int]:
    missing = [name for name in wanted if name not in header]
    if missing:
        raise InputError(
            f"{path}, line 1: no column {', '.join(missing)}; it has {', '.join(header) or 'none'}",
            "Needed: " + ",".join(wanted) + " (others are ignored).",
        )
    twice = [name for name in wanted if header.count(name) > 1]
    if twice:
        raise InputError(f"{path}, line 1: column {twice[0]} stands there twice", "Keep one of them.")
    return [header.index(name) for name in wanted]


def _number(path: Path, line: int, column: str, text: str) -> float:
    if not text.strip():
        where = f"{path}, line {line}, column {column}"
        raise InputError(f"{where}: nothing stands there", "Fill it in, or delete that line.")
    try:
        value = float(text) if "_" not in text else math.nan
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError(
            f"{path}, line {line}, column {column}: {text.strip()!r} is not a finite number",
            "Mend or delete that line.",
        )
    if abs(value) > LARGEST:
        raise InputError(
            f"{path}, line {line}, column {column}: {text.strip()} is beyond {LARGEST:g}, which no quantity here is",
            "Mend that line, or give the column in its proper unit.",
        )
    return value
