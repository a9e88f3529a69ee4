"""Fills the tables and the worked example into the protocol page, between its markers."""

from __future__ import annotations

import re
import zlib

from rodtrue_protocol import Start, encode, open_frame
from rodtrue_protocol.table import Choice, Field, Layout, Message, Table, digest_text

_MARKED = re.compile(r"(<!-- begin (\w+) -->\n).*?(<!-- end -->)", re.DOTALL)


def write(table: Table, page: str) -> str:
    """Return the page with the text between each pair of markers made anew.

    Raises: KeyError: a marker names nothing that this module writes.
    """
    parts = {
        "digest": f"The digest of this table is `{digest_text(table.digest)}`.",
        "overview": _overview(table),
        "to_fixture": _messages(table, "to_fixture"),
        "from_fixture": _messages(table, "from_fixture"),
        "layouts": "\n\n".join(_layout(layout) for layout in [*table.groups.values(), *table.records.values()]),
        "choices": _choices(table),
        "limits": _rows(
            ("limit", "value", "unit", "kept by", "meaning"),
            [
                (f"`{e.name}`", e.value, e.unit, "both" if e.side == "both" else "the host", e.note)
                for e in table.limits.values()
            ],
        ),
        "example": _example(),
    }
    return _MARKED.sub(lambda found: f"{found[1]}{parts[found[2]]}\n{found[3]}", page)


def _rows(heads: tuple[str, ...], rows: list[tuple[object, ...]]) -> str:
    lines = [heads, tuple("---" for _ in heads), *rows]
    return "\n".join(f"| {' | '.join(str(cell) for cell in line)} |" for line in lines)


def _overview(table: Table) -> str:
    rows = [
        (
            f"`{m.name}`",
            f"{m.type} (0x{m.type:02x})",
            "host to fixture" if m.direction == "to_fixture" else "fixture to host",
            _size(m.least_size, m.most_size),
            "yes" if m.frozen else "",
            f"`{m.reply}`" if m.reply else "",
            "yes" if m.idempotent else "",
            m.while_streaming if m.reply else "",
        )
        for m in table.messages.values()
    ]
    heads = ("message", "type", "direction", "payload bytes", "frozen", "reply", "may repeat", "streaming")
    return _rows(heads, rows)


def _messages(table: Table, direction: str) -> str:
    return "\n\n".join(_message(m) for m in table.messages.values() if m.direction == direction)


def _message(message: Message) -> str:
    head = f"### {message.name}, type {message.type} (0x{message.type:02x})\n\n{message.note}"
    return f"{head}\n\n{_fields(message.fields)}" if message.fields else f"{head} No payload."


def _layout(layout: Layout) -> str:
    size = sum(field.least_size for field in layout.fields)
    return f"### {layout.name}, {size} bytes\n\n{layout.note}\n\n{_fields(layout.fields)}"


def _fields(fields: tuple[Field, ...]) -> str:
    rows, offset = [], 0
    for field in fields:
        remark = field.note
        remark += f" Values: {field.enum}." if field.enum else ""
        remark += f" Bits: {field.flags}." if field.flags else ""
        remark += "".join(f" {entry.value}: {entry.meaning}." for entry in field.reserved)
        low_high = f"{field.range[0]} to {field.range[1]}" if field.range else ""
        is_number = field.type[0] in "uf"
        unit = field.unit if is_number else ""
        rows.append((offset, f"`{field.name}`", _type(field), unit, _scale(field), low_high, remark))
        offset += field.least_size
    return _rows(("at", "field", "type", "unit", "scale", "range", "meaning"), list(rows))


def _scale(field: Field) -> str:
    return field.scale if field.type in ("u8", "u16", "u32", "f32", "f64") else ""


def _type(field: Field) -> str:
    if field.count_type:
        what = field.group or "bytes"
        return f"{field.count_type} count, then {field.least} to {field.most} {what}"
    if field.type == "group":
        return f"{field.count} x {field.group}"
    return field.type if field.length is None else f"{field.type} {field.length}"


def _size(least: int, most: int) -> str:
    return str(least) if least == most else f"{least} to {most}"


def _choices(table: Table) -> str:
    return "\n\n".join(
        [_choice(choice, "value") for choice in table.enums.values()]
        + [_choice(choice, "bit") for choice in table.flags.values()]
    )


def _choice(choice: Choice, head: str) -> str:
    rows: list[tuple[object, ...]] = [(e.value, f"`{e.name}`", e.note) for e in choice.values]
    return f"### {choice.name}\n\n{choice.note}\n\n{_rows((head, 'name', 'meaning'), rows)}"


def _example() -> str:
    """Return the frame of one message, built up step by step."""
    frame = encode(Start(500), 7)
    body = open_frame(frame[:-1])
    assert isinstance(body, bytes)
    check = zlib.crc32(body[:-4])
    rows: list[tuple[object, ...]] = [
        ("type: start", f"`{body[:1].hex(' ')}`"),
        ("sequence 7", f"`{body[1:2].hex(' ')}`"),
        ("payload: rate_hz = 500", f"`{body[2:4].hex(' ')}`"),
        (f"CRC of these four bytes, 0x{check:08x}, low byte first", f"`{body[4:].hex(' ')}`"),
        ("the body", f"`{body.hex(' ')}`"),
        ("COBS of the body", f"`{frame[:-1].hex(' ')}`"),
        ("the frame, with its closing zero", f"`{frame.hex(' ')}`"),
    ]
    return _rows(("part", "bytes"), rows)
