"""Frames: COBS(type, sequence, payload, CRC-32) and a zero byte. COBS and CRC are in C.

CRC-32/ISO-HDLC, little-endian, over type, sequence and payload.
"""

from __future__ import annotations

from typing import Literal
from zlib import crc32

from cobs.cobs import DecodeError
from cobs.cobs import decode as cobs_decode
from cobs.cobs import encode as cobs_encode

from .table import CRC_SIZE, HEADER_SIZE, TABLE

BODY_LIMIT = TABLE.limit("body_bytes")
"""Longest body: type, sequence, payload and CRC."""
ENCODED_LIMIT = BODY_LIMIT + 1 + BODY_LIMIT // 254
"""Longest frame without its closing zero."""
LEAST_BODY = HEADER_SIZE + CRC_SIZE
CRC_RESIDUE = 0x2144DF1C
"""CRC over any body and its own CRC (a property of CRC-32/ISO-HDLC)."""

Damage = Literal["cobs", "crc", "short", "oversize"]


def frame(message_type: int, sequence: int, payload: bytes) -> bytes:
    """Return the frame of a payload, closing zero included.

    Raises: ValueError: the payload is too long, or type or sequence is no byte.
    """
    if len(payload) > BODY_LIMIT - LEAST_BODY:
        raise ValueError(f"payload has {len(payload)} bytes; a frame holds {BODY_LIMIT - LEAST_BODY}")
    for name, value in (("message_type", message_type), ("sequence", sequence)):
        if not 0 <= value <= 255:
            raise ValueError(f"{name}: {value} is not 0 to 255")
    body = bytes((message_type, sequence)) + payload
    return bytes(cobs_encode(body + crc32(body).to_bytes(CRC_SIZE, "little"))) + b"\0"


def open_frames(raws: list[bytes]) -> list[bytes]:
    """Return the body of each frame without closing zero whose COBS and CRC hold, and no bytes for any other.

    Of any length: what is too short or too long for a frame is for `open_frame` to tell.
    """
    try:
        bodies = list(map(cobs_decode, raws))
    except DecodeError:
        bodies = list(map(_decoded, raws))
    checks = list(map(crc32, bodies))
    if checks.count(CRC_RESIDUE) == len(checks):
        return bodies
    return [body if check == CRC_RESIDUE else b"" for body, check in zip(bodies, checks, strict=True)]


def _decoded(raw: bytes) -> bytes:
    try:
        return bytes(cobs_decode(raw))
    except DecodeError:
        return b""


def open_frame(raw: bytes) -> bytes | Damage:
    """Return the body (type, sequence, payload, CRC) of a frame without closing zero, or what ails it."""
    if len(raw) > ENCODED_LIMIT:
        return "oversize"
    try:
        body: bytes = cobs_decode(raw)
    except DecodeError:
        return "cobs"
    if len(body) < LEAST_BODY:
        return "short"
    if len(body) > BODY_LIMIT:
        return "oversize"
    return body if crc32(body) == CRC_RESIDUE else "crc"
