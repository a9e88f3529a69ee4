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
        Raises: BegunAnew: the block has another period, or lies behind the newest one though its time does not.
        """
        ahead = (block.index - self.next_index) % _U32
        if self._first_us is not None and self._is_anew(block):
            raise BegunAnew
        if ahead >= _U32 // 2:
            self.repeated_blocks += 1
            return None
        index = self.next_index + ahead
        if self._first_us is None:
            self._first_us = self._last_us = block.time_us
        start_us = self._last_us + (block.time_us - self._last_us) % _U32
        times_s = (start_us - self._first_us + block.period_us * np.arange(block.count)) / 1e6
        if ahead:
            self.gaps.append(Gap(index, ahead, float(times_s[0])))
        self.next_index = index + block.count
        self.time_s = float(times_s[-1])
        self._last_us, self._last_index = start_us, index
        self._period_us = block.period_us
        return index, times_s

    def _is_anew(self, block: wire.SampleBlock) -> bool:
        """Say whether a block's index and time do not go together as they did before."""
        if block.period_us != self._period_us:
            return True
        behind = (self._last_index - block.index) % _U32
        if behind >= _U32 // 2:
            return False  # ahead; a gap, however long: the fixture's clock and its index are both told
        late_us = (self._last_us - block.time_us) % _U32
        return abs((late_us - behind * self._period_us + _U32 // 2) % _U32 - _U32 // 2) > _ASTRAY_US
