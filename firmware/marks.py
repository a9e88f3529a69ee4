"""Marks: a contact closed, or pressure rose over its threshold. Written by the interrupt, sent by the main loop."""

import struct
from array import array

from micropython import const
from table import FORMAT_MARK, HEADER_SIZE, MARKS_KEPT

_CAPACITY = const(8)
_COUNTER_MOST = const(65535)
# Both halves of a sample index: not streaming.
NO_INDEX_HALF = const(0xFFFF)


class Marks:
    """The last marks, in a ring. Nothing allocates in `add`."""

    def __init__(self):
        self._counters = array("H", [0] * _CAPACITY)
        self._sources = bytearray(_CAPACITY)
        self._index_low = array("H", [0] * _CAPACITY)
        self._index_high = array("H", [0] * _CAPACITY)
        self._counter = 0
        self._newest = _CAPACITY - 1
        self.unsent = 0
        self.dropped = 0
        # Nothing is said before a session has begun.
        self.session = False

    def add(self, source, index_low, index_high):
        """Record a mark; a full ring forgets the oldest unsent one and counts it. Interrupt."""
        slot = (self._newest + 1) % _CAPACITY
        counter = self._counter % _COUNTER_MOST + 1
        self._counters[slot] = counter
        self._sources[slot] = source
        self._index_low[slot] = index_low
        self._index_high[slot] = index_high
        self._newest = slot
        self._counter = counter
        if self.session:
            if self.unsent < _CAPACITY:
                self.unsent += 1
            elif self.dropped < _COUNTER_MOST:
                self.dropped += 1

    def take(self, body):
        """Pack the oldest unsent mark into a frame's body. Main loop with interrupts off; one must wait."""
        slot = (self._newest + 1 - self.unsent) % _CAPACITY
        self.unsent -= 1
        struct.pack_into(
            FORMAT_MARK,
            body,
            HEADER_SIZE,
            self._counters[slot],
            self._sources[slot],
            self._index_low[slot],
            self._index_high[slot],
        )

    def copy_kept(self, fields):
        """Put the last marks, newest first, into one flat list of their fields. Main loop."""
        for back in range(MARKS_KEPT):
            slot = (self._newest - back) % _CAPACITY
            at = 4 * back
            fields[at] = self._counters[slot]
            fields[at + 1] = self._sources[slot]
            fields[at + 2] = self._index_low[slot]
            fields[at + 3] = self._index_high[slot]
