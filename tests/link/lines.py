"""Stand-ins of a serial line: a fixture by script, and time that passes only when somebody waits."""

from __future__ import annotations

from collections.abc import Callable

import rodtrue_protocol as wire

Answer = Callable[[wire.WireMessage], bytes]


class FakeTime:
    """A clock that `wait` moves on."""

    def __init__(self) -> None:
        self.now_s = 100.0

    def clock(self) -> float:
        return self.now_s

    def wait(self, seconds: float) -> None:
        self.now_s += seconds


class ScriptedLine:
    """A line whose other end answers each request by `answer`, and gives out at most `piece` bytes a read."""

    name = "scripted"

    def __init__(self, answer: Answer, piece: int = 7) -> None:
        self._answer = answer
        self._piece = piece
        self._pending = b""
        self._decoder = wire.Decoder("to_fixture")
        self.requests: list[wire.WireMessage] = []

    def write(self, data: bytes) -> None:
        for event in self._decoder.feed(data):
            assert isinstance(event, wire.WireMessage)
            self.requests.append(event)
            self._pending += self._answer(event)

    def read(self, wait_s: float = 0.0) -> bytes:
        data, self._pending = self._pending[: self._piece], self._pending[self._piece :]
        return data

    def say(self, data: bytes) -> None:
        self._pending += data


def identity(request: int, digest: int = wire.TABLE.digest) -> bytes:
    """Return the frame of an identity that answers `request`."""
    return wire.encode(
        "identity",
        0,
        request=request,
        table_digest=digest,
        kind=wire.Kind.VIRTUAL,
        unique_id=bytes(range(8)),
        firmware_version="9.8.7",
        micropython_version="1.28.0",
        interpreter="scripted",
        rate_min_hz=100,
        rate_max_hz=1000,
        calibration_generation=0,
        reset_cause=1,
    )


def ack(request: wire.WireMessage, sequence: int | None = None) -> bytes:
    """Return the frame of an ack to `request`, or to another sequence number."""
    number = request.sequence if sequence is None else sequence
    return wire.encode("ack", 0, request=number, request_type=request.TYPE)


def reject(request: wire.WireMessage, code: int, field: int = 255) -> bytes:
    """Return the frame of a reject of `request`."""
    return wire.encode("reject", 0, request=request.sequence, request_type=request.TYPE, code=code, field=field)
