"""What a person with a print in hand needs: every wire and pin there, nothing over anything else."""

import json
import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import circuit_drawing
import mounting_drawings
import pytest
import sheet
import wiring_drawing

HARDWARE = Path(__file__).resolve().parents[2] / "hardware"
DRAWINGS = ["wiring.svg", "circuits.svg", *mounting_drawings.DRAWINGS]
SVG = "{http://www.w3.org/2000/svg}"


def words_of(name: str) -> list[str]:
    return [mark.text or "" for mark in ElementTree.parse(HARDWARE / name).iter(f"{SVG}text")]


@pytest.mark.parametrize("name", DRAWINGS)
def test_a_drawing_is_a4_landscape_black_on_white_and_large_enough_to_read(name):
    """2.5 mm is the least letter height of ISO 3098-1 for such sheets (from memory); a face's size is larger."""
    root = ElementTree.parse(HARDWARE / name).getroot()
    assert (root.get("width"), root.get("height")) == ("297mm", "210mm")
    inks = set()
    for mark in root.iter():
        inks |= {mark.get("fill"), mark.get("stroke")}
    assert inks <= {None, "none", "black", "white"}
    assert min(float(mark.get("font-size", "0")) for mark in root.iter(f"{SVG}text")) >= 2.5


def test_every_pin_of_the_map_is_drawn_and_wired():
    pins = json.loads((HARDWARE / "pins.json").read_text("utf-8"))
    drawn = words_of("wiring.svg")
    wired = {end for wire in wiring_drawing.load()["wires"] for end in (wire["from"], wire["to"])}
    for pin in pins["pins"]:
        assert drawn.count(f"GP{pin['gpio']}") == 1
        assert f"U1.{pin['name']}" in wired
    for entry in pins["converter"]["channels"]:
        assert drawn.count(f"CH{entry['channel']} {entry['channel'] + 1}") == 1
        assert f"U2.{entry['name']}" in wired


def test_every_terminal_is_joined_to_something():
    wiring = wiring_drawing.load()
    joined = {end for wire in wiring["wires"] for end in (wire["from"], wire["to"])}
    joined |= {name for supply in wiring["supplies"] for name in supply["at"]}
    named = [terminal["name"] for block in wiring["blocks"] for side in ("left", "right") for terminal in block[side]]
    assert len(set(named)) == len(named)
    assert set(named) == joined


def test_every_wire_is_named_once_in_the_drawing_and_stands_in_the_table():
    wiring = wiring_drawing.load()
    table = (HARDWARE / "wiring.md").read_text("utf-8")
    numbers = [wire["wire"] for wire in wiring["wires"]]
    assert len(set(numbers)) == len(numbers)
    drawn = words_of("wiring.svg")
    for wire in wiring["wires"]:
        assert drawn.count(f"{wire['wire']} {wire['net']}") == 1
        assert f"| {wire['wire']} | {wire['net']} |" in table
        assert wire["cable"] in wiring["cables"]


def sheets() -> dict[str, sheet.Sheet]:
    return {
        "wiring": wiring_drawing.draw(wiring_drawing.load()),
        "circuits": circuit_drawing.draw(),
        **{name: draw() for name, draw in mounting_drawings.SHEETS.items()},
    }


def crosses(line, box) -> bool:
    """Whether a straight line enters a box: the slab method (textbook clipping)."""
    (x1, y1, x2, y2), (left, top, right, foot) = line, box
    least, most = 0.0, 1.0
    for start, delta, low, high in ((x1, x2 - x1, left, right), (y1, y2 - y1, top, foot)):
        if delta == 0:
            if not low < start < high:
                return False
            continue
        first, second = sorted(((low - start) / delta, (high - start) / delta))
        least, most = max(least, first), min(most, second)
    return least < most


@pytest.mark.parametrize("name", list(sheets()))
def test_no_line_runs_through_words_and_no_words_over_others(name):
    """Balloons stand white over the end of their leader, so a number alone is left out of the lines."""
    drawn = sheets()[name]
    slack = 0.15
    boxes = [((x1 + slack, y1 + slack, x2 - slack, y2 - slack), words) for x1, y1, x2, y2, words in drawn.texts]
    for index, (box, words) in enumerate(boxes):
        assert box[0] > 5 and box[1] > 5 and box[2] < 292 and box[3] < 205, f"{words!r} leaves the frame"
        if not re.fullmatch(r"\d+", words):
            assert [line for line in drawn.lines if crosses(line, box)] == [], f"a line runs through {words!r}"
        for (left, top, right, foot), other in boxes[index + 1 :]:
            apart = box[2] <= left or right <= box[0] or box[3] <= top or foot <= box[1]
            assert apart, f"{words!r} lies over {other!r}"


def test_the_look_for_crossings_sees_one():
    box = (10.0, 10.0, 20.0, 13.0)
    assert crosses((5.0, 5.0, 25.0, 18.0), box)
    assert crosses((15.0, 0.0, 15.0, 30.0), box)
    assert not crosses((5.0, 9.9, 25.0, 9.9), box)
    assert not crosses((5.0, 20.0, 25.0, 12.9), (5.0, 5.0, 6.0, 6.0))


def test_wires_cross_nothing_but_gaps_between_blocks():
    """Every wire lies level; no two share a height where they overlap."""
    wiring = wiring_drawing.load()
    places = wiring_drawing.places(wiring)
    spans = []
    for wire in wiring["wires"]:
        (x1, y1), (x2, y2) = places[wire["from"], "right"], places[wire["to"], "left"]
        assert y1 == y2, wire["wire"]
        assert x1 < x2
        spans.append((y1, x1, x2, wire["wire"]))
    for index, (y, x1, x2, name) in enumerate(spans):
        for other_y, other_x1, other_x2, other in spans[index + 1 :]:
            assert y != other_y or x2 <= other_x1 or other_x2 <= x1, (name, other)


def test_every_part_of_the_circuit_diagram_stands_in_the_parts_list():
    parts = (HARDWARE / "parts.md").read_text("utf-8")
    drawn = {found for words in words_of("circuits.svg") for found in re.findall(r"\b(?:[RCDTFHX]\d+)\b", words)}
    assert len(drawn) > 25
    missing = {part for part in drawn if not re.search(rf"\b{part}\b", parts)}
    assert missing == set()
