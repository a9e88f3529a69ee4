"""A checklist: each item ticked by itself, seen by all; ticking redraws nothing under anybody's finger."""

from __future__ import annotations

from nicegui.elements.mixins.text_element import TextElement

from rodtrue.page.elements import box, key, say, text_field
from rodtrue.page.labels import label_of
from rodtrue.page.screen import Screen
from rodtrue.page.shown import RunShown, Shown
from rodtrue.run.prompts import DONE, YES, CheckItem, Checklist

NOT_FROM_HERE = "This is answered at the fixture's own computer, by somebody beside the unit. The run waits for it."


def draw_checklist(screen: Screen, run: RunShown, checklist: Checklist) -> None:
    """Draw all items and the key that goes on."""
    if not screen.may("answer_safety_questions"):
        _draw_for_lookers_on(screen, run.number, checklist)
        return
    number = run.number
    with box("rt-checks"):
        for item in checklist.items:
            _draw_item(screen, number, item)
    with box("rt-answers"):
        go_on = key("", lambda: screen.answer(number, DONE), "rt-main-key")

    def count(shown: Shown) -> None:
        ticked = _ticked(shown, number)
        still_open = sum(1 for item in checklist.items if not ticked.get(item.code))
        go_on.text = f"{still_open} still open" if still_open else "All of it holds, go on"
        _set(go_on, "aria-disabled", bool(still_open))

    screen.follow(count)


def _draw_for_lookers_on(screen: Screen, number: int, checklist: Checklist) -> None:
    """Draw what is asked and what has been answered, for those who cannot."""
    with box("rt-checks", "ul"):
        for item in checklist.items:
            line = say("", "rt-check-seen", "li")

            def tell(shown: Shown, item: CheckItem = item, line: TextElement = line) -> None:
                answer = _ticked(shown, number).get(item.code, "")
                line.text = f"{'✓' if answer else '○'} {item.text} {label_of(item.code, answer)}".strip()

            screen.follow(tell)
    say(NOT_FROM_HERE, "rt-more")


def _draw_item(screen: Screen, number: int, item: CheckItem) -> None:
    if not item.words:
        text_field(
            item.text,
            _ticked(screen.engine.shown, number).get(item.code, ""),
            lambda text: _tick(screen, number, item, text),
            hint="for instance: side port, adapter, 0.6 m hose",
        )
    elif item.words == (YES,):
        _draw_tick(screen, number, item, YES, item.text)
    else:
        with box("rt-check-many", role="group", aria_label=item.text):
            say(item.text, "rt-check-text")
            for word in item.words:
                _draw_tick(screen, number, item, word, label_of(item.code, word))


def _draw_tick(screen: Screen, number: int, item: CheckItem, word: str, words: str) -> None:
    def turn() -> object:
        now = _ticked(screen.engine.shown, number).get(item.code)
        return _tick(screen, number, item, "" if now == word else word)

    button = key(words, turn, "rt-check", role="checkbox")
    screen.follow(lambda shown: _set(button, "aria-checked", _ticked(shown, number).get(item.code) == word))


def _tick(screen: Screen, number: int, item: CheckItem, word: str) -> object:
    here = screen.may("answer_safety_questions")
    return screen.do(lambda: screen.engine.tick(number, item.code, word, from_here=here))


def _ticked(shown: Shown, number: int) -> dict[str, str]:
    """Return what has been ticked, where this list is still the one that is shown."""
    run = shown.run
    return run.ticked if run is not None and run.number == number else {}


def _set(element: TextElement, attribute: str, on: bool) -> None:
    word = "true" if on else "false"
    if element.props.get(attribute) != word:
        element.props[attribute] = word
        element.update()
