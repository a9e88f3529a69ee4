"""What can be saved from bytes that are no sound frame: whole frames at their end, and readable text.

Text that the interpreter prints has no closing zero, so it stands glued to the next frame; so does a
frame whose zero was lost. Frames are looked for at the end of such bytes; they must be sound, of a known
type and of a length their type can have, so that damaged bytes pass for a message with a chance far
below the CRC's own.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from .framing import ENCODED_LIMIT, LEAST_BODY, open_frame
from .table import CRC_SIZE, HEADER_SIZE, Message

_PRINTABLE = rb"[\t\n\r\x20-\x7e]"
_ALL_TEXT = re.compile(_PRINTABLE + rb"{4,}")
_LINES = re.compile(rb"(?=" + _PRINTABLE + rb"{8})" + _PRINTABLE + rb"*\n" + _PRINTABLE + rb"*")


def frames_at_end(run: bytes, known: Mapping[int, Message]) -> list[tuple[int, int, bytes]]:
    """Return the whole frames of known messages in which `run` ends, oldest first.

    Each as (start, end, body): it is run[start:end], and the next one begins at `end`.
    """
    found: list[tuple[int, int, bytes]] = []
    end = len(run)
    while (last := _frame_at_end(run[:end], known)) is not None:
        start, body = last
        found.append((start, end, body))
        end = start
    return found[::-1]


def _frame_at_end(run: bytes, known: Mapping[int, Message]) -> tuple[int, bytes] | None:
    for start in range(max(0, len(run) - ENCODED_LIMIT), len(run) - LEAST_BODY):
        body = open_frame(run[start:])
        if isinstance(body, bytes):
            message = known.get(body[0])
            if message is not None and message.accepts(body[HEADER_SIZE:-CRC_SIZE]):
                return start, body
    return None


def readable(piece: bytes) -> list[bytes]:
    """Return the readable text in bytes of no frame.

    All of it where every byte is printable ASCII, tab or line end and there are at least 4; else
    each stretch of such bytes, at least 8 long, that holds a line end.
    """
    return [piece] if _ALL_TEXT.fullmatch(piece) else _LINES.findall(piece)
