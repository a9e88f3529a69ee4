"""The ruler: the zone that is right, the value and its interval stand where the numbers say."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from typing import get_args

import pytest

from report.stored import result
from rodtrue.model.result import Result, Verdict
from rodtrue.report.pictures import ruler, scale_for, verdict_picture

SVG = "{http://www.w3.org/2000/svg}"


def _drawn(of: Result) -> tuple[ElementTree.Element, float, float, float]:
    """Return the drawing, the zone's two ends and the value's place, 0 where there is none."""
    scale = scale_for([of])
    assert of.rod_error is not None and scale is not None
    drawing = ElementTree.fromstring(ruler(of.rod_error, scale, "inch").svg())
    zone = drawing.find(f"{SVG}rect")
    assert zone is not None
    low = float(zone.attrib["x"])
    value = drawing.find(f"{SVG}circle")
    return drawing, low, low + float(zone.attrib["width"]), 0.0 if value is None else float(value.attrib["cx"])


@pytest.mark.parametrize(("rod_error_mm", "side"), [(-4.0, "left"), (3.0, "right"), (0.1, "within")])
def test_the_value_stands_on_its_side_of_the_zone(rod_error_mm: float, side: str) -> None:
    _drawing, low, high, value = _drawn(result(rod_error_mm=rod_error_mm))
    assert side == ("left" if value < low else "right" if value > high else "within")


def test_distances_are_to_scale() -> None:
    found = result(rod_error_mm=-4.0)
    assert found.rod_error is not None and found.rod_error.value_mm is not None
    _drawing, low, high, value = _drawn(found)
    low_mm, high_mm = found.rod_error.limits_mm
    per_mm = (high - low) / (high_mm - low_mm)
    assert (low - value) / per_mm == pytest.approx(low_mm - found.rod_error.value_mm, abs=0.02)


def test_a_rod_known_only_to_be_shorter_than_a_bound_shows_an_arrow_and_no_value() -> None:
    drawing, low, _high, value = _drawn(result(rod_error_mm=-40.0, full_mm=20.0))
    assert value == 0.0
    arrow = drawing.find(f"{SVG}polygon")
    assert arrow is not None
    tip = float(arrow.attrib["points"].split()[0].split(",")[0])
    assert tip < low


def test_every_verdict_has_a_shape_of_its_own() -> None:
    verdicts = get_args(Verdict)
    assert len({verdict_picture(verdict).svg().split("</title>")[1] for verdict in verdicts}) == len(verdicts) == 5
