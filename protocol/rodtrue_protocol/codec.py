"""Payloads to messages and back: construct declarations made from the message table.

The declarations parse headers and commands. Sample blocks are built with them too, and read in bulk (`blocks`).
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import construct as cs

from .check import check_fields
from .framing import frame
from .messages import (
    MESSAGE_CLASSES,
    CalibrationRecord,
    ChannelCalibration,
    KeptMark,
    SelfTestFlags,
    StatusFlags,
    WireMessage,
)
from .table import TABLE, Field, Message

_SCALARS = {
    "u8": cs.Int8ul,
    "u16": cs.Int16ul,
    "u32": cs.Int32ul,
    "f32": cs.Float32l,
    "f64": cs.Float64l,
}
_GROUPS: dict[str, Any] = {"kept_mark": KeptMark, "channel_calibration": ChannelCalibration}
_FLAGS: dict[str, Any] = {"status_flags": StatusFlags, "self_test_flags": SelfTestFlags}


def declaration(fields: tuple[Field, ...]) -> Any:
    """Return the construct declaration of a run of fields."""
    return cs.Struct(*[field.name / _declare(field) for field in fields])


def _declare(field: Field) -> Any:
    if field.type in _SCALARS:
        return _SCALARS[field.type]
    if field.type == "reserved":
        return cs.Padding(field.length)
    if field.type == "text":
        return cs.ExprAdapter(cs.Bytes(field.length), _text_of, _padded(field.length))
    if field.type == "bytes":
        return cs.Bytes(field.length) if field.length is not None else cs.Prefixed(cs.Byte, cs.GreedyBytes)
    if field.count_type:
        return _counted_bytes(field.unit_size)
    return cs.Array(field.count, declaration(field.members))


def _text_of(data: bytes, _: Any) -> str:
    return data.rstrip(b"\0").decode("utf-8", "replace")


def _padded(length: int | None) -> Any:
    return lambda text, _: text.encode("utf-8").ljust(length or 0, b"\0")


def _counted_bytes(unit_size: int) -> Any:
    """Return the declaration of repeats of `unit_size` bytes that are kept together as bytes."""
    return cs.FocusedSeq(
        "data",
        "count" / cs.Rebuild(cs.Byte, lambda this: len(this.data) // unit_size),
        "data" / cs.Bytes(lambda this: this.count * unit_size),
    )


DECLARATIONS: dict[str, Any] = {name: declaration(message.fields) for name, message in TABLE.messages.items()}
_RECORD = declaration(TABLE.records["calibration_record"].fields)


def encode(message: WireMessage | str, sequence: int = 0, **fields: Any) -> bytes:
    """Return the frame of a message, closing zero included.

    message: a message, or its name in the table with its fields as keywords.
    Raises: ValueError: no such message, a field missing, unknown, or out of range; the text names it.
    """
    if isinstance(message, str):
        name, values = message, fields
    else:
        name, values = message.NAME, message.values()
        if fields:
            raise ValueError(f"{name}: fields are given twice, in the message and as keywords")
    if name not in TABLE.messages:
        raise ValueError(f"{name}: no such message; the table has {', '.join(TABLE.messages)}")
    table_entry = TABLE.messages[name]
    check_fields(name, table_entry.fields, values)
    return frame(table_entry.type, sequence, DECLARATIONS[name].build(values))


def decode_payload(message: Message, payload: bytes, sequence: int, raw: bytes) -> WireMessage:
    """Return the message in a payload whose length `message.accepts`."""
    values = _plain(message.fields, DECLARATIONS[message.name].parse(payload))
    return MESSAGE_CLASSES[message.name](**values, sequence=sequence, raw=raw)


def encode_calibration(record: CalibrationRecord) -> bytes:
    """Return a calibration record as the data of a calibration message.

    Raises: ValueError: a field is out of range; the text names it.
    """
    layout = TABLE.records["calibration_record"]
    values = asdict(record)
    check_fields(layout.name, layout.fields, values)
    data: bytes = _RECORD.build(values)
    return data


def decode_calibration(data: bytes) -> CalibrationRecord:
    """Return the record in the data of a calibration message.

    Raises: ValueError: another length or another layout than this table's.
    """
    layout = TABLE.records["calibration_record"]
    size = sum(field.least_size for field in layout.fields)
    if len(data) != size or data[0] != 1:
        found = f"layout {data[0]}, {len(data)} bytes" if data else "nothing"
        raise ValueError(f"calibration_record: {found}; expected layout 1, {size} bytes")
    return CalibrationRecord(**_plain(layout.fields, _RECORD.parse(data)))


def _plain(fields: tuple[Field, ...], parsed: Any) -> dict[str, Any]:
    return {field.name: _value(field, parsed[field.name]) for field in fields if field.type != "reserved"}


def _value(field: Field, parsed: Any) -> Any:
    if field.flags:
        return _FLAGS[field.flags](parsed)
    if field.type == "group" and not field.count_type:
        group = _GROUPS[field.group or ""]
        return tuple(group(**_plain(field.members, member)) for member in parsed)
    return parsed
