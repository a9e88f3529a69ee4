"""Plain HTML elements with our own look, out of NiceGUI's: text always as text, attributes always as values."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from nicegui import ui
from nicegui.element import Element
from nicegui.elements.mixins.text_element import TextElement

from rodtrue.plain_text import on_one_line

MOST_LETTERS = 200
"""What a field of one line holds."""

Act = Callable[[], object]
TakeText = Callable[[str], object]


def box(classes: str = "", tag: str = "div", **attributes: Any) -> Element:
    """Return an element for others; use it as a context. Attributes: `aria_label` for aria-label and so on."""
    return _dress(ui.element(tag), classes, attributes)


def say(text: str, classes: str = "", tag: str = "p", **attributes: Any) -> TextElement:
    """Return an element with a text."""
    element = TextElement(tag=tag, text=text)
    _dress(element, classes, attributes)
    return element


def key(text: str, act: Act, classes: str = "", **attributes: Any) -> TextElement:
    """Return a button."""
    button = say(text, f"rt-key {classes}", "button", type="button", **attributes)
    button.on("click", lambda _event: act(), args=[])
    return button


def drawing(svg: str, classes: str = "") -> Element:
    """Return a drawing of our own making; never give it a person's words."""
    return ui.html(svg, sanitize=False).classes(classes)


def text_field(label: str, value: str, take: TakeText, *, hint: str = "", kind: str = "text") -> Element:
    """Return a labelled field of one line; `take` is given what stands in it whenever that has changed.

    What no such field holds, sent by hand, is dropped; what is too long is cut. `value` is only what stands in it
    at first: as `value` itself it would be put back over what is being typed whenever anything on the page changes.
    """

    def taken(value: object) -> object:
        return take(on_one_line(value[:MOST_LETTERS])) if isinstance(value, str) else None

    with box("rt-field") as whole:
        field = box("rt-entry", "input", type=kind, placeholder=hint, maxlength=MOST_LETTERS, autocomplete="off")
        field.props["defaultValue"] = value
        name = say(label, "rt-field-name", "label")
        name.props["for"] = f"c{field.id}"
        name.move(whole, 0)
        field.on("input", lambda event: taken(event.args), js_handler="(e) => emit(e.target.value)")
    return whole


def pick(label: str, options: Mapping[str, str], value: str, take: TakeText) -> Element:
    """Return a labelled list to pick from: words by value. What a browser sends that was not offered is dropped."""

    def taken(value: object) -> object:
        # What `take` returns is handed on: it may be work that NiceGUI has still to await.
        return take(value) if isinstance(value, str) and value in options else None

    with box("rt-field") as whole:
        name = say(label, "rt-field-name", "label")
        with box("rt-entry", "select") as field:
            for option, words in options.items():
                say(words, "", "option", value=option, **({"selected": True} if option == value else {}))
        name.props["for"] = f"c{field.id}"
        field.on("change", lambda event: taken(event.args), js_handler="(e) => emit(e.target.value)")
    return whole


def choice(title: str, options: Sequence[tuple[str, str, str]], value: str, take: TakeText) -> Element:
    """Return a group of which one is chosen: (value, words, more words), with a mark beside the chosen one."""
    with box("rt-choice", "fieldset") as whole:
        say(title, "rt-field-name", "legend")
        for option, words, more in options:
            with box("rt-option", "label"):
                field = box("", "input", type="radio", name=f"g{whole.id}", value=option)
                if option == value:
                    field.props["checked"] = True
                field.on("change", lambda _event, option=option: take(option), args=[])
                with box("rt-option-words", "span"):
                    say(words, "rt-option-name", "span")
                    if more:
                        say(more, "rt-option-more", "span")
    return whole


def switch(label: str, on: bool, act: Act) -> TextElement:
    """Return a switch that says its state in words and shape."""
    button = key(f"{label}: {'yes' if on else 'no'}", act, "rt-switch", role="switch")
    button.props["aria-checked"] = "true" if on else "false"
    return button


def _dress(element: Element, classes: str, attributes: Mapping[str, Any]) -> Element:
    element.classes(classes)
    for name, value in attributes.items():
        element.props[name.replace("_", "-")] = value
    return element
