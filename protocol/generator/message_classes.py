"""Writes the host's message classes: one a message, group and record, and the enumerations."""

from __future__ import annotations

import textwrap

from rodtrue_protocol.table import Choice, Field, Layout, Table

_HEAD = '''"""The messages as classes, written by protocol/generator from messages.json.

`sequence` and `raw` (the frame as received, without its closing zero) are filled in by the decoder.
Messages are structs of msgspec, which are as frozen as a frozen dataclass and take a tenth of its time to make.
None refers back to itself, so the garbage collector need not follow them (`gc=False`).
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from enum import IntEnum, IntFlag
from typing import Any, ClassVar

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray

from .table import TABLE


class Choice(IntEnum):
    """An enumeration of the wire. Fields hold plain integers, for a peer may send any number."""

    @classmethod
    def label(cls, value: int) -> str:
        """Return a value's name in lower case, or `unknown (value)`."""
        return cls(value).name.lower() if value in cls._value2member_map_ else f"unknown ({value})"


class WireMessage(msgspec.Struct, frozen=True, kw_only=True, eq=False, gc=False):
    """What every message has beside its fields. Equal messages say the same, whatever bytes they came in."""

    NAME: ClassVar[str] = ""
    TYPE: ClassVar[int] = 0

    sequence: int = 0
    raw: bytes = b""

    def values(self) -> dict[str, Any]:
        """Return the fields by their names in the table; a group as a dict each time it repeats."""
        values = {name: getattr(self, name) for name in TABLE.messages[self.NAME].names}
        return {name: list(map(asdict, it)) if isinstance(it, tuple) else it for name, it in values.items()}

    def __eq__(self, other: object) -> bool:
        return type(self) is type(other) and self._said() == other._said()

    def __repr__(self) -> str:
        return f"{type(self).__name__}({', '.join(f'{name}={value!r}' for name, value in self._said().items())})"

    def _said(self) -> dict[str, Any]:
        return {**self.values(), "sequence": self.sequence}
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
    if base:
        lines = [f"class {class_name(name)}({base}, frozen=True):", *_doc(note)]
    else:
        lines = ["@dataclass(frozen=True, slots=True)", f"class {class_name(name)}:", *_doc(note)]
    if constants:
        lines += ["", *constants]
    for field in fields:
        if field.type != "reserved":
            name = "codes" if _is_samples(field) else field.name
            lines += ["", f"    {name}: {_annotation(field)}", *_doc(_remark(field))]
    if any(map(_is_samples, fields)):
        lines += ["", _SAMPLES.rstrip()]
    return "\n".join(lines) + "\n"


_SAMPLES = '''    @property
    def samples(self) -> bytes:
        """The samples as they travel."""
        return np.asarray(self.codes, "<u2").tobytes()

    @property
    def count(self) -> int:
        """Number of samples."""
        return len(self.codes)

    @classmethod
    def of(cls, index: int, time_us: int, period_us: int, codes: ArrayLike) -> SampleBlock:
        """Return the block that carries a copy of codes of shape (n, 2)."""
        return cls(index, time_us, period_us, np.array(codes, np.uint16))
'''


def _is_samples(field: Field) -> bool:
    """Say whether a field is a free number of groups of codes, which the host keeps as an array."""
    return bool(field.count_type and field.group)


def _annotation(field: Field) -> str:
    if _is_samples(field):
        return "NDArray[np.uint16]"
    if field.flags:
        return class_name(field.flags)
    if field.type == "group":
        return f"tuple[{class_name(field.group or '')}, ...]"
    if field.type in ("f32", "f64"):
        return "float"
    return {"text": "str", "bytes": "bytes"}.get(field.type, "int")


def _remark(field: Field) -> str:
    parts = [field.note]
    if _is_samples(field):
        parts.append("Shape (n, 2): travel_code, pressure_code. Read-only where they were received.")
    elif field.unit != "1":
        parts.append(f"Unit: {field.unit if field.scale == '1' else field.scale}.")
    if field.enum:
        parts.append(f"See {class_name(field.enum)}.")
    parts += [f"{value.value}: {value.meaning}." for value in field.reserved]
    return " ".join(parts)
