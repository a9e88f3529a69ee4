"""Shift points on the terminal: 80 columns, a table in mph and one in km/h, the trade's sentences first."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Literal

from rodtrue.cli.predicted import Predicted
from rodtrue.cli.wrapped import hanging
from rodtrue.model.shifts import Speed
from rodtrue.model.units import mm_to_inch
from rodtrue.run.words import VIRTUAL_MARK
from rodtrue.shifts.effect import expected_effect
from rodtrue.shifts.points import ShiftPoint
from rodtrue.shifts.predict import EndSpeeds, Opening, Prediction, RodErrorGiven

Unit = Literal["mph", "kmh"]
Column = tuple[str, int, Callable[[Opening], str]]
"""Heading, width, and the cell of an opening."""

_UNIT_NAMES: dict[Unit, str] = {"mph": "mph", "kmh": "km/h"}
_BY = {"spring": "spring", "part-throttle plug": "part", "kickdown plug": "kick"}


def shift_lines(run: Predicted) -> list[str]:
    """Return the lines that tell a person one prediction."""
    prediction = run.prediction
    lines = _heading(run)
    for unit in _UNIT_NAMES:
        lines += ["", *_table(prediction, unit)]
    lines.append("")
    lines += _paragraph(
        "Downshift by: spring (closing throttle), part (part-throttle plug), kick (kickdown plug)"
        + (", with this rod." if prediction.rod_error else ".")
    )
    for reason in _reasons(prediction):
        lines += _paragraph(f"- {reason}.")
    lines += _paragraph(
        "Check shift points on a road test within the law, or as the unit's service information says; never by "
        "racing an engine without load."
    )
    return lines


def _heading(run: Predicted) -> list[str]:
    prediction = run.prediction
    lines = ([f"{run.file}" + (f", {run.run}" if run.run else "")] if run.file else []) + _paragraph(
        f"Predicted shift points of the 2-3 shift valve, profile {prediction.profile}. Differences between rods "
        "say more than the speeds themselves: those carry every tolerance of springs, areas and governor."
    )
    if run.fixture_kind == "virtual":
        lines += _paragraph(VIRTUAL_MARK)
    if prediction.invented:
        lines += _paragraph("The profile is an invented example: no real unit shifts so.")
    error = prediction.rod_error
    if error is None:
        if run.file:
            lines += _paragraph(f"The stored result gives no rod error ({run.reason}): only an exact rod is shown.")
    else:
        lines += _paragraph(_error_sentence(error))
        effect = expected_effect(run.profile, error.value_mm, at_most=error.at_most)
        assert effect is not None  # a prediction was made, so the profile has its section
        lines += _paragraph(effect.sentence)
    lines += _paragraph(_end_sentence("Part-throttle downshift", prediction.part_throttle_ends))
    return lines + _paragraph(_end_sentence("Kickdown", prediction.kickdown_ends))


def _error_sentence(error: RodErrorGiven) -> str:
    state = "exact" if error.value_mm == 0 else "long" if error.value_mm > 0 else "short"
    told = f"This rod: {_length(error.value_mm)}, {state}"
    if error.at_most:
        return told + ", or shorter still; its speeds are the highest that remain possible."
    if error.interval_mm is not None:
        told += f"; between {_length(error.interval_mm[0])} and {_length(error.interval_mm[1])}"
    return told + "."


def _length(value_mm: float) -> str:
    return f"{mm_to_inch(value_mm):+.3f} in ({value_mm:+.2f} mm)"


def _end_sentence(what: str, ends: EndSpeeds) -> str:
    sentence = f"{what} up to: {_end(ends.exact)} with an exact rod"
    return sentence + (f"; {_end(ends.rod)} with this rod." if ends.rod is not None else ".")


def _end(speed: Speed) -> str:
    return f"none ({speed.why_not})" if speed.kmh is None else f"{speed.mph:.0f} mph ({speed.kmh:.0f} km/h)"


def _table(prediction: Prediction, unit: Unit) -> list[str]:
    groups = [(name, _widened(name, columns)) for name, columns in _groups(prediction, unit)]
    lines = ["".join(f"{name:>{sum(width for _, width, _ in columns)}}" for name, columns in groups)]
    columns = [column for _, group in groups for column in group]
    lines.append("".join(f"{heading:>{width}}" for heading, width, _ in columns))
    lines += ["".join(f"{cell(row):>{width}}" for _, width, cell in columns) for row in prediction.openings]
    return lines


def _widened(name: str, columns: list[Column]) -> list[Column]:
    """Return a group's columns, the first one wide enough for the group's name to stand above them all."""
    (heading, width, cell), *rest = columns
    missing = len(name) + 2 - sum(width for _, width, _ in columns)
    return [(heading, width + max(missing, 0), cell), *rest]


def _groups(prediction: Prediction, unit: Unit) -> list[tuple[str, list[Column]]]:
    throttle: list[Column] = [
        ("%", 5, lambda row: f"{100 * row.opening:.0f}"),
        ("in", 7, lambda row: f"{row.travel_in:.3f}"),
        ("mm", 6, lambda row: f"{row.travel_mm:.1f}"),
    ]
    up: list[Column] = [("exact", 8, lambda row: _number(getattr(row.exact.upshift, unit)))]
    down: list[Column] = [("exact", 8, lambda row: _number(getattr(row.exact.downshift, unit)))]
    error = prediction.rod_error
    if error is not None:
        up += [
            ("rod", 7, lambda row: _number(getattr(_rod(row).upshift, unit))),
            ("change", 8, lambda row: _number(getattr(row.upshift_change, unit), "+")),
        ]
        if error.interval_mm is not None:
            up += [
                ("from", 7, lambda row: _upshift_end(row, unit, 0)),
                ("to", 7, lambda row: _upshift_end(row, unit, 1)),
            ]
        down.append(("rod", 7, lambda row: _number(getattr(_rod(row).downshift, unit))))
    down.append(("by", 8, lambda row: _BY[(row.exact if error is None else _rod(row)).downshift_by]))
    name = _UNIT_NAMES[unit]
    return [("throttle", throttle), (f"upshift 2-3, {name}", up), (f"downshift 3-2, {name}", down)]


def _rod(row: Opening) -> ShiftPoint:
    assert row.rod is not None
    return row.rod


def _upshift_end(row: Opening, unit: Unit, end: int) -> str:
    assert row.intervals is not None
    return _number(getattr(row.intervals.upshift, unit)[end])


def _number(value: float | None, sign: str = "") -> str:
    return "-" if value is None else f"{value:{sign}z.1f}"


def _reasons(prediction: Prediction) -> list[str]:
    """Return why a speed in the table is missing, each reason once."""
    return list(dict.fromkeys(_missing(prediction)))


def _missing(prediction: Prediction) -> Iterator[str]:
    for row in prediction.openings:
        for point in (row.exact, row.rod):
            if point is None:
                continue
            for what, speed in (("upshift", point.upshift), ("downshift", point.downshift)):
                if speed.why_not is not None:
                    yield f"No {what} speed where a dash stands: {speed.why_not}"


def _paragraph(text: str) -> list[str]:
    return hanging(text, "  ")
