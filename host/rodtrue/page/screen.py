"""One browser's page: regions that are made anew only where what they show has changed."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from nicegui import ui
from nicegui.element import Element

from rodtrue.model.errors import RodtrueError
from rodtrue.page.access import Action, Viewer, may
from rodtrue.page.elements import box, say
from rodtrue.page.engine import Engine
from rodtrue.page.shown import Shown

LOOK_EVERY_S = 0.1


@dataclass(frozen=True)
class View:
    """A part of the page. seen: what it hangs on; while that is the same it stays. draw: makes it."""

    seen: Callable[[Shown], object]
    draw: Callable[[Screen, Shown], None]


class Screen:
    """What one browser shows. engine: shared by all. viewer: who sits before this one."""

    def __init__(self, engine: Engine, viewer: Viewer) -> None:
        self.engine = engine
        self.viewer = viewer
        self._regions: list[tuple[View, Element, list[object]]] = []
        self._complaint = say("", "rt-complaint", "p", role="status")
        self._complaint.set_visibility(False)

    def may(self, action: Action) -> bool:
        """Whether whoever sits here may do this."""
        return may(self.viewer, action)

    def region(self, view: View, classes: str, tag: str = "section", **attributes: Any) -> Element:
        """Add a part of the page, and show it at once."""
        element = box(classes, tag, **attributes)
        self._regions.append((view, element, []))
        self._show(view, element, self._regions[-1][2], self.engine.shown)
        return element

    def look(self) -> None:
        """Show whatever has changed."""
        shown = self.engine.shown
        for view, element, seen in self._regions:
            self._show(view, element, seen, shown)

    def redraw(self) -> None:
        """Show everything anew."""
        for _view, _element, seen in self._regions:
            seen.clear()
        self.look()

    def watch(self) -> None:
        """Look again and again for as long as the browser is there."""
        ui.timer(LOOK_EVERY_S, self.look)

    async def do(self, command: Callable[[], object]) -> bool:
        """Have the engine do something; say here what hinders it. Returns whether it was done."""
        try:
            await asyncio.wrap_future(self.engine.ask(command))
        except RodtrueError as error:
            self.complain(f"{_sentence(error.message)} {error.next_step}")
            return False
        self.complain("")
        self.look()
        return True

    def complain(self, text: str) -> None:
        """Say something to whoever sits here, until something else is done; "" for nothing."""
        self._complaint.text = text
        self._complaint.set_visibility(bool(text))

    def place_complaint(self, parent: Element) -> None:
        """Say it there."""
        self._complaint.move(parent)

    def _show(self, view: View, element: Element, seen: list[object], shown: Shown) -> None:
        now = view.seen(shown)
        if seen and seen[0] == now:
            return
        seen[:] = [now]
        element.clear()
        with element:
            view.draw(self, shown)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?", "!")) else ".")
