"""A line that damages what it carries, between a port and its client; everything is drawn from a seed."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np

from rodtrue.link.client import Line

PACKET = 64
"""Bytes that are lost, repeated, moved or late together: a USB packet."""


@dataclass(frozen=True)
class Faults:
    """bit_errors: chance of each bit, both ways. The others: chance of each packet from the fixture.

    late_reads: how many reads a delayed packet, and all behind it, waits.
    """

    bit_errors: float = 0.0
    lost: float = 0.0
    repeated: float = 0.0
    reordered: float = 0.0
    delayed: float = 0.0
    late_reads: int = 20


class FaultyLine:
    """line: the sound one. Faults begin with `begin`; damaged bits and packets are counted."""

    def __init__(self, line: Line, faults: Faults, seed: int) -> None:
        self.name = line.name
        self._line = line
        self._faults = faults
        self._rng = np.random.default_rng((seed, 7411))
        self._waiting: deque[bytes] = deque()
        self._late = 0
        self.faulty = True
        self.damaged_bits = 0
        self.touched_packets = 0

    def write(self, data: bytes) -> None:
        self._line.write(self._flipped(data) if self.faulty else data)

    def read(self, wait_s: float = 0.0) -> bytes:
        data = self._line.read(wait_s)
        for begin in range(0, len(data), PACKET):
            self._take(data[begin : begin + PACKET])
        if self._late:
            self._late -= 1
            return b""
        given = b"".join(self._waiting)
        self._waiting.clear()
        return given

    def _take(self, packet: bytes) -> None:
        if not self.faulty:
            self._waiting.append(packet)
            return
        faults = self._faults
        lost, repeated, reordered, delayed = self._rng.random(4) < (
            faults.lost, faults.repeated, faults.reordered, faults.delayed
        )  # fmt: skip
        self.touched_packets += int(lost | repeated | reordered | delayed)
        packet = self._flipped(packet)
        if lost:
            return
        if delayed:
            self._late = faults.late_reads
        if reordered and self._waiting:
            self._waiting.insert(len(self._waiting) - 1, packet)
        else:
            self._waiting.append(packet)
        if repeated:
            self._waiting.append(packet)

    def _flipped(self, data: bytes) -> bytes:
        count = int(self._rng.binomial(8 * len(data), self._faults.bit_errors))
        if not count:
            return data
        self.damaged_bits += count
        damaged = bytearray(data)
        for bit in self._rng.integers(0, 8 * len(data), count).tolist():
            damaged[bit // 8] ^= 1 << bit % 8
        return bytes(damaged)
