"""The sampling path: everything that happens in the timer's interrupt.

The timer calls `on_tick` four times in a sample's period. Each call converts both channels and does one
share of the sample's other work, so that none outlasts its interval at 1000 samples/s.

Nothing here allocates, and no stored integer passes 2^30 - 1 (a longer one would allocate on a 32-bit
port): sample index and device time are kept as two 16-bit halves. Device ticks wrap at 2^30 us; time
goes on from their differences. The sampler runs from the start to the end of power, so that the alarm
and the contacts work without a host; `start` and `stop` only say whether blocks are made.
"""

from array import array

from marks import NO_INDEX_HALF
from micropython import const
from table import (
    BLOCK_HOLD_MS,
    BLOCK_SAMPLES,
    CONVERSIONS,
    MARK_SOURCE_OVER_PRESSURE,
    MARK_SOURCE_OVER_TRAVEL,
    SIZE_SAMPLE,
    SIZE_SAMPLE_BLOCK,
)

NOT_MEASURED = const(0xFFFF)
_HALF = const(0xFFFF)
_COUNT_MOST = const(65535)
_COUNT_AT = const(10)
# One slow channel is read in every 32nd sample, in turn.
_SLOW_EVERY = const(32)


class Sampler:
    """Takes samples with what the board hands in; fills blocks, watches alarm and contacts.

    board: convert_pair, convert, ticks_us, ticks_diff, ticks_add, start_timer, stop_timer, disable_irq,
    enable_irq, button_open, foot_switch_open. slow_channels: converter channels beside the two.
    """

    def __init__(self, board, queue, alarm, button, foot_switch, marks, slow_channels):
        self._board = board
        self._queue = queue
        self._alarm = alarm
        self._button = button
        self._foot_switch = foot_switch
        self._marks = marks
        self._slow_channels = slow_channels
        self._ticks_us = board.ticks_us
        self._ticks_diff = board.ticks_diff
        self._ticks_add = board.ticks_add
        self._convert_pair = board.convert_pair
        self._convert = board.convert
        self._button_open = board.button_open
        self._foot_switch_open = board.foot_switch_open
        # A bound method is an object: made once, here.
        self._callback = self.on_tick

        self._codes = array("H", (0, 0))
        self.slow_codes = array("H", [NOT_MEASURED] * len(slow_channels))
        self.travel_code = NOT_MEASURED
        self.pressure_code = NOT_MEASURED
        self.streaming = False
        self.period_us = 0
        self.index_low = NO_INDEX_HALF
        self.index_high = NO_INDEX_HALF
        self.lost_samples = 0
        self.overruns = 0
        # How far sample periods began from their schedule, and the longest interrupt, since the last `run`.
        self.early_us = 0
        self.late_us = 0
        self.interrupt_us = 0
        # Goes round, so that the main loop sees that sampling lives.
        self.pulse = 0

        self.interval_us = 0
        self._phase = 0
        self._first = True
        self._due = 0
        self._late = False
        self._travel = 0
        self._pressure = 0
        self._filled = 0
        self._block_most = 1
        self._slow_count = 0
        self._slow_next = 0
        ticks = self._ticks_us()
        self._time_ticks = ticks
        self.time_low = ticks & _HALF
        self.time_high = ticks >> 16

    def run(self, rate_hz):
        """Sample at this rate from now on; the period is 4 x floor(250000 / rate_hz) us. Main loop."""
        self._board.stop_timer()
        self.interval_us = 250_000 // rate_hz
        self.period_us = CONVERSIONS * self.interval_us
        self._block_most = min(BLOCK_SAMPLES, max(1, BLOCK_HOLD_MS * 1000 // self.period_us))
        self._phase = 0
        self._first = True
        self._late = False
        self.early_us = 0
        self.late_us = 0
        self.interrupt_us = 0
        self._board.start_timer(CONVERSIONS * rate_hz, self._callback)

    def halt(self):
        """Leave the converter alone until the next `run`. Main loop."""
        self._board.stop_timer()

    def start(self, rate_hz):
        """Make blocks from sample index 0 on. Main loop."""
        self.run(rate_hz)
        interrupts = self._board.disable_irq()
        self._queue.clear()
        self._filled = 0
        self.lost_samples = 0
        self.overruns = 0
        self.index_low = 0
        self.index_high = 0
        self._alarm.begin()
        self.streaming = True
        self._board.enable_irq(interrupts)

    def stop(self):
        """Make no more blocks; queue the unfilled one. Main loop."""
        interrupts = self._board.disable_irq()
        self.streaming = False
        if self._filled:
            self._queue.push()
            self._filled = 0
        self.index_low = NO_INDEX_HALF
        self.index_high = NO_INDEX_HALF
        self._board.enable_irq(interrupts)

    def time_now(self):
        """Return the device time in us modulo 2^32 as (low, high) halves. Main loop."""
        interrupts = self._board.disable_irq()
        low = self.time_low + self._ticks_diff(self._ticks_us(), self._time_ticks)
        high = self.time_high
        self._board.enable_irq(interrupts)
        # Negative between the sample that is due and the interrupt that is late: the shift keeps the sign.
        return low & _HALF, (high + (low >> 16)) & _HALF

    def on_tick(self, _timer):
        """Convert both channels and do this quarter's share of the rest. Interrupt: allocates nothing."""
        now = self._ticks_us()
        codes = self._codes
        self._convert_pair(codes)
        if self._first:
            self._first = False
            self._due = now
        lateness_us = self._ticks_diff(now, self._due)
        late = lateness_us > self.interval_us
        phase = self._phase
        if phase == 0:
            if lateness_us > self.late_us:
                self.late_us = lateness_us
            elif -lateness_us > self.early_us:
                self.early_us = -lateness_us
            self._travel = codes[0]
            self._pressure = codes[1]
            self._late = late
            self._set_time()
            self._phase = 1
        else:
            self._travel += codes[0]
            self._pressure += codes[1]
            if late:
                self._late = True
            if phase == 1:
                self._button.on_sample(
                    not self._button_open(), self.period_us, self.index_low, self.index_high, self._marks
                )
                self._phase = 2
            elif phase == 2:
                self._foot_switch.on_sample(
                    not self._foot_switch_open(), self.period_us, self.index_low, self.index_high, self._marks
                )
                self._read_slow_channel()
                self._phase = 3
            else:
                self._end_sample()
                self._phase = 0
        due = self._ticks_add(self._due, self.interval_us)
        self._due = due
        ended = self._ticks_us()
        taken_us = self._ticks_diff(ended, now)
        if taken_us > self.interrupt_us:
            self.interrupt_us = taken_us
        if self._ticks_diff(ended, due) >= 0 and self.overruns < _COUNT_MOST:
            self.overruns += 1

    def _set_time(self):
        """Carry the time on to the sample that begins: ticks wrap, their difference does not."""
        low = self.time_low + self._ticks_diff(self._due, self._time_ticks)
        self._time_ticks = self._due
        self.time_low = low & _HALF
        self.time_high = (self.time_high + (low >> 16)) & _HALF

    def _end_sample(self):
        # code = 4 x the sum of four 12-bit readings: 0 to 65520.
        travel = self._travel << 2
        pressure = self._pressure << 2
        self.travel_code = travel
        self.pressure_code = pressure
        self.pulse = (self.pulse + 1) & _HALF
        if self._alarm.on_pressure(pressure, self.period_us):
            self._marks.add(MARK_SOURCE_OVER_PRESSURE, self.index_low, self.index_high)
        if self._alarm.on_travel(travel, self.period_us):
            self._marks.add(MARK_SOURCE_OVER_TRAVEL, self.index_low, self.index_high)
        if not self.streaming:
            return
        if self._late:
            self._lose_sample()
        else:
            self._keep_sample(travel, pressure)
        if self.index_low < _HALF:
            self.index_low += 1
        else:
            self.index_low = 0
            self.index_high = (self.index_high + 1) & _HALF

    def _keep_sample(self, travel, pressure):
        block = self._queue.filling
        filled = self._filled
        if filled == 0:
            self._begin_block(block)
        at = SIZE_SAMPLE_BLOCK + SIZE_SAMPLE * filled
        block[at] = travel & 0xFF
        block[at + 1] = travel >> 8
        block[at + 2] = pressure & 0xFF
        block[at + 3] = pressure >> 8
        filled += 1
        block[_COUNT_AT] = filled
        if filled == self._block_most:
            self._queue.push()
            filled = 0
        self._filled = filled

    def _begin_block(self, block):
        block[0] = self.index_low & 0xFF
        block[1] = self.index_low >> 8
        block[2] = self.index_high & 0xFF
        block[3] = self.index_high >> 8
        block[4] = self.time_low & 0xFF
        block[5] = self.time_low >> 8
        block[6] = self.time_high & 0xFF
        block[7] = self.time_high >> 8
        block[8] = self.period_us & 0xFF
        block[9] = self.period_us >> 8

    def _lose_sample(self):
        """Count a sample whose conversions came too late; what follows begins a new block."""
        if self.lost_samples < _COUNT_MOST:
            self.lost_samples += 1
        if self._filled:
            self._queue.push()
            self._filled = 0

    def _read_slow_channel(self):
        count = self._slow_count + 1
        if count < _SLOW_EVERY:
            self._slow_count = count
            return
        self._slow_count = 0
        slot = self._slow_next
        code = self._convert(self._slow_channels[slot])
        self.slow_codes[slot] = NOT_MEASURED if code < 0 else code << 4
        self._slow_next = (slot + 1) % len(self._slow_channels)
