"""How each layout is adjusted: steps in words from `shared/instructions.json`, each with a line drawing.

For the page and for the report alike: `for_layout(layout)`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Literal

import msgspec

from rodtrue.instructions import close_ups
from rodtrue.instructions.sheet import Sheet
from rodtrue.instructions.whole import whole_linkage
from rodtrue.model.profile import Layout
from rodtrue.resources import room

__all__ = ["Step", "for_layout"]


@dataclass(frozen=True)
class Step:
    """One step.

    code: its name in the table, such as `take_up`. drawing_svg: one SVG element, its lines and words in
    `currentColor`, without ids, so that several stand in one page; its title says in words what it shows, as
    `drawing_title` does. basis: what the words rest on.
    """

    code: str
    title: str
    text: str
    drawing_svg: str
    drawing_title: str
    basis: str


@dataclass(frozen=True)
class _Entry:
    code: str
    title: str
    drawing: str
    text: str


@dataclass(frozen=True)
class _Table:
    schema: str
    note: str
    basis: str
    layouts: dict[Layout, list[_Entry]]
    pulled: list[_Entry]


@cache
def for_layout(layout: Layout, action: Literal["push", "pull"] = "push") -> tuple[Step, ...]:
    """Return the steps of adjusting a layout, in order.

    For a pulled linkage there is one step, which says that these steps would lead the wrong way.
    """
    table = msgspec.json.decode((room("shared") / "instructions.json").read_bytes(), type=_Table)
    entries = table.layouts[layout] if action == "push" else table.pulled
    return tuple(_step(entry, layout, table.basis) for entry in entries)


def _step(entry: _Entry, layout: Layout, basis: str) -> Step:
    sheet = _drawing(entry.drawing, layout)
    return Step(entry.code, entry.title, entry.text, sheet.svg(), sheet.title, basis)


def _drawing(name: str, layout: Layout) -> Sheet:
    if name in ("whole", "whole_open"):
        return whole_linkage(layout, wide_open=name == "whole_open")
    draw: Callable[[], Sheet] = getattr(close_ups, name)
    return draw()
