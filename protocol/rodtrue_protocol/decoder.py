"""Bytes in, events out: no port, clock or thread inside. Half a frame is normal, not an error."""

from __future__ import annotations

from itertools import groupby

from .blocks import BLOCK_LAYOUTS
from .codec import decode_payload
from .events import Counters, Event, Refusal, Refused, SequenceGap, Text, UnknownMessage
from .framing import ENCODED_LIMIT, open_frame, open_frames
from .salvage import frames_at_end, readable
from .table import CRC_SIZE, HEADER_SIZE, TABLE, Direction

PIECE = 1024
"""A run without a zero is given up in pieces of this many bytes, so that memory stays bounded."""
_HELD = ENCODED_LIMIT + PIECE
_BLOCK = TABLE.messages["sample_block"]


class Decoder:
    """Decodes one direction of the wire.

    Any split of a stream gives the same events. Damaged bytes cost the frames they touch and
    nothing else; nothing raises on what a peer sends. Memory is bounded whatever comes.
    """

    def __init__(self, direction: Direction = "from_fixture") -> None:
        self.counters = Counters()
        self._known = TABLE.by_type(direction)
        self._others = TABLE.by_type("to_fixture" if direction == "from_fixture" else "from_fixture")
        self._layouts = BLOCK_LAYOUTS if _BLOCK.type in self._known else {}
        self._tail = b""
        self._expected: int | None = None
        self._cut = False
        self._noise = False

    def feed(self, data: bytes) -> list[Event]:
        """Take bytes as they came and return what they complete, in order."""
        events: list[Event] = []
        *runs, tail = (self._tail + data).split(b"\0")
        bodies = open_frames(runs)
        begin = 0
        for _, together in groupby(bodies, len):
            alike = list(together)
            end = begin + len(alike)
            if not self._blocks(alike, runs[begin:end], events):
                for run in runs[begin:end]:
                    self._run(run, events)
            begin = end
        self._tail = self._cut_down(tail, events)
        return events

    def finish(self) -> list[Event]:
        """Give up what no zero has ended yet: at a stream's end, or when a fixture has gone silent."""
        events: list[Event] = []
        run, self._tail = self._tail, b""
        self._lost(run, "unended", events)
        return events

    def _blocks(self, bodies: list[bytes], raws: list[bytes], events: list[Event]) -> bool:
        """Handle bodies of one length together if all are sample blocks with no number missing; say whether."""
        layout = self._layouts.get(len(bodies[0]))
        if layout is None:
            return False
        joined = layout.join(bodies)
        if not joined or not layout.in_order(joined):
            return False
        self.counters.frames += len(bodies)
        self._follow(joined[1], events, len(bodies))
        events += layout.messages(joined, raws)
        return True

    def _run(self, run: bytes, events: list[Event]) -> None:
        """Handle the bytes between two zeros."""
        if not run:
            return
        body = open_frame(run) if not self._cut else "oversize"
        if isinstance(body, bytes):
            self._frame(body, run, events)
            return
        run = self._cut_down(run, events)
        frames = frames_at_end(run, self._known)
        if not frames:
            self._lost(run, "oversize" if self._cut else body, events)
            return
        self._lost(run[: frames[0][0]], "oversize" if self._cut else "unended", events)
        for start, end, whole in frames:
            self._frame(whole, run[start:end], events)

    def _frame(self, body: bytes, raw: bytes, events: list[Event]) -> None:
        """Handle a sound frame."""
        message_type, sequence = body[0], body[1]
        message = self._known.get(message_type)
        if message is _BLOCK and self._blocks([body], [raw], events):
            return
        self.counters.frames += 1
        if message is not None or message_type not in self._others:
            self._follow(sequence, events)
        if message is None:
            self.counters.unknown_type += 1
            events.append(UnknownMessage(message_type, sequence, body[HEADER_SIZE:-CRC_SIZE], raw))
        elif not message.accepts(payload := body[HEADER_SIZE:-CRC_SIZE]):
            self._refuse("bad_length", raw, events)
        else:
            events.append(decode_payload(message, payload, sequence, raw))

    def _follow(self, sequence: int, events: list[Event], number: int = 1) -> None:
        """Take note of a frame's sequence, or of that of the first of a number of frames in order."""
        if self._expected is not None and sequence != self._expected:
            self.counters.sequence_gaps += 1
            events.append(SequenceGap(self._expected, sequence))
        self._expected = (sequence + number) % 256

    def _cut_down(self, run: bytes, events: list[Event]) -> bytes:
        """Give up the oldest bytes of a run longer than any frame; return what is still held.

        What is cut depends on the run alone and not on how it arrived.
        """
        if len(run) <= _HELD:
            return run
        pieces = -((_HELD - len(run)) // PIECE)
        for start in range(0, pieces * PIECE, PIECE):
            self._cut = True
            self._save_text(run[start : start + PIECE], events)
        return run[pieces * PIECE :]

    def _lost(self, run: bytes, reason: Refusal, events: list[Event]) -> None:
        """Handle the last bytes of a run that are no frame: keep their text, refuse the run for the rest."""
        self._save_text(run, events)
        if self._noise:
            self._refuse(reason, run, events)
        self._cut = self._noise = False

    def _save_text(self, piece: bytes, events: list[Event]) -> None:
        texts = readable(piece)
        events.extend(Text(text) for text in texts)
        text_bytes = sum(map(len, texts))
        self.counters.text_bytes += text_bytes
        self.counters.skipped_bytes += len(piece) - text_bytes
        self._noise |= text_bytes < len(piece)

    def _refuse(self, reason: Refusal, raw: bytes, events: list[Event]) -> None:
        self.counters.count_refusal(reason)
        events.append(Refused(reason, raw))
