"""Placing sample blocks in time: device time unwrapped, gaps kept as gaps, repeats left out."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

import rodtrue_protocol as wire

_U32 = 1 << 32
_ASTRAY_US = 1 << 20
"""How far a block's time may lie from where its index puts it: no clock is a second off its own schedule within a
delay of a few blocks."""


class BegunAnew(Exception):
    """The samples have begun anew: the fixture was reset, or another program started it."""


@dataclass(frozen=True)
class Gap:
    """`missing` samples are known to be missing before sample `index`, which was taken at `time_s`."""

    index: int
    missing: int
    time_s: float


@dataclass
class Timeline:
    """Where the next block belongs.

    next_index: index of the next sample expected, not wrapped. time_s: time of the newest sample in s
    from the first one, or None before it. gaps: in order. repeated_blocks: blocks that came twice or
    out of order; their samples are left out.
    """

    next_index: int = 0
    time_s: float | None = None
    gaps: list[Gap] = field(default_factory=list)
    repeated_blocks: int = 0
    _first_us: int | None = None
    _last_us: int = 0
    _last_index: int = 0
    _period_us: int = 0

    def add(self, block: wire.SampleBlock) -> tuple[int, NDArray[np.float64]] | None:
        """Take the next block as received.

        Returns: its first sample's index, not wrapped, and the times of its samples in s, shape
        (block.count,), from the first sample of all; None for a repeated block.
        Raises: BegunAnew: the block has another period, its time is not where its index puts it, or it begins before
        the newest sample has.
        """
        index, start_us = self._place(block)
        missing = index - self.next_index
        if missing < 0:
            self.repeated_blocks += 1
            return None
        if self._first_us is None:
            self._first_us = start_us
        times_s = (start_us - self._first_us + block.period_us * np.arange(block.count)) / 1e6
        if self.time_s is not None and times_s[0] <= self.time_s:
            raise BegunAnew
        if missing:
            self.gaps.append(Gap(index, missing, float(times_s[0])))
        self.next_index = index + block.count
        self.time_s = float(times_s[-1])
        self._last_us, self._last_index = start_us, index
        self._period_us = block.period_us
        return index, times_s

    def _place(self, block: wire.SampleBlock) -> tuple[int, int]:
        """Return a block's index and time in us, neither wrapped.

        Both are told modulo 2^32, by one clock: the index says how often the time has gone round since the newest.
        """
        if self._first_us is None:
            return self.next_index + _nearest(block.index - self.next_index), block.time_us
        since = _nearest(block.index - self._last_index)
        due_us = self._last_us + since * self._period_us
        late_us = _nearest(block.time_us - due_us)
        if block.period_us != self._period_us or abs(late_us) > _ASTRAY_US:
            raise BegunAnew
        return self._last_index + since, due_us + late_us


def _nearest(difference: int) -> int:
    """Return a difference that is known modulo 2^32 as the nearest one to 0."""
    return (difference + _U32 // 2) % _U32 - _U32 // 2
