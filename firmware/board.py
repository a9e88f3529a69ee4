"""The board: a thin shell over `machine`, the only file that touches hardware.

The logic gets a Board handed in and imports no board module. `convert_pair`, `convert`, the contacts,
the lamp and the sounder may be called from the timer's interrupt: they allocate nothing.
"""

import select
import sys
import time

import machine
import micropython
import pins
from table import KIND_BOARD, RESET_CAUSE_COMMAND, RESET_CAUSE_POWER_ON, RESET_CAUSE_UNKNOWN, RESET_CAUSE_WATCHDOG

# One USB packet. The port says only whether there is room at all; for a packet beyond what is free its
# write waits, 500 ms at most for each of the two attempts it makes when the host has stopped reading.
PACKET_BYTES = 64
LONGEST_WRITE_MS = 1000
# A quarter of it is longer than the longest write. The hardware's most is 8388 ms.
WATCHDOG_MS = 8000

# First scratch register of the RP2040's watchdog: keeps its value through a reset, not through power-off.
# A reset asked for and a bite look alike in reset_cause, so the program leaves a word here.
_SCRATCH = 0x4005_800C
_ASKED_FOR = 0x0052_4F44

_POWER_UP_HOLD_MS = 100
_NULL_BIT = 0x10


def button_held_at_power_up():
    """Say whether the button is closed now and stays so for a moment."""
    button = machine.Pin(pins.PIN_BUTTON, machine.Pin.IN, machine.Pin.PULL_UP)
    if button.value():
        return False
    time.sleep_ms(_POWER_UP_HOLD_MS)
    return not button.value()


def light_lamp():
    """Light the lamp where no program runs."""
    machine.Pin(pins.PIN_LAMP, machine.Pin.OUT, value=1)


def _command(channel):
    """Return the three bytes that ask the converter for one single-ended reading (MCP3208 data sheet)."""
    return bytes((0x06 | channel >> 2, (channel & 3) << 6, 0))


def _reset_cause():
    asked_for = machine.mem32[_SCRATCH] == _ASKED_FOR
    machine.mem32[_SCRATCH] = 0
    cause = machine.reset_cause()
    if cause == machine.PWRON_RESET:
        return RESET_CAUSE_POWER_ON
    if cause == machine.WDT_RESET:
        return RESET_CAUSE_COMMAND if asked_for else RESET_CAUSE_WATCHDOG
    return RESET_CAUSE_UNKNOWN


class Board:
    """Everything the logic may do to the outside. One instance."""

    kind = KIND_BOARD

    def __init__(self):
        # From here on a 0x03 from the host is data and does not stop the program.
        micropython.kbd_intr(-1)
        # Room for the text of a failure in the interrupt, where nothing can be allocated.
        micropython.alloc_emergency_exception_buf(100)
        self.ticks_us = time.ticks_us
        self.ticks_add = time.ticks_add
        self.ticks_diff = time.ticks_diff
        self.disable_irq = machine.disable_irq
        self.enable_irq = machine.enable_irq
        self.idle = machine.idle
        self.unique_id = machine.unique_id()
        self.reset_cause = _reset_cause()
        self.interpreter = (sys.implementation.name + " " + sys.platform).strip()
        self.interpreter_version = ".".join(str(part) for part in sys.implementation.version if part != "")

        self.lamp = machine.Pin(pins.PIN_LAMP, machine.Pin.OUT, value=0)
        self.sounder = machine.Pin(pins.PIN_SOUNDER, machine.Pin.OUT, value=0)
        self.button_open = machine.Pin(pins.PIN_BUTTON, machine.Pin.IN, machine.Pin.PULL_UP)
        self.foot_switch_open = machine.Pin(pins.PIN_FOOT_SWITCH, machine.Pin.IN, machine.Pin.PULL_UP)

        self._select = machine.Pin(pins.PIN_CONVERTER_SELECT, machine.Pin.OUT, value=1)
        self._spi = machine.SPI(
            pins.SPI_BUS,
            baudrate=pins.SPI_CLOCK_HZ,
            polarity=pins.SPI_POLARITY,
            phase=pins.SPI_PHASE,
            bits=8,
            firstbit=machine.SPI.MSB,
            sck=machine.Pin(pins.PIN_CONVERTER_CLOCK),
            mosi=machine.Pin(pins.PIN_CONVERTER_IN),
            miso=machine.Pin(pins.PIN_CONVERTER_OUT),
        )
        self._exchange = self._spi.write_readinto
        self._commands = tuple(_command(channel) for channel in range(8))
        self._travel_command = self._commands[pins.CHANNEL_TRAVEL]
        self._pressure_command = self._commands[pins.CHANNEL_PRESSURE]
        self._answer = bytearray(3)

        self._timer = machine.Timer(-1)
        self._watchdog = None

        self._input = sys.stdin.buffer
        self._output = sys.stdout.buffer
        self._readable = select.poll()
        self._readable.register(sys.stdin, select.POLLIN)
        self._writable = select.poll()
        self._writable.register(sys.stdout, select.POLLOUT)
        self._byte = bytearray(1)

    def convert_pair(self, codes):
        """Put one 12-bit reading of travel and of pressure into codes[0] and codes[1]. Interrupt-safe."""
        select_pin = self._select
        exchange = self._exchange
        answer = self._answer
        select_pin(0)
        exchange(self._travel_command, answer)
        select_pin(1)
        codes[0] = (answer[1] & 0x0F) << 8 | answer[2]
        select_pin(0)
        exchange(self._pressure_command, answer)
        select_pin(1)
        codes[1] = (answer[1] & 0x0F) << 8 | answer[2]

    def convert(self, channel):
        """Return one 12-bit reading of a channel, -1 where the converter does not answer. Interrupt-safe."""
        self._select(0)
        self._exchange(self._commands[channel], self._answer)
        self._select(1)
        if self._answer[1] & _NULL_BIT:
            return -1
        return (self._answer[1] & 0x0F) << 8 | self._answer[2]

    def start_timer(self, rate_hz, callback):
        """Call `callback` from a hard interrupt, rate_hz times a second, every floor(1e6 / rate_hz) us."""
        self._timer.init(mode=machine.Timer.PERIODIC, freq=rate_hz, callback=callback, hard=True)

    def stop_timer(self):
        """Call nothing any more."""
        self._timer.deinit()

    def start_watchdog(self):
        """Reset the board unless `feed` is called often enough from now on. Nothing stops it again."""
        self._watchdog = machine.WDT(timeout=WATCHDOG_MS)

    def feed(self):
        """Tell the watchdog that all is well."""
        if self._watchdog is not None:
            self._watchdog.feed()

    def read_into(self, data):
        """Read what has come from the host into `data`, never waiting; return how many bytes."""
        count = 0
        while count < len(data) and self._has_input():
            # The port's read waits until it is full: one byte at a time.
            self._input.readinto(self._byte)
            data[count] = self._byte[0]
            count += 1
        return count

    def writable(self):
        """Return how many bytes to write at once now; 0 where the line takes none."""
        for _ in self._writable.ipoll(0):
            return PACKET_BYTES
        return 0

    def write(self, data, start, count):
        """Write data[start:start + count] to the host; return how many bytes were taken. Allocates nothing."""
        return self._output.write(data, start, count)

    def reset(self):
        """Start anew, and know afterwards that it was asked for."""
        machine.mem32[_SCRATCH] = _ASKED_FOR
        machine.reset()

    def _has_input(self):
        for _ in self._readable.ipoll(0):
            return True
        return False
