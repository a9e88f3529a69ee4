"""A plant of plain rules, and a host that speaks to a virtual fixture over its port."""

from __future__ import annotations

import itertools
import shutil
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Self, TypeVar

import numpy as np
import serial
from numpy.typing import NDArray

import rodtrue_protocol as wire
from rodtrue.resources import room_path

Times = NDArray[np.int64]
EventT = TypeVar("EventT")

QUIET_CODE = 500
SUPPLY_CODE = 2458
THERMISTOR_CODE = 2048
PATIENCE_S = 30.0
"""A safety net on a loaded machine, never a promise."""


class RulePlant:
    """Travel is a ramp of one 12-bit step each conversion interval of 500 us; the rest as told.

    pressure: 12-bit codes by time in us. button, foot_switch: pressed or not by time in us.
    """

    handle = None

    def __init__(
        self,
        pressure: Callable[[Times], NDArray[Any]] | None = None,
        button: Callable[[Times], NDArray[Any]] | None = None,
        foot_switch: Callable[[Times], NDArray[Any]] | None = None,
    ) -> None:
        self._pressure = pressure or (lambda times: np.full(len(times), QUIET_CODE))
        self._button = button or (lambda times: np.zeros(len(times), dtype=bool))
        self._foot_switch = foot_switch or (lambda times: np.zeros(len(times), dtype=bool))

    def conversions(self, times_us: Times) -> NDArray[np.uint16]:
        codes = np.zeros((len(times_us), 8), dtype=np.uint16)
        codes[:, 0] = (times_us // 500) % 4096
        codes[:, 1] = self._pressure(times_us)
        codes[:, 2] = THERMISTOR_CODE
        codes[:, 3] = SUPPLY_CODE
        return codes

    def switches(self, times_us: Times) -> NDArray[np.bool_]:
        return np.stack([self._button(times_us), self._foot_switch(times_us)], axis=1).astype(bool)


def during(*spans_s: tuple[float, float]) -> Callable[[Times], NDArray[np.bool_]]:
    """Return a rule by time: true within the spans (from, to), in s."""

    def rule(times_us: Times) -> NDArray[np.bool_]:
        inside = np.zeros(len(times_us), dtype=bool)
        for begin_s, end_s in spans_s:
            inside |= (times_us >= begin_s * 1e6) & (times_us < end_s * 1e6)
        return inside

    return rule


class Host:
    """The host's end of a line: asks, and keeps every event that came."""

    def __init__(self, port: str) -> None:
        self._serial = serial.serial_for_url(port, timeout=0.05)
        self._decoder = wire.Decoder()
        self._sequences = itertools.count()
        self.events: list[wire.Event] = []

    @property
    def counters(self) -> wire.Counters:
        return self._decoder.counters

    def write(self, data: bytes) -> None:
        self._serial.write(data)

    def send(self, name: str, **fields: Any) -> int:
        sequence = next(self._sequences) & 0xFF
        self.write(wire.encode(name, sequence, **fields))
        return sequence

    def ask(self, name: str, **fields: Any) -> Any:
        """Send a request and return its reply; whatever else comes is kept too."""
        sequence = self.send(name, **fields)

        def is_reply(event: wire.Event) -> bool:
            unasked = isinstance(event, wire.Status) and not event.flags & wire.StatusFlags.ANSWER
            return not unasked and getattr(event, "request", None) == sequence

        return self.wait_for(is_reply)

    def wait_for(self, is_it: Callable[[wire.Event], bool]) -> Any:
        """Read on until an event of that kind comes."""
        seen = len(self.events)
        give_up = time.monotonic() + PATIENCE_S
        while time.monotonic() < give_up:
            self.read()
            for event in self.events[seen:]:
                if is_it(event):
                    return event
            seen = len(self.events)
        raise AssertionError("the event did not come")

    def read(self) -> None:
        """Take what has come, waiting a moment for the first byte."""
        self.events += self._decoder.feed(self._serial.read(max(1, self._serial.in_waiting)))

    def is_silent(self) -> bool:
        """Say whether nothing comes for a moment."""
        return self._serial.read(1) == b""

    def greet(self) -> wire.Identity:
        identity = self.ask("hello", table_digest=wire.TABLE.digest)
        assert isinstance(identity, wire.Identity)
        return identity

    def stream(self, rate_hz: int = 500) -> None:
        """Greet and start streaming."""
        self.greet()
        assert isinstance(self.ask("start", rate_hz=rate_hz), wire.Ack)

    def status(self) -> wire.Status:
        """Ask for a status. In manual pace everything said before it has come by then."""
        status = self.ask("read_status")
        assert isinstance(status, wire.Status)
        return status

    def of(self, kind: type[EventT]) -> list[EventT]:
        """Return the events of one kind."""
        return [event for event in self.events if isinstance(event, kind)]

    def codes(self) -> NDArray[np.uint16]:
        """Return all sample codes that came, shape (n, 2)."""
        return np.concatenate([block.codes for block in self.of(wire.SampleBlock)])

    def close(self) -> None:
        self._serial.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def ramp_codes(count: int, interval_steps: int = 1) -> NDArray[np.uint16]:
    """Return the travel codes of the rule plant's ramp from its beginning, shape (count,)."""
    conversions = (interval_steps * np.arange(4 * count)) % 4096
    return (4 * conversions.reshape(-1, 4).sum(axis=1)).astype(np.uint16)


def firmware_with(folder: Path, file: str, before: str, after: str) -> Path:
    """Return a copy of the firmware with one piece of text changed; the piece must stand there once."""
    copy = folder / "firmware"
    shutil.copytree(room_path("firmware"), copy, ignore=shutil.ignore_patterns("__pycache__"))
    text = (copy / file).read_text("utf-8")
    assert text.count(before) == 1, f"{before!r} stands {text.count(before)} times in {file}"
    (copy / file).write_text(text.replace(before, after), "utf-8")
    return copy
