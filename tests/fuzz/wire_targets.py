"""Both ends of the wire: the host's decoder, and the fixture's whole program in MicroPython."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random

import rodtrue_protocol as wire
from fuzz.mutation import mutate
from fuzz.parser_child import ParserChild
from fuzz.target import Tell
from rodtrue_protocol.framing import open_frame


def mutated_frame(rng: Random, frame: bytes, others: list[bytes]) -> bytes:
    """Return a frame with a changed body under a sound check, or a changed frame."""
    body = open_frame(frame.rstrip(b"\0"))
    if isinstance(body, bytes) and rng.random() < 0.6:
        message_type, sequence, payload = body[0], body[1], body[2:-4]
        if rng.random() < 0.2:
            message_type = rng.randrange(256)
        payload = mutate(rng, payload, [payload])[:254] if rng.random() < 0.9 else payload
        return wire.frame(message_type, sequence, payload)
    return mutate(rng, frame, others)


def stream(rng: Random, all_streams: list[bytes]) -> bytes:
    """Return a stream of whole and changed frames."""
    pieces = []
    for frame in rng.choice(all_streams).split(b"\0")[:-1]:
        whole = frame + b"\0"
        pieces.append(mutated_frame(rng, whole, all_streams) if rng.random() < 0.3 else whole)
    stream = b"".join(pieces)
    return mutate(rng, stream, all_streams) if rng.random() < 0.5 else stream


@contextmanager
def decoder(_: Path) -> Iterator[Tell]:
    def tell(data: bytes) -> str:
        decoder = wire.Decoder()
        events = decoder.feed(data)
        blocks = [event for event in events if isinstance(event, wire.SampleBlock)]
        log = wire.decode_log(data)
        assert log.heads["index"].tolist() == [block.index for block in blocks]
        assert log.codes.tobytes() == b"".join(block.codes.astype("<u2").tobytes() for block in blocks)
        events += decoder.finish()
        _every_byte_counts(data, events, decoder.counters)
        pieces = wire.Decoder()
        rng = Random(len(data))
        split, at = [], 0
        while at < len(data):
            size = rng.choice((1, 3, 64, 4096))
            split += pieces.feed(data[at : at + size])
            at += size
        assert split + pieces.finish() == events, "another split gave other events"
        for event in events:
            repr(event)
        return "damage told" if any(isinstance(event, wire.Refused) for event in events) else "read"

    yield tell


def _every_byte_counts(data: bytes, events: list[wire.Event], counters: wire.Counters) -> None:
    sound = (event for event in events if isinstance(event, (wire.WireMessage, wire.UnknownMessage)))
    refused_sound = sum(len(e.raw) for e in events if isinstance(e, wire.Refused) and e.reason == "bad_length")
    framed = sum(len(event.raw) for event in sound) + refused_sound
    assert counters.skipped_bytes + counters.text_bytes + framed == len(data) - data.count(0)


@contextmanager
def firmware(folder: Path) -> Iterator[Tell]:
    replies = {message.type: message.reply for message in wire.TABLE.by_type("to_fixture").values()}
    with ParserChild(folder) as child:

        def tell(data: bytes) -> str:
            sent, refused_frames, left = child.answer(data, unsealed=len(data) % 2 == 0)
            runs = [run for run in data.split(b"\0")[:-1] if run]
            bodies = [open_frame(run) for run in runs]
            requests = [body for body in bodies if isinstance(body, bytes)]
            assert left == 0, "bytes left unread"
            assert refused_frames == len(runs) - len(requests), "refused frames miscounted"
            decoder = wire.Decoder()
            events = decoder.feed(sent) + decoder.finish()
            assert not any(isinstance(event, (wire.Refused, wire.Text, wire.UnknownMessage)) for event in events)
            said = [event for event in events if isinstance(event, wire.WireMessage) and _is_reply(event)]
            assert [event.request for event in said] == [body[1] for body in requests], "not one reply a request"
            for body, event in zip(requests, said, strict=True):
                if isinstance(event, wire.Reject):
                    assert event.request_type == body[0]
                    assert event.code in list(wire.RejectCode)
                else:
                    assert replies.get(body[0]) == event.NAME
            return "damage told" if refused_frames else "answered" if said else "nothing to answer"

        yield tell


def _is_reply(event: wire.WireMessage) -> bool:
    unasked = isinstance(event, wire.Status) and not event.flags & wire.StatusFlags.ANSWER
    return not unasked and hasattr(event, "request")
