"""Sample blocks in bulk: bodies of one length, laid end to end, are one array with a row a block."""

from __future__ import annotations

import struct

import numpy as np

from .messages import SampleBlock
from .table import HEADER_SIZE, TABLE

_BLOCK = TABLE.messages["sample_block"]
_COUNT_AT = HEADER_SIZE + _BLOCK.head_size - 1
_NEXT = bytes((number + 1) % 256 for number in range(256))

HEAD = np.dtype(
    [
        ("type", "u1"),
        ("sequence", "u1"),
        ("index", "<u4"),
        ("time_us", "<u4"),
        ("period_us", "<u2"),
        ("count", "u1"),
    ]
)


class BlockLayout:
    """The bodies of sample blocks that have `count` samples."""

    def __init__(self, count: int) -> None:
        self.row = np.dtype([("head", HEAD), ("codes", "<u2", (count, 2)), ("crc", "<u4")])
        self.size = self.row.itemsize
        self._count = count
        self._head = struct.Struct(f"<xBIIHx{self.size - HEAD.itemsize}x")

    def join(self, bodies: list[bytes]) -> bytes:
        """Return sound bodies of this size end to end; no bytes unless all of them are sample blocks."""
        joined = b"".join(bodies)
        types, counts = joined[:: self.size], joined[_COUNT_AT :: self.size]
        are_blocks = types == bytes([_BLOCK.type]) * len(bodies) and counts == bytes([self._count]) * len(bodies)
        return joined if are_blocks else b""

    def in_order(self, joined: bytes) -> bool:
        """Say whether the sequence numbers of joined bodies follow one another."""
        sequences = joined[1 :: self.size]
        return sequences[1:] == sequences[:-1].translate(_NEXT)

    def messages(self, joined: bytes, raws: list[bytes]) -> list[SampleBlock]:
        """Return the messages in joined bodies, given the bytes each came in. Their codes are views of one array."""
        heads = self._head.iter_unpack(joined)
        codes = np.frombuffer(joined, self.row)["codes"]
        return [
            SampleBlock(index, time_us, period_us, pairs, sequence=sequence, raw=raw)
            # Not strict: that would ask the array for one row more, which it refuses at length each time.
            for (sequence, index, time_us, period_us), pairs, raw in zip(heads, codes, raws, strict=False)
        ]


BLOCK_LAYOUTS = {layout.size: layout for layout in map(BlockLayout, range(1, TABLE.limit("block_samples") + 1))}
"""By the size of a body."""
