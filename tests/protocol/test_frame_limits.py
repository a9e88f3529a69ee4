"""Frames at the limits of their length: the longest goes through, one byte more is told as what it is."""

import pytest

import wire_truth as truth
from rodtrue_protocol import TABLE, Decoder, Refused, encode
from rodtrue_protocol.framing import BODY_LIMIT, ENCODED_LIMIT, frame, open_frame
from rodtrue_protocol.table import SCALAR_MOST

LONGEST = 254
"""Bytes of payload beside type, sequence and CRC in a body of 260, the table's limit."""


def test_the_longest_payload_is_framed_and_opened_and_one_byte_more_is_refused():
    payload = bytes(1 + k % 255 for k in range(LONGEST))
    sent = frame(0x85, 9, payload)
    assert sent == truth.frame(0x85, 9, payload)
    assert len(sent) - 1 == ENCODED_LIMIT == 262
    assert open_frame(sent[:-1]) == truth.body(0x85, 9, payload)
    with pytest.raises(ValueError, match="255 bytes; a frame holds 254"):
        frame(0x85, 9, payload + b"x")


@pytest.mark.parametrize(("message_type", "sequence"), [(256, 0), (0, 256), (-1, 0), (0, -1)])
def test_a_type_or_sequence_that_is_no_byte_is_refused(message_type, sequence):
    with pytest.raises(ValueError, match="is not 0 to 255"):
        frame(message_type, sequence, b"")
    assert frame(255, 255, b"") == truth.frame(255, 255, b"")


def test_a_sound_body_of_one_byte_too_many_is_oversize_though_its_frame_is_no_longer_than_the_longest():
    payload = b"x" * 197 + b"\0" + b"y" * 57
    raw = truth.frame(0x85, 9, payload)[:-1]
    assert (len(raw), len(truth.body(0x85, 9, payload))) == (ENCODED_LIMIT, BODY_LIMIT + 1)
    assert open_frame(raw) == "oversize"


def test_one_byte_beyond_the_longest_frame_is_oversize_before_anything_else():
    no_cobs = b"\xff" * ENCODED_LIMIT
    assert open_frame(no_cobs) == "cobs"
    assert open_frame(no_cobs + b"\xff") == "oversize"


def test_the_shortest_frame_has_no_payload_and_one_byte_less_is_short():
    assert open_frame(truth.frame(1, 2, b"")[:-1]) == truth.body(1, 2, b"")
    body = truth.body(1, 2, b"")[1:]
    assert open_frame(truth.cobs(body)) == "short"


@pytest.mark.parametrize("raw", [b"\xff" * 262, b"\xff" * 263, b"\x02a", truth.frame(1, 2, b"")[:-2] + b"\x7f"])
def test_whatever_is_damaged_is_counted_once_under_its_reason(raw):
    decoder = Decoder()
    (refused,) = decoder.feed(raw + b"\0")
    assert isinstance(refused, Refused) and refused.raw == raw
    told = {"cobs": decoder.counters.cobs_errors, "crc": decoder.counters.crc_errors,
            "short": decoder.counters.short, "oversize": decoder.counters.oversize}  # fmt: skip
    assert told == {reason: int(reason == refused.reason) for reason in told}
    assert decoder.counters.frames == 0


@pytest.mark.parametrize(("name", "head", "least", "most"), [
    ("sample_block", 4 + 4 + 2 + 1, 4 + 4 + 2 + 1 + 1 * 4, 4 + 4 + 2 + 1 + 32 * 4),
    ("write_calibration", 2 + 1, 2 + 1, 2 + 1 + 250),
    ("ack", 1 + 1, 1 + 1, 1 + 1),
])  # fmt: skip
def test_a_payload_is_accepted_from_its_fewest_to_its_most_bytes_and_only_with_its_own_count(name, head, least, most):
    message = TABLE.messages[name]
    assert (message.head_size, message.least_size, message.most_size) == (head, least, most)
    repeat = 4 if name == "sample_block" else 1
    for length in range(most + 10):
        rest = length - head
        fits = least <= length <= most and rest % repeat == 0
        payload = bytearray(length)
        if most > head and length >= head:
            payload[head - 1] = min(255, max(0, rest // repeat))
        assert message.accepts(bytes(payload)) == fits, length
        if most > head and fits:
            payload[head - 1] += 1
            assert not message.accepts(bytes(payload)), "one more told than there are"


@pytest.mark.parametrize("payload", [b"", bytes(10), bytes(3) + b"\1" * 7])
def test_a_sound_block_too_short_for_its_own_head_is_of_a_bad_length(payload):
    number = TABLE.messages["sample_block"].type
    (event,) = Decoder().feed(truth.frame(number, 0, payload))
    assert isinstance(event, Refused) and event.reason == "bad_length"


def test_whole_numbers_end_where_their_bytes_do():
    assert SCALAR_MOST == {"u8": 255, "u16": 65_535, "u32": 4_294_967_295}
    with pytest.raises(ValueError, match=r"ack.request_type: 256 is not an integer from 0 to 255"):
        encode("ack", 0, request=1, request_type=256)
