"""What a decoder tells beside whole messages, and what it counts."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from .messages import WireMessage

Refusal = Literal["cobs", "crc", "short", "oversize", "unended", "bad_length"]


@dataclass(frozen=True, slots=True)
class UnknownMessage:
    """A sound frame of a type that this direction's table does not have."""

    message_type: int
    sequence: int
    payload: bytes
    raw: bytes = field(repr=False, compare=False)


@dataclass(frozen=True, slots=True)
class SequenceGap:
    """Frames are missing, or came twice, before the next message: bytes were lost on the line."""

    expected: int
    got: int

    @property
    def missing(self) -> int:
        """Frames missing, modulo 256; 255 is what one frame received twice looks like."""
        return (self.got - self.expected) % 256


@dataclass(frozen=True, slots=True)
class Text:
    """Readable text outside frames: what the fixture's interpreter said."""

    data: bytes

    def __str__(self) -> str:
        return self.data.decode("ascii")


@dataclass(frozen=True, slots=True)
class Refused:
    """Bytes that were no sound frame.

    reason: cobs (not COBS), crc (the check differs), short (no room for type, sequence and CRC),
        oversize (longer than any frame; `raw` is then its end), unended (no zero stands between
        these bytes and a whole frame, or the stream's end), bad_length (sound, but not a length its
        type can have).
    raw: the bytes, without closing zero.
    """

    reason: Refusal
    raw: bytes


Event = WireMessage | UnknownMessage | SequenceGap | Text | Refused


@dataclass(slots=True)
class Counters:
    """What a decoder has seen. A cable going bad shows here first.

    frames: sound frames, known or not. skipped_bytes: bytes of no frame and no text, delimiters aside.
    """

    frames: int = 0
    crc_errors: int = 0
    cobs_errors: int = 0
    short: int = 0
    oversize: int = 0
    unended: int = 0
    bad_length: int = 0
    unknown_type: int = 0
    sequence_gaps: int = 0
    skipped_bytes: int = 0
    text_bytes: int = 0

    def count_refusal(self, reason: Refusal) -> None:
        """Count one refused run of bytes."""
        name = f"{reason}_errors" if reason in ("crc", "cobs") else reason
        setattr(self, name, getattr(self, name) + 1)
