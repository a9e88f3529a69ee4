"""How each layout is adjusted: the order of things, and drawings that stand on any background.

The order and the words are common practice, no source.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from typing import get_args

import matplotlib
import numpy as np
import pytest
from matplotlib.ft2font import FT2Font

from rodtrue.instructions import for_layout
from rodtrue.instructions.whole import postures
from rodtrue.linkage import RODS, linkage_of
from rodtrue.model.profile import Layout
from rodtrue.profiles import load_profile

LAYOUTS: tuple[Layout, ...] = get_args(Layout)
BELL_CRANKED = [layout for layout in LAYOUTS if layout != "direct"]
SVG = "{http://www.w3.org/2000/svg}"


def _codes(layout: Layout) -> list[str]:
    return [step.code for step in for_layout(layout)]


@pytest.mark.parametrize("layout", LAYOUTS)
def test_play_is_taken_up_against_the_levers_stop_then_touched_locked_and_return_is_checked_last(
    layout: Layout,
) -> None:
    codes = _codes(layout)
    wanted = ["safe", "lever_on_stop", "take_up", "not_this_way", "just_touching", "lock", "return"]
    assert [code for code in codes if code in wanted] == wanted
    assert codes[0] == "safe" and codes[-1] == "return"
    assert codes.index("adjuster") < codes.index("take_up")


def test_with_two_bell_cranks_the_intermediate_rod_is_set_first_by_the_index_pin_which_comes_out_again() -> None:
    codes = _codes("two-bell-cranks")
    order = [codes.index(c) for c in ("index_pin", "intermediate_rod", "index_pin_out", "adjuster", "take_up")]
    assert order == sorted(order)
    pin = next(step for step in for_layout("two-bell-cranks") if step.code == "index_pin")
    assert "3/16 inch (4.8 mm)" in pin.text and "before the upper rod" in pin.text


@pytest.mark.parametrize("layout", LAYOUTS)
def test_it_says_why_the_other_way_is_wrong_and_that_the_throttle_must_not_be_held_open(layout: Layout) -> None:
    by_code = {step.code: step.text for step in for_layout(layout)}
    assert "short" in by_code["not_this_way"] and "half an inch" in by_code["not_this_way"]
    assert "holds the throttle open" in by_code["just_touching"]
    assert "do not drive" in by_code["return"] and "Engine still off" in by_code["return"]
    assert "service information" in by_code["safe"] and "Engine off" in by_code["safe"]


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_other_way_does_leave_it_short_on_the_kinematics(layout: Layout) -> None:
    """Half an inch of play left in the slot is half an inch of gap at the pin; a longer rod closes it again."""
    profile = load_profile(f"example-{layout}")
    linkage = linkage_of(profile)
    left_short = linkage.changed({profile.adjuster.rod: linkage.length_change_mm(profile.adjuster.rod, -12.7)})
    assert left_short.lever_start_mm == pytest.approx(12.7, abs=1e-6)
    assert left_short.length_change_mm(profile.adjuster.rod) > 0.0


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_step_says_what_it_rests_on(layout: Layout) -> None:
    assert {step.basis for step in for_layout(layout)} == {"common practice, no source"}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_pulled_linkage_gets_no_steps_that_lead_the_wrong_way(layout: Layout) -> None:
    (step,) = for_layout(layout, "pull")
    assert step.code == "pulled" and "service information" in step.text


@pytest.mark.parametrize("layout", LAYOUTS)
def test_drawings_take_the_readers_colour_have_a_title_and_no_ids(layout: Layout) -> None:
    for step in for_layout(layout):
        root = ElementTree.fromstring(step.drawing_svg)
        title = root.find(f"{SVG}title")
        assert title is not None and title.text == step.drawing_title
        colours = {
            element.attrib[name] for element in root.iter() for name in ("fill", "stroke") if name in element.attrib
        }
        assert colours <= {"currentColor", "none"}, step.code
        assert not any("id" in element.attrib for element in root.iter())
        assert not re.search(r"href|url\(|style=", step.drawing_svg)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_everything_drawn_lies_on_the_sheet(layout: Layout) -> None:
    font = FT2Font(f"{matplotlib.get_data_path()}/fonts/ttf/DejaVuSans.ttf")
    for step in for_layout(layout):
        root = ElementTree.fromstring(step.drawing_svg)
        width, height = (float(part) for part in root.attrib["viewBox"].split()[2:])
        for line in root.iter(f"{SVG}polyline"):
            for point in line.attrib["points"].split():
                x, y = (float(part) for part in point.split(","))
                assert 0 <= x <= width and 0 <= y <= height, step.code
        for text in root.iter(f"{SVG}text"):
            font.set_size(float(text.attrib["font-size"]), 72)
            font.set_text(text.text or "")
            reach = font.get_width_height()[0] / 64
            x = float(text.attrib["x"])
            left = x - reach * {"start": 0.0, "middle": 0.5, "end": 1.0}[text.attrib["text-anchor"]]
            assert left >= -2 and left + reach <= width + 2, (step.code, text.text)
            assert 10 <= float(text.attrib["y"]) <= height, (step.code, text.text)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_whole_linkage_is_drawn_from_its_kinematics(layout: Layout) -> None:
    """Rods and arms keep their lengths between curb idle and wide open; the pin goes the whole way."""
    idle, wide_open = postures(layout)
    assert len(idle.rods) == len(RODS[layout])
    for before, after in zip(idle.rods, wide_open.rods, strict=True):
        assert np.hypot(*np.subtract(*before)) == pytest.approx(np.hypot(*np.subtract(*after)), abs=1e-6)
    moved = np.hypot(*np.subtract(idle.rods[0][0], wide_open.rods[0][0]))
    assert moved == pytest.approx(45.0)
    assert not np.allclose(idle.cranks[-1][0], wide_open.cranks[-1][0])
