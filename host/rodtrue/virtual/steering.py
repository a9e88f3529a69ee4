"""Steering a virtual fixture by JSON lines: the handle's words, one object a line."""

from __future__ import annotations

from typing import Any

import msgspec

from rodtrue.model.errors import InputError
from rodtrue.virtual.faults import FAULTS
from rodtrue.virtual.handle import Handle

_NUMBERS = ("throttle_mm", "rod_turns")
_SWITCHES = ("rod_hooked", "holding_spring", "button", "foot_switch")


def steer(handle: Handle, line: str) -> None:
    """Do what one line says to the handle; nothing of it where any of it cannot be understood.

    Raises: InputError naming the word.
    """
    try:
        words = msgspec.json.decode(line, type=dict[str, Any])
    except (msgspec.DecodeError, msgspec.ValidationError) as error:
        raise InputError(
            f"steering line {line.strip()!r}: {error}", 'Write an object: {"throttle_mm": 12}'
        ) from error
    for word, value in words.items():
        _refuse(word, value)
    for word, value in words.items():
        setattr(handle, word, value)


def _refuse(word: str, value: Any) -> None:
    if word in _NUMBERS:
        fits = isinstance(value, int | float) and not isinstance(value, bool)
        wanted = "a number"
    elif word in _SWITCHES:
        fits, wanted = isinstance(value, bool), "true or false"
    elif word == "fault":
        fits, wanted = value is None or value in FAULTS, "null or one of: " + ", ".join(FAULTS)
    else:
        raise InputError(
            f"steering word {word!r}: not known", "Known: " + ", ".join([*_NUMBERS, *_SWITCHES, "fault"]) + "."
        )
    if not fits:
        raise InputError(f"steering word {word!r}: {value!r} does not fit", f"Give {wanted}.")
