"""Talking to a fixture: requests and their replies, and everything else it sends in between.

A reply carries its request's sequence number first; a reply to anything else is ignored. Requests
that may be asked twice without harm are asked again when no answer comes.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Protocol, TypeVar

import rodtrue_protocol as wire
from rodtrue.model.errors import FixtureError

REPLY_TIMEOUT_S = wire.TABLE.limit("reply_timeout_ms") / 1000
RETRIES = wire.TABLE.limit("retries")
HELLO_EVERY_S = wire.TABLE.limit("hello_every_ms") / 1000
HELLO_LIMIT_S = wire.TABLE.limit("hello_limit_ms") / 1000

NO_TRAVEL_LIMIT = 65535

_LOOK_S = 0.01
_TEXT_SHOWN = 400

Reply = TypeVar("Reply", bound=wire.WireMessage)


class Line(Protocol):
    """What carries bytes: a `rodtrue.link.port.Port`, or a stand-in of it."""

    name: str

    def read(self, wait_s: float = 0.0) -> bytes: ...

    def write(self, data: bytes) -> None: ...


class Client:
    """A fixture at the other end of a line.

    clock: seconds, for time-outs; any zero. wait: called with seconds while nothing has come; a virtual fixture
    at manual pace answers there, or lets its device time pass. None: wait on the line itself.

    Raises: FixtureError from every call where the fixture is silent, refuses or is gone.
    """

    def __init__(
        self,
        line: Line,
        *,
        clock: Callable[[], float] = time.monotonic,
        wait: Callable[[float], None] | None = None,
    ) -> None:
        self._line = line
        self.clock = clock
        self._wait = wait
        self._decoder = wire.Decoder()
        self._sequence = 0
        self._waiting: list[wire.Event] = []

    @property
    def counters(self) -> wire.Counters:
        """What the decoder has counted on this line."""
        return self._decoder.counters

    def poll(self, wait_s: float = 0.0) -> list[wire.Event]:
        """Return everything that has come and answered no request, in order; wait at most `wait_s`."""
        if not self._waiting:
            self._waiting = self._receive(wait_s)
        events, self._waiting = self._waiting, []
        return events

    def hello(self) -> wire.Identity:
        """Ask who is there until it answers, and agree on the message table.

        Raises: FixtureError where nobody answers, showing what was said instead; or where the tables differ.
        """
        began = self.clock()
        asked: set[int] = set()
        next_ask = began
        said = b""
        while self.clock() - began < HELLO_LIMIT_S:
            if self.clock() >= next_ask:
                asked.add(self._send(wire.Hello(wire.TABLE.digest)))
                next_ask = self.clock() + HELLO_EVERY_S
            for event in self._receive(_LOOK_S):
                if isinstance(event, wire.Identity) and event.request in asked:
                    self._refuse_other_table(event)
                    return event
                if isinstance(event, wire.Text):
                    said += event.data
        # What is no fixture ends nothing with a zero: take what the decoder still holds.
        said += b"".join(event.data for event in self._decoder.finish() if isinstance(event, wire.Text))
        raise self._nobody_there(said)

    def start(self, rate_hz: int) -> None:
        """Start streaming at `rate_hz` samples a second; indices begin at 0."""
        self._request(wire.Start(rate_hz), wire.Ack)

    def stop(self) -> None:
        """Stop streaming; the last samples are in the next `poll`."""
        self._request(wire.Stop(), wire.Ack)

    def status(self) -> wire.Status:
        """Return how the fixture is."""
        return self._request(wire.ReadStatus(), wire.Status)

    def self_test(self) -> wire.SelfTestReport:
        """Let the fixture test itself and return what it found."""
        return self._request(wire.SelfTest(), wire.SelfTestReport)

    def timing(self) -> wire.Timing:
        """Return how well the fixture's sampling keeps its time."""
        return self._request(wire.ReadTiming(), wire.Timing)

    def set_travel_limit(self, travel_code: int | None) -> None:
        """Have the fixture itself beep above this travel code; None: no longer. A new session clears it too."""
        self._request(wire.SetTravelLimit(NO_TRAVEL_LIMIT if travel_code is None else travel_code), wire.Ack)

    def read_calibration(self) -> wire.Calibration | None:
        """Return the stored calibration, or None where the fixture has none."""
        try:
            return self._request(wire.ReadCalibration(), wire.Calibration)
        except Rejected as rejected:
            if rejected.code == wire.RejectCode.NOT_CALIBRATED:
                return None
            raise

    def write_calibration(self, generation: int, data: bytes) -> None:
        """Store a calibration record in the fixture, which compares what it reads back.

        Raises: Rejected: the seal is closed, or the storage failed.
        """
        self._request(wire.WriteCalibration(generation, data), wire.Ack)

    def enter_maintenance(self) -> None:
        """Make the fixture restart without its program, once; the line goes away with it."""
        self._request(wire.EnterMaintenance(), wire.Ack)

    def _request(self, message: wire.WireMessage, reply: type[Reply]) -> Reply:
        tries = 1 + (RETRIES if wire.TABLE.messages[message.NAME].idempotent else 0)
        for _ in range(tries):
            answer = self._ask_once(message, reply)
            if answer is not None:
                return answer
        raise FixtureError(
            f"port {self._line.name}: no answer to {message.NAME} within {REPLY_TIMEOUT_S:g} s"
            + (f", asked {tries} times" if tries > 1 else ""),
            "Check the cable; unplug the fixture, plug it in again and start over.",
        )

    def _ask_once(self, message: wire.WireMessage, reply: type[Reply]) -> Reply | None:
        sequence = self._send(message)
        until = self.clock() + REPLY_TIMEOUT_S
        while self.clock() < until:
            answer: Reply | None = None
            refusal: wire.Reject | None = None
            for event in self._receive(_LOOK_S):
                if isinstance(event, reply) and _answers(event, sequence):
                    answer = event
                elif isinstance(event, wire.Reject) and event.request == sequence:
                    refusal = event
                else:
                    self._waiting.append(event)
            if refusal is not None:
                raise Rejected(self._line.name, message, refusal)
            if answer is not None:
                return answer
        return None

    def _send(self, message: wire.WireMessage) -> int:
        sequence = self._sequence
        self._sequence = (sequence + 1) % 256
        self._line.write(wire.encode(message, sequence))
        return sequence

    def _receive(self, wait_s: float) -> list[wire.Event]:
        """Return what has come within `wait_s`."""
        if self._wait is None:
            return self._decoder.feed(self._line.read(wait_s))
        data = self._line.read()
        if not data:
            self._wait(wait_s)
            data = self._line.read()
        return self._decoder.feed(data)

    def _refuse_other_table(self, identity: wire.Identity) -> None:
        if identity.table_digest == wire.TABLE.digest:
            return
        raise FixtureError(
            f"port {self._line.name}: the fixture speaks another message table "
            f"({wire.digest_text(identity.table_digest)}, firmware {identity.firmware_version}) than this "
            f"program ({wire.digest_text(wire.TABLE.digest)})",
            "Use the program and the firmware of one release: update whichever is older.",
        )

    def _nobody_there(self, said: bytes) -> FixtureError:
        text = said.decode("utf-8", "replace").strip()[-_TEXT_SHOWN:]
        return FixtureError(
            f"port {self._line.name}: no fixture answered within {HELLO_LIMIT_S:g} s"
            + (f"; the fixture said: {text}" if text else ""),
            "Check that this port is the fixture's (`rodtrue fixture list`), and that its firmware is installed.",
        )


class Rejected(FixtureError):
    """The fixture refused a request; `code` is its reason."""

    def __init__(self, port: str, message: wire.WireMessage, reject: wire.Reject) -> None:
        self.code = reject.code
        label = wire.RejectCode.label(reject.code)
        super().__init__(
            f"port {port}: the fixture refused {message.NAME}: {label.replace('_', ' ')}"
            + _refused_field(message, reject.field),
            _WHAT_NEXT.get(reject.code, "Unplug the fixture, plug it in again and start over."),
        )


_WHAT_NEXT: dict[int, str] = {
    wire.RejectCode.BUSY_STREAMING: "Stop the running capture first.",
    wire.RejectCode.SEALED: "Hold the fixture's button 2 s, release it, and try again within 10 s.",
    wire.RejectCode.STORAGE_FAILED: "Try once more; if it fails again the board's storage is worn: replace it.",
    wire.RejectCode.NOT_CALIBRATED: "Calibrate the fixture, or work with the nominal scaling.",
    wire.RejectCode.TABLE_MISMATCH: "Use the program and the firmware of one release.",
}


def _refused_field(message: wire.WireMessage, field: int) -> str:
    fields = wire.TABLE.messages[message.NAME].fields
    return f" ({fields[field].name})" if field < len(fields) else ""


def _answers(event: wire.WireMessage, sequence: int) -> bool:
    if isinstance(event, wire.Status) and not event.flags & wire.StatusFlags.ANSWER:
        return False
    return getattr(event, "request", None) == sequence
