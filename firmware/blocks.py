"""Sample blocks on their way from the interrupt to the main loop: a ring that never waits.

One producer, the timer's interrupt; one consumer, the main loop. Nothing allocates after the start.
Blocks change hands by number and stay in one tuple for good: were they swapped as objects, an
interrupt in the middle of a collection could hide one from it.
"""

import micropython
from micropython import const
from table import BLOCK_SAMPLES, HEADER_SIZE, SIZE_SAMPLE, SIZE_SAMPLE_BLOCK

_COUNT_MOST = const(65535)


@micropython.viper
def copy_bytes(source, count: int, target, at: int):
    """Copy source[:count] to target[at:]. Nobody checks the room. Allocates nothing."""
    src = ptr8(source)
    dst = ptr8(target)
    read = 0
    while read < count:
        dst[at + read] = src[read]
        read += 1


class BlockQueue:
    """Payloads of sample blocks, oldest first. A full queue drops the oldest and counts it.

    filling: the block the interrupt writes into. taken: the block the main loop reads.
    """

    def __init__(self, capacity):
        size = SIZE_SAMPLE_BLOCK + SIZE_SAMPLE * BLOCK_SAMPLES
        self._blocks = tuple(bytearray(size) for _ in range(capacity + 2))
        self._ring = bytearray(range(capacity))
        self._filling = capacity
        self._taken = capacity + 1
        self._oldest = 0
        self.waiting = 0
        self.dropped = 0
        self.filling = self._blocks[self._filling]
        self.taken = self._blocks[self._taken]

    def push(self):
        """Queue the filled block and begin another. Interrupt, or main loop with interrupts off."""
        ring = self._ring
        capacity = len(ring)
        if self.waiting == capacity:
            self._drop_oldest()
        slot = (self._oldest + self.waiting) % capacity
        number = ring[slot]
        ring[slot] = self._filling
        self._filling = number
        self.filling = self._blocks[number]
        self.waiting += 1

    def take(self):
        """Hand the oldest block over as `taken`. Main loop with interrupts off; something must wait."""
        ring = self._ring
        slot = self._oldest
        number = ring[slot]
        ring[slot] = self._taken
        self._taken = number
        self.taken = self._blocks[number]
        self._oldest = (slot + 1) % len(ring)
        self.waiting -= 1

    def copy_taken(self, target):
        """Copy the taken block's payload into a frame's body; return its length."""
        length = SIZE_SAMPLE_BLOCK + SIZE_SAMPLE * self.taken[SIZE_SAMPLE_BLOCK - 1]
        copy_bytes(self.taken, length, target, HEADER_SIZE)
        return length

    def clear(self):
        """Forget what waits, and what was dropped. Main loop with interrupts off."""
        self._oldest = 0
        self.waiting = 0
        self.dropped = 0

    def _drop_oldest(self):
        self._oldest = (self._oldest + 1) % len(self._ring)
        self.waiting -= 1
        if self.dropped < _COUNT_MOST:
            self.dropped += 1
