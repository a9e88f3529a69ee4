"""Checks what the host itself is about to send: its own mistakes are raised, with the field named."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from numbers import Integral, Real
from typing import Any

from .table import SCALAR_MOST, Field


def check_fields(owner: str, fields: tuple[Field, ...], values: Mapping[str, Any]) -> None:
    """Check that values has each field of the table, no other, and each within its range.

    Raises: ValueError: what is wrong, the value, and what was expected; begins with `owner.field`.
    """
    named = {field.name: field for field in fields if field.type != "reserved"}
    for name in values:
        if name not in named:
            raise ValueError(f"{owner}.{name}: no such field; it has {', '.join(named) or 'none'}")
    for name, field in named.items():
        if name not in values:
            raise ValueError(f"{owner}.{name}: missing")
        _check(f"{owner}.{name}", field, values[name])


def _check(where: str, field: Field, value: Any) -> None:
    if field.type in SCALAR_MOST:
        _check_integer(where, field, value)
    elif field.type in ("f32", "f64"):
        if not isinstance(value, Real) or not math.isfinite(value):
            raise ValueError(f"{where}: {value!r} is not a finite number")
    elif field.type == "text":
        if not isinstance(value, str) or "\0" in value or len(value.encode()) > (field.length or 0):
            raise ValueError(f"{where}: {value!r} is not text of at most {field.length} bytes in UTF-8")
    elif field.type == "bytes" or field.count_type:
        _check_bytes(where, field, value)
    else:
        _check_groups(where, field, value)


def _check_integer(where: str, field: Field, value: Any) -> None:
    low, high = field.range or (0, SCALAR_MOST[field.type])
    reserved = [entry.value for entry in field.reserved]
    is_integer = isinstance(value, Integral) and not isinstance(value, bool)
    if not is_integer or not (low <= value <= high or value in reserved):
        unit = "" if field.unit == "1" else f" {field.unit}"
        besides = "".join(f", or {entry.value} ({entry.meaning})" for entry in field.reserved)
        raise ValueError(f"{where}: {value!r} is not an integer from {low} to {high}{unit}{besides}")


def _check_bytes(where: str, field: Field, value: Any) -> None:
    if not isinstance(value, bytes):
        raise ValueError(f"{where}: {type(value).__name__} is not bytes")
    if field.length is not None:
        if len(value) != field.length:
            raise ValueError(f"{where}: {len(value)} bytes; expected {field.length}")
        return
    count, rest = divmod(len(value), field.unit_size)
    if rest or not field.least <= count <= field.most:
        what = "bytes" if field.unit_size == 1 else f"repeats of {field.unit_size} bytes"
        raise ValueError(f"{where}: {len(value)} bytes; expected {field.least} to {field.most} {what}")


def _check_groups(where: str, field: Field, value: Any) -> None:
    if not isinstance(value, Sequence) or len(value) != field.count:
        raise ValueError(f"{where}: expected {field.count} repeats")
    for position, member in enumerate(value):
        check_fields(f"{where}[{position}]", field.members, member)
