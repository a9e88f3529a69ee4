"""The rod scale: a ruler with the zone in which the rod is right, and each error with its interval, as SVG."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Literal

from rodtrue.model.units import MM_PER_INCH, mm_to_inch
from rodtrue.run.words import Units

WIDTH, HEIGHT = 360, 150
_LEFT, _RIGHT, _LINE = 16, 344, 96
_STEPS_INCH = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0)
_STEPS_MM = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
_MOST_STEPS = 7

Shape = Literal["diamond", "circle", "hollow"]


@dataclass(frozen=True)
class Mark:
    """One rod error on the scale. interval_mm: None for a mere indication. only_below: no more than this is known."""

    name: str
    shape: Shape
    value_mm: float
    interval_mm: tuple[float, float] | None = None
    only_below: bool = False


def ruler_svg(limits_mm: tuple[float, float], marks: list[Mark], units: Units, words: str) -> str:
    """Return the drawing; words: what it says, for those who do not see it."""
    low, high = _span(limits_mm, marks)
    place = _Place(low, high)
    parts = [*_zone(limits_mm, place), *_scale(place, units)]
    for row, mark in enumerate(marks):
        parts += _mark(mark, place, 26 + 26 * row)
    return (
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{escape(words)}" class="rt-ruler" '
        f'font-family="system-ui, sans-serif" font-size="12">{"".join(parts)}</svg>'
    )


@dataclass(frozen=True)
class _Place:
    low: float
    high: float

    def x(self, value_mm: float) -> float:
        inside = min(max(value_mm, self.low), self.high)
        return round(_LEFT + (inside - self.low) / (self.high - self.low) * (_RIGHT - _LEFT), 1)


def _span(limits_mm: tuple[float, float], marks: list[Mark]) -> tuple[float, float]:
    values = [*limits_mm, 0.0]
    for mark in marks:
        values += [mark.value_mm, *(mark.interval_mm or ())]
    room = max(1.0, 0.12 * (max(values) - min(values)))
    return min(values) - room, max(values) + room


def _zone(limits_mm: tuple[float, float], place: _Place) -> list[str]:
    from_x, to_x = place.x(limits_mm[0]), place.x(limits_mm[1])
    middle = min(max((from_x + to_x) / 2, 40), WIDTH - 40)
    hatch = "".join(
        f'<path d="M{x:.1f} {_LINE}L{min(x + 20, to_x):.1f} {_LINE - min(20, to_x - x):.1f}"/>'
        for x in _steps(from_x, to_x, 6.0)
    )
    return [
        f'<g stroke="var(--zone)" stroke-width="1.5">{hatch}</g>',
        f'<rect x="{from_x}" y="{_LINE - 20}" width="{to_x - from_x:.1f}" height="20" fill="none" '
        'stroke="var(--zone)" stroke-width="2"/>',
        _text(middle, HEIGHT - 4, "right: in the hatched zone"),
    ]


def _steps(start: float, stop: float, step: float) -> list[float]:
    return [start + step * k for k in range(int((stop - start) / step) + 1)]


def _scale(place: _Place, units: Units) -> list[str]:
    inch = units == "inch"
    unit_mm = MM_PER_INCH if inch else 1.0
    span = (place.high - place.low) / unit_mm
    steps = _STEPS_INCH if inch else _STEPS_MM
    step = next((each for each in steps if span / each <= _MOST_STEPS), steps[-1])
    digits = 2 if inch else (1 if step < 1 else 0)
    parts = [f'<path d="M{_LEFT} {_LINE}H{_RIGHT}" stroke="currentColor" stroke-width="2.5"/>']
    first, last = int(place.low / unit_mm / step) - 1, int(place.high / unit_mm / step) + 1
    for k in range(first, last + 1):
        value_mm = k * step * unit_mm
        if not place.low <= value_mm <= place.high:
            continue
        x = place.x(value_mm)
        parts.append(f'<path d="M{x} {_LINE}v9" stroke="currentColor" stroke-width="2"/>')
        words = "0" if k == 0 else f"{k * step:+.{digits}f}"
        parts.append(_text(x, _LINE + 22, words))
    return [
        *parts,
        _text(_LEFT - 10, 12, "◀ short: too late", "start"),
        _text(_RIGHT + 10, 12, "long: too early ▶", "end"),
        _text(WIDTH / 2, 12, f"rod error, {'in' if inch else 'mm'}"),
    ]


def _mark(mark: Mark, place: _Place, y: float) -> list[str]:
    x = place.x(mark.value_mm)
    parts = []
    if mark.interval_mm is not None:
        from_x, to_x = place.x(mark.interval_mm[0]), place.x(mark.interval_mm[1])
        parts.append(
            f'<path d="M{from_x} {y - 6}v12M{from_x} {y}H{to_x}M{to_x} {y - 6}v12" stroke="currentColor" '
            'stroke-width="2.5" fill="none"/>'
        )
    if mark.only_below:
        arrow = f"M{x} {y}H{_LEFT}m8 -6l-8 6l8 6"
        parts.append(f'<path d="{arrow}" stroke="currentColor" stroke-width="2.5" fill="none"/>')
    filled = 'fill="var(--sheet)"' if mark.shape == "hollow" else 'fill="currentColor"'
    if mark.shape == "circle":
        parts.append(f'<circle cx="{x}" cy="{y}" r="6" {filled} stroke="currentColor" stroke-width="2"/>')
    else:
        parts.append(f'<path d="M{x} {y - 8}l8 8l-8 8l-8-8z" {filled} stroke="currentColor" stroke-width="2"/>')
    edge = max([x, *(place.x(v) for v in mark.interval_mm or ())]) + 14
    near_right = edge > WIDTH - 90
    text_x = min([x, *(place.x(v) for v in mark.interval_mm or ())]) - 14 if near_right else edge
    anchor = "end" if near_right else "start"
    return [*parts, _text(text_x, y + 4, mark.name, anchor)]


def _text(x: float, y: float, words: str, anchor: str = "middle") -> str:
    return f'<text x="{x:.1f}" y="{y}" text-anchor="{anchor}" fill="currentColor">{escape(words)}</text>'


def in_units(value_mm: float, units: Units) -> str:
    """Return a signed length in the units that come first."""
    return f"{mm_to_inch(value_mm):+.3f} in" if units == "inch" else f"{value_mm:+.2f} mm"
