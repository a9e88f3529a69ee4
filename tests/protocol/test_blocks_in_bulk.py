"""Sample blocks that arrive together are decoded together, and nobody can tell: however the stream is cut, whatever
stands between the blocks, the same is told at the same byte.
"""

from __future__ import annotations

import struct
import weakref
from itertools import accumulate, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import wire_truth as truth
from rodtrue_protocol import (
    Counters,
    Decoder,
    Event,
    SampleBlock,
    SequenceGap,
    UnknownMessage,
    decode_log,
    encode,
)

ACK = {"request": 1, "request_type": 3}
BLOCK_HEAD = struct.Struct("<IIHB")
SIZES = st.sampled_from([1, 2, 20, 32])
BETWEEN = ["nothing", "nothing", "ack", "stranger", "echo", "damage", "zeros", "text", "count", "noise"]


def payload(index: int, count: int) -> bytes:
    """Return a block's payload packed by hand; no two samples of a stream are alike for 16,000 samples."""
    codes = ((index + np.arange(count)) % 16_000 * 4).astype("<u2")
    return BLOCK_HEAD.pack(index, 2000 * index % 2**32, 2000, count) + np.stack([codes, 65_520 - codes], 1).tobytes()


def blocks(first_sequence: int, number: int, count: int) -> list[bytes]:
    """Return the frames of blocks in order, framed by the tests' own COBS and CRC."""
    return [truth.frame(0x82, (first_sequence + k) % 256, payload(k * count, count)) for k in range(number)]


@st.composite
def rows_of_blocks(draw: st.DrawFn) -> list[bytes]:
    """Return frames: blocks of one size in a row, numbers and sizes changing now and then, other things between."""
    frames: list[bytes] = []
    sequence = draw(st.integers(0, 255))
    for _ in range(draw(st.integers(1, 5))):
        number, count = draw(st.integers(1, 40)), draw(SIZES)
        row = blocks(sequence, number, count)
        sequence = (sequence + number + draw(st.sampled_from([0, 0, 1, 255]))) % 256
        between = draw(st.sampled_from(BETWEEN))
        place = draw(st.integers(0, number))
        if between == "ack":
            row.insert(place, encode("ack", sequence, **ACK))
        elif between == "stranger":  # as long as the blocks around it, and sound
            row.insert(place, truth.frame(0xF0, sequence, payload(7, count)))
        elif between == "echo":
            row.insert(place, encode("stop", sequence))
        elif between == "count":  # a block that tells another number of samples than it has
            row.insert(place, truth.frame(0x82, sequence, BLOCK_HEAD.pack(1, 2, 2000, count + 1) + bytes(4 * count)))
        elif between == "damage" and place < number:
            damaged = bytearray(row[place])
            damaged[-2] ^= 0x04
            row[place] = bytes(damaged)
        elif between == "zeros":
            row.insert(place, b"\0\0")
        elif between == "text":
            row.insert(place, b"MemoryError: \r\n>>> ")
        elif between == "noise":
            row.insert(place, b"\xd5" * draw(st.integers(1, 3000)))
        frames += row
    return frames


def told(pieces: list[bytes]) -> tuple[list[tuple[Event, bytes]], Counters]:
    """Return the events of a stream that arrives in pieces, each with its raw bytes, and what was counted."""
    decoder = Decoder()
    events = [event for piece in pieces for event in decoder.feed(piece)] + decoder.finish()
    return [(event, getattr(event, "raw", b"")) for event in events], decoder.counters


@settings(max_examples=150, deadline=None, derandomize=True)
@given(rows_of_blocks(), st.lists(st.integers(0, 10**6), max_size=12), st.sampled_from([64, 147, 1000, 4096]))
def test_blocks_in_a_row_are_told_alike_however_the_stream_is_cut(
    frames: list[bytes], cuts: list[int], chunk: int
) -> None:
    stream = b"".join(frames)
    one_by_one = told(frames)
    places = sorted({0, len(stream), *(cut % (len(stream) + 1) for cut in cuts)})
    assert told([stream]) == one_by_one
    assert told([stream[a:b] for a, b in pairwise(places)]) == one_by_one
    assert told([stream[a : a + chunk] for a in range(0, len(stream), chunk)]) == one_by_one
    log = decode_log(stream)
    assert log.codes.tolist() == [
        pair for event, _ in one_by_one[0] if isinstance(event, SampleBlock) for pair in event.codes.tolist()
    ]


@pytest.mark.parametrize("count", [1, 20, 32])
def test_every_block_of_a_chunk_has_its_own_numbers_codes_and_bytes(count: int) -> None:
    frames = blocks(250, 12, count)
    decoder = Decoder()
    events = decoder.feed(b"".join(frames))
    assert decoder.counters == Counters(frames=12)
    for k, event in enumerate(events):
        assert isinstance(event, SampleBlock)
        index = k * count
        assert (event.sequence, event.index, event.time_us) == ((250 + k) % 256, index, 2000 * index)
        assert (event.period_us, event.count) == (2000, count)
        assert event.raw == frames[k][:-1]
        assert event.codes.tolist() == [[4 * (index + j), 65_520 - 4 * (index + j)] for j in range(count)]
        assert event.samples == payload(index, count)[BLOCK_HEAD.size :]
        with pytest.raises(ValueError, match="read-only"):
            event.codes[0, 0] = 1


def test_a_block_is_told_with_its_zero_and_neither_before_nor_later() -> None:
    frames = blocks(0, 5, 32)
    decoder = Decoder()
    for frame in frames:
        for byte in frame[:-1]:
            assert decoder.feed(bytes([byte])) == []
        (block,) = decoder.feed(b"\0")
        assert isinstance(block, SampleBlock) and block.raw == frame[:-1]
    ends = list(accumulate(map(len, frames)))
    stream = b"".join(frames)
    for size in range(1, len(stream) + 1):
        assert len(Decoder().feed(stream[:size])) == sum(end <= size for end in ends)


def test_a_missing_number_among_blocks_of_one_chunk_is_told_where_it_is_missing() -> None:
    frames = blocks(254, 10, 20)
    events = Decoder().feed(b"".join(frames[:4] + frames[6:]))
    assert events[4] == SequenceGap(2, 4)
    assert [event.sequence for event in events if isinstance(event, SampleBlock)] == [254, 255, 0, 1, 4, 5, 6, 7]


def test_a_stranger_of_a_blocks_length_among_blocks_stays_a_stranger() -> None:
    frames = blocks(0, 3, 20)
    frames[1] = truth.frame(0xF0, 1, payload(5, 20))
    events = Decoder().feed(b"".join(frames))
    assert [type(event) for event in events] == [SampleBlock, UnknownMessage, SampleBlock]
    assert decode_log(b"".join(frames)).heads["sequence"].tolist() == [0, 2]


def test_blocks_are_no_messages_to_a_fixture() -> None:
    decoder = Decoder("to_fixture")
    events = decoder.feed(b"".join(blocks(3, 4, 20)))
    assert [type(event) for event in events] == [UnknownMessage] * 4
    assert decoder.counters == Counters(frames=4, unknown_type=4)


def test_a_decoder_keeps_nothing_of_what_it_has_told() -> None:
    decoder = Decoder()
    events = decoder.feed(b"".join(blocks(0, 28, 32)) + b"\x55")
    codes = weakref.ref(events[0].codes) if isinstance(events[0], SampleBlock) else None
    assert codes is not None and codes() is not None
    del events
    assert codes() is None


def test_messages_are_equal_if_they_say_the_same_whatever_bytes_they_came_in() -> None:
    frame = truth.frame(0x82, 7, payload(64, 2))
    (came,) = Decoder().feed(frame)
    made = SampleBlock.of(64, 128_000, 2000, [[256, 65_264], [260, 65_260]])
    assert came != made
    assert came == SampleBlock(64, 128_000, 2000, made.codes, sequence=7)
    assert came != SampleBlock(64, 128_000, 2000, made.codes + np.uint16(4), sequence=7)
    said = f"index=64, time_us=128000, period_us=2000, samples={made.samples!r}, sequence=7"
    assert repr(came) == f"SampleBlock({said})"
    assert encode(made, 7) == frame


def test_a_message_that_came_cannot_be_changed() -> None:
    (ack,) = Decoder().feed(encode("ack", 1, **ACK))
    with pytest.raises(AttributeError):
        ack.request = 2  # type: ignore[union-attr,misc]
