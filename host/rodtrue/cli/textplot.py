"""Pressure against travel as text: dots for what was measured, a thicker mark for the fitted line."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from itertools import pairwise

from rodtrue.model.both_units import Units
from rodtrue.model.result import Plot
from rodtrue.model.units import kpa_to_psi, mm_to_inch

_BRAILLE = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
"""Bits of a braille cell, rows of (left, right), from U+2800 on: Unicode, chapter on braille patterns."""

_MARGIN = 8

Points = Sequence[tuple[float, float]]


def can_draw_dots() -> bool:
    """Say whether the terminal's encoding has braille cells."""
    # Not sys.stdout: a live display stands in for it and has no encoding.
    return "utf" in (getattr(sys.__stdout__, "encoding", None) or "").lower()


class Canvas:
    """A grid of characters to plot on; with `dots` each character holds 2 by 4 points."""

    def __init__(self, width: int, height: int, x_range: tuple[float, float], y_range: tuple[float, float]) -> None:
        self._dots = can_draw_dots()
        self._across, self._down = (2, 4) if self._dots else (1, 1)
        self._cells = [[0] * width for _ in range(height)]
        self._marks: dict[tuple[int, int], str] = {}
        self._x_range, self._y_range = x_range, y_range

    def point(self, x: float, y: float) -> None:
        """Set one point; outside the ranges it is left out."""
        place = self._place(x, y)
        if place is not None:
            column, row = place
            self._cells[row // self._down][column // self._across] |= (
                _BRAILLE[row % 4][column % 2] if self._dots else 1
            )

    def mark(self, x: float, y: float, character: str) -> None:
        """Put a character over the cell of a point."""
        place = self._place(x, y)
        if place is not None:
            self._marks[place[1] // self._down, place[0] // self._across] = character

    def lines(self) -> list[str]:
        """Return the rows from top to bottom."""
        return [
            "".join(self._marks.get((r, c)) or self._cell(bits) for c, bits in enumerate(row))
            for r, row in enumerate(self._cells)
        ]

    def _cell(self, bits: int) -> str:
        if not bits:
            return " "
        return chr(0x2800 + bits) if self._dots else "."

    def _place(self, x: float, y: float) -> tuple[int, int] | None:
        (x_low, x_high), (y_low, y_high) = self._x_range, self._y_range
        columns, rows = len(self._cells[0]) * self._across, len(self._cells) * self._down
        column = round((x - x_low) / (x_high - x_low) * (columns - 1))
        row = round((y_high - y) / (y_high - y_low) * (rows - 1))
        return (column, row) if 0 <= column < columns and 0 <= row < rows else None


def draw(
    points: Points, fit: Sequence[Points] = (), width: int = 78, height: int = 14, units: Units = "inch"
) -> list[str]:
    """Return the lines of a plot of (travel in mm, pressure in kPa); axes in one unit system.

    fit: polylines drawn over the points. At most `width` characters a line.
    """
    everything = [*points, *(corner for line in fit for corner in line)]
    if not everything:
        return []
    x_high = max(5.0, *(x for x, _ in everything))
    x_low = min(0.0, *(x for x, _ in everything))
    y_high = max(50.0, *(y for _, y in everything))
    canvas = Canvas(width - _MARGIN, height, (x_low, x_high), (0.0, y_high))
    for x, y in points:
        canvas.point(x, y)
    for line in fit:
        for (x0, y0), (x1, y1) in pairwise(line):
            for k in range(width * 2):
                part = k / (width * 2)
                canvas.mark(x0 + part * (x1 - x0), y0 + part * (y1 - y0), "o")
    rows = canvas.lines()
    top, unit = (kpa_to_psi(y_high), "psi") if units == "inch" else (y_high, "kPa")
    labels = {0: f"{top:.0f} {unit}", height // 2: f"{top / 2:.0f}", height - 1: "0"}
    drawn = [f"{labels.get(row, ''):>{_MARGIN - 2}} |{text}".rstrip() for row, text in enumerate(rows)]
    return [*drawn, _x_axis(width, x_low, x_high, units, "o: the fitted line" if fit else "")]


def _x_axis(width: int, x_low: float, x_high: float, units: Units, key: str) -> str:
    if units == "inch":
        left, right = f"{mm_to_inch(x_low):.2f}", f"{mm_to_inch(x_high):.2f} in of travel"
    else:
        left, right = f"{x_low:.1f}", f"{x_high:.1f} mm of travel"
    left = left.lstrip("-") if float(left) == 0 else left
    between = width - _MARGIN + 1 - len(left) - len(right)
    return " " * (_MARGIN - 1) + left + key.center(between) + right


def draw_result(plot: Plot, width: int = 78, height: int = 14, units: Units = "inch") -> list[str]:
    """Return the lines of a result's plot with its fit."""
    points = list(zip(plot.travel_mm, plot.pressure_kpa, strict=True))
    fit = [list(zip(line["travel_mm"], line["pressure_kpa"], strict=True)) for line in plot.fit]
    return draw(points, fit, width, height, units)
