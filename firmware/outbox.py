"""What leaves the fixture: marks first, then replies, then sample blocks; one frame at a time.

Main loop only. A frame leaves in pieces, each no more than the line takes now; the rest is offered
again in the next turn. Marks and replies have queues of their own, so that a full queue of sample
blocks never costs one.
"""

from framing import FrameBuilder
from micropython import const
from table import HEADER_SIZE, SIZE_MARK, TYPE_MARK, TYPE_SAMPLE_BLOCK

_REPLIES_MOST = const(4)


class Outbox:
    """board: writable, write, disable_irq, enable_irq. queue: sample blocks. marks: the marks."""

    def __init__(self, board, queue, marks):
        self._board = board
        self._queue = queue
        self._marks = marks
        self._builder = FrameBuilder()
        self._sequence = 0
        self._sent = 0
        self._length = 0
        # (message type, payload, whether it waits until no sample block is left)
        self._replies = []
        self.frames = 0

    def has_room(self):
        """Say whether another reply can be queued. Requests wait in the line until it can."""
        return len(self._replies) < _REPLIES_MOST

    def reply(self, message_type, payload, after_blocks=False):
        """Queue a reply. after_blocks: behind every sample block already taken."""
        self._replies.append((message_type, payload, after_blocks))

    def is_empty(self):
        """Say whether everything has left."""
        return self._sent == self._length and not (self._replies or self._marks.unsent or self._queue.waiting)

    def send(self):
        """Write what the line takes now."""
        board = self._board
        while self._sent < self._length or self._next_frame():
            count = min(board.writable(), self._length - self._sent)
            if count == 0:
                return
            taken = board.write(self._builder.frame, self._sent, count)
            self._sent += taken
            if taken < count:
                return

    def _next_frame(self):
        """Build the next frame; return False where nothing waits."""
        if self._marks.unsent:
            self._take_mark()
        elif self._replies and not (self._replies[0][2] and self._queue.waiting):
            message_type, payload, _ = self._replies.pop(0)
            self._builder.body[HEADER_SIZE : HEADER_SIZE + len(payload)] = payload
            self._close(message_type, len(payload))
        elif self._queue.waiting:
            self._take_block()
        else:
            return False
        return True

    def _take_mark(self):
        interrupts = self._board.disable_irq()
        self._marks.take(self._builder.body)
        self._board.enable_irq(interrupts)
        self._close(TYPE_MARK, SIZE_MARK)

    def _take_block(self):
        interrupts = self._board.disable_irq()
        self._queue.take()
        self._board.enable_irq(interrupts)
        self._close(TYPE_SAMPLE_BLOCK, self._queue.copy_taken(self._builder.body))

    def _close(self, message_type, payload_length):
        self._length = self._builder.close(message_type, self._sequence, payload_length)
        self._sent = 0
        self._sequence = (self._sequence + 1) & 0xFF
        self.frames += 1
