"""Whole logs of sample blocks to arrays in one pass: split, C COBS, one CRC test a frame, one array."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from .blocks import BLOCK_LAYOUTS, HEAD
from .framing import BODY_LIMIT, open_frames
from .salvage import frames_at_end
from .table import TABLE

_KNOWN = TABLE.by_type("from_fixture")


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
    rows = list(_rows(_sound_bodies(data)))
    if len(rows) == 1:
        return BlockLog(rows[0]["head"], rows[0]["codes"].reshape(-1, 2))
    heads = [np.empty(0, HEAD), *(some["head"] for some in rows)]
    codes = [np.empty((0, 2), np.uint16), *(some["codes"].reshape(-1, 2) for some in rows)]
    return BlockLog(np.concatenate(heads), np.concatenate(codes))


def _rows(bodies: list[bytes]) -> Iterator[NDArray[np.void]]:
    """Yield the sample blocks among the bodies, those of one length that follow each other together."""
    for size, together in groupby(bodies, len):
        layout = BLOCK_LAYOUTS.get(size)
        if layout is not None:
            stretch = list(together)
            joined = layout.join(stretch) or b"".join(body for body in stretch if layout.join([body]))
            yield np.frombuffer(joined, layout.row)


def _sound_bodies(data: bytes) -> list[bytes]:
    """Return the bodies of the sound frames that each run between zeros is or ends in."""
    runs = data.split(b"\0")[:-1]
    bodies = open_frames(runs)
    sizes = set(map(len, bodies))
    if 0 not in sizes and max(sizes, default=0) <= BODY_LIMIT:
        return bodies
    saved: list[bytes] = []
    for run, body in zip(runs, bodies, strict=True):
        if 0 < len(body) <= BODY_LIMIT:
            saved.append(body)
        else:
            saved += [found for _, _, found in frames_at_end(run, _KNOWN)]
    return saved
