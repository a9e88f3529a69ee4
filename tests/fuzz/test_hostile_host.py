"""A host that says whatever it likes to the fixture's program under MicroPython.

Rules send sound, damaged, repeated, oversized, foreign and ill-timed requests in any order, let time pass, stall the
line and press the button. Whatever came: the program lives, each sound request has one reply, the one of the table's
order of refusal; only samples that were taken are sent, none twice, none lost but where the line stalled; the heap
stays as it is; and the next sound request is understood.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from random import Random

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

import rodtrue_protocol as wire
import wire_truth as truth
from fuzz import corpus_seeds as seeds
from fuzz.board_child import BoardChild, Told
from fuzz.hostile_fixture import NOISE, UNKNOWN_TYPE, sound_record
from fuzz.wire_targets import mutated_frame
from rodtrue_protocol.framing import open_frame

HEAP_GROWS_BYTES = 16_384
INTERVALS_A_SECOND = 2000
CODE_MOST = 65520
REFUSED_WHILE_STREAMING = ("start", "read_calibration", "write_calibration", "self_test")

DIGEST = bytes(4) + wire.TABLE.digest.to_bytes(4, "little")
HELLO = (1, DIGEST)
drawn = st.integers(0, 2**32 - 1)


def two_bytes(*numbers: int) -> st.SearchStrategy[bytes]:
    """Return one of these numbers as the wire has it."""
    return st.sampled_from(numbers).map(lambda number: number.to_bytes(2, "little"))


REQUESTS: dict[str, tuple[int, st.SearchStrategy[bytes]]] = {
    "hello": (1, st.sampled_from([DIGEST, DIGEST, bytes(8)])),
    "start": (2, two_bytes(0, 99, 100, 500, 1000, 1001, 65_535)),
    "stop": (3, st.just(b"")),
    "read_status": (4, st.just(b"")),
    "read_calibration": (5, st.just(b"")),
    "write_calibration": (
        6,
        st.builds(
            lambda generation, data: bytes([generation, 0, len(data)]) + data,
            st.integers(0, 3),
            st.sampled_from([sound_record(), b"", bytes(160)]),
        ),
    ),
    "self_test": (7, st.just(b"")),
    "set_travel_limit": (9, two_bytes(0, CODE_MOST, CODE_MOST + 1, 65_534, 65_535)),
    "read_timing": (10, st.just(b"")),
}
"""Type and payloads, some out of range."""
Request = tuple[int, bytes]
requests: st.SearchStrategy[Request] = st.one_of(
    *[st.tuples(st.just(kind), payloads) for kind, payloads in REQUESTS.values()]
)


class HostileHost(RuleBasedStateMachine):
    """A board, and what it must hold and answer by the protocol's page."""

    @initialize()
    def plug_in(self) -> None:
        self.folder = tempfile.TemporaryDirectory()
        self.board = BoardChild(Path(self.folder.name))
        self.sequence = 0
        self.calibration: wire.Calibration | None = None
        self.may_be_open = False
        self._begin_anew()
        self.heap_bytes = self.board.say("feed", "").heap_bytes

    def _begin_anew(self) -> None:
        self.tail = b""
        self.refused = 0
        self.agreed = self.streaming = self.stalled = False
        self.next_index: int | None = None
        self.decoder = wire.Decoder()

    @rule(request=requests, times=st.integers(1, 3))
    def asks(self, request: Request, times: int) -> None:
        self._feed(self._frame(request) * times)

    @rule(asked=st.lists(requests, min_size=2, max_size=12))
    def asks_in_one_breath(self, asked: list[Request]) -> None:
        self._feed(b"".join(map(self._frame, asked)))

    @precondition(lambda self: self.agreed and not self.streaming)
    @rule(rate_hz=st.sampled_from([100, 500, 1000]), intervals=st.integers(1, 3000))
    def streams(self, rate_hz: int, intervals: int) -> None:
        self._feed(self._frame((2, rate_hz.to_bytes(2, "little"))))
        self._hear(self.board.say("pass", intervals), [])

    @rule(seed=drawn)
    def asks_almost_rightly(self, seed: int) -> None:
        rng, streams = Random(seed), seeds.requests()
        frame = mutated_frame(rng, rng.choice(streams).split(b"\0")[0] + b"\0", streams)
        kind = open_frame(frame.rstrip(b"\0"))
        if not isinstance(kind, bytes) or kind[0] != wire.EnterMaintenance.TYPE:
            self._feed(frame)

    @rule(rubbish=st.one_of(st.binary(max_size=60), st.sampled_from([NOISE, b"\1" * 600, b"\xff" * 262, b"\0\0"])))
    def talks_rubbish(self, rubbish: bytes) -> None:
        self._feed(rubbish)

    @rule(request=requests, place=drawn)
    def breaks_off(self, request: Request, place: int) -> None:
        frame = self._frame(request)
        self._feed(frame[: place % len(frame)])

    @rule(request=requests, size=st.integers(1, 400))
    def sends_a_longer_request(self, request: Request, size: int) -> None:
        self._feed(self._frame((request[0], request[1] + bytes(size))))

    @rule(kind=st.sampled_from([0, UNKNOWN_TYPE, wire.Identity.TYPE, wire.SampleBlock.TYPE]))
    def sends_what_is_no_request(self, kind: int) -> None:
        self._feed(truth.frame(kind, 7, bytes(15)))

    @rule(intervals=st.integers(1, 6000))
    def lets_time_pass(self, intervals: int) -> None:
        self._hear(self.board.say("pass", intervals), [])

    @rule(intervals=st.integers(1, 6000))
    def reads_nothing_for_a_while(self, intervals: int) -> None:
        self.stalled = True
        self._hear(self.board.say("stall", intervals), [])

    @rule(most=st.sampled_from([1, 7, 64]))
    def takes_little_at_a_time(self, most: int) -> None:
        self._hear(self.board.say("takes", most), [])

    @rule()
    def stores_a_calibration_as_one_should(self) -> None:
        """Greeted, not streaming, the button held for more than 2 s at the default rate, the next generation."""
        self._feed(b"\0" + self._frame(HELLO) + self._frame((7, b"")))
        self.may_be_open = True
        self._hear(self.board.say("press", 3 * INTERVALS_A_SECOND), [])
        record = sound_record()
        generation = 1 if self.calibration is None else self.calibration.generation + 1
        self._feed(self._frame((6, bytes([generation, 0, len(record)]) + record)))
        assert self.calibration is not None and self.calibration.generation == generation

    @rule()
    def is_plugged_in_again(self) -> None:
        self.board.say("new")
        self._begin_anew()
        self.may_be_open = False

    def teardown(self) -> None:
        if not hasattr(self, "board"):
            return
        self._feed(b"\0" + self._frame(HELLO) + self._frame((4, b"")))
        self.board.close()
        self.folder.cleanup()

    def _frame(self, request: Request) -> bytes:
        self.sequence = (self.sequence + 1) % 256
        return truth.frame(request[0], self.sequence, request[1])

    def _feed(self, data: bytes) -> None:
        *runs, self.tail = (self.tail + data).split(b"\0")
        bodies = [open_frame(run) for run in runs if run]
        sound = [body for body in bodies if isinstance(body, bytes)]
        self.refused += len(bodies) - len(sound)
        told = self.board.say("feed", data.hex())
        assert told.unread == 0
        self._hear(told, sound)

    def _hear(self, told: Told, asked: list[bytes]) -> None:
        """Go through what was sent in order: samples, and one reply to each request."""
        assert told.refused == self.refused
        assert told.heap_bytes < self.heap_bytes + HEAP_GROWS_BYTES, "the heap grows"
        waiting = list(asked)
        for event in self.decoder.feed(told.sent):
            assert isinstance(event, wire.WireMessage), f"the fixture sent {event}"
            if isinstance(event, wire.SampleBlock):
                self._is_taken(event)
            elif not isinstance(event, wire.Mark) and not _is_unasked(event):
                self._answers(waiting.pop(0), event)
        assert waiting == [], "a request without a reply"

    def _is_taken(self, block: wire.SampleBlock) -> None:
        assert self.next_index is not None, "samples before any start"
        missing = block.index - self.next_index
        assert missing == 0 or (missing > 0 and self.stalled), f"{missing} samples are missing"
        self.next_index = block.index + block.count
        for k, (travel, _) in enumerate(block.codes.tolist()):
            begins_us = block.time_us + k * block.period_us
            readings = [(begins_us + part * block.period_us // 4) // 500 % 4096 for part in range(4)]
            assert travel == 4 * sum(readings), "a sample that was not taken"

    def _answers(self, body: bytes, event: wire.WireMessage) -> None:
        kind, number, payload = body[0], body[1], body[2:-4]
        assert event.request == number  # type: ignore[attr-defined]
        message = wire.TABLE.by_type("to_fixture").get(kind)
        code = self._refusal(message, payload)
        if isinstance(event, wire.Reject):
            sealed = event.code == wire.RejectCode.SEALED and kind == wire.WriteCalibration.TYPE
            assert event.request_type == kind
            assert event.code == code or (code is None and sealed), f"{event} where {code} was due"
            return
        assert message is not None and code is None, f"{event} where {code} was due"
        assert message.reply == event.NAME
        self._is_done(message.name, payload, event)

    def _refusal(self, message: wire.table.Message | None, payload: bytes) -> wire.RejectCode | None:
        """Return why a request is refused, in the page's order; None where it is not, but for the seal."""
        if message is None:
            return wire.RejectCode.UNKNOWN_TYPE
        if not message.accepts(payload):
            return wire.RejectCode.BAD_LENGTH
        if not (self.agreed or message.frozen):
            return wire.RejectCode.TABLE_MISMATCH
        if self.streaming and message.name in REFUSED_WHILE_STREAMING:
            return wire.RejectCode.BUSY_STREAMING
        if message.name == "read_calibration" and self.calibration is None:
            return wire.RejectCode.NOT_CALIBRATED
        return wire.RejectCode.OUT_OF_RANGE if self._out_of_range(message.name, payload) else None

    def _out_of_range(self, name: str, payload: bytes) -> bool:
        value = int.from_bytes(payload[:2], "little")
        if name == "start":
            return not 100 <= value <= 1000
        if name == "set_travel_limit":
            return CODE_MOST < value < 65_535
        if name == "write_calibration":
            stored = 0 if self.calibration is None else self.calibration.generation
            return value != stored + 1 or len(payload) != 3 + len(sound_record()) or payload[3] != 1
        return False

    def _is_done(self, name: str, payload: bytes, event: wire.WireMessage) -> None:
        if isinstance(event, wire.Identity):
            assert event.calibration_generation == (0 if self.calibration is None else self.calibration.generation)
            self.agreed = int.from_bytes(payload[4:8], "little") == wire.TABLE.digest
            self.streaming, self.next_index = False, None
        elif isinstance(event, wire.Status):
            assert bool(event.flags & wire.StatusFlags.STREAMING) == self.streaming
            assert bool(event.flags & wire.StatusFlags.TABLE_AGREED) == self.agreed
            assert event.lost_samples == 0
        elif isinstance(event, wire.Calibration):
            assert self.calibration is not None
            assert (event.generation, event.data) == (self.calibration.generation, self.calibration.data)
        elif name == "start":
            self.streaming, self.stalled, self.next_index = True, False, 0
        elif name == "stop":
            self.streaming, self.next_index = False, None
        elif name == "write_calibration":
            assert self.may_be_open, "stored, though nobody held the button"
            self.calibration = wire.Calibration(0, int.from_bytes(payload[:2], "little"), payload[3:])


def _is_unasked(event: wire.WireMessage) -> bool:
    return isinstance(event, wire.Status) and not event.flags & wire.StatusFlags.ANSWER


TestFirmware = HostileHost.TestCase
TestFirmware.settings = settings(max_examples=30, stateful_step_count=30, deadline=None, derandomize=True)
