"""The golden vectors, each row run by the host's codec and by the firmware's under real MicroPython."""

from __future__ import annotations

import importlib.util
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import wire_vectors as vectors
from rodtrue_protocol import (
    TABLE,
    Decoder,
    Event,
    Refused,
    SampleBlock,
    SequenceGap,
    Text,
    UnknownMessage,
    WireMessage,
    encode,
)

ROWS = vectors.rows()
BOTH_SIDES = vectors.rows("lengths", "messages", "refused", "streams")
CANONICAL = [row for row in ROWS if row.get("encode")]
ids = [f"{row['direction']}: {row['name']}" for row in ROWS]


def as_sent(name: str, fields: dict[str, Any]) -> dict[str, Any]:
    """Return a row's fields as the host's encoder takes them."""
    plain = {field.name: field.type for field in TABLE.messages[name].fields}
    sent = {key: bytes.fromhex(value) if plain[key] == "bytes" else value for key, value in fields.items()}
    if name == "sample_block":
        sent["samples"] = np.array(fields["samples"], "<u2").tobytes()
    return sent


def as_row(event: Event) -> dict[str, Any]:
    """Return a host event in the words of a row."""
    if isinstance(event, Refused):
        return {"refused": event.reason}
    if isinstance(event, UnknownMessage):
        return {
            "unknown": event.message_type,
            "sequence": event.sequence,
            "payload": event.payload.hex(),
        }
    if isinstance(event, SequenceGap):
        return {"gap": [event.expected, event.got]}
    if isinstance(event, Text):
        return {"text": str(event)}
    assert isinstance(event, WireMessage)
    names = [field.name for field in TABLE.messages[event.NAME].fields if field.type != "reserved"]
    fields = {name: plain(getattr(event, name)) for name in names}
    if isinstance(event, SampleBlock):
        fields["samples"] = event.codes.tolist()
    return {"message": event.NAME, "sequence": event.sequence, "fields": fields}


def plain(value: Any) -> Any:
    if isinstance(value, bytes):
        return value.hex()
    if isinstance(value, tuple):
        return [{name: getattr(item, name) for name in type(item).__slots__} for item in value]
    return value


@pytest.mark.parametrize("row", ROWS, ids=ids)
def test_host_tells_what_the_row_says_however_the_bytes_arrive(row: dict[str, Any]) -> None:
    data = bytes.fromhex(row["hex"])
    for step in (len(data), 1, 7):
        decoder = Decoder(row["direction"])
        pieces = [data[start : start + step] for start in range(0, len(data), step)]
        events = [event for piece in pieces for event in decoder.feed(piece)]
        assert [as_row(event) for event in events] == row["expect"], f"in pieces of {step}"
        assert decoder.finish() == []


@pytest.mark.parametrize("row", CANONICAL, ids=[row["name"] for row in CANONICAL])
def test_host_encodes_the_row_byte_for_byte(row: dict[str, Any]) -> None:
    (expect,) = row["expect"]
    name, fields = expect["message"], as_sent(expect["message"], expect["fields"])
    assert encode(name, expect["sequence"], **fields).hex() == row["hex"]
    data = bytes.fromhex(row["hex"])
    (event,) = Decoder(row["direction"]).feed(data)
    assert isinstance(event, WireMessage)
    assert event.raw + b"\0" == data
    assert encode(event, event.sequence) == data


@pytest.mark.parametrize("step", [0, 1, 7], ids=["whole", "byte by byte", "sevens"])
def test_firmware_receives_what_the_row_says(step: int) -> None:
    job = {
        "sizes": {direction: vectors.sizes(direction) for direction in ("to_fixture", "from_fixture")},
        "rows": [{"hex": row["hex"], "direction": row["direction"]} for row in BOTH_SIDES],
        "step": step,
    }
    answers = vectors.on_micropython("receive", job)
    for row, answer in zip(BOTH_SIDES, answers, strict=True):
        assert answer == [as_firmware(expect) for expect in row["expect"]], row["name"]


def as_firmware(expect: dict[str, Any]) -> list[Any]:
    """Return what the firmware's receiver must tell; payloads come from the host's encoder."""
    if "refused" in expect:
        return [expect["refused"]]
    if "unknown" in expect:
        return ["unknown_type", expect["unknown"], expect["sequence"], expect["payload"]]
    name = expect["message"]
    (event,) = Decoder(TABLE.messages[name].direction).feed(
        encode(name, expect["sequence"], **as_sent(name, expect["fields"]))
    )
    return ["received", TABLE.messages[name].type, expect["sequence"], payload_of(event).hex()]


def payload_of(event: Event) -> bytes:
    """Return the payload of a received frame, opened by hand: COBS without a library."""
    assert isinstance(event, WireMessage)
    body, position = b"", 0
    while position < len(event.raw):
        code = event.raw[position]
        body += event.raw[position + 1 : position + code]
        position += code
        if code < 255 and position < len(event.raw):
            body += b"\0"
    return body[2:-4]


def test_firmware_builds_every_row_byte_for_byte_from_the_tables_formats() -> None:
    jobs = [build_job(row["expect"][0]) for row in CANONICAL]
    frames = vectors.on_micropython("build", jobs)
    for row, frame in zip(CANONICAL, frames, strict=True):
        assert frame == row["hex"], row["name"]


def build_job(expect: dict[str, Any]) -> dict[str, Any]:
    name, fields = expect["message"], expect["fields"]
    values: list[Any] = []
    tail = ""
    for field in TABLE.messages[name].fields:
        value = fields.get(field.name)
        if field.type == "reserved":
            continue
        if field.count_type:
            units = value if field.type == "group" else list(bytes.fromhex(value))
            values.append(len(units))
            tail = value if field.type == "bytes" else b"".join(struct.pack("<HH", *pair) for pair in value).hex()
        elif field.type == "group":
            for member in value:
                values += [part for entry in field.members for part in parts(entry.type, member[entry.name])]
        else:
            values += parts(field.type, value)
    return {"name": name, "sequence": expect["sequence"], "values": values, "tail": tail}


def parts(kind: str, value: Any) -> list[Any]:
    """Return a value as the firmware packs it: a u32 as two halves, bytes as a list."""
    if kind == "u32":
        return [value & 0xFFFF, value >> 16]
    return [list(bytes.fromhex(value))] if kind == "bytes" else [value]


def test_every_message_of_the_table_has_a_vector() -> None:
    told = {expect.get("message") for row in vectors.rows("messages") for expect in row["expect"]}
    assert told == set(TABLE.messages)


def test_committed_vectors_are_those_of_the_second_implementation() -> None:
    path = Path(__file__).with_name("write_vectors.py")
    spec = importlib.util.spec_from_file_location("write_vectors", path)
    assert spec is not None and spec.loader is not None
    writer = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(writer)
    for file, text in writer.files().items():
        assert file.read_text(encoding="utf-8") == text, f"{file.name}: run python {path.name}"
