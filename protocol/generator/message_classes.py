"""Writes the host's message classes: one a message, group and record, and the enumerations."""

from __future__ import annotations

import textwrap

from rodtrue_protocol.table import Choice, Field, Layout, Table

_HEAD = '''"""The messages as classes, written by protocol/generator from messages.json.

`sequence` and `raw` (the frame as received, without its closing zero) are filled in by the decoder.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntEnum, IntFlag
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray


class Choice(IntEnum):
    """An enumeration of the wire. Fields hold plain integers, for a peer may send any number."""

    @classmethod
    def label(cls, value: int) -> str:
        """Return a value's name in lower case, or `unknown (value)`."""
        return cls(value).name.lower() if value in cls._value2member_map_ else f"unknown ({value})"


@dataclass(frozen=True, slots=True)
class WireMessage:
    """What every message has beside its fields."""

    NAME: ClassVar[str] = ""
    TYPE: ClassVar[int] = 0

    sequence: int = field(default=0, kw_only=True)
    raw: bytes = field(default=b"", kw_only=True, repr=False, compare=False)
'''


def write(table: Table) -> str:
    """Return the text of rodtrue_protocol/messages.py."""
    parts = [_HEAD]
    parts += [_enum(choice, "Choice") for choice in table.enums.values()]
    parts += [_enum(choice, "IntFlag") for choice in table.flags.values()]
    free = {m.free_field.group for m in table.messages.values() if m.free_field and m.free_field.group}
    layouts = [layout for layout in table.groups.values() if layout.name not in free]
    parts += [_layout(layout) for layout in [*layouts, *table.records.values()]]
    for message in table.messages.values():
        constants = [
            f'    NAME: ClassVar[str] = "{message.name}"',
            f"    TYPE: ClassVar[int] = 0x{message.type:02X}",
        ]
        parts.append(_class(message.name, "WireMessage", message.note, message.fields, constants))
    names = ", ".join(class_name(name) for name in table.messages)
    classes = "".join(f"    {name},\n" for name in names.split(", "))
    parts.append(
        f"MESSAGE_CLASSES: dict[str, type[WireMessage]] = {{\n"
        f"    message.NAME: message\n    for message in (\n{_indent(classes)}    )\n}}\n"
    )
    return "\n\n".join(parts)


def class_name(name: str) -> str:
    """Return the class of a message, group, record or enumeration."""
    return "".join(word.capitalize() for word in name.split("_"))


def _indent(text: str) -> str:
    return "".join(f"    {line}\n" for line in text.splitlines())


def _doc(text: str) -> list[str]:
    if len(text) <= 100:
        return [f'    """{text}"""']
    first, *rest = textwrap.wrap(text, 98)
    return [f'    """{first}', *(f"    {line}" for line in rest), '    """']


def _enum(choice: Choice, base: str) -> str:
    lines = [f"class {class_name(choice.name)}({base}):", *_doc(choice.note)]
    for value in choice.values:
        number = value.value if base == "Choice" else f"1 << {value.value}"
        lines += ["", f"    {value.name.upper()} = {number}", *_doc(value.note)]
    return "\n".join(lines) + "\n"


def _layout(layout: Layout) -> str:
    return _class(layout.name, "", layout.note, layout.fields, [])


def _class(name: str, base: str, note: str, fields: tuple[Field, ...], constants: list[str]) -> str:
    head = f"class {class_name(name)}({base}):" if base else f"class {class_name(name)}:"
    lines = ["@dataclass(frozen=True, slots=True)", head, *_doc(note)]
    if constants:
        lines += ["", *constants]
    for field in fields:
        if field.type != "reserved":
            lines += ["", f"    {field.name}: {_annotation(field)}", *_doc(_remark(field))]
    if any(field.count_type and field.group for field in fields):
        lines += ["", _CODES.rstrip()]
    return "\n".join(lines) + "\n"


_CODES = '''    @property
    def codes(self) -> NDArray[np.uint16]:
        """The samples as an array, shape (n, 2), read-only: travel_code, pressure_code."""
        return np.frombuffer(self.samples, "<u2").reshape(-1, 2)

    @property
    def count(self) -> int:
        """Number of samples."""
        return len(self.samples) // 4

    @classmethod
    def of(cls, index: int, time_us: int, period_us: int, codes: NDArray[np.uint16]) -> SampleBlock:
        """Return the block that carries codes of shape (n, 2)."""
        return cls(index, time_us, period_us, np.asarray(codes, "<u2").tobytes())
'''


def _annotation(field: Field) -> str:
    if field.flags:
        return class_name(field.flags)
    if field.type == "group" and not field.count_type:
        return f"tuple[{class_name(field.group or '')}, ...]"
    if field.type in ("f32", "f64"):
        return "float"
    return {"text": "str", "bytes": "bytes", "group": "bytes"}.get(field.type, "int")


def _remark(field: Field) -> str:
    parts = [field.note]
    if field.count_type and field.group:
        parts.append("As received; `codes` is the array.")
    elif field.unit != "1":
        parts.append(f"Unit: {field.unit if field.scale == '1' else field.scale}.")
    if field.enum:
        parts.append(f"See {class_name(field.enum)}.")
    parts += [f"{value.value}: {value.meaning}." for value in field.reserved]
    return " ".join(parts)
