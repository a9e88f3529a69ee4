"""The message table: `messages.json`, read once, and its digest.

Everything that encodes, decodes or describes the wire is made from `TABLE`.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from functools import cached_property
from importlib.resources import files
from typing import Any, Literal

Direction = Literal["to_fixture", "from_fixture"]
SCALAR_SIZES = {"u8": 1, "u16": 2, "u32": 4, "f32": 4, "f64": 8}
SCALAR_MOST = {"u8": 0xFF, "u16": 0xFFFF, "u32": 0xFFFFFFFF}
HEADER_SIZE = 2
"""Type and sequence."""
CRC_SIZE = 4


@dataclass(frozen=True)
class Reserved:
    """A value of a field that does not mean its number."""

    value: int
    meaning: str


@dataclass(frozen=True)
class Field:
    """One field of a message, a group or a record.

    type: u8, u16, u32, f32, f64 (little-endian), bytes, text (UTF-8 padded with zeros), reserved
        (written as zero, not read) or group (the fields of `members`, repeated).
    length: bytes of a bytes, text or reserved field of fixed length.
    count: repeats of a group with a fixed number of them.
    count_type: a group or bytes field of free length begins with its count in this type;
        then `least` to `most` repeats or bytes follow.
    fixture_reads: the firmware reads this field of a record; it knows no other.
    """

    name: str
    type: str
    note: str
    unit: str = "1"
    scale: str = "1"
    range: tuple[int, int] | None = None
    reserved: tuple[Reserved, ...] = ()
    enum: str | None = None
    flags: str | None = None
    length: int | None = None
    group: str | None = None
    members: tuple[Field, ...] = ()
    count: int | None = None
    count_type: str | None = None
    least: int = 0
    most: int = 0
    fixture_reads: bool = False

    @cached_property
    def unit_size(self) -> int:
        """Bytes of one repeat: of a group's members, or 1 for bytes."""
        return sum(member.least_size for member in self.members) if self.type == "group" else 1

    @property
    def least_size(self) -> int:
        """Fewest bytes this field takes."""
        if self.type in SCALAR_SIZES:
            return SCALAR_SIZES[self.type]
        if self.count_type:
            return SCALAR_SIZES[self.count_type] + self.least * self.unit_size
        return self.length if self.length is not None else (self.count or 0) * self.unit_size

    @property
    def most_size(self) -> int:
        """Most bytes this field takes."""
        return self.least_size + (self.most - self.least) * self.unit_size


@dataclass(frozen=True)
class Message:
    """One message. `reply`, `idempotent` and `while_streaming` are given for requests only."""

    name: str
    type: int
    direction: Direction
    frozen: bool
    note: str
    fields: tuple[Field, ...]
    reply: str | None = None
    idempotent: bool = False
    while_streaming: Literal["answered", "refused"] = "answered"

    @property
    def names(self) -> list[str]:
        """The fields' names in order, reserved bytes left out."""
        return [field.name for field in self.fields if field.type != "reserved"]

    @property
    def least_size(self) -> int:
        """Fewest bytes of payload."""
        return sum(field.least_size for field in self.fields)

    @property
    def most_size(self) -> int:
        """Most bytes of payload."""
        return sum(field.most_size for field in self.fields)

    @cached_property
    def head_size(self) -> int:
        """Bytes of payload before a last field of free length, its count included; all bytes otherwise."""
        return sum(SCALAR_SIZES[field.count_type] if field.count_type else field.least_size for field in self.fields)

    @cached_property
    def free_field(self) -> Field | None:
        """The last field if its length is free, else None."""
        return self.fields[-1] if self.fields and self.fields[-1].count_type else None

    def accepts(self, payload: bytes) -> bool:
        """Say whether a payload's length is one that this message can have."""
        field = self.free_field
        if field is None:
            return len(payload) == self.head_size
        if len(payload) < self.head_size:
            return False
        count = payload[self.head_size - 1]
        fits = field.least <= count <= field.most
        return fits and len(payload) == self.head_size + count * field.unit_size


@dataclass(frozen=True)
class Named:
    """A named value of an enumeration, or a named bit of a set of flags."""

    value: int
    name: str
    note: str


@dataclass(frozen=True)
class Choice:
    """An enumeration or a set of flags."""

    name: str
    note: str
    values: tuple[Named, ...]


@dataclass(frozen=True)
class Limit:
    """A number that the fixture and the host keep to, or the host alone."""

    name: str
    value: int
    unit: str
    note: str
    side: Literal["both", "host"] = "both"


@dataclass(frozen=True)
class Layout:
    """A named run of fields: a group that repeats in a message, or a record that travels as bytes."""

    name: str
    note: str
    fields: tuple[Field, ...]


@dataclass(frozen=True)
class Table:
    """The whole message table."""

    limits: dict[str, Limit]
    enums: dict[str, Choice]
    flags: dict[str, Choice]
    groups: dict[str, Layout]
    records: dict[str, Layout]
    messages: dict[str, Message]
    digest: int

    def limit(self, name: str) -> int:
        """Return the value of a limit."""
        return self.limits[name].value

    def by_type(self, direction: Direction) -> dict[int, Message]:
        """Return the messages of one direction by type number."""
        return {m.type: m for m in self.messages.values() if m.direction == direction}


def digest(source: dict[str, Any]) -> int:
    """Return a table's digest: the first four bytes, big-endian, of the SHA-256 of its meaning.

    The meaning is the table without its notes, as JSON with sorted keys and no white space, in UTF-8.
    Rewording a note keeps the digest; any other change gives another.
    """
    text = json.dumps(_without_notes(source), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:4], "big")


def digest_text(value: int) -> str:
    """Return a digest as people read it: eight hexadecimal digits."""
    return f"{value:08x}"


def read_table(source: dict[str, Any]) -> Table:
    """Return the table described by the content of `messages.json`."""
    groups = {name: _layout(name, entry, {}) for name, entry in source["groups"].items()}
    return Table(
        limits={entry["name"]: Limit(**entry) for entry in source["limits"]},
        enums={name: _choice(name, entry, "values", "value") for name, entry in source["enums"].items()},
        flags={name: _choice(name, entry, "bits", "bit") for name, entry in source["flags"].items()},
        groups=groups,
        records={name: _layout(name, entry, groups) for name, entry in source["records"].items()},
        messages={entry["name"]: _message(entry, groups) for entry in source["messages"]},
        digest=digest(source),
    )


def load_source() -> dict[str, Any]:
    """Return the content of `messages.json`."""
    source: dict[str, Any] = json.loads((files(__package__) / "messages.json").read_text(encoding="utf-8"))
    return source


def _without_notes(node: Any) -> Any:
    if isinstance(node, dict):
        return {key: _without_notes(value) for key, value in node.items() if key != "note"}
    return [_without_notes(value) for value in node] if isinstance(node, list) else node


def _field(entry: dict[str, Any], groups: dict[str, Layout]) -> Field:
    keys = dict(entry)
    if "range" in keys:
        keys["range"] = tuple(keys["range"])
    keys["reserved"] = tuple(Reserved(**value) for value in keys.pop("reserved", ()))
    if "group" in keys:
        keys["members"] = groups[keys["group"]].fields
    return Field(**keys)


def _fields(entry: dict[str, Any], groups: dict[str, Layout]) -> tuple[Field, ...]:
    return tuple(_field(field, groups) for field in entry["fields"])


def _layout(name: str, entry: dict[str, Any], groups: dict[str, Layout]) -> Layout:
    return Layout(name, entry["note"], _fields(entry, groups))


def _message(entry: dict[str, Any], groups: dict[str, Layout]) -> Message:
    return Message(**{**entry, "fields": _fields(entry, groups)})


def _choice(name: str, entry: dict[str, Any], list_key: str, value_key: str) -> Choice:
    values = (Named(item[value_key], item["name"], item["note"]) for item in entry[list_key])
    return Choice(name, entry["note"], tuple(values))


TABLE = read_table(load_source())
