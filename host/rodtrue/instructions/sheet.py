"""A sheet of line drawing, written out as SVG: lines in the reader's own colour, on any background.

x to the right, y down, in the sheet's own units. Everything takes its colour from `currentColor`, so that a
drawing is right on light and dark grounds and in print.
"""

from __future__ import annotations

import math
from html import escape
from typing import Literal

XY = tuple[float, float]
Anchor = Literal["start", "middle", "end"]

FONT = "DejaVu Sans, sans-serif"
ARROW_HEAD = 11.0


class Sheet:
    """A drawing in the making. width, height: of its view box."""

    def __init__(self, width: float, height: float, title: str) -> None:
        self.width, self.height, self.title = width, height, title
        self._parts: list[str] = []

    def svg(self) -> str:
        """Return the whole drawing as one SVG element."""
        body = "\n".join(self._parts)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width:g} {self.height:g}" role="img" '
            f'aria-label="{escape(self.title)}" fill="none" stroke="currentColor" stroke-width="2.5" '
            f'stroke-linecap="round" stroke-linejoin="round">\n<title>{escape(self.title)}</title>\n{body}\n</svg>\n'
        )

    def line(self, *points: XY, width: float = 2.5, dashed: bool = False, faint: bool = False) -> None:
        """Draw a line through points."""
        dash = ' stroke-dasharray="6 6"' if dashed else ""
        shade = ' stroke-opacity="0.55"' if faint else ""
        where = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        self._parts.append(f'<polyline points="{where}" stroke-width="{width:g}"{dash}{shade}/>')

    def circle(self, centre: XY, radius: float, *, filled: bool = False, width: float = 2.5, tint: float = 0) -> None:
        """Draw a circle; filled, or tinted by a share of the colour."""
        fill = ' fill="currentColor"' if filled else f' fill="currentColor" fill-opacity="{tint:g}"' if tint else ""
        self._parts.append(
            f'<circle cx="{centre[0]:.1f}" cy="{centre[1]:.1f}" r="{radius:g}" stroke-width="{width:g}"{fill}/>'
        )

    def box(
        self, left: float, top: float, right: float, bottom: float, *, round_: float = 0, tint: float = 0
    ) -> None:
        """Draw a rectangle, its corners rounded by `round_`."""
        fill = f' fill="currentColor" fill-opacity="{tint:g}"' if tint else ""
        self._parts.append(
            f'<rect x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" height="{bottom - top:.1f}" '
            f'rx="{round_:g}"{fill}/>'
        )

    def arrow(self, start: XY, end: XY, *, width: float = 4.0, both: bool = False) -> None:
        """Draw an arrow; `both`: with a head at either end."""
        angle = math.atan2(end[1] - start[1], end[0] - start[0])
        back = 0.7 * ARROW_HEAD
        shaft_end = end[0] - back * math.cos(angle), end[1] - back * math.sin(angle)
        shaft_start = (start[0] + back * math.cos(angle), start[1] + back * math.sin(angle)) if both else start
        self.line(shaft_start, shaft_end, width=width)
        self._head(end, angle)
        if both:
            self._head(start, angle + math.pi)

    def _head(self, tip: XY, angle: float) -> None:
        sides = [
            (tip[0] - ARROW_HEAD * math.cos(angle + turn), tip[1] - ARROW_HEAD * math.sin(angle + turn))
            for turn in (-0.5, 0.5)
        ]
        where = " ".join(f"{x:.1f},{y:.1f}" for x, y in (tip, *sides))
        self._parts.append(f'<polygon points="{where}" fill="currentColor" stroke-width="1"/>')

    def turn(self, centre: XY, radius: float, from_deg: float, to_deg: float) -> None:
        """Draw an arc with an arrow's head; degrees clockwise from the right, as the sheet's y points down."""
        a, b = math.radians(from_deg), math.radians(to_deg)
        end = centre[0] + radius * math.cos(b), centre[1] + radius * math.sin(b)
        steps = [a + (b - a) * k / 24 for k in range(24)]
        self.line(*((centre[0] + radius * math.cos(t), centre[1] + radius * math.sin(t)) for t in steps), width=4)
        self._head(end, b + math.copysign(math.pi / 2, b - a))

    def text(self, where: XY, words: str, *, anchor: Anchor = "middle", size: float = 15, bold: bool = False) -> None:
        """Write one line of words; `where` is on its base line."""
        weight = ' font-weight="bold"' if bold else ""
        self._parts.append(
            f'<text x="{where[0]:.1f}" y="{where[1]:.1f}" text-anchor="{anchor}" font-family="{FONT}" '
            f'font-size="{size:g}"{weight} fill="currentColor" stroke="none">{escape(words)}</text>'
        )

    def callout(self, where: XY, words: str, to: XY, *, anchor: Anchor = "middle") -> None:
        """Write words with a thin line from near them to a place."""
        below = to[1] > where[1]
        self.text(where, words, anchor=anchor)
        self.line((where[0], where[1] + (5 if below else -16)), to, width=1.2)

    def hatch(self, left: float, top: float, right: float, bottom: float) -> None:
        """Draw a fixed part: a box with slanting lines."""
        self.box(left, top, right, bottom)
        height, step = bottom - top, 9.0
        x = left - height + step
        while x < right:
            a, b = max(x, left), min(x + height, right)
            self.line((a, bottom - (a - x)), (b, bottom - (b - x)), width=1.2)
            x += step

    def spring(self, start: XY, end: XY, *, coils: int = 7, wide: float = 7) -> None:
        """Draw a coil spring between two places."""
        along = end[0] - start[0], end[1] - start[1]
        length = math.hypot(*along)
        ux, uy = along[0] / length, along[1] / length
        points = [start]
        for k in range(2 * coils + 1):
            t = length * (0.12 + 0.76 * k / (2 * coils))
            side = 0 if k in (0, 2 * coils) else wide * (-1) ** k
            points.append((start[0] + ux * t - uy * side, start[1] + uy * t + ux * side))
        self.line(*points, end, width=1.8)

    def cross(self, centre: XY, size: float = 16) -> None:
        """Draw a cross: not this way."""
        x, y = centre
        self.line((x - size, y - size), (x + size, y + size), width=5)
        self.line((x - size, y + size), (x + size, y - size), width=5)

    def tick(self, centre: XY, size: float = 16) -> None:
        """Draw a tick: this way."""
        x, y = centre
        self.line((x - size, y), (x - 0.3 * size, y + 0.8 * size), (x + size, y - size), width=5)
