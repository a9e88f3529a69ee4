"""What the stand-in puts in the place of `machine`, `time` and the board's other ways out.

Strict where a board is silent: a breach of the converter's or the port's rules ends the child with a
sentence. Costs are microseconds at 125 MHz, from a cycle model of the RP2040.
"""

POWER_ON = 1
WATCHDOG = 3
_CALL_US = 2
_SPI_CALL_US = 3
_SCRATCH_ADDRESS = 0x4005_800C
_LONGEST_WATCHDOG_MS = 8388
_FASTEST_SPI_HZ = 2_000_000
_HALF_TICKS = 0x2000_0000
_TICKS_MASK = 0x3FFF_FFFF


class Converter:
    """An MCP3208 on its chip select: one conversion for each time the select goes low."""

    def __init__(self, clock, broken_rule):
        self._clock = clock
        self._broken_rule = broken_rule
        self.selected = False
        self._answered = False

    def select(self, level):
        if not level and not self.selected:
            self._answered = False
        self.selected = not level

    def exchange(self, command, answer):
        """Answer three bytes as the data sheet's figure for 8-bit ports shows. Allocates nothing."""
        if not self.selected:
            self._broken_rule("SPI transfer to the converter while its chip select was high")
        if self._answered:
            self._broken_rule("second conversion without raising the converter's chip select between them")
        if len(command) != 3 or len(answer) != 3:
            self._broken_rule("a conversion takes 3 bytes each way")
        self._answered = True
        answer[0] = 0xFF
        if not command[0] & 4:
            # No start bit: the output stays in high impedance.
            answer[1] = 0xFF
            answer[2] = 0xFF
            return
        if command[0] & 0xF8 or not command[0] & 2:
            self._broken_rule("converter asked for a differential reading or by a malformed command")
        code = self._clock.conversion((command[0] & 1) << 2 | command[1] >> 6)
        # Before the null bit the output floats.
        answer[1] = 0xE0 | code >> 8
        answer[2] = code & 0xFF


class Lines:
    """What hangs on each pin of the stand-in board; wiring: names to GPIO numbers."""

    def __init__(self, clock, channel, wiring):
        self.clock = clock
        self.channel = channel
        self.wiring = wiring
        self.converter = Converter(clock, clock.broken_rule)
        self.levels = bytearray(32)

    def drive(self, gpio, level):
        """An output takes a level. Allocates nothing."""
        wiring = self.wiring
        if gpio == wiring["converter_select"]:
            self.converter.select(level)
        elif self.levels[gpio] != level and (gpio == wiring["lamp"] or gpio == wiring["sounder"]):
            self.channel.pin(gpio, level, self.clock.now_us)
        self.levels[gpio] = level

    def read(self, gpio):
        """Return an input's level: both contacts close to ground. Allocates nothing."""
        if gpio == self.wiring["button"]:
            return 1 - (self.clock.switches() & 1)
        if gpio == self.wiring["foot_switch"]:
            return 1 - (self.clock.switches() >> 1 & 1)
        return self.levels[gpio]


def make_machine(lines, reset_cause, unique_id):
    """Return the object that stands in for the module `machine`."""
    clock = lines.clock
    broken_rule = clock.broken_rule

    class Pin:
        IN = 0
        OUT = 1
        PULL_UP = 1
        PULL_DOWN = 2

        def __init__(self, gpio, mode=-1, pull=-1, value=None):
            if gpio not in lines.wiring.values():
                broken_rule("Pin(%d): nothing is wired to it" % gpio)
            self.gpio = gpio
            self._is_output = mode == Pin.OUT
            self._driven_text = "Pin(%d): an input was driven" % gpio
            if value is not None:
                self(value)

        def __call__(self, level=None):
            clock.spend(_CALL_US)
            if level is None:
                return lines.read(self.gpio)
            if not self._is_output:
                broken_rule(self._driven_text)
            return lines.drive(self.gpio, 1 if level else 0)

        def value(self, level=None):
            return self(level)

    class SPI:
        MSB = 1
        LSB = 0

        def __init__(
            self, bus, baudrate=1_000_000, polarity=0, phase=0, bits=8, firstbit=1, sck=None, mosi=None, miso=None
        ):
            if (polarity, phase) not in ((0, 0), (1, 1)):
                broken_rule("SPI polarity %d, phase %d: the converter speaks modes 0 and 3 only" % (polarity, phase))
            if bits != 8 or firstbit != SPI.MSB:
                broken_rule("SPI: the converter needs 8 bits, most significant first")
            if not 0 < baudrate <= _FASTEST_SPI_HZ:
                broken_rule("SPI at %d Hz: the converter's clock is 2 MHz at most" % baudrate)
            wired = (lines.wiring["converter_clock"], lines.wiring["converter_in"], lines.wiring["converter_out"])
            if bus != 0 or (sck.gpio, mosi.gpio, miso.gpio) != wired:
                broken_rule("SPI: the converter is not wired to this bus and these pins")
            self._transfer_us = _SPI_CALL_US + 24_000_000 // baudrate

        def write_readinto(self, command, answer):
            clock.spend(self._transfer_us)
            lines.converter.exchange(command, answer)

    class Timer:
        PERIODIC = 1
        ONE_SHOT = 0

        def __init__(self, identity=-1):
            if identity != -1:
                raise ValueError("Timer doesn't exist")

        def init(self, mode=1, freq=-1, period=-1, tick_hz=1000, callback=None, hard=False):
            if mode != Timer.PERIODIC:
                broken_rule("Timer: the stand-in has a periodic timer only")
            interval_us = int(1_000_000 / freq) if freq != -1 else period * 1_000_000 // tick_hz
            clock.set_timer(self, max(interval_us, 1), callback, hard)

        def deinit(self):
            clock.set_timer(self, 0, None, False)

    class WDT:
        def __init__(self, id=0, timeout=5000):
            if timeout > _LONGEST_WATCHDOG_MS:
                raise ValueError("timeout exceeds 8388")
            clock.arm_watchdog(timeout * 1000)

        def feed(self):
            clock.spend(_CALL_US)
            clock.feed_watchdog()

    class Memory:
        """The one register the firmware may touch."""

        def __getitem__(self, address):
            self._check(address)
            return clock.scratch

        def __setitem__(self, address, value):
            self._check(address)
            clock.scratch = value

        def _check(self, address):
            if address != _SCRATCH_ADDRESS:
                broken_rule("mem32[0x%x]: the stand-in has the watchdog's first scratch register only" % address)

    class Machine:
        PWRON_RESET = POWER_ON
        WDT_RESET = WATCHDOG

        def reset(self):
            # On an RP2040 this too goes through the watchdog, and reset_cause says so.
            lines.channel.reset(WATCHDOG, clock.scratch)

        def idle(self):
            clock.idle()

        def disable_irq(self):
            return clock.disable_interrupts()

        def enable_irq(self, state):
            clock.enable_interrupts(state)

    machine = Machine()
    machine.Pin = Pin
    machine.SPI = SPI
    machine.Timer = Timer
    machine.WDT = WDT
    machine.mem32 = Memory()
    machine.reset_cause = lambda: reset_cause
    machine.unique_id = lambda: unique_id
    return machine


class Time:
    """Stands in for the module `time`: ticks wrap at 2^30 as on the board."""

    def __init__(self, clock):
        self._clock = clock

    def ticks_us(self):
        ticks = self._clock.ticks_us()
        self._clock.spend(_CALL_US)
        return ticks

    def ticks_ms(self):
        ticks = self._clock.ticks_ms()
        self._clock.spend(_CALL_US)
        return ticks

    def ticks_add(self, ticks, delta):
        return (ticks + delta) & _TICKS_MASK

    def ticks_diff(self, later, earlier):
        return ((later - earlier + _HALF_TICKS) & _TICKS_MASK) - _HALF_TICKS

    def sleep_us(self, duration_us):
        self._clock.advance_to(self._clock.now_us + duration_us)

    def sleep_ms(self, duration_ms):
        self.sleep_us(duration_ms * 1000)
