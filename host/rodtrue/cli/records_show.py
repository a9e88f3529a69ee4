"""Kept runs as lines for a terminal 80 columns wide."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rodtrue.model.both_units import Units, length
from rodtrue.model.local_time import local_minute
from rodtrue.model.units import mm_to_inch
from rodtrue.plain_text import on_one_line
from rodtrue.report.shown import value_texts
from rodtrue.run.words import BODY_WORDS

if TYPE_CHECKING:
    from rodtrue.model.result import Result
    from rodtrue.records import RunRow


WIDTH = 80
_UNIT = 22
_INDENT = " " * 7


def run_lines(rows: Sequence[RunRow]) -> Iterator[str]:
    """A heading and a line a run; `*` marks a virtual one. Under it who measured what for, where that was said."""
    if not rows:
        yield "No runs are kept that match."
        return
    yield f"{'job':>5}  {'taken':<16} {'as':<5} {'unit':<{_UNIT}} {'verdict':<9} {'error/in':>8} {'/mm':>7}"
    for row, after in zip(rows, [*rows[1:], None], strict=True):
        mark = "*" if row.fixture_kind == "virtual" else " "
        verdict = row.verdict
        if row.reference == "lever_stop":
            verdict = f"valve body {BODY_WORDS[row.body_verdict]}"
        error = row.rod_error_mm
        bound = "" if row.at_most_mm is None else "<"
        shown = error if error is not None else row.at_most_mm
        inches = "" if shown is None else f"{bound}{mm_to_inch(shown):+.3f}"
        millimetres = "" if shown is None else f"{bound}{shown:+.2f}"
        yield (
            f"{row.job:>5}{mark} {when(row.taken_at):<16} {row.role.removeprefix('as_'):<5} "
            f"{_short(row.unit, _UNIT):<{_UNIT}} {verdict:<9} {inches:>8} {millimetres:>7}".rstrip()
        )
        if after is None or (after.job, _said_of(after)) != (row.job, _said_of(row)):
            yield from textwrap.wrap(_said_of(row), WIDTH, initial_indent=_INDENT, subsequent_indent=_INDENT)
    if any(row.fixture_kind == "virtual" for row in rows):
        yield "* virtual fixture, not a measurement"


def _said_of(row: RunRow) -> str:
    """Who measured, the valve body's serial number and what it was kept for, as far as they were said."""
    said = (("operator", row.operator), ("serial", row.valve_body_serial), ("kept for", row.tag))
    return ", ".join(f"{name} {on_one_line(text)}" for name, text in said if text)


@dataclass(frozen=True)
class Compared:
    """One quantity of two results: values, and the expanded uncertainty of each where it has one."""

    name: str
    unit: str
    values: list[Any]
    expanded_uncertainties: list[float | None]


def comparison(one: Result, other: Result) -> list[Compared]:
    """What two results say, side by side."""
    sides = (one, other)
    rows = [
        Compared("reference", "", [each.reference.replace("_", " ") for each in sides], [None, None]),
        Compared("verdict", "", [each.verdict for each in sides], [None, None]),
        Compared("body_verdict", "", [each.body_verdict for each in sides], [None, None]),
        Compared(
            "rod_error",
            "mm",
            [None if each.rod_error is None else each.rod_error.value_mm for each in sides],
            [None if each.rod_error is None else each.rod_error.expanded_uncertainty_mm for each in sides],
        ),
    ]
    theirs = {each.name: each for each in other.characteristics}
    for mine in one.characteristics:
        if mine.name in theirs:
            pair = (mine, theirs[mine.name])
            rows.append(
                Compared(
                    mine.name, mine.unit, [each.value for each in pair], [each.expanded_uncertainty for each in pair]
                )
            )
    rows.append(Compared("findings", "", [[each.code for each in side.findings] for side in sides], [None, None]))
    return rows


def comparison_lines(names: Sequence[str], rows: Sequence[Compared], first: Units = "inch") -> Iterator[str]:
    """A table of both runs, in both unit systems, to the digits that the uncertainty warrants."""
    yield f"{'':<20}{names[0]:>30}{names[1]:>30}"
    for row in rows:
        if row.name == "findings":
            for name, codes in zip(names, row.values, strict=True):
                yield f"findings, {name}: {', '.join(codes) or 'none'}"
            continue
        cells = [
            _cell(value, row, reach, first)
            for value, reach in zip(row.values, row.expanded_uncertainties, strict=True)
        ]
        yield f"{row.name.replace('_', ' '):<20}{cells[0]:>30}{cells[1]:>30}"


def _cell(value: Any, row: Compared, reach: float | None, first: Units) -> str:
    if value is None:
        return "not determined"
    if not isinstance(value, float):
        return str(value)
    if row.name == "rod_error":
        return length(value, True, first)
    return "{} ({})".format(*value_texts(value, row.unit, reach, first))


def when(taken_at: str | None) -> str:
    """A result's time as this machine's clock shows it; `-` for none."""
    return "-" if taken_at is None else local_minute(taken_at)


def _short(text: str | None, width: int) -> str:
    plain = " ".join((text or "-").split())
    return plain if len(plain) <= width else plain[: width - 1] + "…"
