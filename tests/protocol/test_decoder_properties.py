"""What the decoder promises for every stream, on generated ones."""

from __future__ import annotations

import tracemalloc
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import wire_truth as truth
from rodtrue_protocol import (
    TABLE,
    BlockLog,
    Decoder,
    Event,
    Refused,
    SampleBlock,
    SequenceGap,
    Text,
    UnknownMessage,
    WireMessage,
    decode_log,
    encode,
)
from rodtrue_protocol.table import SCALAR_MOST, Field, Message

modest = settings(max_examples=60, deadline=None, derandomize=True)


def field_values(field: Field) -> st.SearchStrategy[Any]:
    """Return legal values of one field, reserved ones among them."""
    if field.type in SCALAR_MOST:
        low, high = field.range or (0, SCALAR_MOST[field.type])
        reserved = [st.just(entry.value) for entry in field.reserved]
        return st.one_of(st.integers(low, high), *reserved)
    if field.type == "text":
        letters = st.characters(codec="ascii", exclude_characters="\0")
        return st.text(letters, max_size=field.length)
    if field.type == "bytes":
        least, most = (field.length, field.length) if field.length is not None else (field.least, field.most)
        return st.binary(min_size=least or 0, max_size=most)
    if field.count_type:
        repeats = st.integers(field.least, field.most)
        return repeats.flatmap(lambda n: st.binary(min_size=4 * n, max_size=4 * n))
    members = field_dict(field.members)
    return st.lists(members, min_size=field.count or 0, max_size=field.count)


def field_dict(fields: tuple[Field, ...]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries({f.name: field_values(f) for f in fields if f.type != "reserved"})


def frames(direction: str) -> st.SearchStrategy[bytes]:
    """Return frames of any message of one direction, with any sequence."""

    def of(message: Message) -> st.SearchStrategy[bytes]:
        return st.builds(
            lambda fields, sequence: encode(message.name, sequence, **fields),
            field_dict(message.fields),
            st.integers(0, 255),
        )

    return st.one_of(*[of(m) for m in TABLE.messages.values() if m.direction == direction])


noise = st.one_of(
    st.binary(max_size=300),
    st.sampled_from([b"", b"\0", b"\0\0", b">>> ", b"Traceback (most recent call last):\r\n", b"\x55" * 1700]),
)
streams = st.lists(st.one_of(noise, frames("from_fixture")), max_size=8).map(b"".join)


def decoded(pieces: list[bytes]) -> list[tuple[Event, bytes]]:
    """Return the events of a stream that arrives in pieces, each with its raw bytes."""
    decoder = Decoder()
    events = [event for piece in pieces for event in decoder.feed(piece)] + decoder.finish()
    return [(event, getattr(event, "raw", b"")) for event in events]


@modest
@given(st.sampled_from(list(TABLE.messages.values())), st.integers(0, 255), st.data())
def test_what_is_encoded_is_decoded(message: Message, sequence: int, data: st.DataObject) -> None:
    fields = data.draw(field_dict(message.fields))
    frame = encode(message.name, sequence, **fields)
    (event,) = Decoder(message.direction).feed(frame)
    assert isinstance(event, WireMessage)
    assert (event.NAME, event.TYPE, event.sequence) == (message.name, message.type, sequence)
    assert event.raw + b"\0" == frame
    assert event.values() == fields
    assert encode(event, sequence) == frame


@modest
@given(streams, st.lists(st.integers(0, 3000), max_size=12))
def test_any_split_gives_the_same_events(stream: bytes, cuts: list[int]) -> None:
    places = sorted({0, len(stream), *(cut % (len(stream) + 1) for cut in cuts)})
    pieces = [stream[a:b] for a, b in pairwise(places)]
    assert decoded(pieces) == decoded([stream])


@settings(modest, max_examples=15)
@given(streams)
def test_byte_by_byte_gives_the_same_events(stream: bytes) -> None:
    assert decoded([stream[k : k + 1] for k in range(len(stream))]) == decoded([stream])


@modest
@given(st.lists(st.tuples(noise, frames("from_fixture")), min_size=1, max_size=6))
def test_noise_between_frames_loses_no_good_frame(parts: list[tuple[bytes, bytes]]) -> None:
    stream = b"".join(before + frame for before, frame in parts)
    events = [event for event, _ in decoded([stream])]
    assert [event.raw for event in events if isinstance(event, WireMessage)] == [frame[:-1] for _, frame in parts]


@modest
@given(frames("from_fixture"), st.integers(0, 10**6), frames("from_fixture"))
def test_one_flipped_bit_costs_its_frame_and_no_other(frame: bytes, place: int, good: bytes) -> None:
    # A flip in a COBS code spreads over more than one bit of the body, where a CRC-32 lets about one
    # pattern in 2^32 pass; a flip elsewhere is one bit of the body and always refused.
    bit = place % (8 * len(frame))
    damaged = bytearray(frame)
    damaged[bit // 8] ^= 1 << bit % 8
    events = [event for event, _ in decoded([bytes(damaged) + good])]
    sound = [event for event in events if isinstance(event, (WireMessage, UnknownMessage))]
    assert [event.raw for event in sound] == [good[:-1]]
    assert any(isinstance(event, (Refused, Text)) for event in events)


@modest
@given(st.binary(max_size=600))
def test_arbitrary_bytes_raise_nothing_and_every_byte_is_accounted_for(data: bytes) -> None:
    decoder = Decoder()
    events = decoder.feed(data) + decoder.finish()
    texts = sum(len(event.data) for event in events if isinstance(event, Text))
    frames_size = sum(len(event.raw) for event in events if isinstance(event, (WireMessage, UnknownMessage)))
    counters = decoder.counters
    assert counters.text_bytes == texts
    assert counters.skipped_bytes + texts + frames_size == len(data) - data.count(0)


@modest
@given(streams, st.binary(max_size=20))
def test_a_whole_log_gives_the_decoders_sample_blocks(stream: bytes, rest: bytes) -> None:
    blocks = [event for event, _ in decoded([stream + rest]) if isinstance(event, SampleBlock)]
    log = decode_log(stream + rest)
    assert isinstance(log, BlockLog)
    assert log.heads["sequence"].tolist() == [block.sequence for block in blocks]
    assert log.heads["period_us"].tolist() == [block.period_us for block in blocks]
    assert log.codes.tolist() == [pair for block in blocks for pair in block.codes.tolist()]
    places = [(block, k) for block in blocks for k in range(block.count)]
    assert log.index.tolist() == [(block.index + k) % 2**32 for block, k in places]
    assert log.time_us.tolist() == [(block.time_us + k * block.period_us) % 2**32 for block, k in places]


@pytest.mark.parametrize("piece", [b"\xd5" * 4096, bytes(range(1, 256)) * 16], ids=["one byte", "all but zero"])
def test_memory_stays_bounded_whatever_comes(piece: bytes) -> None:
    decoder = Decoder()
    tracemalloc.start()
    try:
        for _ in range(200):
            decoder.feed(piece)
        snapshot = tracemalloc.take_snapshot()
    finally:
        tracemalloc.stop()
    # Only what the codec's own lines hold: other threads of the test process allocate too.
    own = snapshot.filter_traces([tracemalloc.Filter(True, "*/rodtrue_protocol/*")])
    held = sum(trace.size for trace in own.traces)
    assert 0 < held < 40_000
    (event,) = [
        e for e in decoder.feed(b"\0" + encode("ack", 1, request=1, request_type=3)) if isinstance(e, WireMessage)
    ]
    assert event.NAME == "ack"
    assert decoder.counters.oversize == 1
    assert decoder.counters.skipped_bytes == 200 * len(piece)


def test_a_log_of_many_full_blocks_keeps_indices_and_times() -> None:
    codes = (np.arange(64 * 32 * 2) % 16381 * 4).astype(np.uint16).reshape(64, 32, 2)
    stream = b"".join(
        encode(SampleBlock.of(32 * k, (2**32 - 64000 + 64000 * k) % 2**32, 2000, codes[k]), k) for k in range(64)
    )
    log = decode_log(stream)
    assert np.array_equal(log.codes, codes.reshape(-1, 2))
    assert np.array_equal(log.index, np.arange(2048))
    assert log.time_us[:33].tolist() == [(2**32 - 64000 + 2000 * k) % 2**32 for k in range(33)]


def test_a_log_without_blocks_is_empty_and_has_its_shape() -> None:
    for data in (b"", b"\0", encode("ack", 0, request=0, request_type=3), b"noise"):
        log = decode_log(data)
        assert log.codes.shape == (0, 2)
        assert log.index.shape == log.time_us.shape == (0,)


def test_sequence_gaps_are_told_once_and_only_for_the_decoders_own_direction() -> None:
    decoder = Decoder()
    ack = {"request": 1, "request_type": 3}
    stream = encode("ack", 254, **ack) + encode("ack", 255, **ack) + encode("ack", 0, **ack)
    assert not [e for e in decoder.feed(stream) if isinstance(e, SequenceGap)]
    decoder.feed(encode("stop", 77))  # an echo of the host's own frame
    events = decoder.feed(encode("ack", 4, **ack) + encode("ack", 5, **ack))
    assert events[0] == SequenceGap(1, 4)
    assert events[0].missing == 3
    assert decoder.counters.sequence_gaps == 1


def test_unfinished_text_is_held_until_it_is_asked_for() -> None:
    decoder = Decoder()
    assert decoder.feed(b"MemoryError: \r\n>>> ") == []
    assert decoder.finish() == [Text(b"MemoryError: \r\n>>> ")]
    assert decoder.finish() == []


def test_a_frame_longer_than_the_limit_is_refused_even_with_a_sound_crc() -> None:
    payload = b"\1\1\0\xfb" + b"x" * 251
    decoder = Decoder()
    assert [e.reason for e in decoder.feed(truth.frame(0x85, 0, payload)) if isinstance(e, Refused)] == ["oversize"]
    assert decoder.counters.frames == 0
