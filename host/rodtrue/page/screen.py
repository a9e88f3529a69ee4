"""One browser's page: regions that are made anew only where what they show has changed."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from nicegui import Client, ui
from nicegui.element import Element

from rodtrue.model.both_units import in_order
from rodtrue.model.errors import RodtrueError
from rodtrue.page.access import Action, may, viewer_of_client
from rodtrue.page.choice import Choice
from rodtrue.page.elements import box, say
from rodtrue.page.engine import Engine
from rodtrue.page.shown import Shown

LOOK_EVERY_S = 0.1


Update = Callable[[Shown], None]


@dataclass(frozen=True)
class View:
    """A part of the page. seen: what it hangs on; while that is the same it stays. draw: makes it."""

    seen: Callable[[Shown], object]
    draw: Callable[[Screen, Shown], None]


@dataclass
class _Region:
    """A view and where it stands. seen: what it was drawn for. updates: what changes in it without a new drawing."""

    view: View
    element: Element
    seen: list[object]
    updates: list[Update]


class Screen:
    """What one browser shows. engine: shared by all. client: NiceGUI's, by which it is known who sits before it.

    draft: the form before a run as far as it has been filled in here; None: not at all.
    """

    def __init__(self, engine: Engine, client: Client) -> None:
        self.engine = engine
        self.draft: Choice | None = None
        self._client = client
        self.frame: Element | None = None
        self._regions: list[_Region] = []
        self._drawn: _Region | None = None
        self._complaint = say("", "rt-complaint", "p", role="status")
        self._complaint.set_visibility(False)

    def may(self, action: Action) -> bool:
        """Whether whoever sits here may do this."""
        return may(viewer_of_client(self._client), action)

    def region(self, view: View, classes: str, tag: str = "section", **attributes: Any) -> Element:
        """Add a part of the page, and show it at once."""
        region = _Region(view, box(classes, tag, **attributes), [], [])
        self._regions.append(region)
        self._show(region, self.engine.shown)
        return region.element

    def follow(self, update: Update) -> None:
        """While the part being drawn stands, change it in place at every look: whoever is in it is not disturbed."""
        assert self._drawn is not None
        self._drawn.updates.append(update)
        update(self.engine.shown)

    def look(self) -> None:
        """Show whatever has changed."""
        shown = self.engine.shown
        self._frame_phase(shown)
        for region in self._regions:
            self._show(region, shown)

    def redraw(self) -> None:
        """Show everything anew."""
        for region in self._regions:
            region.seen.clear()
        self.look()

    def watch(self) -> None:
        """Look again and again for as long as the browser is there."""
        ui.timer(LOOK_EVERY_S, self.look)

    async def do(self, command: Callable[[], object]) -> bool:
        """Have the engine do something; say here what hinders it. Returns whether it was done."""
        try:
            await asyncio.wrap_future(self.engine.ask(command))
        except RodtrueError as error:
            self.complain(in_order(f"{_sentence(error.message)} {error.next_step}", self.engine.shown.units))
            return False
        self.complain("")
        self.look()
        return True

    async def answer(self, number: int, word: str) -> bool:
        """Answer prompt `number` in the name of whoever sits here as it is pressed. Returns as `do`."""
        here = self.may("answer_safety_questions")
        return await self.do(lambda: self.engine.answer(number, word, from_here=here))

    def complain(self, text: str) -> None:
        """Say something to whoever sits here, until something else is done; "" for nothing."""
        self._complaint.text = text
        self._complaint.set_visibility(bool(text))

    def place_complaint(self, parent: Element) -> None:
        """Say it there."""
        self._complaint.move(parent)

    def _frame_phase(self, shown: Shown) -> None:
        """Let the frame say what it is for: before a run there is nothing to measure, so no room for it."""
        if self.frame is not None:
            self.frame.classes(replace=f"rt-body rt-phase-{shown.phase}")

    def _show(self, region: _Region, shown: Shown) -> None:
        now = region.view.seen(shown)
        if not region.seen or region.seen[0] != now:
            region.seen[:] = [now]
            region.updates.clear()
            region.element.clear()
            self._drawn = region
            with region.element:
                region.view.draw(self, shown)
            self._drawn = None
            return
        for update in region.updates:
            update(shown)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?", "!")) else ".")
