"""What a decoder counts: each kind of damage under its own name, once a frame, and every byte somewhere."""

from dataclasses import asdict

import wire_truth as truth
from rodtrue_protocol import Decoder, Refused, SequenceGap, UnknownMessage, encode

ACK = {"request": 1, "request_type": 3}


def counts(*pieces: bytes) -> dict[str, int]:
    """Return what a decoder counts over the pieces, zeros left out."""
    decoder = Decoder()
    for piece in pieces:
        decoder.feed(piece)
    decoder.finish()
    return {name: number for name, number in asdict(decoder.counters).items() if number}


def test_a_clean_line_counts_frames_and_nothing_else():
    assert counts(*(encode("ack", k, **ACK) for k in range(5))) == {"frames": 5}


def test_types_that_nobody_knows_are_counted_and_told_with_their_payload():
    stream = truth.frame(0xF0, 3, b"abc") + truth.frame(0xF0, 4, b"")
    assert counts(stream) == {"frames": 2, "unknown_type": 2}
    events = Decoder().feed(stream)
    assert [(e.message_type, e.sequence, e.payload) for e in events if isinstance(e, UnknownMessage)] == [
        (0xF0, 3, b"abc"), (0xF0, 4, b""),
    ]  # fmt: skip


def test_a_sound_frame_of_a_wrong_length_is_a_frame_refused_and_none_of_its_bytes_are_skipped():
    whole = encode("ack", 7, **ACK)
    type_of_ack = Decoder().feed(whole)[0].TYPE
    longer = truth.frame(type_of_ack, 7, b"\1\3\0")
    assert counts(longer) == {"frames": 1, "bad_length": 1}
    (refused,) = Decoder().feed(longer)
    assert refused == Refused("bad_length", longer[:-1])


def test_each_missing_stretch_of_sequences_counts_once():
    stream = [encode("ack", k, **ACK) for k in (10, 11, 14, 15, 15)]
    assert counts(*stream) == {"frames": 5, "sequence_gaps": 2}
    decoder = Decoder()
    gaps = [e for piece in stream for e in decoder.feed(piece) if isinstance(e, SequenceGap)]
    assert [(gap.expected, gap.got, gap.missing) for gap in gaps] == [(12, 14, 2), (16, 15, 255)]


def test_bytes_before_a_whole_frame_are_unended_and_the_frame_counts():
    assert counts(b"\x80\x90\xa0" + encode("ack", 1, **ACK)) == {"frames": 1, "unended": 1, "skipped_bytes": 3}


def test_text_is_text_and_no_damage():
    said = b"Traceback (most recent call last):\r\n"
    assert counts(said + encode("ack", 1, **ACK)) == {"frames": 1, "text_bytes": len(said)}


def test_a_run_without_end_is_one_oversize_and_all_its_bytes_are_skipped():
    noise = b"\xd5" * 5000
    assert counts(noise[:1], noise[1:], b"\0") == {"oversize": 1, "skipped_bytes": 5000}


def test_raw_bytes_are_no_part_of_what_an_event_says():
    one, other = UnknownMessage(0xF0, 3, b"abc", b"raw"), UnknownMessage(0xF0, 3, b"abc", b"as well")
    assert one == other
    assert repr(one) == "UnknownMessage(message_type=240, sequence=3, payload=b'abc')"
