"""The program: built from a board that is handed in, run in one loop.

The interrupt samples; this loop sends, answers and feeds the watchdog. It is never in a hurry: a write
may hold it for a second while sampling goes on.
"""

import gc

import pins
import reports
from alarm import Alarm
from blocks import BlockQueue
from commands import Commands, over_pressure_code
from contacts import Contact
from framing import BAD_LENGTH, NOTHING, RECEIVED, UNKNOWN_TYPE, Receiver
from marks import Marks
from micropython import const
from outbox import Outbox
from sampler import Sampler
from storage import CalibrationStore
from table import (
    MARK_SOURCE_BUTTON,
    MARK_SOURCE_FOOT_SWITCH,
    RATE_DEFAULT_HZ,
    REQUEST_SIZES,
    STATUS_EVERY_MS,
    TYPE_STATUS,
)

# Blocks queued while the line takes none: 1 s at 1000 samples/s.
_QUEUE_BLOCKS = const(32)
_COUNT_MOST = const(65535)
# A collection now and then keeps each one short. The interrupt allocates nothing, so none falls in it.
_COLLECT_EVERY_FRAMES = const(256)
_SIGNS_MS = const(300)
# Time for the last bytes to leave the board before it resets.
_LEAVE_MS = const(50)
_SECOND_MS = const(1000)


class App:
    """The whole fixture but its hardware. Main loop only."""

    THERMISTOR_SLOT = 0
    SUPPLY_SLOT = 1

    def __init__(self, board):
        self.board = board
        self.store = CalibrationStore()
        self.queue = BlockQueue(_QUEUE_BLOCKS)
        self.marks = Marks()
        self.alarm = Alarm(board.sounder)
        self.alarm.set_threshold(over_pressure_code(self.store.data))
        self.button = Contact(MARK_SOURCE_BUTTON)
        self.foot_switch = Contact(MARK_SOURCE_FOOT_SWITCH)
        self.sampler = Sampler(
            board,
            self.queue,
            self.alarm,
            self.button,
            self.foot_switch,
            self.marks,
            (pins.CHANNEL_THERMISTOR, pins.CHANNEL_SUPPLY),
        )
        self.outbox = Outbox(board, self.queue, self.marks)
        self.status = reports.StatusReport(self)
        self.table_agreed = False
        self.refused_frames = 0
        self.uptime_s = 0
        self._commands = Commands(self)
        self._receiver = Receiver(REQUEST_SIZES)
        self._input = bytearray(32)
        self._input_at = 0
        self._input_end = 0
        self._ticks = board.ticks_us()
        self._part_us = 0
        self._second_ms = 0
        self._status_ms = 0
        self._signs_ms = 0
        self._leave_ms = 0
        self._pulse = 0
        self._collected_at = 0

    def begin(self):
        """Start sampling, then the watchdog."""
        gc.collect()
        self.sampler.run(RATE_DEFAULT_HZ)
        self.board.start_watchdog()

    def step(self):
        """Do what is due; return without waiting for anything but a write."""
        self._receive()
        self._keep_time()
        self.outbox.send()
        # Only a sampler that lives keeps the watchdog fed: without it there is no over-pressure alarm.
        pulse = self.sampler.pulse
        if pulse != self._pulse:
            self._pulse = pulse
            self.board.feed()
        if self.outbox.frames - self._collected_at >= _COLLECT_EVERY_FRAMES and self.outbox.is_empty():
            self._collected_at = self.outbox.frames
            gc.collect()

    def start_streaming(self, rate_hz):
        """Make and send sample blocks from now on; the lamp is lit meanwhile."""
        self._status_ms = 0
        self.sampler.start(rate_hz)

    def forget_blocks(self):
        """Drop the sample blocks that wait."""
        interrupts = self.board.disable_irq()
        self.queue.clear()
        self.board.enable_irq(interrupts)

    def show_signs(self):
        """Lamp and sounder on for a moment."""
        self._signs_ms = _SIGNS_MS
        self._sound_signs(True)

    def leave(self):
        """Reset once everything has left."""
        self._leave_ms = _LEAVE_MS

    def _receive(self):
        """Answer what has come, while there is room for a reply."""
        while self.outbox.has_room():
            if self._input_at == self._input_end:
                self._input_at = 0
                self._input_end = self.board.read_into(self._input)
                if self._input_end == 0:
                    return
            self._input_at = self._receiver.take(self._input, self._input_at, self._input_end)
            outcome = self._receiver.outcome
            if outcome in (RECEIVED, UNKNOWN_TYPE, BAD_LENGTH):
                self._commands.handle(self._receiver)
            elif outcome != NOTHING and self.refused_frames < _COUNT_MOST:
                self.refused_frames += 1

    def _keep_time(self):
        ticks = self.board.ticks_us()
        self._part_us += self.board.ticks_diff(ticks, self._ticks)
        self._ticks = ticks
        passed_ms = self._part_us // 1000
        if passed_ms == 0:
            return
        self._part_us -= passed_ms * 1000
        self._second_ms += passed_ms
        while self._second_ms >= _SECOND_MS:
            self._second_ms -= _SECOND_MS
            self.uptime_s += 1
        self._send_status(passed_ms)
        self._show_state(passed_ms)
        self._leave(passed_ms)

    def _send_status(self, passed_ms):
        if not self.sampler.streaming:
            return
        self._status_ms += passed_ms
        if self._status_ms >= STATUS_EVERY_MS and self.outbox.has_room():
            self._status_ms = 0
            # Packed anew before the last one has left, that one says what this one says.
            self.outbox.reply(TYPE_STATUS, self.status.pack(None))

    def _show_state(self, passed_ms):
        if self._signs_ms > 0:
            self._signs_ms -= passed_ms
            if self._signs_ms <= 0:
                self._sound_signs(False)
        self.board.lamp(self.sampler.streaming or self._signs_ms > 0)

    def _sound_signs(self, shown):
        interrupts = self.board.disable_irq()
        self.alarm.show_signs(shown)
        self.board.enable_irq(interrupts)

    def _leave(self, passed_ms):
        if self._leave_ms > 0 and self.outbox.is_empty():
            self._leave_ms -= passed_ms
            if self._leave_ms <= 0:
                self.board.reset()


def run(board):
    """Run the fixture for good."""
    app = App(board)
    app.begin()
    while True:
        app.step()
        board.idle()
