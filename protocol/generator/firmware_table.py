"""Writes the firmware's table file: constants, and struct formats without any 32-bit integer.

A 32-bit port's small integers end at 2^30 - 1, so a u32 is packed and unpacked as two 16-bit
halves, low first. On the little-endian wire that is the same four bytes.
"""

from __future__ import annotations

from collections.abc import Iterable

from rodtrue_protocol.table import CRC_SIZE, HEADER_SIZE, Field, Message, Table, digest_text

_CODES = {"u8": "B", "u16": "H", "u32": "HH", "f32": "f", "f64": "d"}

_HEAD = '''"""The message table for the firmware, written by protocol/generator from messages.json.

FORMAT_x packs a message's fields in the order of the comment above it; a u32 is two u16 halves, low
first. A message that ends in repeats has the format of what stands before them, the count included.
"""

from micropython import const
'''


def struct_format(fields: Iterable[Field]) -> str:
    """Return the struct format of fields, u32 as two halves; stops before a free-length tail.

    Raises: ValueError: the fields end in reserved bytes. MicroPython's pack_into stops at its last
    argument and would leave old bytes there.
    """
    fields = tuple(fields)
    if fields and fields[-1].type == "reserved":
        raise ValueError(f"{fields[-1].name}: reserved bytes must not stand last")
    return "<" + "".join(_field_format(field) for field in fields)


def arguments(fields: Iterable[Field], prefix: str = "") -> list[str]:
    """Return the names of the values that `struct_format` packs, in order."""
    names: list[str] = []
    for field in fields:
        name = prefix + field.name
        if field.type == "reserved":
            continue
        if field.count_type:
            names.append(f"number of {name}")
        elif field.type == "group":
            for repeat in range(field.count or 0):
                names += arguments(field.members, f"{name}[{repeat}].")
        elif field.type == "u32":
            names += [f"{name} low", f"{name} high"]
        else:
            names.append(name)
    return names


def _field_format(field: Field) -> str:
    if field.count_type:
        return _CODES[field.count_type]
    if field.type == "group":
        return struct_format(field.members)[1:] * (field.count or 0)
    if field.type == "reserved":
        return f"{field.length}x"
    return f"{field.length}s" if field.length is not None else _CODES[field.type]


def write(table: Table) -> str:
    """Return the text of firmware/table.py."""
    digest = table.digest
    lines = [
        _HEAD,
        f'DIGEST = "{digest_text(digest)}"',
        f"DIGEST_LOW = const(0x{digest & 0xFFFF:04x})",
        f"DIGEST_HIGH = const(0x{digest >> 16:04x})",
        "",
        f"HEADER_SIZE = const({HEADER_SIZE})",
        f"CRC_SIZE = const({CRC_SIZE})",
    ]
    lines += [
        f"{limit.name.upper()} = const({limit.value})" for limit in table.limits.values() if limit.side == "both"
    ]
    for choice in table.enums.values():
        lines.append("")
        lines += [f"{choice.name.upper()}_{value.name.upper()} = const({value.value})" for value in choice.values]
    for choice in table.flags.values():
        prefix = choice.name.removesuffix("_flags").upper()
        lines.append("")
        lines += [f"{prefix}_FLAG_{value.name.upper()} = const(0x{1 << value.value:04x})" for value in choice.values]
    for message in table.messages.values():
        lines += ["", *_message_lines(message)]
    for name, layout in table.records.items():
        lines += ["", *_record_lines(name.upper(), layout.fields)]
    requests = [m for m in table.messages.values() if m.direction == "to_fixture"]
    refused = [m for m in requests if m.while_streaming == "refused"]
    lines += [
        "",
        _types_line("FROZEN_REQUESTS", [m for m in requests if m.frozen]),
        _types_line("REFUSED_WHILE_STREAMING", refused),
        "",
        *_size_lines("REQUEST_SIZES", table.by_type("to_fixture")),
    ]
    return "\n".join(lines) + "\n"


def _message_lines(message: Message) -> list[str]:
    name = message.name.upper()
    lines = [f"TYPE_{name} = const(0x{message.type:02x})"]
    if message.fields:
        lines += _wrapped(arguments(message.fields))
        lines.append(f'FORMAT_{name} = "{struct_format(message.fields)}"')
    lines.append(f"SIZE_{name} = const({message.head_size})")
    tail = message.free_field
    if tail is not None and tail.type == "group":
        part = (tail.group or "").upper()
        lines.append(f"# {', '.join(arguments(tail.members))}")
        lines.append(f'FORMAT_{part} = "{struct_format(tail.members)}"')
        lines.append(f"SIZE_{part} = const({tail.unit_size})")
    return lines


def _record_lines(name: str, fields: tuple[Field, ...]) -> list[str]:
    lines = [f"SIZE_{name} = const({sum(field.least_size for field in fields)})"]
    offset = 0
    for field in fields:
        if field.fixture_reads:
            lines.append(f"OFFSET_{name}_{field.name.upper()} = const({offset})")
        offset += field.least_size
    return lines


def _types_line(name: str, messages: list[Message]) -> str:
    return f"{name} = ({', '.join(f'TYPE_{m.name.upper()}' for m in messages)})"


def _size_lines(name: str, messages: dict[int, Message]) -> list[str]:
    lines = [
        "# Payload sizes by request type: bytes of the fixed part, bytes of each repeat (0: none follow;",
        "# else the fixed part's last byte counts them), fewest and most repeats.",
        f"{name} = {{",
    ]
    return [*lines, *(f"    0x{number:02x}: {size_rule(m)}," for number, m in messages.items()), "}"]


def size_rule(message: Message) -> tuple[int, int, int, int]:
    """Return a message's row for the firmware's receiver: head, bytes of a repeat, least, most."""
    tail = message.free_field
    return (message.head_size, tail.unit_size, tail.least, tail.most) if tail else (message.head_size, 0, 0, 0)


def _wrapped(names: list[str]) -> list[str]:
    lines, line = [], "#"
    for position, name in enumerate(names):
        piece = f" {name}" + ("," if position < len(names) - 1 else "")
        if len(line) + len(piece) > 110:
            lines.append(line)
            line = "#"
        line += piece
    return [*lines, line]
