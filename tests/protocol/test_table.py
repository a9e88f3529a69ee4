"""The message table: frozen layouts, the digest, and everything that is made from it."""

from __future__ import annotations

import copy
import subprocess
import sys
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

import wire_vectors as vectors
from rodtrue_protocol import (
    TABLE,
    CalibrationRecord,
    ChannelCalibration,
    Decoder,
    Kind,
    RejectCode,
    SampleBlock,
    Start,
    StatusFlags,
    decode_calibration,
    digest,
    digest_text,
    encode,
    encode_calibration,
)
from rodtrue_protocol.blocks import HEAD
from rodtrue_protocol.codec import DECLARATIONS
from rodtrue_protocol.messages import MESSAGE_CLASSES
from rodtrue_protocol.table import Field, load_source

FROZEN = {
    "hello": (1, "to_fixture", ["4 reserved", "u32 table_digest"]),
    "read_status": (4, "to_fixture", []),
    "enter_maintenance": (8, "to_fixture", []),
    "identity": (
        129,
        "from_fixture",
        [
            "u8 request", "u32 table_digest", "u8 kind", "8 bytes unique_id", "16 text firmware_version",
            "16 text micropython_version", "32 text interpreter", "u16 rate_min_hz", "u16 rate_max_hz",
            "u16 calibration_generation", "8 reserved", "u8 reset_cause",
        ],
    ),
    "status": (
        132,
        "from_fixture",
        [
            "u8 request", "u16 flags", "u8 button", "u8 foot_switch", "u8 reset_cause", "u32 uptime_s",
            "u16 period_us", "u32 sample_index", "u32 time_us", "u16 dropped_blocks", "u16 lost_samples",
            "u16 overruns", "u16 dropped_replies", "u16 refused_frames", "u16 travel_code",
            "u16 pressure_code", "u16 supply_code", "u16 thermistor_code", "u16 calibration_generation",
            "8 reserved", "4 x (u16 counter, u8 source, u32 sample_index) marks",
        ],
    ),
    "ack": (135, "from_fixture", ["u8 request", "u8 request_type"]),
    "reject": (
        136,
        "from_fixture",
        ["u8 request", "u8 request_type", "u8 code", "4 reserved", "u8 field"],
    ),
}  # fmt: skip
"""Type numbers and layouts that never change, so that a mismatch can be read and mended."""


def shape(field: Field) -> str:
    """Return a field's layout in a few words."""
    if field.type == "reserved":
        return f"{field.length} reserved"
    if field.type == "group":
        return f"{field.count} x ({', '.join(shape(member) for member in field.members)}) {field.name}"
    return f"{field.type} {field.name}" if field.length is None else f"{field.length} {field.type} {field.name}"


def test_frozen_messages_keep_their_numbers_and_layouts() -> None:
    frozen = {
        name: (message.type, message.direction, [shape(field) for field in message.fields])
        for name, message in TABLE.messages.items()
        if message.frozen
    }
    assert frozen == FROZEN


def test_reject_codes_keep_their_numbers() -> None:
    assert {code.name: code.value for code in RejectCode} == {
        "UNKNOWN_TYPE": 1,
        "BAD_LENGTH": 2,
        "OUT_OF_RANGE": 3,
        "BUSY_STREAMING": 4,
        "SEALED": 5,
        "STORAGE_FAILED": 6,
        "NOT_CALIBRATED": 7,
        "TABLE_MISMATCH": 8,
    }


def leaves(node: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Yield the path of every value in the table."""
    if isinstance(node, (dict, list)):
        for key, value in node.items() if isinstance(node, dict) else enumerate(node):
            yield from leaves(value, (*path, key))
    else:
        yield path


def test_digest_changes_with_every_value_but_the_notes() -> None:
    source = load_source()
    for path in leaves(source):
        changed = copy.deepcopy(source)
        node = changed
        for key in path[:-1]:
            node = node[key]
        value = node[path[-1]]
        node[path[-1]] = (not value) if isinstance(value, bool) else value + type(value)(1)
        assert (digest(changed) == digest(source)) == (path[-1] == "note"), path


def test_digest_changes_when_a_field_is_added_moved_or_taken_away() -> None:
    source = load_source()
    for place, message in enumerate(source["messages"]):
        if not message["fields"]:
            continue
        shorter, longer, turned = (copy.deepcopy(source) for _ in range(3))
        del shorter["messages"][place]["fields"][0]
        longer["messages"][place]["fields"].append(message["fields"][0])
        turned["messages"][place]["fields"].reverse()
        digests = {digest(shorter), digest(longer), digest(turned)} | {digest(source)}
        assert len(digests) == (3 if len(message["fields"]) == 1 else 4), message["name"]


def test_type_numbers_are_unique_and_tell_the_direction() -> None:
    numbers = [message.type for message in TABLE.messages.values()]
    assert len(set(numbers)) == len(numbers)
    for message in TABLE.messages.values():
        assert (message.type >= 0x80) == (message.direction == "from_fixture"), message.name
        if message.reply:
            assert TABLE.messages[message.reply].fields[0].name == "request", message.name
        assert (message.reply is not None) == (message.direction == "to_fixture"), message.name


def test_construct_firmware_formats_and_table_agree_on_every_size() -> None:
    constants, format_sizes = vectors.on_micropython("constants")
    for name, message in TABLE.messages.items():
        upper = name.upper()
        assert constants[f"TYPE_{upper}"] == message.type
        assert constants[f"SIZE_{upper}"] == message.head_size
        assert format_sizes.get(f"FORMAT_{upper}", 0) == message.head_size
        if message.free_field is None:
            assert DECLARATIONS[name].sizeof() == message.head_size == message.most_size
    assert format_sizes["FORMAT_SAMPLE"] == constants["SIZE_SAMPLE"] == 4
    assert constants["DIGEST"] == digest_text(TABLE.digest)
    assert constants["DIGEST_HIGH"] << 16 | constants["DIGEST_LOW"] == TABLE.digest
    assert HEAD.itemsize == 2 + TABLE.messages["sample_block"].head_size


def test_no_constant_of_the_firmware_needs_a_long_integer() -> None:
    constants, _ = vectors.on_micropython("constants")
    integers = {name: value for name, value in constants.items() if isinstance(value, int)}
    assert integers
    assert all(abs(value) < 2**30 for value in integers.values())


def test_the_longest_message_fits_the_longest_body() -> None:
    longest = max(message.most_size for message in TABLE.messages.values())
    assert 2 + longest + 4 == TABLE.limit("body_bytes")


def test_a_block_of_32_samples_is_147_bytes_on_the_wire() -> None:
    # type, sequence, index, time, period, count, 32 samples of 4 bytes, CRC; COBS; the closing zero.
    codes = np.full((32, 2), 0x4141, np.uint16)
    frame = encode(SampleBlock.of(0x01010101, 0x01010101, 2000, codes), 1)
    assert len(frame) == (1 + 1 + 4 + 4 + 2 + 1 + 32 * 4 + 4) + 1 + 1 == 147
    assert round(len(frame) / 32, 3) == 4.594


def test_generated_files_are_those_of_the_table() -> None:
    done = subprocess.run(
        [sys.executable, vectors.ROOT / "protocol" / "generator", "--check"],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert (done.returncode, done.stdout + done.stderr) == (0, "")


def test_message_classes_have_the_tables_fields_in_order() -> None:
    assert list(MESSAGE_CLASSES) == list(TABLE.messages)
    for name, message in TABLE.messages.items():
        own = [name for name in MESSAGE_CLASSES[name].__struct_fields__ if name not in ("sequence", "raw")]
        assert own == ["codes" if field == "samples" else field for field in message.names]


@pytest.mark.parametrize(
    ("name", "fields", "told"),
    [
        ("start", {"rate_hz": 99}, "start.rate_hz: 99 is not an integer from 100 to 1000 Hz"),
        ("start", {"rate_hz": 500.0}, "start.rate_hz: 500.0 is not an integer"),
        ("start", {"rate_hz": True}, "start.rate_hz: True is not an integer"),
        ("start", {}, "start.rate_hz: missing"),
        ("start", {"rate_hz": 500, "rate": 1}, "start.rate: no such field; it has rate_hz"),
        ("go", {}, "go: no such message; the table has hello, start"),
        ("write_calibration", {"generation": 0, "data": b""}, "write_calibration.generation: 0"),
        ("write_calibration", {"generation": 1, "data": bytes(251)}, "write_calibration.data: 251 bytes"),
        ("write_calibration", {"generation": 1, "data": "text"}, "write_calibration.data: str is not bytes"),
        (
            "sample_block",
            {"index": 0, "time_us": 0, "period_us": 2000, "samples": b""},
            "sample_block.samples: 0 bytes; expected 1 to 32 repeats of 4 bytes",
        ),
    ],
)
def test_the_hosts_own_mistakes_are_raised_with_the_field_named(name: str, fields: dict[str, Any], told: str) -> None:
    with pytest.raises(ValueError) as raised:
        encode(name, 0, **fields)
    assert str(raised.value).startswith(told)


def test_a_sequence_beyond_a_byte_is_refused() -> None:
    with pytest.raises(ValueError, match="sequence: 256"):
        encode(Start(500), 256)


def test_numbers_of_numpy_are_numbers() -> None:
    assert encode("start", 0, rate_hz=np.int64(500)) == encode(Start(500), 0)


def test_a_peers_unknown_values_and_bits_are_kept_and_named_unknown() -> None:
    (row,) = [row for row in vectors.rows("messages") if row["name"] == "status"]
    fields = {**row["expect"][0]["fields"], "flags": 0x8001, "reset_cause": 200}
    (status,) = Decoder().feed(encode("status", 0, **fields))
    assert StatusFlags.ANSWER in status.flags and int(status.flags) == 0x8001
    assert status.reset_cause == 200
    assert Kind.label(200) == "unknown (200)"
    assert Kind.label(2) == "virtual"


def calibration_record(**changes: Any) -> CalibrationRecord:
    channel = ChannelCalibration(2, 0.5, 50.0, 125.0, -0.25, 0.005, 0.0625, 0.03125, 21.5)
    fields = {
        "layout": 1, "over_pressure_code": 58000, "fixture_id": b"\1\2\3\4\5\6\7\10", "done_year": 2031,
        "done_month": 2, "done_day": 28, "due_year": 0, "due_month": 0, "due_day": 0,
        "references": "gauge block set A", "channels": (channel, channel),
    }  # fmt: skip
    return CalibrationRecord(**{**fields, **changes})


def test_a_calibration_record_is_160_bytes_and_comes_back_equal() -> None:
    record = calibration_record()
    data = encode_calibration(record)
    assert len(data) == 160
    back = decode_calibration(data)
    assert back.channels[0].scale_half_width == pytest.approx(0.005, rel=1e-7)
    channel = record.channels[0]
    same = [getattr(back.channels[0], n) == getattr(channel, n) for n in ("degree", "r0", "c0", "c1", "c2")]
    assert all(same)
    assert (back.layout, back.fixture_id, back.references) == (1, record.fixture_id, record.references)
    assert int.from_bytes(data[2:4], "little") == 58000


def test_a_calibration_record_of_another_layout_or_length_is_refused() -> None:
    data = encode_calibration(calibration_record())
    for wrong in (b"", data[:-1], b"\2" + data[1:]):
        with pytest.raises(ValueError, match=r"calibration_record: .*expected layout 1, 160 bytes"):
            decode_calibration(wrong)
    with pytest.raises(ValueError, match=r"calibration_record.channels\[1\].c1: nan is not a finite number"):
        bad = ChannelCalibration(1, 0.0, 0.0, float("nan"), 0.0, 0.0, 0.0, 0.0, 20.0)
        encode_calibration(calibration_record(channels=(calibration_record().channels[0], bad)))
