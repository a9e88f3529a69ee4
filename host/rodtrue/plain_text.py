"""Words of unknown origin (a file's, a name's, a browser's) made safe to be shown: nothing in them steers anything.

A terminal obeys control characters (ECMA-48), and a log's reader believes line breaks; the marks that turn the
direction of writing round (Unicode Standard Annex 9) make text read otherwise than it is.
"""

from __future__ import annotations

import re

_CONTROLS = "\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069"
_STEERING = re.compile(f"[{_CONTROLS}]")
_STEERING_OR_BREAK = re.compile(f"[{_CONTROLS}\n]")


def without_controls(text: str) -> str:
    """Return a text whose control characters are spelt out, as in `\\\\x1b`; tabs and line breaks stay."""
    return _STEERING.sub(_spelt, text)


def on_one_line(text: str) -> str:
    """Return a text without control characters that is also one line: breaks are spelt out."""
    return _STEERING_OR_BREAK.sub(_spelt, text)


def is_utf8(text: str) -> bool:
    """Whether a text can be written as UTF-8; a file's name or an argument of other bytes cannot."""
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True


def escaped_json(document: bytes) -> bytes:
    """Return JSON in UTF-8 that means the same with its control characters escaped (RFC 8259, section 7)."""
    text = document.decode("utf-8", "surrogateescape")
    return _STEERING.sub(_escaped, text).encode("utf-8", "surrogateescape")


def _escaped(found: re.Match[str]) -> str:
    return f"\\u{ord(found.group()):04x}"


def _spelt(found: re.Match[str]) -> str:
    return found.group().encode("unicode_escape").decode("ascii")
