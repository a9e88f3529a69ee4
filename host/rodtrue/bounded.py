"""What others wrote, read within bounds: no file, line, nesting or number makes the program fail or take all of it.

What is out of bounds raises what reading and parsing raise anyway, so that whoever reads a file needs no case more.
"""

from __future__ import annotations

import errno
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, TextIO, TypeVar, overload

import msgspec

MOST_DATA_BYTES = 1 << 28
"""Of a capture or a CSV: two hours and more at 1000 samples a second."""

MOST_DOCUMENT_BYTES = 1 << 25
LARGEST_NUMBER = 1e100
"""Its square, and what units and spans make of it, can still be computed; degrees of freedom may well be 1e20."""

LONGEST_CSV_LINE = 1 << 16
MOST_TOML_CHARACTERS = 1 << 16
LONGEST_TOML_LINE = 1000
"""Dotted names are what TOML takes longest for: more than the square of how many stand in a line."""

T = TypeVar("T")


def read_whole(path: Path, most_bytes: int = MOST_DOCUMENT_BYTES) -> bytes:
    """Return what is in a file. Raises: OSError, also where it is larger than that or has no end."""
    with path.open("rb") as file:
        content = file.read(most_bytes + 1)
    if len(content) > most_bytes:
        raise OSError(errno.EFBIG, f"larger than the {most_bytes} bytes that are read")
    return content


def lines_of(file: TextIO) -> Iterator[str]:
    """Yield the lines of an open text. Raises: OSError for a line, or a text, that is longer than any of ours."""
    read = 0
    while line := file.readline(LONGEST_CSV_LINE + 1):
        read += len(line)
        if len(line) > LONGEST_CSV_LINE:
            raise OSError(errno.EFBIG, f"a line longer than {LONGEST_CSV_LINE} characters")
        if read > MOST_DATA_BYTES:
            raise OSError(errno.EFBIG, f"larger than the {MOST_DATA_BYTES} characters that are read")
        yield line


@overload
def json_of(content: bytes | str) -> Any: ...
@overload
def json_of(content: bytes | str, kind: type[T]) -> T: ...
def json_of(content: bytes | str, kind: Any = Any) -> Any:
    """Return the JSON in `content` as a `kind`.

    Raises: msgspec.DecodeError, also for what is nested without end or holds a number that no run leads to.
    """
    try:
        document = msgspec.json.decode(content)
        place = _too_large(document)
        if place is not None:
            raise msgspec.DecodeError(f"a number of more than {LARGEST_NUMBER:g} - at `${place}`")
        return msgspec.convert(document, kind)
    except RecursionError:
        raise msgspec.DecodeError("nested too deeply") from None
    except UnicodeDecodeError as error:
        raise msgspec.DecodeError(f"not UTF-8: {error.reason}") from None


def _too_large(value: Any) -> str | None:
    """Return where in a document a number stands that is too large, as `.name[2]`; None where there is none."""
    if isinstance(value, float | int):
        return "" if abs(value) > LARGEST_NUMBER else None
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, item in inner:
        place = _too_large(item)
        if place is not None:
            return f"[{name}]{place}" if isinstance(value, list) else f".{name}{place}"
    return None


def toml_of(text: str) -> dict[str, Any]:
    """Return the TOML in `text`. Raises: tomllib.TOMLDecodeError, also for what is too long or nested too deeply."""
    if len(text) > MOST_TOML_CHARACTERS:
        raise tomllib.TOMLDecodeError(f"longer than {MOST_TOML_CHARACTERS} characters")
    for number, line in enumerate(text.splitlines(), start=1):
        if len(line) > LONGEST_TOML_LINE:
            raise tomllib.TOMLDecodeError(f"line {number} is longer than {LONGEST_TOML_LINE} characters")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise tomllib.TOMLDecodeError("nested too deeply") from None
