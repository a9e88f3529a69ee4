"""Steering by words: one JSON object a line, for instance {"rod_hooked": false, "throttle_mm": 12.5}."""

from __future__ import annotations

import json
import math
from typing import Any

from rodtrue.model.errors import InputError
from rodtrue.virtual.handle import Handle

_NUMBERS = ("throttle_mm", "rod_turns")
_SWITCHES = ("rod_hooked", "holding_spring", "button", "foot_switch")
_WORDS = (*_NUMBERS, *_SWITCHES, "fault")
_EXAMPLE = 'A line is a JSON object such as {"rod_hooked": false, "throttle_mm": 12.5}; words: '


def steer(handle: Handle, line: str) -> None:
    """Do what one line says; a line with anything wrong in it changes nothing.

    throttle_mm, rod_turns: numbers. rod_hooked, holding_spring, button, foot_switch: true or false.
    fault: a fault's name, or null for none.
    Raises: InputError for what is not JSON, an unknown word, a wrong value.
    """
    words = _words(line)
    # The values only the handle can judge: first, so that a refusal leaves everything as it was.
    handle.set_unit(rod_turns=words.pop("rod_turns", handle.rod_turns), fault=words.pop("fault", handle.fault))
    for word, value in words.items():
        setattr(handle, word, value)


def _words(line: str) -> dict[str, Any]:
    try:
        words = json.loads(line)
    except json.JSONDecodeError as error:
        raise InputError(f"steering line {line.strip()!r}: not JSON: {error}", _EXAMPLE + _list()) from error
    if not isinstance(words, dict):
        raise InputError(f"steering line {line.strip()!r}: not an object", _EXAMPLE + _list())
    for word, value in words.items():
        problem = _problem(word, value)
        if problem:
            raise InputError(f"steering word {word!r} {problem}", _EXAMPLE + _list())
    return words


def _problem(word: str, value: Any) -> str | None:
    if word not in _WORDS:
        return "is not known"
    if word in _SWITCHES and not isinstance(value, bool):
        return f"is {value!r}; it must be true or false"
    if word == "fault" and not (value is None or isinstance(value, str)):
        return f"is {value!r}; it must be a fault's name or null"
    is_number = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    if word in _NUMBERS and not is_number:
        return f"is {value!r}; it must be a number"
    return None


def _list() -> str:
    return ", ".join(_WORDS) + "."
