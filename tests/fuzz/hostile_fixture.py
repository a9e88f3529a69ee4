"""A fixture at the other end of a line that answers as it likes, and remembers every byte it has said."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
from cobs.cobs import decode as cobs_decode
from msgspec.structs import replace

import rodtrue_protocol as wire
import wire_truth as truth
from rodtrue.link.client import Client
from wire_vectors import rows

Answer = Callable[["HostileFixture", wire.WireMessage], bytes]

DATA = Path(__file__).resolve().parents[1] / "data"
UNKNOWN_TYPE = 0xF3
NOISE = b"\x81\x92\xa3Traceback (most recent call last):\r\n"


class HostileFixture:
    """piece: the most bytes one read gives. manners: how the next requests are answered; then all are, as asked.
    due: frames, without their zeros, of blocks and marks said whole and not yet heard, in order.
    """

    name = "hostile"

    def __init__(self, piece: int) -> None:
        self.piece = piece
        self.manners: deque[str] = deque()
        self.requests: list[wire.WireMessage] = []
        self.said = bytearray()
        self.due: list[bytes] = []
        self.next_index = 0
        self.calibration = sound_record()
        self.period_us = 2000
        self.begun_us = 2**32 - 3_000_000
        self._pending = bytearray()
        self._heard = wire.Decoder("to_fixture")
        self._sequence = 0

    @property
    def has_more(self) -> bool:
        """Whether something was said that nobody has read."""
        return bool(self._pending)

    def write(self, data: bytes) -> None:
        for event in self._heard.feed(data):
            assert isinstance(event, wire.WireMessage), f"the host sent {event}"
            self.requests.append(event)
            manner = self.manners.popleft() if self.manners else "well"
            self.say(MANNERS[manner](self, event))

    def read(self, wait_s: float = 0.0) -> bytes:
        data = bytes(self._pending[: self.piece])
        del self._pending[: self.piece]
        return data

    def say(self, data: bytes) -> None:
        self.said += data
        self._pending += data

    def unasked(self, message: wire.WireMessage) -> bytes:
        """Return a block's or mark's frame to be said next; it is due from now on."""
        frame = self.framed(message)
        self.due.append(frame[:-1])
        return frame

    def framed(self, message: wire.WireMessage) -> bytes:
        """Return a message's frame with the next number."""
        self._sequence = (self._sequence + 1) % 256
        return wire.encode(message, self._sequence)

    def block(self) -> wire.SampleBlock:
        """Return the next block of the stream; no two of its samples are alike for 16,000 samples."""
        first = self.next_index
        count = 1 + (first // 7) % 32
        self.next_index += count
        travel = (first + np.arange(count)) % 16_000 * 4
        time_us = (self.begun_us + self.period_us * first) % 2**32
        codes = np.stack([travel, travel[::-1]], axis=1).astype(np.uint16)
        return wire.SampleBlock.of(first % 2**32, time_us, self.period_us, codes)

    def answer(self, request: wire.WireMessage) -> wire.WireMessage:
        """Return the reply that a sound fixture gives."""
        name = wire.TABLE.messages[request.NAME].reply
        assert name is not None
        if isinstance(request, wire.Start):
            self.next_index = 0
        if name == "ack":
            return wire.Ack(request.sequence, request.TYPE)
        reply = example(name)
        if isinstance(reply, wire.Identity):
            reply = replace(reply, table_digest=wire.TABLE.digest)
        if isinstance(reply, wire.Calibration):
            reply = replace(reply, data=self.calibration)
        if isinstance(reply, wire.Status):
            reply = replace(reply, flags=wire.StatusFlags.ANSWER, uptime_s=len(self.requests))
        return replace(reply, request=request.sequence)  # type: ignore[call-arg]


@cache
def sound_record() -> bytes:
    """Return what a calibrated fixture holds."""
    return bytes.fromhex((DATA / "calibration" / "record_layout_1.hex").read_text())


@cache
def example(name: str) -> wire.WireMessage:
    """Return the golden vector's message of a name."""
    (row,) = [row for row in rows("messages") if row["name"] == name]
    (message,) = wire.Decoder(row["direction"]).feed(bytes.fromhex(row["hex"]))
    assert isinstance(message, wire.WireMessage)
    return message


def _well(peer: HostileFixture, request: wire.WireMessage) -> bytes:
    return peer.framed(peer.answer(request))


def _damaged(peer: HostileFixture, request: wire.WireMessage) -> bytes:
    frame = bytearray(_well(peer, request))
    frame[len(frame) // 2] ^= 0x10
    return bytes(frame)


def _to_another(peer: HostileFixture, request: wire.WireMessage) -> bytes:
    return peer.framed(peer.answer(replace(request, sequence=request.sequence ^ 0x55)))


def _wrong_kind(peer: HostileFixture, request: wire.WireMessage) -> bytes:
    kinds = ("ack", "identity", "timing", "calibration", "status")
    right = wire.TABLE.messages[request.NAME].reply
    wrong = [replace(example(kind), request=request.sequence) for kind in kinds if kind != right]  # type: ignore[call-arg]
    unasked = [replace(reply, flags=0) if isinstance(reply, wire.Status) else reply for reply in wrong]
    return b"".join(map(peer.framed, unasked))


def _refused(peer: HostileFixture, request: wire.WireMessage) -> bytes:
    code = len(peer.requests) % 11
    return peer.framed(wire.Reject(request.sequence, request.TYPE, code, 255))


def _among_others(peer: HostileFixture, request: wire.WireMessage) -> bytes:
    wrong = NOISE + b"\0" + _wrong_kind(peer, request)
    before = peer.unasked(peer.block())
    return before + wrong + _well(peer, request) + peer.unasked(peer.block())


def _of_another_version(peer: HostileFixture, request: wire.WireMessage) -> bytes:
    reply = peer.answer(request)
    if isinstance(reply, wire.Identity):
        return peer.framed(replace(reply, table_digest=wire.TABLE.digest ^ 1))
    kind, number, *payload = bytes(cobs_decode(peer.framed(reply)[:-1]))[:-4]
    return truth.frame(kind, number, bytes([*payload, 0])) + truth.frame(UNKNOWN_TYPE, number, bytes(payload))


MANNERS: dict[str, Answer] = {
    "well": _well,
    "twice": lambda peer, request: 2 * _well(peer, request),
    "among others": _among_others,
    "behind rubbish": lambda peer, request: NOISE + _well(peer, request),
    "behind a flood": lambda peer, request: b"\x55" * 5000 + _well(peer, request),
    "not": lambda peer, request: b"",
    "damaged": _damaged,
    "cut": lambda peer, request: _well(peer, request)[:-3],
    "to another": _to_another,
    "wrong kind": _wrong_kind,
    "of another version": _of_another_version,
    "refused": _refused,
    "refused among others": lambda peer, request: _refused(peer, request) + peer.unasked(peer.block()),
}
ANSWERS = frozenset(list(MANNERS)[:5])
"""Manners after which the right reply has come whole."""
REFUSALS = frozenset(list(MANNERS)[-2:])


CALLS: dict[str, Callable[[Client], object]] = {
    "status": Client.status,
    "stop": Client.stop,
    "start": lambda client: client.start(500),
    "self test": Client.self_test,
    "timing": Client.timing,
    "travel limit": lambda client: client.set_travel_limit(40_000),
    "read calibration": Client.read_calibration,
    "write calibration": lambda client: client.write_calibration(1, example("calibration").data),  # type: ignore[attr-defined]
    "maintenance": Client.enter_maintenance,
}
