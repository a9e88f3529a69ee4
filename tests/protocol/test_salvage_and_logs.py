"""A frame behind unended bytes, and whole logs of blocks of every size."""

import struct

import numpy as np
import pytest

import wire_truth as truth
from rodtrue_protocol import Decoder, Refused, SampleBlock, decode_log, encode

NOISE = b"\x81\x92\xa3"
ACK = encode("ack", 4, request=1, request_type=3)


def test_a_frame_behind_unended_bytes_is_saved_and_they_are_refused_alone():
    refused, message = Decoder().feed(NOISE + ACK)
    assert refused == Refused("unended", NOISE)
    assert (message.NAME, message.sequence) == ("ack", 4)


@pytest.mark.parametrize("before", [b"", NOISE, b"\x55" * 1700], ids=["nothing", "noise", "a flood"])
def test_frames_whose_zeros_were_lost_are_saved_in_order_by_both_readers(before):
    blocks = [encode(SampleBlock.of(k, 2000 * k, 2000, np.full((1, 2), 4 * k, np.uint16)), k) for k in range(4)]
    stream = before + b"".join(frame[:-1] for frame in blocks) + b"\0"
    events = [event for event in Decoder().feed(stream) if isinstance(event, SampleBlock)]
    assert [(event.index, event.raw + b"\0") for event in events] == list(enumerate(blocks))
    assert decode_log(stream).heads["sequence"].tolist() == [0, 1, 2, 3]


@pytest.mark.parametrize(
    "glued", [truth.frame(0xF0, 4, b"ab"), truth.frame(ACK[1], 4, b"\1\3\0")], ids=["unknown type", "wrong length"]
)
def test_behind_unended_bytes_only_a_frame_of_a_known_type_and_length_is_believed(glued):
    # Damaged bytes pass for a frame more easily there, where every place is tried.
    (event,) = Decoder().feed(NOISE + glued)
    assert isinstance(event, Refused)
    assert event.raw == NOISE + glued[:-1]
    assert decode_log(NOISE + glued).codes.shape == (0, 2)


@pytest.mark.parametrize("count", [1, 2, 31, 32])
def test_a_log_holds_blocks_of_every_size(count):
    codes = (np.arange(2 * count, dtype=np.uint16) * 4).reshape(count, 2)
    stream = b"".join(encode(SampleBlock.of(count * k, 2000 * count * k, 2000, codes), k) for k in range(3))
    log = decode_log(stream)
    assert np.array_equal(log.codes, np.tile(codes, (3, 1)))
    assert np.array_equal(log.index, np.arange(3 * count))
    assert np.array_equal(log.time_us, 2000 * np.arange(3 * count))
    assert log.heads["count"].tolist() == [count] * 3


def test_a_log_of_blocks_of_mixed_sizes_with_damage_between_keeps_their_order():
    sizes = [1, 32, 32, 5, 1]
    frames, first = [], 0
    for k, size in enumerate(sizes):
        codes = np.full((size, 2), 4 * k, np.uint16)
        frames.append(encode(SampleBlock.of(first, 2000 * first, 2000, codes), k))
        first += size
    damaged = bytearray(frames[1])
    damaged[9] ^= 0x10
    log = decode_log(frames[0] + bytes(damaged) + NOISE + frames[2] + ACK + frames[3] + frames[4] + frames[0][:-1])
    assert log.heads["sequence"].tolist() == [0, 2, 3, 4]
    assert log.index.tolist() == [0, *range(33, 65), *range(65, 70), 70]
    assert log.codes[:, 0].tolist() == [0, *[8] * 32, *[12] * 5, 16]


def test_a_sound_block_of_more_samples_than_the_table_allows_is_no_block_to_either_reader():
    frame = truth.frame(SampleBlock.TYPE, 0, struct.pack("<IIHB", 0, 0, 2000, 33) + bytes(33 * 4))
    (event,) = Decoder().feed(frame)
    assert isinstance(event, Refused) and event.reason == "bad_length"
    assert decode_log(frame).codes.shape == (0, 2)
