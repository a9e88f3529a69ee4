"""The whole linkage of a layout, at curb idle and at wide open, from the kinematics of an example."""

from __future__ import annotations

from dataclasses import dataclass

from rodtrue.instructions.sheet import XY, Anchor, Sheet
from rodtrue.linkage import linkage_of
from rodtrue.linkage.bell_cranks import BellCrankLinkage
from rodtrue.model.profile import Layout
from rodtrue.profiles import load_profile

WIDTH, HIGHEST, MARGIN = 480.0, 340.0, 56.0
DIRECT_ROD_MM, DIRECT_ARM_MM, DIRECT_TRAVEL_MM = 330.0, 75.0, 45.0


@dataclass(frozen=True)
class Posture:
    """Where everything is at one travel: a polyline for each rod, and for each crank pin, pivot, pin."""

    rods: list[tuple[XY, XY]]
    cranks: list[list[XY]]


LABELS: dict[Layout, list[tuple[str, XY, Anchor]]] = {
    "direct": [
        ("throttle's pin", (14, 40), "start"),
        ("throttle rod", (220, 40), "middle"),
        ("lever", (372, 118), "end"),
    ],
    "one-bell-crank": [
        ("throttle's pin", (60, 42), "start"),
        ("upper rod", (220, 42), "middle"),
        ("bell crank", (262, 104), "end"),
        ("lower rod", (364, 180), "start"),
        ("lever", (290, 310), "end"),
    ],
    "two-bell-cranks": [
        ("throttle's pin", (14, 162), "start"),
        ("upper rod", (110, 92), "middle"),
        ("bell cranks", (150, 40), "start"),
        ("intermediate rod", (170, 176), "start"),
        ("lower rod", (330, 140), "middle"),
        ("lever", (392, 70), "end"),
    ],
}
"""Words on the drawing: what, where, which end of the words is there. Set by eye."""


def postures(layout: Layout) -> list[Posture]:
    """Return the example linkage at curb idle and at full travel; mm, y upwards, throttle at the left."""
    if layout == "direct":
        return [_direct(0.0), _direct(DIRECT_TRAVEL_MM)]
    profile = load_profile(f"example-{layout}")
    linkage = linkage_of(profile)
    assert isinstance(linkage, BellCrankLinkage) and profile.geometry is not None
    return [_posture(linkage, travel_mm) for travel_mm in (0.0, profile.geometry.full_travel_mm)]


def _direct(travel_mm: float) -> Posture:
    """A straight rod whose ends go along; the lever's arm at right angles to it half way."""
    pin = travel_mm, 0.0
    driven = travel_mm + DIRECT_ROD_MM, 0.0
    pivot = DIRECT_ROD_MM + DIRECT_TRAVEL_MM / 2, -DIRECT_ARM_MM
    return Posture([(pin, driven)], [[driven, pivot]])


def _posture(linkage: BellCrankLinkage, travel_mm: float) -> Posture:
    pins = [
        ((float(a[0]), float(a[1])), (float(b[0]), float(b[1]))) for a, b in linkage.chain.pins(travel_mm)
    ]
    cranks: list[list[XY]] = []
    for k, crank in enumerate(linkage.chain.cranks):
        after = [pins[k + 1][0]] if k + 1 < len(pins) else []
        cranks.append([pins[k][1], crank.pivot_mm, *after])
    return Posture(pins, cranks)


def whole_linkage(layout: Layout, *, wide_open: bool = False) -> Sheet:
    """Return the whole linkage at curb idle; with `wide_open`, that posture too, dashed."""
    drawn = postures(layout)
    if not wide_open:
        drawn = drawn[:1]
    title = f"The linkage at curb idle, layout {layout}" + (", and at wide open, dashed" if wide_open else "")
    place, height = _fit(postures(layout))
    sheet = Sheet(WIDTH, height, title)
    for posture, dashed in zip(drawn, (False, True), strict=False):
        _draw(sheet, posture, place, dashed)
    for words, where, anchor in LABELS[layout]:
        sheet.text(where, words, anchor=anchor)
    return sheet


class _Place:
    """From mm, y up, to the sheet's units, y down."""

    def __init__(self, scale: float, left: float, top: float) -> None:
        self._scale, self._left, self._top = scale, left, top

    def __call__(self, at: XY) -> XY:
        return (at[0] - self._left) * self._scale + MARGIN, (self._top - at[1]) * self._scale + MARGIN


def _fit(drawn: list[Posture]) -> tuple[_Place, float]:
    """Return how to place the postures on a sheet as wide as all, and how high it has to be."""
    points = [p for posture in drawn for line in (*posture.rods, *posture.cranks) for p in line]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    wide, high = max(xs) - min(xs), max(ys) - min(ys)
    scale = min((WIDTH - 2 * MARGIN) / wide, (HIGHEST - 2 * MARGIN) / high)
    spare_mm = (WIDTH - 2 * MARGIN) / scale - wide
    return _Place(scale, min(xs) - spare_mm / 2, max(ys)), high * scale + 2 * MARGIN


def _draw(sheet: Sheet, posture: Posture, place: _Place, dashed: bool) -> None:
    for crank in posture.cranks:
        points = [place(p) for p in crank]
        sheet.line(*points, width=3 if dashed else 7, dashed=dashed, faint=dashed)
        if not dashed:
            sheet.circle(points[1], 9, tint=0.2)
    for start, end in posture.rods:
        sheet.line(place(start), place(end), width=2 if dashed else 4, dashed=dashed, faint=dashed)
        if not dashed:
            for p in (start, end):
                sheet.circle(place(p), 5, filled=True)
