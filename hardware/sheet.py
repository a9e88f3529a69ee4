"""A sheet of paper to draw on: A4 landscape, millimetres, black on white, the symbols of a circuit diagram."""

from __future__ import annotations

import math
from itertools import pairwise
from xml.sax.saxutils import escape

WIDTH_MM = 297.0
HEIGHT_MM = 210.0
TEXT_MM = 2.8
THIN, THICK = 0.25, 0.5
CHARACTER_MM = 0.56
"""Width of a character of the text's height, on the safe side for common sans-serif faces."""


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


class Sheet:
    """Collects marks; `svg` is the document. Positions in mm from the upper left corner."""

    def __init__(self, title: str, note: str) -> None:
        self._marks: list[str] = []
        self.lines: list[tuple[float, float, float, float]] = []
        self.texts: list[tuple[float, float, float, float, str]] = []
        self._title = title
        self.rect(5, 5, WIDTH_MM - 10, HEIGHT_MM - 10, THICK)
        self.text(10, 13, title, size=4.5, bold=True)
        self.text(WIDTH_MM - 10, 13, note, anchor="end")

    def line(self, x1: float, y1: float, x2: float, y2: float, width: float = THIN, dash: str = "") -> None:
        """Draw a straight line. dash: lengths in mm, such as '2 1'."""
        pattern = f' stroke-dasharray="{dash}"' if dash else ""
        ends = f'x1="{_number(x1)}" y1="{_number(y1)}" x2="{_number(x2)}" y2="{_number(y2)}"'
        self._marks.append(f'<line {ends} stroke-width="{width}"{pattern}/>')
        self.lines.append((x1, y1, x2, y2))

    def path(self, points: list[tuple[float, float]], width: float = THIN, dash: str = "") -> None:
        """Draw straight lines from point to point."""
        for (x1, y1), (x2, y2) in pairwise(points):
            self.line(x1, y1, x2, y2, width, dash)

    def rect(self, x: float, y: float, w: float, h: float, width: float = THIN, fill: str = "none") -> None:
        """Draw a rectangle; fill 'white' hides what lies under it."""
        size = f'x="{_number(x)}" y="{_number(y)}" width="{_number(w)}" height="{_number(h)}"'
        self._marks.append(f'<rect {size} stroke-width="{width}" fill="{fill}"/>')

    def circle(self, x: float, y: float, radius: float, width: float = THIN, fill: str = "none") -> None:
        """Draw a circle."""
        place = f'cx="{_number(x)}" cy="{_number(y)}" r="{_number(radius)}"'
        self._marks.append(f'<circle {place} stroke-width="{width}" fill="{fill}"/>')

    def text(
        self, x: float, y: float, words: str, *, size: float = TEXT_MM, anchor: str = "start", bold: bool = False
    ) -> None:
        """Write one line; y is its foot."""
        weight = ' font-weight="bold"' if bold else ""
        place = f'x="{_number(x)}" y="{_number(y)}" font-size="{size}" text-anchor="{anchor}"'
        self._marks.append(f'<text {place}{weight}>{escape(words)}</text>')
        long = len(words) * size * CHARACTER_MM
        left = x - {"start": 0.0, "middle": long / 2, "end": long}[anchor]
        self.texts.append((left, y - 0.75 * size, left + long, y + 0.2 * size, words))

    def arrow(self, x1: float, y1: float, x2: float, y2: float, width: float = THIN, *, both: bool = False) -> None:
        """Draw a line with a head at its end, or at both."""
        self.line(x1, y1, x2, y2, width)
        for (xa, ya), (xb, yb) in [((x1, y1), (x2, y2)), *([((x2, y2), (x1, y1))] if both else [])]:
            angle = math.atan2(yb - ya, xb - xa)
            wings = [(xb - 2.2 * math.cos(angle + s * 0.3), yb - 2.2 * math.sin(angle + s * 0.3)) for s in (-1, 1)]
            points = " ".join(f"{_number(x)},{_number(y)}" for x, y in [(xb, yb), *wings])
            self._marks.append(f'<polygon points="{points}" fill="black" stroke-width="0.1"/>')

    def resistor(self, x1: float, y1: float, x2: float, y2: float, label: str) -> None:
        """Draw a resistor between two points on a horizontal or vertical line, its label beside it."""
        middle_x, middle_y = (x1 + x2) / 2, (y1 + y2) / 2
        if y1 == y2:
            self.path([(x1, y1), (middle_x - 4, y1)])
            self.path([(middle_x + 4, y1), (x2, y1)])
            self.rect(middle_x - 4, y1 - 1.3, 8, 2.6)
            self.text(middle_x, y1 - 2.6, label, anchor="middle")
        else:
            self.path([(x1, y1), (x1, middle_y - 4)])
            self.path([(x1, middle_y + 4), (x1, y2)])
            self.rect(x1 - 1.3, middle_y - 4, 2.6, 8)
            self.text(x1 + 2.5, middle_y + 1, label)

    def capacitor(self, x: float, y1: float, y2: float, label: str) -> None:
        """Draw an upright capacitor, its label to the right."""
        middle = (y1 + y2) / 2
        self.line(x, y1, x, middle - 0.7)
        self.line(x, middle + 0.7, x, y2)
        self.line(x - 2.2, middle - 0.7, x + 2.2, middle - 0.7, THICK)
        self.line(x - 2.2, middle + 0.7, x + 2.2, middle + 0.7, THICK)
        self.text(x + 3.2, middle + 1, label)

    def ground(self, x: float, y: float) -> None:
        """Draw the 0 V sign below a point."""
        self.line(x, y, x, y + 1.5)
        self.line(x - 2, y + 1.5, x + 2, y + 1.5, THICK)

    def joint(self, x: float, y: float) -> None:
        """Mark lines that meet."""
        self.circle(x, y, 0.5, fill="black")

    def terminal(self, x: float, y: float) -> None:
        """Mark a terminal."""
        self.circle(x, y, 0.8, fill="white")

    def svg(self) -> str:
        """Return the document."""
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH_MM:g}mm" height="{HEIGHT_MM:g}mm" '
            f'viewBox="0 0 {WIDTH_MM:g} {HEIGHT_MM:g}" font-family="Helvetica, Arial, sans-serif">\n'
            f"<title>{escape(self._title)}</title>\n"
            f'<rect width="{WIDTH_MM:g}" height="{HEIGHT_MM:g}" fill="white"/>\n<g stroke="black" fill="none">\n'
        )
        marks = [mark.replace("<text ", '<text stroke="none" fill="black" ') for mark in self._marks]
        return head + "\n".join(marks) + "\n</g>\n</svg>\n"
