"""Drawings of a verdict: a rod against its mark, and the ruler. Words and shapes; no colour carries meaning."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from rodtrue.instructions.sheet import Sheet
from rodtrue.model.result import Result, RodError, Verdict
from rodtrue.model.units import MM_PER_INCH
from rodtrue.run.words import Units

_MARK_X, _ROD_Y = 150.0, 34.0
_WIDTHS: dict[Verdict, float] = {"short": 156, "long": 204, "correct": 212, "undecided": 222, "no result": 212}


def verdict_picture(verdict: Verdict) -> Sheet:
    """Return a rod drawn against the mark where it should end."""
    sheet = Sheet(_WIDTHS[verdict], 68, f"The rod against its mark: {verdict}")
    draw = {
        "short": lambda: _rod_and_gap(sheet, 104.0),
        "long": lambda: _rod_and_gap(sheet, 196.0),
        "correct": lambda: _rod_right(sheet),
        "undecided": lambda: _rod_somewhere(sheet),
        "no result": lambda: _rod_unknown(sheet),
    }
    draw[verdict]()
    sheet.line((_MARK_X, 4), (_MARK_X, 64), width=3)
    return sheet


def body_picture(body_verdict: str | None) -> Sheet:
    """Return a tick, a cross or a question mark in a ring for the valve body's verdict."""
    sheet = Sheet(68, 68, f"Valve body: {body_verdict or 'not judged'}")
    sheet.circle((34, 34), 29, width=3)
    if body_verdict == "conforming":
        sheet.tick((34, 34), 14)
    elif body_verdict == "nonconforming":
        sheet.cross((34, 34), 12)
    else:
        sheet.text((34, 46), "?" if body_verdict else "–", size=34, bold=True)
    return sheet


def _rod_and_gap(sheet: Sheet, end: float) -> None:
    sheet.box(4, _ROD_Y - 11, end, _ROD_Y + 11, round_=4, tint=0.35)
    sheet.arrow((min(end, _MARK_X) + 2, 58), (max(end, _MARK_X) - 2, 58), width=2.5, both=True)


def _rod_right(sheet: Sheet) -> None:
    sheet.box(4, _ROD_Y - 11, _MARK_X, _ROD_Y + 11, round_=4, tint=0.35)
    sheet.tick((190, 34), 15)


def _rod_somewhere(sheet: Sheet) -> None:
    sheet.box(4, _ROD_Y - 11, 112, _ROD_Y + 11, round_=4, tint=0.35)
    for y in (_ROD_Y - 11, _ROD_Y + 11):
        sheet.line((116, y), (186, y), dashed=True)
    sheet.text((204, 45), "?", size=32, bold=True)


def _rod_unknown(sheet: Sheet) -> None:
    corners = [(4, _ROD_Y - 11), (130, _ROD_Y - 11), (130, _ROD_Y + 11), (4, _ROD_Y + 11), (4, _ROD_Y - 11)]
    sheet.line(*corners, dashed=True)
    sheet.text((194, 46), "–", size=34, bold=True)


# The ruler.

Across = Callable[[float], float]
"""From a rod error in mm to a place on the sheet."""


@dataclass(frozen=True)
class Scale:
    """What a ruler shows, in mm: the same for all runs beside each other."""

    low_mm: float
    high_mm: float


LEFT, RIGHT, ZONE_TOP, AXIS_Y = 26.0, 474.0, 40.0, 84.0


def scale_for(results: list[Result]) -> Scale | None:
    """Return a scale on which the tolerance and every rod error with its interval find room; None without any."""
    errors = [result.rod_error for result in results if result.rod_error is not None]
    if not errors:
        return None
    marks = [0.0]
    for error in errors:
        marks += [*error.limits_mm, *_reach_mm(error)]
    low, high = min(marks), max(marks)
    room = 0.12 * (high - low)
    return Scale(low - room, high + room)


def _reach_mm(error: RodError) -> list[float]:
    if error.value_mm is None:
        return [] if error.at_most_mm is None else [1.25 * error.at_most_mm]
    return [error.value_mm, *(error.interval_mm or ())]


def ruler(error: RodError, scale: Scale, units: Units) -> Sheet:
    """Return the ruler: the tolerance zone, and above it the measured error with its interval."""
    sheet = Sheet(500, 150, "A ruler of the rod's error with the zone that is right and what was measured")

    def x(value_mm: float) -> float:
        return LEFT + (value_mm - scale.low_mm) / (scale.high_mm - scale.low_mm) * (RIGHT - LEFT)

    low, high = x(error.limits_mm[0]), x(error.limits_mm[1])
    sheet.box(low, ZONE_TOP, high, AXIS_Y, tint=0.16)
    _name_zone(sheet, error, low, high, x)
    sheet.line((LEFT - 16, AXIS_Y), (RIGHT + 16, AXIS_Y), width=2)
    sheet.text((LEFT - 20, 146), "← short", anchor="start", size=14, bold=True)
    sheet.text((RIGHT + 20, 146), "long →", anchor="end", size=14, bold=True)
    in_inch, in_mm = (MM_PER_INCH, "in"), (1.0, "mm")
    above, below = (in_inch, in_mm) if units == "inch" else (in_mm, in_inch)
    _ticks(sheet, scale, x, *above, 102.0, True)
    _ticks(sheet, scale, x, *below, 124.0, False)
    _measured(sheet, error, x)
    return sheet


def _name_zone(sheet: Sheet, error: RodError, low: float, high: float, x: Across) -> None:
    """Write into the zone, or beside it, what it stands for, clear of the mark of the value."""
    if high - low > 90:
        at = 0.0 if error.value_mm is None else x(error.value_mm)
        where = low + 26 if at > (low + high) / 2 else high - 26
        sheet.text((where, AXIS_Y - 8), "right", size=14)
    else:
        sheet.text((high + 6, AXIS_Y - 8), "right", anchor="start", size=14)


def _measured(sheet: Sheet, error: RodError, x: Across) -> None:
    y = 20.0
    if error.value_mm is None:
        if error.at_most_mm is not None:
            sheet.arrow((x(error.at_most_mm), y), (LEFT - 16, y), width=5)
            sheet.line((x(error.at_most_mm), y - 13), (x(error.at_most_mm), y + 13), width=4)
        return
    if error.interval_mm is not None:
        start, end = (x(value) for value in error.interval_mm)
        sheet.line((start, y), (end, y), width=5)
        for place in (start, end):
            sheet.line((place, y - 11), (place, y + 11), width=3)
    at = x(error.value_mm)
    sheet.line((at, y + 9), (at, AXIS_Y), width=1.5, dashed=True)
    sheet.circle((at, y), 7, filled=True)


def _ticks(sheet: Sheet, scale: Scale, x: Across, unit_mm: float, unit: str, y: float, marks: bool) -> None:
    """Write a scale's numbers in one unit; `marks`: with ticks on the axis."""
    step = _round_step((scale.high_mm - scale.low_mm) / unit_mm / 6)
    digits = max(0, -math.floor(math.log10(step) + 1e-9))
    first = math.ceil(scale.low_mm / unit_mm / step)
    last = math.floor(scale.high_mm / unit_mm / step)
    for k in range(first, last + 1):
        at = x(k * step * unit_mm)
        if marks:
            sheet.line((at, AXIS_Y - 5), (at, AXIS_Y + 5), width=2)
        words = f"{k * step:+.{digits}f}" if k else "0"
        sheet.text((at, y), words + (f" {unit}" if k == last else ""), size=13)


def _round_step(least: float) -> float:
    """Return the smallest of 1, 2, 5 times a power of ten that is not less."""
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * f for f in (1, 2, 5, 10) if power * f >= least * (1 - 1e-9))
