"""A fixture that says whatever it likes: the client and the recorder bear it, and understand what comes whole.

Rules say sound, damaged, repeated, late, oversized, foreign and unasked things in any order. Whatever was said:
nothing but a FixtureError in words, no sample that was not sent whole, bounded memory, and the next sound message
is understood.
"""

from __future__ import annotations

import struct
import tempfile
from binascii import crc32
from pathlib import Path
from random import Random

import numpy as np
from cobs.cobs import DecodeError
from cobs.cobs import decode as cobs_decode
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

import rodtrue_protocol as wire
import wire_truth as truth
from fuzz import corpus_seeds as seeds
from fuzz.held import held_bytes
from fuzz.hostile_fixture import ANSWERS, CALLS, MANNERS, REFUSALS, HostileFixture, sound_record
from fuzz.mutation import mutate
from fuzz.wire_targets import mutated_frame
from link.lines import FakeTime
from rodtrue.capture.framing import RECEIVED
from rodtrue.capture.reader import Capture, read_capture
from rodtrue.capture.scaling import scaling_of
from rodtrue.link.client import Client, Rejected
from rodtrue.model.errors import FixtureError
from rodtrue.run.recorder import Received, Recorder

MOST_HELD_BYTES = 20_000
"""A client at rest, with less than a frame's length and one piece of 1024 bytes in its decoder."""

NO_SAMPLES = 17
"""Bytes in the body of a block beside its samples."""

noise = st.one_of(
    st.binary(max_size=60),
    st.sampled_from([b"\0\0", b">>> ", b"MemoryError: \r\n>>> ", b"\x55" * 1700, b"\xff" * 262, b"\x01" * 600]),
)
drawn = st.integers(0, 2**32 - 1)
manners = st.lists(st.sampled_from(sorted(MANNERS)), min_size=1, max_size=3)


class Hostile(RuleBasedStateMachine):
    """What such a fixture may say, whoever listens."""

    @initialize(piece=st.sampled_from([3, 64, 4096]))
    def open(self, piece: int) -> None:
        self.time = FakeTime()
        self.peer = HostileFixture(piece)
        self.client = Client(self.peer, clock=self.time.clock, wait=self.time.wait)
        self.last: wire.WireMessage | None = None

    @rule(count=st.integers(1, 4))
    def sends_blocks(self, count: int) -> None:
        for _ in range(count):
            self._send_whole(self.peer.block())

    @rule(source=st.integers(0, 255))
    def sends_a_mark(self, source: int) -> None:
        self._send_whole(wire.Mark(1, source, 2**32 - 1))

    @precondition(lambda self: self.last)
    @rule()
    def repeats_itself(self) -> None:
        assert self.last is not None
        self._send_whole(self.last)

    @rule(lost=st.integers(1, 100))
    def loses_samples(self, lost: int) -> None:
        self.peer.next_index += lost

    @rule()
    def swaps_two_blocks(self) -> None:
        first, second = self.peer.block(), self.peer.block()
        self._send_whole(second)
        self._send_whole(first)

    @rule(rubbish=noise)
    def talks_rubbish(self, rubbish: bytes) -> None:
        self.peer.say(rubbish)

    @rule()
    def forgets_the_zero_between_two_blocks(self) -> None:
        self.peer.say(self.peer.framed(self.peer.block())[:-1])
        self._send_whole(self.peer.block())

    @rule(place=drawn)
    def damages_a_block(self, place: int) -> None:
        frame = bytearray(self.peer.framed(self.peer.block()))
        frame[place % len(frame)] ^= 1 << place % 8
        self.peer.say(bytes(frame))

    @rule(place=drawn)
    def breaks_off_in_a_block(self, place: int) -> None:
        frame = self.peer.framed(self.peer.block())
        self.peer.say(frame[: place % len(frame)])

    @rule(seed=drawn)
    def sends_what_is_almost_right(self, seed: int) -> None:
        rng = Random(seed)
        self.peer.say(mutated_frame(rng, rng.choice(_unasked()), _unasked()))

    @rule(seed=drawn)
    def echoes_the_host(self, seed: int) -> None:
        self.peer.say(Random(seed).choice(seeds.requests()))

    @rule(kind=st.integers(0, 255), size=st.integers(255, 700))
    def sends_a_sound_frame_that_is_too_long(self, kind: int, size: int) -> None:
        self.peer.say(truth.frame(kind, 0, b"\7" * size))

    def _send_whole(self, message: wire.WireMessage) -> None:
        self.peer.say(self.peer.unasked(message))
        self.last = message


class HostileToTheClient(Hostile):
    """A client that asks and reads."""

    @rule(call=st.sampled_from(sorted(CALLS)), manners=manners)
    def is_asked(self, call: str, manners: list[str]) -> None:
        asked_before = len(self.peer.requests)
        self.peer.manners.extend(manners)
        try:
            reply = CALLS[call](self.client)
        except FixtureError as error:
            assert error.message and error.next_step and error.exit_code == 3
            used = self._used(manners, asked_before)
            assert used[-1] in REFUSALS if isinstance(error, Rejected) else ANSWERS.isdisjoint(used), used
        else:
            assert not isinstance(reply, wire.WireMessage) or reply.raw in self.peer.said
        self.peer.manners.clear()

    @rule(manners=manners)
    def is_greeted(self, manners: list[str]) -> None:
        self.reads_all()
        self.peer.manners.extend(manners)
        try:
            identity = self.client.hello()
        except FixtureError as error:
            assert "another message table" in error.message
            assert "of another version" in manners
        else:
            assert identity.raw in self.peer.said
        self.peer.due.clear()  # a greeting ends what was there before
        self.is_understood()

    @rule()
    def reads_all(self) -> None:
        events: list[wire.Event] = []
        while self.peer.has_more or not events:
            events += self.client.poll(0.001) or [wire.Text(b"")]
        heard = [event for event in events if isinstance(event, wire.SampleBlock | wire.Mark)]
        for event in heard:
            assert event.raw in self.peer.said
        raws = iter([event.raw for event in heard])
        assert all(frame in raws for frame in self.peer.due), "sent whole, and not delivered in order"
        self.peer.due.clear()
        assert held_bytes(self.client, but=[self.peer, self.time]) < MOST_HELD_BYTES

    def is_understood(self) -> None:
        """Whatever came before, the next sound words are heard."""
        self.peer.manners.clear()
        self.client.hello()
        assert self.client.status().uptime_s == len(self.peer.requests)
        self.sends_blocks(1)
        self.reads_all()

    def teardown(self) -> None:
        if hasattr(self, "client"):
            self.reads_all()
            self.is_understood()

    def _used(self, manners: list[str], asked_before: int) -> list[str]:
        asked = len(self.peer.requests) - asked_before
        return [*manners, "well", "well", "well"][:asked]


class HostileToTheRecorder(Hostile):
    """A capture written of what it says; what is shown meanwhile; and the capture read back."""

    @initialize(piece=st.sampled_from([3, 64, 4096]))
    def open(self, piece: int) -> None:
        super().open(piece)
        self.folder = tempfile.TemporaryDirectory()
        self.captures = 0
        self.begins_a_capture()

    @rule(seed=drawn)
    def holds_another_calibration(self, seed: int) -> None:
        """Until the next capture begins."""
        self.peer.calibration = mutate(Random(seed), sound_record(), [sound_record()])[:250]

    def begins_a_capture(self) -> None:
        identity = self.client.hello()
        try:
            self.recorder = Recorder(self.client, identity)
        except FixtureError as error:
            assert "stored calibration cannot be read" in error.message
            self.peer.calibration = sound_record()
            self.recorder = Recorder(self.client, identity)
        self.captures += 1
        self.path = Path(self.folder.name) / f"{self.captures}.capture"
        self.recorder.open_capture(self.path, 500)
        self.shown: list[Received] = []

    @rule()
    def is_recorded(self) -> None:
        try:
            self._record_all()
        except FixtureError as error:
            assert error.message and error.next_step
            self._reads_back()
            self.begins_a_capture()

    @rule(travel_mm=st.one_of(st.none(), st.floats(-20.0, 80.0)), manners=manners)
    def is_told_a_limit(self, travel_mm: float | None, manners: list[str]) -> None:
        self.peer.manners.extend(manners)
        try:
            self.recorder.limit_travel(travel_mm)
        except FixtureError as error:
            assert error.message and error.next_step
        self.peer.manners.clear()

    @rule(manners=manners)
    def is_stopped(self, manners: list[str]) -> None:
        try:
            self._record_all()
        except FixtureError:
            whole = False
        else:
            whole = True
        self.peer.manners.extend(manners)
        capture = self._reads_back()
        self.peer.manners.clear()
        if whole:
            shown = np.concatenate([np.empty(0), *(received.travel_mm for received in self.shown)])
            kept = scaling_of(self.recorder.calibration).travel.values(capture.stream.codes[:, 0])
            assert np.array_equal(shown, kept[: len(shown)]), "what is kept is not what was shown"
        self.begins_a_capture()

    def _record_all(self) -> None:
        self.shown.append(self.recorder.poll(0.001))
        while self.peer.has_more:
            self.shown.append(self.recorder.poll(0.001))

    def _reads_back(self) -> Capture:
        self.recorder.close_capture()
        capture = read_capture(self.path)
        assert capture.damages == []
        stream = capture.stream
        sent = _samples_sent(capture, bytes(self.peer.said))
        assert sent.issuperset(zip(stream.index % 2**32, *stream.codes.T.tolist(), strict=True))
        assert (stream.time_s[1:] > stream.time_s[:-1]).all()
        missing = sum(gap.missing for gap in stream.gaps)
        assert len(stream.index) + missing == (stream.index[-1] + 1 if len(stream.index) else 0)
        assert capture.last("end")["missing_samples"] == missing
        return capture

    def teardown(self) -> None:
        if not hasattr(self, "folder"):
            return
        self.is_stopped([])
        self.sends_blocks(3)
        self._record_all()
        assert len(self._reads_back().stream.index) == self.peer.next_index
        self.folder.cleanup()


def _samples_sent(capture: Capture, said: bytes) -> set[tuple[int, int, int]]:
    """Return index and codes of the samples in a capture's frames, taken apart anew; each frame was said."""
    samples = set()
    for item in capture.items:
        body = _body(item.payload) if item.kind == RECEIVED else b""
        if len(body) > NO_SAMPLES and len(body) % 4 == NO_SAMPLES % 4 and body[0] == wire.SampleBlock.TYPE:
            assert item.payload in said
            first = int.from_bytes(body[2:6], "little")
            pairs = struct.iter_unpack("<HH", body[13:-4])
            samples |= {((first + k) % 2**32, *pair) for k, pair in enumerate(pairs)}
    return samples


def _body(frame: bytes) -> bytes:
    """Return the body of a sound frame, else nothing."""
    try:
        body = bytes(cobs_decode(frame))
    except DecodeError:
        return b""
    return body if crc32(body[:-4]).to_bytes(4, "little") == body[-4:] else b""


def _unasked() -> list[bytes]:
    """Return frames of the golden vectors that refuse nothing."""
    frames = [run + b"\0" for stream in seeds.frames("from_fixture") for run in stream.split(b"\0")[:-1] if run]
    return [frame for frame in frames if frame[1] != wire.Reject.TYPE]


modest = settings(max_examples=80, stateful_step_count=30, deadline=None, derandomize=True)
TestClient = HostileToTheClient.TestCase
TestClient.settings = modest
TestRecorder = HostileToTheRecorder.TestCase
TestRecorder.settings = modest
