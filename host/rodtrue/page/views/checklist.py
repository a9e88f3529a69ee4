"""A checklist: each item ticked by itself, seen by all."""

from __future__ import annotations

from collections.abc import Callable

from rodtrue.page.elements import box, key, say, text_field
from rodtrue.page.labels import label_of
from rodtrue.page.screen import Screen
from rodtrue.page.shown import RunShown
from rodtrue.run.prompts import DONE, YES, CheckItem, Checklist


def draw_checklist(screen: Screen, run: RunShown, checklist: Checklist) -> None:
    """Draw all items and the key that goes on."""
    number = run.number

    def tick(item: str, word: str) -> Callable[[], object]:
        return lambda: screen.do(lambda: screen.engine.tick(number, item, word))

    with box("rt-checks"):
        for item in checklist.items:
            _draw_item(item, run.ticked.get(item.code, ""), tick)
    still_open = sum(1 for item in checklist.items if not run.ticked.get(item.code))
    with box("rt-answers"):
        button = key(
            "All of it holds, go on" if not still_open else f"{still_open} still open",
            lambda: screen.do(lambda: screen.engine.answer(number, DONE)),
            "rt-main-key",
        )
        if still_open:
            button.props["aria-disabled"] = "true"


def _draw_item(item: CheckItem, answer: str, tick: Callable[[str, str], Callable[[], object]]) -> None:
    if not item.words:
        field = text_field(item.text, answer, lambda _text: None, hint="for instance: side port, tee, 1 m hose")
        entry = next(child for child in field.descendants() if child.tag == "input")
        entry.on("change", lambda event: tick(item.code, event.args)(), js_handler="(e) => emit(e.target.value)")
        return
    if item.words == (YES,):
        word = "" if answer else YES
        button = key(item.text, tick(item.code, word), "rt-check", role="checkbox")
        button.props["aria-checked"] = "true" if answer else "false"
        return
    with box("rt-check-many", role="group", aria_label=item.text):
        say(item.text, "rt-check-text")
        for word in item.words:
            chosen = answer == word
            turned = "" if chosen else word
            button = key(label_of(item.code, word), tick(item.code, turned), "rt-check", role="checkbox")
            button.props["aria-checked"] = "true" if chosen else "false"
