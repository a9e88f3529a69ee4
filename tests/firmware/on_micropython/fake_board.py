# A board that takes no heap in steady state: what the firmware allocates is then the firmware's own.
import micropython

TICKS_MASK = 0x3FFF_FFFF
HALF = 0x2000_0000


def ticks_add(ticks, delta):
    return (ticks + delta) & TICKS_MASK


def ticks_diff(later, earlier):
    return ((later - earlier + HALF) & TICKS_MASK) - HALF


class FakeBoard:
    """Time moves by `tick` only, which calls the timer's callback with the heap locked."""

    kind = 2
    unique_id = b"FAKEBRD\x01"
    reset_cause = 1
    interpreter = "micropython"
    interpreter_version = "0"

    def __init__(self, ticks_start=0, sent_bytes=200000):
        self.now = ticks_start
        self.ticks_add = ticks_add
        self.ticks_diff = ticks_diff
        self.travel = 1000
        self.pressure = 500
        self.closed_button = False
        self.sent = bytearray(sent_bytes)
        self.sent_count = 0
        self.room = 64
        # The most one write takes, whatever was offered.
        self.takes = 64
        self.incoming = b""
        self.lamp_level = 0
        self.sounder_level = 0
        self.feeds = 0
        self.interval = 0
        self.late_us = 0
        self._due = 0
        self._callback = None

    def ticks_us(self):
        return self.now

    def convert_pair(self, codes):
        codes[0] = self.travel
        codes[1] = self.pressure

    def convert(self, channel):
        return 2048

    def start_timer(self, rate_hz, callback):
        self.interval = 1_000_000 // rate_hz
        self._due = ticks_add(self.now, self.interval)
        self._callback = callback

    def stop_timer(self):
        self._callback = None

    def tick(self):
        """Let one interval pass and run the interrupt, `late_us` after it was due."""
        self.now = ticks_add(self._due, self.late_us)
        self._due = ticks_add(self._due, self.interval)
        micropython.heap_lock()
        try:
            self._callback(None)
        finally:
            micropython.heap_unlock()

    def disable_irq(self):
        return 1

    def enable_irq(self, state):
        pass

    def button_open(self):
        return 0 if self.closed_button else 1

    def foot_switch_open(self):
        return 1

    def lamp(self, level):
        self.lamp_level = level

    def sounder(self, level):
        self.sounder_level = level

    def start_watchdog(self):
        pass

    def feed(self):
        self.feeds += 1

    def read_into(self, data):
        if not self.incoming:
            return 0
        count = min(len(data), len(self.incoming))
        data[:count] = self.incoming[:count]
        self.incoming = self.incoming[count:]
        return count

    def writable(self):
        return self.room

    def write(self, data, start, count):
        if count > self.takes:
            count = self.takes
        at = self.sent_count
        for offset in range(count):
            self.sent[at + offset] = data[start + offset]
        self.sent_count = at + count
        return count

    def take_sent(self):
        data = bytes(self.sent[: self.sent_count])
        self.sent_count = 0
        return data
