"""Whole logs of sample blocks to arrays in one pass: split, C COBS, one CRC test a frame, one array."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import chain, groupby
from zlib import crc32

import numpy as np
from cobs.cobs import DecodeError
from cobs.cobs import decode as cobs_decode
from numpy.typing import NDArray

from .framing import BODY_LIMIT, CRC_RESIDUE
from .salvage import frames_at_end
from .table import CRC_SIZE, HEADER_SIZE, TABLE

_KNOWN = TABLE.by_type("from_fixture")
_BLOCK = TABLE.messages["sample_block"]
_HEAD = np.dtype(
    [
        ("type", "u1"),
        ("sequence", "u1"),
        ("index", "<u4"),
        ("time_us", "<u4"),
        ("period_us", "<u2"),
        ("count", "u1"),
    ]
)
_SAMPLE_SIZE = 4
_NO_SAMPLES = HEADER_SIZE + _BLOCK.head_size + CRC_SIZE
_COUNTS = {_NO_SAMPLES + n * _SAMPLE_SIZE: n for n in range(1, TABLE.limit("block_samples") + 1)}
"""Samples of a block by the size of its body."""


@dataclass(frozen=True)
class BlockLog:
    """All sample blocks of a log, in order of arrival, as received.

    heads: one row a block: type, sequence, index, time_us, period_us, count.
    codes: uint16, shape (samples, 2): travel_code, pressure_code.
    """

    heads: NDArray[np.void]
    codes: NDArray[np.uint16]

    @property
    def index(self) -> NDArray[np.uint32]:
        """Each sample's index, shape (samples,), modulo 2^32."""
        return self._spread(self.heads["index"], np.ones(len(self.heads), np.uint32))

    @property
    def time_us(self) -> NDArray[np.uint32]:
        """Device time at the start of each sample's period in us, shape (samples,), modulo 2^32."""
        return self._spread(self.heads["time_us"], self.heads["period_us"].astype(np.uint32))

    def _spread(self, first: NDArray[np.uint32], step: NDArray[np.uint32]) -> NDArray[np.uint32]:
        """Return first + k x step for sample k of each block."""
        counts = self.heads["count"].astype(np.intp)
        begins = (np.cumsum(counts) - counts).astype(np.uint32)
        place = np.arange(len(self.codes), dtype=np.uint32)
        return np.repeat(first - begins * step, counts) + place * np.repeat(step, counts)


def decode_log(data: bytes) -> BlockLog:
    """Return all sample blocks that a `Decoder` fed with these bytes would return.

    Bytes after the last zero are an unfinished frame and left out.
    """
    parts = [
        _blocks(b"".join(bodies), _COUNTS[size])
        for size, bodies in groupby(_sound_bodies(data), len)
        if size in _COUNTS
    ]
    if len(parts) == 1:
        return parts[0]
    heads = [np.empty(0, _HEAD), *(part.heads for part in parts)]
    codes = [np.empty((0, 2), np.uint16), *(part.codes for part in parts)]
    return BlockLog(np.concatenate(heads), np.concatenate(codes))


def _blocks(bodies: bytes, count: int) -> BlockLog:
    """Return the sample blocks among joined bodies that all have the size of a block of `count`."""
    rows = np.frombuffer(bodies, _row(count))
    is_block = (rows["head"]["type"] == _BLOCK.type) & (rows["head"]["count"] == count)
    if not is_block.all():
        rows = rows[is_block]
    return BlockLog(rows["head"], rows["codes"].reshape(-1, 2))


@cache
def _row(count: int) -> np.dtype[np.void]:
    return np.dtype([("head", _HEAD), ("codes", "<u2", (count, 2)), ("crc", "<u4")])


def _sound_bodies(data: bytes) -> list[bytes]:
    """Return the bodies of the sound frames that each run between zeros is or ends in."""
    runs = data.split(b"\0")[:-1]
    bodies = []
    for run in runs:
        try:
            bodies.append(cobs_decode(run))
        except DecodeError:
            bodies.append(b"")
    checks = list(map(crc32, bodies))
    if checks.count(CRC_RESIDUE) < len(checks) or max(map(len, bodies), default=0) > BODY_LIMIT:
        whole = [[body] for body in bodies]
        for place, check in enumerate(checks):
            if check != CRC_RESIDUE or len(bodies[place]) > BODY_LIMIT:
                whole[place] = [body for _, _, body in frames_at_end(runs[place], _KNOWN)]
        bodies = list(chain.from_iterable(whole))
    return bodies
