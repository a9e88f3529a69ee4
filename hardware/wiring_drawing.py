"""The wiring drawing and table, from wiring.json and pins.json."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from sheet import THICK, Sheet

HERE = Path(__file__).resolve().parent
COLUMN_MM = 58.5
BLOCK_MM = 33.0
LEFT_MM = 11.0
TOP_MM = 30.0
ROW_MM = 5.5
STUB_MM = 3.0


def load() -> dict[str, Any]:
    """Return wiring.json with each terminal's words taken from pins.json where that names it."""
    wiring = json.loads((HERE / "wiring.json").read_text("utf-8"))
    pins = json.loads((HERE / "pins.json").read_text("utf-8"))
    words = {f"U1.{pin['name']}": f"GP{pin['gpio']}" for pin in pins["pins"]}
    channels = {entry["name"]: entry["channel"] for entry in pins["converter"]["channels"]}
    words |= {f"U2.{name}": f"CH{channel} {channel + 1}" for name, channel in channels.items()}
    for block in wiring["blocks"]:
        for side in ("left", "right"):
            block[side] = [
                {"name": f"{block['id']}.{name}", "words": text or words[f"{block['id']}.{name}"], "row": row}
                for name, text, row in block.get(side, [])
            ]
    wiring["pin_words"] = words
    return wiring


def _y(row: float) -> float:
    return TOP_MM + ROW_MM * row


def places(wiring: dict[str, Any]) -> dict[tuple[str, str], tuple[float, float]]:
    """Return where each terminal is, by its name and side."""
    found = {}
    for block in wiring["blocks"]:
        x = LEFT_MM + COLUMN_MM * block["column"]
        for side, at in (("left", x), ("right", x + BLOCK_MM)):
            for terminal in block[side]:
                found[terminal["name"], side] = (at, _y(terminal["row"]))
    return found


def _draw_block(sheet: Sheet, block: dict[str, Any]) -> None:
    x = LEFT_MM + COLUMN_MM * block["column"]
    rows = [terminal["row"] for side in ("left", "right") for terminal in block[side]]
    top, foot = _y(min(rows)) - 2.9, _y(max(rows)) + 2.2
    sheet.rect(x, top, BLOCK_MM, foot - top, THICK)
    sheet.text(x, top - 1.2, f"{block['id']} {block['title']}", bold=True)
    for side, at, anchor in (("left", x + 1.8, "start"), ("right", x + BLOCK_MM - 1.8, "end")):
        for terminal in block[side]:
            sheet.text(at, _y(terminal["row"]) + 1, terminal["words"], anchor=anchor)


def _flag(sheet: Sheet, place: tuple[float, float], side: str, words: str) -> None:
    x, y = place
    sign = -1 if side == "left" else 1
    sheet.line(x, y, x + sign * STUB_MM, y)
    sheet.terminal(x, y)
    sheet.text(x + sign * (STUB_MM + 1), y + 1, words, anchor="end" if side == "left" else "start", bold=True)


def draw(wiring: dict[str, Any]) -> Sheet:
    """Draw blocks, then wires in the gaps between them, then the supplies as flags."""
    sheet = Sheet("Fixture wiring", "from pins.json and wiring.json; built by nobody yet")
    joined = "all stubs of one name are joined, and every wire of that name."
    sheet.text(10, 19, f"A line is one wire: number, net. A bold stub is a supply: {joined}")
    at = places(wiring)
    for block in wiring["blocks"]:
        _draw_block(sheet, block)
    wired = set()
    for wire in wiring["wires"]:
        start = at[wire["from"], "right"]
        end = at[wire["to"], "left"]
        sheet.line(*start, *end)
        sheet.terminal(*start)
        sheet.terminal(*end)
        near_end = max(start[0], end[0] - (COLUMN_MM - BLOCK_MM))
        sheet.text((near_end + end[0]) / 2, start[1] - 0.9, f"{wire['wire']} {wire['net']}", anchor="middle")
        wired |= {wire["from"], wire["to"]}
    for supply in wiring["supplies"]:
        for name in supply["at"]:
            if name in wired:
                continue
            side = "left" if (name, "left") in at else "right"
            _flag(sheet, at[name, side], side, f"{supply['net']} {supply['wire']}")
    sheet.text(10, 196, "Cables: K1 W1-W4, K2 W5-W8, K3 W9-W11, K4 W27-W28, K5 W36-W37; all others inside the box.")
    screens = "Screens (K4 too): by the plug's shell to the box, cut off and insulated at the sensor."
    sheet.text(10, 201, f"{screens} Numbers beside a name: pin of the part.")
    return sheet


def _end(wiring: dict[str, Any], name: str) -> str:
    for block in wiring["blocks"]:
        for side in ("left", "right"):
            for terminal in block[side]:
                if terminal["name"] == name:
                    return f"{block['id']} {block['title']}: {terminal['words']}"
    raise KeyError(f"wiring.json names no terminal {name}")


def table() -> str:
    """Return wiring.md."""
    wiring = load()
    lines = [
        "# Wiring table",
        "",
        "Made from `pins.json` and `wiring.json` by `write_pages.py`; the drawing is [wiring.svg](wiring.svg), the "
        "parts in the blocks are in [circuits.svg](circuits.svg). GPn is the board's GPIO n: find the pad by that "
        "number on the board's own pin drawing, never by counting from an edge. For the converter the number after "
        "the name is the pin of its 16-pin package. R, C, D, T and F are the parts of that name in circuits.svg. "
        "A wire whose net is a supply (0V, 5VS, VBUS) is joined to that supply. Terminals named box on A1 are the "
        "shells of the sockets in the box's wall. W38 and W39 do not exist.",
        "",
        "| wire | net | from | to | cable |",
        "| --- | --- | --- | --- | --- |",
    ]
    for wire in wiring["wires"]:
        ends = f"{_end(wiring, wire['from'])} | {_end(wiring, wire['to'])}"
        lines.append(f"| {wire['wire']} | {wire['net']} | {ends} | {wire['cable']} |")
    lines += ["", "## Supplies", "", "| wire | net | joins | |", "| --- | --- | --- | --- |"]
    for supply in wiring["supplies"]:
        joined = "; ".join(_end(wiring, name) for name in supply["at"])
        lines.append(f"| {supply['wire']} | {supply['net']} | {joined} | {supply['note']} |")
    lines += ["", "## Cables", "", "| cable | what |", "| --- | --- |"]
    lines += [f"| {name} | {what} |" for name, what in wiring["cables"].items()]
    return "\n".join(lines) + "\n"
