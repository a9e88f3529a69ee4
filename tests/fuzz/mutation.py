"""Changing what is valid a little: bytes, text, JSON. Everything is drawn from the `Random` that is handed in."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Callable, Sequence
from random import Random
from typing import Any

_BYTES = (0, 1, 2, 0x20, 0x22, 0x2C, 0x7F, 0x80, 0xFE, 0xFF)
_WORDS = (
    "", "nan", "-nan", "inf", "-inf", "1e308", "-1e308", "1e-320", "1e12", "-0", "0", "-1", "1", "3", "1_0", "0x10",
    "١", "9" * 400, "1e400", "true", "null",
    '"', "'", ",", ";", "\t", "\r", "\x00", "\ufeff", "\ud800", "=1+1", "[", "]",
    "{", "}", "#", "x", "zero", "sweep", "adjusted", "-5", "2147483648", "18446744073709551616", "\n", "\n\n", "é",
)  # fmt: skip
_VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 3, 2**31, 2**64, -(2**63), 10**400, 0.5, -0.5, 1e308, -1e308, 1e-320, 1e12, "", "x",
    "nan", "../../x", "\x00", "<b>", "=1+1", [], [[]], {}, {"a": 1}, [1, 2], [None, None], [5, 1], "é" * 300,
)  # fmt: skip
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")


def changes(rng: Random) -> int:
    """Return how many changes to make to one input: mostly one, seldom many."""
    return min(1 + int(rng.expovariate(0.7)), 8)


def mutate(rng: Random, data: bytes, others: Sequence[bytes]) -> bytes:
    """Return `data` with a few changes: bits, bytes, stretches lost, repeated, moved, taken from one of `others`."""
    for _ in range(changes(rng)):
        data = rng.choice(_BYTE_CHANGES)(rng, data, others)
    return data


def mutate_text(rng: Random, text: str, others: Sequence[str]) -> bytes:
    """Return `text` in UTF-8 with a few changes to its numbers, lines and letters; now and then to its bytes."""
    for _ in range(changes(rng)):
        text = rng.choice(_TEXT_CHANGES)(rng, text, others)
    data = text.encode("utf-8", "surrogatepass")
    return mutate(rng, data, [data]) if rng.random() < 0.1 else data


def mutate_document(rng: Random, document: Any) -> Any:
    """Return a copy of what JSON can hold with a few of its members changed, lost, repeated or moved."""
    document = copy.deepcopy(document)
    for _ in range(changes(rng)):
        places = list(_places(document))
        if not places:
            return rng.choice(_VALUES)
        holder, key = rng.choice(places)
        what = rng.random()
        if what < 0.6:
            holder[key] = copy.deepcopy(rng.choice(_VALUES))
        elif what < 0.75:
            del holder[key]
        elif what < 0.85:
            other, other_key = rng.choice(places)
            holder[key] = copy.deepcopy(other[other_key])
        elif isinstance(holder, list):
            holder.insert(key, copy.deepcopy(holder[key]))
        else:
            holder[rng.choice(("x", "", key + "s", "schema", "entry"))] = holder.pop(key)
    return document


def as_json(document: Any) -> bytes:
    """Return a document as JSON bytes, lone surrogates escaped."""
    return json.dumps(document).encode()


def _places(node: Any) -> list[tuple[Any, Any]]:
    keys: list[Any] = []
    if isinstance(node, (dict, list)):
        keys = list(node) if isinstance(node, dict) else list(range(len(node)))
    return [(node, key) for key in keys] + [place for key in keys for place in _places(node[key])]


def _stretch(rng: Random, length: int) -> tuple[int, int]:
    begin = rng.randrange(length + 1)
    return begin, min(length, begin + min(int(rng.expovariate(1 / 20)), length))


def _flip_bit(rng: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    if not data:
        return data
    at = rng.randrange(len(data))
    return data[:at] + bytes([data[at] ^ 1 << rng.randrange(8)]) + data[at + 1 :]


def _set_byte(rng: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    if not data:
        return data
    at = rng.randrange(len(data))
    return data[:at] + bytes([rng.choice(_BYTES)]) + data[at + 1 :]


def _insert(rng: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    at = rng.randrange(len(data) + 1)
    return data[:at] + rng.randbytes(rng.choice((1, 2, 4, 30, 300))) + data[at:]


def _lose(rng: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    begin, end = _stretch(rng, len(data))
    return data[:begin] + data[end:]


def _repeat(rng: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    begin, end = _stretch(rng, len(data))
    return data[:end] + data[begin:end] * rng.choice((1, 1, 2, 20)) + data[end:]


def _move(rng: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    begin, end = _stretch(rng, len(data))
    rest = data[:begin] + data[end:]
    at = rng.randrange(len(rest) + 1)
    return rest[:at] + data[begin:end] + rest[at:]


def _cut(rng: Random, data: bytes, _: Sequence[bytes]) -> bytes:
    return data[: rng.randrange(len(data) + 1)]


def _splice(rng: Random, data: bytes, others: Sequence[bytes]) -> bytes:
    other = rng.choice(others)
    return data[: rng.randrange(len(data) + 1)] + other[rng.randrange(len(other) + 1) :]


_BYTE_CHANGES: tuple[Callable[[Random, bytes, Sequence[bytes]], bytes], ...] = (
    _flip_bit, _flip_bit, _set_byte, _set_byte, _insert, _lose, _repeat, _move, _cut, _splice
)  # fmt: skip


def _other_number(rng: Random, text: str, _: Sequence[str]) -> str:
    found = list(_NUMBER.finditer(text))
    if not found:
        return text
    number = rng.choice(found)
    return text[: number.start()] + rng.choice(_WORDS) + text[number.end() :]


def _insert_word(rng: Random, text: str, _: Sequence[str]) -> str:
    at = rng.randrange(len(text) + 1)
    return text[:at] + rng.choice(_WORDS) + text[at:]


def _lose_letters(rng: Random, text: str, _: Sequence[str]) -> str:
    begin, end = _stretch(rng, len(text))
    return text[:begin] + text[end:]


def _lines(rng: Random, text: str, others: Sequence[str]) -> str:
    lines = text.split("\n")
    at, to = rng.randrange(len(lines)), rng.randrange(len(lines))
    what = rng.randrange(5)
    if what == 0:
        del lines[at]
    elif what == 1:
        lines.insert(to, lines[at])
    elif what == 2:
        lines[at], lines[to] = lines[to], lines[at]
    elif what == 3:
        lines = lines[:at]
    else:
        lines[at:at] = rng.choice(others).split("\n")[to : to + 5]
    return "\n".join(lines)


_TEXT_CHANGES: tuple[Callable[[Random, str, Sequence[str]], str], ...] = (
    _other_number, _other_number, _other_number, _insert_word, _lose_letters, _lines, _lines
)  # fmt: skip
