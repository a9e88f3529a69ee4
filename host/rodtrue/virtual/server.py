"""The thread behind a virtual fixture: gives the child its device time and carries the line's bytes.

Two time axes: the child's, from its power-up, and the plant's, from the first conversion ever made.
`shift_us` leads from the one to the other.
"""

from __future__ import annotations

import os
import select
import struct
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rodtrue.model.errors import FixtureError
from rodtrue.virtual.child import POWER_ON, WATCHDOG, BoardSettings, Child
from rodtrue.virtual.conversions import ConversionSource, Converting
from rodtrue.virtual.interpreter import Interpreter
from rodtrue.virtual.line import Line
from rodtrue.virtual.pace import ManualPace, RealPace

MOST_CONVERSIONS = 256
LINE_WINDOW = 4096
LOST_LISTENER_CHECK_S = 0.02
BEGINS_WITHIN_S = 30.0
HANGS_AFTER_S = 10.0
MOST_INPUT_AHEAD = 4096


@dataclass(frozen=True)
class Wish:
    """What the child waits for: time, and conversions from next_us on every interval_us (0: time only)."""

    number: int
    next_us: int
    interval_us: int


@dataclass(frozen=True)
class PinChange:
    """An output took a level, at a device time."""

    time_s: float
    gpio: int
    level: bool


class Server:
    """Runs one board until `close`. Everything public may be called from any thread."""

    def __init__(
        self,
        plant: Converting,
        interpreter: Interpreter,
        settings: BoardSettings,
        line: Line,
        pace: ManualPace | RealPace,
    ) -> None:
        self._source = ConversionSource(plant)
        self._interpreter = interpreter
        self._settings = replace(settings, window=LINE_WINDOW if pace.is_real else 0)
        self._line = line
        self._pace = pace
        self.failure: FixtureError | None = None
        self.resets: list[int] = []
        self.pin_changes: list[PinChange] = []
        self.levels: dict[int, bool] = {}
        self.granted_us = 0
        self._shift_us: int | None = None
        self._wish: Wish | None = None
        self._asleep = False
        self._carried = True
        self.carried_bytes = 0
        self._taken_bytes = 0
        self._inputs = 0
        self._begun = False
        self._outgoing = bytearray()
        self._input_ahead = 0
        self._closing = False
        self._power_off = False
        self._changed = threading.Condition()
        self._child = Child(interpreter, self._settings)
        self._heard_at = time.monotonic()
        self._wake_read, self._wake_write = os.pipe()
        self._thread = threading.Thread(target=self._run, name="virtual fixture", daemon=True)
        self._thread.start()

    def wait_until_ready(self) -> None:
        """Return once the program waits for time. Raises: FixtureError where it did not begin."""
        self._wait(lambda: self._begun and self._wish is not None)

    def wait_until(self, time_us: int) -> None:
        """Return when device time up to time_us is consumed and what was said meanwhile has been put on the
        line, as far as the line takes it. Raises: FixtureError where the child has failed.
        """
        self._wake()
        self._wait(lambda: self._asleep and self._carried and self.granted_us >= time_us)

    def settle(self, sent_bytes: int) -> None:
        """Return when what came of so many bytes from the line has been said, or after HANGS_AFTER_S.

        Raises: FixtureError where the child has failed.
        """
        self._wait(lambda: self._taken_bytes >= sent_bytes and self._asleep and self._carried, HANGS_AFTER_S)

    def power_cycle(self) -> None:
        """Take the power away and give it back; return once the program waits for time again."""
        with self._changed:
            self._power_off = True
        self._wake()
        self._wait(lambda: not self._power_off and self._begun and self._wish is not None)

    def close(self) -> None:
        """End the child, take the line away, end the thread."""
        self._closing = True
        self._wake()
        self._thread.join()
        os.close(self._wake_read)
        os.close(self._wake_write)

    def _wait(self, holds: Callable[[], bool], at_most_s: float | None = None) -> None:
        with self._changed:
            self._changed.wait_for(lambda: self.failure is not None or holds(), at_most_s)
        if self.failure is not None:
            raise self.failure

    def _wake(self) -> None:
        os.write(self._wake_write, b"\0")

    # The thread.

    def _run(self) -> None:
        try:
            while not self._closing and self.failure is None:
                self._turn()
        except FixtureError as error:
            self._fail(error)
        except Exception as error:
            failure = FixtureError(f"the virtual fixture stopped: {error!r}", "This is a fault of the program.")
            failure.__cause__ = error
            self._fail(failure)
        finally:
            self._child.end()
            self._line.close()

    def _fail(self, failure: FixtureError) -> None:
        with self._changed:
            self.failure = failure
            self._changed.notify_all()

    def _turn(self) -> None:
        if self._power_off:
            self._restart(POWER_ON, 0)
            self._power_off = False
        self._serve_wish()
        listener = self._line.listener()
        poll = select.poll()
        poll.register(self._child.fd, select.POLLIN)
        poll.register(self._wake_read, select.POLLIN)
        if listener is not None:
            reads = select.POLLIN if self._input_ahead < MOST_INPUT_AHEAD else 0
            poll.register(listener, reads | (select.POLLOUT if self._outgoing else 0))
        elif (waits_on := self._line.waits_on()) is not None:
            poll.register(waits_on, select.POLLIN)
        ready = {fd for fd, _ in poll.poll(self._timeout_ms(listener))}
        if self._wake_read in ready:
            os.read(self._wake_read, 4096)
        if self._child.fd in ready:
            self._hear_child()
        elif self._wish is None:
            self._doubt_child(time.monotonic() - self._heard_at)
        self._carry_line()
        if not self._carried:
            with self._changed:
                self._carried = True
                self._changed.notify_all()

    def _timeout_ms(self, listener: int | None) -> float:
        seconds = HANGS_AFTER_S
        if listener is None and self._line.waits_on() is None:
            seconds = LOST_LISTENER_CHECK_S
        wait_s = self._pace.wait_s(self.granted_us)
        if wait_s is not None and self._wish is not None:
            seconds = min(seconds, wait_s)
        # poll rounds a fraction down, which would turn the last millisecond into a busy loop.
        return 1000 * seconds + 0.999

    def _carry_line(self) -> None:
        data = self._line.read() if self._input_ahead < MOST_INPUT_AHEAD else b""
        if data:
            self._input_ahead += len(data)
            with self._changed:
                self._asleep = False
                self._taken_bytes += len(data)
            self._inputs = (self._inputs + 1) % 256
            self._child.give_input(data)
        if self._line.listener() is None:
            self._lose_outgoing()
        elif self._outgoing:
            written = self._line.write(bytes(self._outgoing))
            del self._outgoing[:written]
            self.carried_bytes += written
            self._give_window(written)

    def _lose_outgoing(self) -> None:
        """Nobody listens: what was said is gone."""
        lost = len(self._outgoing)
        self._outgoing.clear()
        self._give_window(lost)

    def _give_window(self, count: int) -> None:
        if count and self._pace.is_real:
            self._child.give_window(count)

    # The child.

    def _hear_child(self) -> None:
        self._heard_at = time.monotonic()
        for kind, payload in self._child.messages():
            if kind == b"Q":
                self._take_wish(Wish(*struct.unpack("<BQI", payload)))
            elif kind == b"W":
                # Everything it has said stands before this in the pipe, but not yet on the line. One that
                # speaks of a wish already answered, or of fewer inputs than given, comes too late to be true.
                number, inputs = payload
                self._asleep = self._wish is not None and self._wish.number == number and self._inputs == inputs
                self._carried = False
            elif kind == b"F":
                self._child.show_first(*self._source.convert(_instant(self.granted_us)))
            elif kind == b"O":
                self._outgoing += payload
            elif kind == b"P":
                self._take_pin(*struct.unpack("<BBQ", payload))
            elif kind == b"B":
                self._begun = True
            elif kind == b"R":
                self._restart(*struct.unpack("<BI", payload))
                return
            elif kind == b"V":
                raise FixtureError(
                    f"the stand-in board stopped the firmware: {payload.decode()}",
                    "A real board would misbehave here in silence: mend the firmware.",
                )
            else:
                raise self._end_without_reason()

    def _doubt_child(self, silent_s: float) -> None:
        """It owes a word: has it hung itself up?"""
        if not self._begun and silent_s > BEGINS_WITHIN_S:
            raise self._child.failure_at_start(f"did not begin the firmware within {BEGINS_WITHIN_S:g} s")
        if self._begun and silent_s > HANGS_AFTER_S:
            # It has time and does nothing with it: a loop that calls nothing. No board would outlive it.
            self._restart(WATCHDOG, 0)

    def _end_without_reason(self) -> FixtureError:
        if not self._begun:
            return self._child.failure_at_start(f"ended before the firmware began ({self._child.last_words()})")
        return FixtureError(
            f"the virtual fixture's interpreter ended by itself ({self._child.last_words()})",
            "Start again; if it happens again, this is a fault of the program.",
        )

    def _take_wish(self, wish: Wish) -> None:
        with self._changed:
            self._wish = wish
            self._input_ahead = 0
            self._pace.begin()
            self._changed.notify_all()

    def _take_pin(self, gpio: int, level: int, time_us: int) -> None:
        self.levels[gpio] = bool(level)
        self.pin_changes.append(PinChange((time_us + (self._shift_us or 0)) * 1e-6, gpio, bool(level)))

    def _restart(self, cause: int, scratch: int) -> None:
        """Boot again: cause 0 is a soft reset, which leaves the hardware's cause as it was."""
        self._child.end()
        self.resets.append(cause)
        self.levels.clear()
        self._begun = False
        self._wish = None
        self._asleep = False
        self._input_ahead = 0
        self._inputs = 0
        self._shift_us = self.granted_us
        self._settings = replace(self._settings, ticks_start_us=0, stalls_us=())
        self._child = Child(
            self._interpreter,
            self._settings,
            reset_cause=cause or POWER_ON,
            scratch=scratch,
            switches=int(self._source.switches(_instant(self.granted_us))[0]),
        )
        self._heard_at = time.monotonic()

    # Device time.

    def _serve_wish(self) -> None:
        wish = self._wish
        limit_us = self._pace.limit_us(self.granted_us)
        if wish is None or limit_us <= self.granted_us:
            return
        if self._shift_us is None:
            if not wish.interval_us:
                self._answer(wish, limit_us, 0, np.empty(0, dtype=np.int64), limit_us)
                return
            self._shift_us = self.granted_us - wish.next_us
        next_us = wish.next_us + self._shift_us
        times_us = np.empty(0, dtype=np.int64)
        until_us = limit_us
        if wish.interval_us:
            count = min(MOST_CONVERSIONS, max(0, -((next_us - limit_us) // wish.interval_us)))
            times_us = next_us + wish.interval_us * np.arange(count, dtype=np.int64)
            until_us = min(limit_us, next_us + count * wish.interval_us)
        self._answer(wish, until_us, self._shift_us, times_us, limit_us)

    def _answer(self, wish: Wish, until_us: int, shift_us: int, times_us: NDArray[np.int64], limit_us: int) -> None:
        codes, switches = self._source.convert(times_us)
        if not len(times_us):
            switches = self._source.switches(_instant(until_us))
        with self._changed:
            self._wish = None
            self._asleep = False
            self.granted_us = max(self.granted_us, until_us)
        self._heard_at = time.monotonic()
        self._child.grant(wish.number, until_us - shift_us, until_us < limit_us, codes, switches)


def _instant(time_us: int) -> NDArray[np.int64]:
    return np.array([time_us], dtype=np.int64)
