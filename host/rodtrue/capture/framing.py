"""The capture file's own framing: a first line, then items, each of which can be checked alone.

The file is the line `rodtrue.capture/1` and a newline, then items. An item is
`COBS(kind u8, host_time_us u64, sample_index u32, payload, crc32 u32)` and a zero byte,
little-endian; the CRC is CRC-32/ISO-HDLC over everything before it. Nothing in the file is ever
rewritten, so a cut anywhere costs at most the item it falls into.

Kinds: 1 RECEIVED, a frame as the fixture sent it (still COBS-coded, without its closing zero,
damaged ones too). 2 ENTRY, the host's own note: UTF-8 JSON, an object whose `entry` names it and
whose `nth` numbers it from 0.
3 TEXT, what the fixture said in plain text between frames.
host_time_us is UTC, microseconds since 1970-01-01. sample_index is the index of the first sample
the item concerns: a block's first sample, or the first sample after the note was made.
"""

from __future__ import annotations

import struct
from binascii import crc32
from collections.abc import Iterator
from dataclasses import dataclass

from cobs import cobs

FIRST_LINE = b"rodtrue.capture/1\n"
RECEIVED, ENTRY, TEXT = 1, 2, 3
CUT_OFF = "cut off before its end"
KIND_NAMES = {RECEIVED: "received", ENTRY: "entry", TEXT: "text"}

_HEADER = struct.Struct("<BQI")
_CRC = struct.Struct("<I")


@dataclass(frozen=True)
class Item:
    """One whole item of a capture; `offset` is where its bytes begin in the file."""

    kind: int
    host_time_us: int
    sample_index: int
    payload: bytes
    offset: int = 0


@dataclass(frozen=True)
class Damage:
    """A stretch of the file that is no whole item: `length` bytes from `offset`, and why."""

    offset: int
    length: int
    why: str


def encode_item(item: Item) -> bytes:
    """Return the bytes of one item, closing zero included. `item.offset` plays no part."""
    body = _HEADER.pack(item.kind, item.host_time_us, item.sample_index) + item.payload
    return cobs.encode(body + _CRC.pack(crc32(body))) + b"\x00"


def scan_items(data: bytes, start: int) -> Iterator[Item | Damage]:
    """Yield every item and every damaged stretch of `data` from byte `start` on, in file order."""
    offset = start
    while offset < len(data):
        end = data.find(b"\x00", offset)
        if end < 0:
            yield Damage(offset, len(data) - offset, CUT_OFF)
            return
        yield _decode_item(data[offset:end], offset)
        offset = end + 1


def _decode_item(coded: bytes, offset: int) -> Item | Damage:
    def damaged(why: str) -> Damage:
        return Damage(offset, len(coded) + 1, why)

    try:
        whole = cobs.decode(coded)
    except cobs.DecodeError:
        return damaged("byte stuffing broken")
    if len(whole) < _HEADER.size + _CRC.size:
        return damaged("too short for an item")
    body, crc = whole[: -_CRC.size], whole[-_CRC.size :]
    if _CRC.unpack(crc)[0] != crc32(body):
        return damaged("checksum differs")
    kind, host_time_us, sample_index = _HEADER.unpack_from(body)
    return Item(kind, host_time_us, sample_index, body[_HEADER.size :], offset)
