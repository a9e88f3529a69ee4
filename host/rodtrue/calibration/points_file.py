"""The points of a calibration run as a CSV, written one by one as they are taken, so that none is lost."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal, cast

from rodtrue.bounded import lines_of
from rodtrue.calibration.document import CalibratedFixture, Point, is_fixture_number
from rodtrue.calibration.performance import Direction, NotInOrder, refuse_disorder
from rodtrue.model.codes import CODE_SPAN
from rodtrue.model.errors import InputError

COLUMNS = (
    "fixture", "fixture_id", "quantity", "unit", "cycle", "direction", "reference", "code", "sd_codes", "samples",
)  # fmt: skip
NUMBER = "number"
"""The calibration's number, where the file says one; the last row's holds."""
UNITS = {"travel": "mm", "pressure": "kPa"}
HIGHEST_NUMBER = 65535
MOST_COUNTED = 1_000_000
"""Of cycles, and of samples that a point is the mean of."""
LARGEST = 1e6
"""In mm, kPa or codes: more than any point has."""
_MEND = "Mend or delete that line."


@dataclass
class Points:
    """What was taken: of one fixture, by quantity, in order. number: that the calibration has or is to have."""

    fixture: CalibratedFixture
    number: int = 1
    travel: list[Point] = field(default_factory=list)
    pressure: list[Point] = field(default_factory=list)

    def of(self, quantity: str) -> list[Point]:
        """Return the points of one quantity."""
        return self.travel if quantity == "travel" else self.pressure


def append_point(path: Path, points: Points, quantity: str, point: Point) -> None:
    """Add one point to the file of these points, with a heading where it is new.

    Raises: InputError where it cannot be written.
    """
    fixture = points.fixture
    try:
        new = not path.exists()
        cut = not new and not path.read_bytes().endswith(b"\n")
        with path.open("a", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            if cut:  # as an editor leaves it, or a power cut: two points in one line are none
                file.write("\r\n")
            if new:
                writer.writerow((*COLUMNS, NUMBER))
            writer.writerow([
                fixture.kind, fixture.unique_id, quantity, UNITS[quantity], point.cycle, point.direction,
                repr(point.reference), repr(point.code), repr(point.sd_codes), point.samples, points.number,
            ])  # fmt: skip
    except OSError as error:
        raise InputError(
            f"{path}: cannot be written ({error.strerror})", "Name another folder with --out."
        ) from error


def read_points(path: Path) -> Points:
    """Return the points in a file.

    Raises: InputError naming file, line and column: text in numbers, another unit, two fixtures, an up that falls.
    """
    points: Points | None = None
    lines: dict[str, list[int]] = {"travel": [], "pressure": []}
    for line, row in _rows(path):
        where = f"{path}, line {line}"
        kind, unique_id = row["fixture"], row["fixture_id"]
        if kind not in ("board", "virtual"):
            raise InputError(f"{where}, column fixture: {kind!r} is neither board nor virtual", _MEND)
        if not is_fixture_number(unique_id):
            raise InputError(f"{where}, column fixture_id: {unique_id!r} is not 16 hexadecimal digits", _MEND)
        fixture = CalibratedFixture(cast(Literal["board", "virtual"], kind), unique_id)
        points = points or Points(fixture)
        if fixture != points.fixture:
            raise InputError(
                f"{where}, column fixture_id: {unique_id}, before it {points.fixture.unique_id}",
                "Give one fixture's points.",
            )
        quantity = row["quantity"]
        if quantity not in UNITS:
            raise InputError(f"{where}, column quantity: {quantity!r} is neither travel nor pressure", _MEND)
        if row["unit"] != UNITS[quantity]:
            raise InputError(
                f"{where}, column unit: {row['unit']!r}; {quantity} is in {UNITS[quantity]}",
                "Give every point in that unit.",
            )
        points.of(quantity).append(_point(row, where))
        points.number = _calibration_number(row[NUMBER], where) if row[NUMBER] else points.number
        lines[quantity].append(line)
    if points is None:
        raise InputError(f"{path}: a heading but no rows", "Give a file with points.")
    for quantity, at in lines.items():
        _refuse_disorder(points.of(quantity), at, path)
    return points


def _rows(path: Path) -> Iterator[tuple[int, dict[str, str]]]:
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            reader = csv.DictReader(lines_of(file))
            missing = [name for name in COLUMNS if name not in (reader.fieldnames or ())]
            if missing:
                raise InputError(
                    f"{path}, line 1: no column {', '.join(missing)}", "Needed: " + ",".join(COLUMNS) + "."
                )
            for row in reader:
                yield reader.line_num, {name: (row.get(name) or "").strip() for name in (*COLUMNS, NUMBER)}
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise InputError(f"{path}: cannot be read as CSV ({error})", "Check the path and the file.") from error


def _point(row: dict[str, str], where: str) -> Point:
    def number(name: str) -> float:
        try:
            value = float(row[name])
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise InputError(f"{where}, column {name}: {row[name]!r} is not a finite number", _MEND)
        if abs(value) > LARGEST:
            raise InputError(f"{where}, column {name}: {row[name]} is beyond {LARGEST:g}", _MEND)
        return value

    def count(name: str) -> int:
        value = number(name)
        if not (value.is_integer() and 0 <= value <= MOST_COUNTED):
            raise InputError(f"{where}, column {name}: {row[name]} is no whole number of 0 or more", _MEND)
        return int(value)

    if row["direction"] not in ("up", "down"):
        raise InputError(f"{where}, column direction: {row['direction']!r} is neither up nor down", _MEND)
    code = number("code")
    if not 0 <= code < CODE_SPAN:
        raise InputError(f"{where}, column code: {code:g} is outside 0 to {CODE_SPAN - 1:g}", _MEND)
    return Point(
        count("cycle"),
        cast(Direction, row["direction"]),
        number("reference"),
        code,
        number("sd_codes"),
        count("samples"),
    )


def _calibration_number(text: str, where: str) -> int:
    if not (text.isdecimal() and len(text) <= len(str(HIGHEST_NUMBER)) and 1 <= int(text) <= HIGHEST_NUMBER):
        raise InputError(f"{where}, column {NUMBER}: {text!r} is not a number from 1 to {HIGHEST_NUMBER}", _MEND)
    return int(text)


def _refuse_disorder(points: list[Point], lines: list[int], path: Path) -> None:
    try:
        refuse_disorder(
            [point.reference for point in points],
            [point.cycle for point in points],
            [point.direction for point in points],
        )
    except NotInOrder as problem:
        raise InputError(
            f"{path}, line {lines[problem.row]}, column reference: out of order: {problem}",
            "Give the rows in the order they were taken.",
        ) from problem
