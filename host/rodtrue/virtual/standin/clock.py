"""Device time, the one timer's interrupt, and the watchdog of the stand-in board.

Time is the parent's to give: conversions come in blocks, each with the time up to which the device may
run. One thread plays board and program, so an interrupt can only come between the program's calls of the
stand-in, not between any two of its instructions: a race inside plain code does not show here. To come
as near as it can, every call costs about what it costs on the board, time moves in the middle of the
program's turn, and whatever falls due fires there. In the interrupt the heap is locked as on the board.

While the parent gives no time nothing costs anything: requests are answered with time standing still.
"""

import struct

import micropython
from standin.channel import CONVERSION_SIZE, GRANT_HEAD

TICKS_MASK = 0x3FFF_FFFF
WATCHDOG = 3
_MOST_ROWS = 256
_MOST_CALLS_WITHOUT_TIME = 10_000


class Clock:
    """channel: to the parent. switches: the contacts at power-up, as bits.

    console: writes text of the board's own to the line.
    """

    def __init__(self, channel, ticks_start_us, switches):
        self._channel = channel
        self._ticks_start_us = ticks_start_us
        self.now_us = 0
        self.console = None
        self.on_input = None
        self.on_window = None
        self.scratch = 0
        self._until_us = 0
        self._more = False
        self._asked = False
        self._number = 0
        self._inputs = 0
        self._calls_without_time = 0
        # Conversions at hand: the row of the next tick, and how many rows there are. One row more keeps
        # what the pins show between blocks.
        self._rows = bytearray(CONVERSION_SIZE * (_MOST_ROWS + 1))
        self._switches = bytearray(_MOST_ROWS + 1)
        self._row = 0
        self._row_count = 0
        self._shown_row = _MOST_ROWS
        self._switches[_MOST_ROWS] = switches
        self._has_row = False
        self.in_interrupt = False
        self._interrupts_off = False
        self._timer = None
        self._callback = None
        self._hard = False
        self._interval_us = 0
        self._due_us = 0
        self._bite_us = -1
        self._watchdog_us = 0

    # What the stand-in's parts use.

    def ticks_us(self):
        return (self._ticks_start_us + self.now_us) & TICKS_MASK

    def ticks_ms(self):
        return ((self._ticks_start_us + self.now_us) // 1000) & TICKS_MASK

    def conversion(self, channel):
        """Return the code the converter holds now for a channel."""
        if not self._has_row:
            self._get_first_row()
        at = CONVERSION_SIZE * self._shown_row + 2 * channel
        return self._rows[at] | self._rows[at + 1] << 8

    def switches(self):
        """Return the contacts as bits: 1 button closed, 2 foot switch closed."""
        return self._switches[self._shown_row]

    def set_timer(self, timer, interval_us, callback, hard):
        """Call `callback` every interval_us from now on; interval 0 for never."""
        self._timer = timer
        self._callback = callback
        self._hard = hard
        self._interval_us = interval_us
        self._due_us = self.now_us + interval_us
        # Rows of another rhythm are of no use.
        self._keep_shown_row()
        self._row_count = 0
        self._row = 0
        if self._asked:
            self._asked = False
            self._ask()

    def arm_watchdog(self, timeout_us):
        self._watchdog_us = timeout_us
        self._bite_us = self.now_us + timeout_us

    def feed_watchdog(self):
        self._bite_us = self.now_us + self._watchdog_us

    def disable_interrupts(self):
        was = self._interrupts_off
        self._interrupts_off = True
        return 0 if was else 1

    def enable_interrupts(self, state):
        self._interrupts_off = not state
        self.spend(0)

    def spend(self, cost_us):
        """Let a call's cost pass, as far as time has been granted; what falls due fires."""
        if self.in_interrupt:
            self.now_us += cost_us
            return
        if self._row >= self._row_count and not self._take_next_grant():
            return
        self.now_us += cost_us
        if self.now_us >= self._due_us and not self._interrupts_off:
            self._fire()
        if 0 <= self._bite_us <= self.now_us:
            self._bite()

    def idle(self):
        """Sleep until something happens: a tick, or bytes from the line."""
        self._calls_without_time = 0
        if self._interrupts_off:
            self.broken_rule("machine.idle was called with interrupts off: the board would sleep for good")
        if self._interval_us and self._row < self._row_count:
            if self._due_us > self.now_us:
                self.now_us = self._due_us
            self._fire()
        else:
            self._pass_granted_time()
            if self._wait_for_grant() and not self._interval_us:
                self._pass_granted_time()
        if 0 <= self._bite_us <= self.now_us:
            self._bite()

    def advance_to(self, target_us):
        """Let time pass up to target_us, firing what falls due; bytes from the line wait meanwhile."""
        while self.now_us < target_us:
            if self._interval_us and self._row < self._row_count and self._due_us <= target_us:
                if self._due_us > self.now_us:
                    self.now_us = self._due_us
                self._fire()
            elif self._until_us >= target_us or (self._interval_us and self._row < self._row_count):
                self.now_us = target_us
            else:
                self._pass_granted_time()
                while not self._wait_for_grant():
                    pass
            if 0 <= self._bite_us <= self.now_us:
                self._bite()

    def take_messages(self):
        """Take what the parent has sent, without waiting and without asking for time."""
        while self._take(self._channel.receive(False)):
            pass

    def broken_rule(self, text):
        """End the child with a sentence, from the interrupt too."""
        if self.in_interrupt and self._hard:
            micropython.heap_unlock()
        self._channel.broken_rule(text)

    # Time from the parent.

    def _pass_granted_time(self):
        if self._until_us > self.now_us:
            self.now_us = self._until_us

    def _ask(self):
        if not self._asked:
            self._asked = True
            self._number = (self._number + 1) & 0xFF
            next_us = self._due_us if self._interval_us else self.now_us
            self._channel.want(self._number, next_us, self._interval_us)

    def _wait_for_grant(self):
        """Ask for time and wait; return False where bytes from the line came first."""
        self._ask()
        self._channel.asleep(self._number, self._inputs)
        kind = 0
        while self._asked:
            kind = self._channel.receive(True)
            self._take(kind)
            if kind == 0x49:
                return False
        return True

    def _take_next_grant(self):
        """Wait for a grant known to follow; say whether ticks are due.

        Else time is taken in `idle` and sleeps only, or a request answered with time standing still would
        cost more or less, as the parent happens to be quicker or slower. A program that never sleeps gets
        its time in the end.
        """
        if not self._interval_us:
            return False
        self._calls_without_time += 1
        if not self._more and self._calls_without_time < _MOST_CALLS_WITHOUT_TIME:
            return False
        while not self._wait_for_grant():
            pass
        return self._row < self._row_count

    def _take(self, kind):
        payload = self._channel.payload
        if kind == 0x43:
            number, until_us, more, count = struct.unpack_from("<BQBH", payload, 0)
            if number != self._number:
                return kind
            self._asked = False
            self._until_us = until_us
            self._more = more != 0
            if count:
                self._has_row = True
                self._keep_shown_row()
                end = GRANT_HEAD + CONVERSION_SIZE * count
                self._rows[: CONVERSION_SIZE * count] = payload[GRANT_HEAD:end]
                self._switches[:count] = payload[end : end + count]
                self._row = 0
                self._row_count = count
            else:
                self._keep_shown_row()
                self._switches[_MOST_ROWS] = payload[GRANT_HEAD]
        elif kind == 0x46:
            self._has_row = True
            self._rows[CONVERSION_SIZE * _MOST_ROWS :] = payload[:CONVERSION_SIZE]
            self._switches[_MOST_ROWS] = payload[CONVERSION_SIZE]
        elif kind == 0x49:
            self._inputs = (self._inputs + 1) & 0xFF
            self.on_input(payload, self._channel.length)
        elif kind == 0x4B:
            self.on_window(struct.unpack_from("<I", payload, 0)[0])
        return kind

    def _get_first_row(self):
        self._channel.want_first()
        while not self._has_row:
            self._take(self._channel.receive(True))

    def _keep_shown_row(self):
        at = CONVERSION_SIZE * self._shown_row
        self._rows[CONVERSION_SIZE * _MOST_ROWS :] = self._rows[at : at + CONVERSION_SIZE]
        self._switches[_MOST_ROWS] = self._switches[self._shown_row]
        self._shown_row = _MOST_ROWS

    # The interrupt and the watchdog.

    def _fire(self):
        """Run the timer's callback, and again as long as ticks are due and their conversions at hand."""
        while self._row < self._row_count and self._due_us <= self.now_us:
            self._shown_row = self._row
            self._row += 1
            self._due_us += self._interval_us
            if self._callback is None:
                continue
            self.in_interrupt = True
            failure = None
            if self._hard:
                micropython.heap_lock()
            try:
                self._callback(self._timer)
            except Exception as error:
                failure = error
            if self._hard:
                micropython.heap_unlock()
            self.in_interrupt = False
            if failure is not None:
                # As the board does: says so, and never calls again.
                self._callback = None
                self.console("Uncaught exception in IRQ callback handler\r\n", failure)

    def _bite(self):
        self._channel.reset(WATCHDOG, self.scratch)
