"""The fields of a profile: which one somebody may have meant, where it stands in the file, what it must hold."""

from __future__ import annotations

import re
from collections.abc import Iterator
from difflib import get_close_matches
from typing import Any

import msgspec

from rodtrue.model.profile import Profile

_KINDS = {
    "float": "a number",
    "int": "a whole number",
    "str": "a text in quotes",
    "bool": "true or false",
    "array": "a list in [ ]",
    "object": "a table",
    "null": "nothing",
}
_WRONG_TYPE = re.compile(r"Expected `(.+?)`, got `(.+?)`(?: - at `\$\.?(.*)`)?$")
_WRONG_LENGTH = re.compile(r"Expected `array` of length (\d+), got (\d+)(?: - at `\$\.?(.*)`)?$")
_MISSING = re.compile(r"Object missing required field `(\w+)`(?: - at `\$\.?(.*)`)?$")
_UNKNOWN_WORD = re.compile(r"Invalid enum value (.+?) - at `\$\.?(.*)`$")
_OTHER = re.compile(r"(.+?) - at `\$\.?(.*)`$")


def unknown_field(raw: dict[str, Any]) -> tuple[str, str] | None:
    """Return the path of the first field that no profile has and what to do about it, None where all are known."""
    return next(_unknown(raw, _profile_type(), ""), None)


def _unknown(raw: dict[str, Any], record: msgspec.inspect.DataclassType, path: str) -> Iterator[tuple[str, str]]:
    fields = {field.name: field.type for field in record.fields}
    for key, value in raw.items():
        if key not in fields:
            yield path + key, _meant(key, list(fields), path)
            continue
        inner = _record_in(fields[key])
        if inner is None:
            continue
        for number, item in enumerate(value if isinstance(value, list) else [value]):
            at = f"[{number}]" if isinstance(value, list) else ""
            if isinstance(item, dict):
                yield from _unknown(item, inner, f"{path}{key}{at}.")


def _meant(key: str, here: list[str], path: str) -> str:
    """Return the known field nearest to an unknown one: of this table, or the same word in another."""
    elsewhere = [known for known, _ in _all_fields(_profile_type(), "") if known.split(".")[-1] == key]
    if elsewhere:
        return f"There is a field {' and a field '.join(elsewhere)}: put it into its own table."
    nearest = get_close_matches(key, here, n=1, cutoff=0.5)
    table = f"the table {path.removesuffix('.')}" if path else "a profile"
    known = f"Known in {table}: {', '.join(here)}."
    return f"Is {path}{nearest[0]} meant? {known}" if nearest else known


def _all_fields(record: msgspec.inspect.DataclassType, path: str) -> Iterator[tuple[str, msgspec.inspect.Type]]:
    for field in record.fields:
        yield path + field.name, field.type
        inner = _record_in(field.type)
        if inner is not None:
            yield from _all_fields(inner, f"{path}{field.name}.")


def _words_of(path: str) -> list[str]:
    """Return the words that a field takes."""
    kind = dict(_all_fields(_profile_type(), ""))[re.sub(r"\[\d+\]", "", path)]
    kinds = kind.types if isinstance(kind, msgspec.inspect.UnionType) else (kind,)
    return [str(word) for each in kinds if isinstance(each, msgspec.inspect.LiteralType) for word in each.values]


def _profile_type() -> msgspec.inspect.DataclassType:
    known = msgspec.inspect.type_info(Profile)
    assert isinstance(known, msgspec.inspect.DataclassType)
    return known


def _record_in(kind: msgspec.inspect.Type) -> msgspec.inspect.DataclassType | None:
    """Return the record a field holds, one or several, also where it may be left out; None for a plain value."""
    if isinstance(kind, msgspec.inspect.VarTupleType):
        return _record_in(kind.item_type)
    kinds = kind.types if isinstance(kind, msgspec.inspect.UnionType) else (kind,)
    return next((kind for kind in kinds if isinstance(kind, msgspec.inspect.DataclassType)), None)


def field_and_problem(error: msgspec.ValidationError) -> tuple[str, str]:
    """Return the path of the field that a refusal is about, empty where it names none, and what is wrong in words."""
    text = str(error)
    if (found := _WRONG_TYPE.match(text)) is not None:
        wanted, got, path = found.groups()
        return path or "", f"must be {_kinds(wanted)}, and is {_kinds(got)}"
    if (found := _WRONG_LENGTH.match(text)) is not None:
        wanted, got, path = found.groups()
        return path or "", f"must be a list of {wanted}, and has {got}"
    if (found := _MISSING.match(text)) is not None:
        name, path = found.groups()
        return f"{path}.{name}" if path else name, "is missing"
    if (found := _UNKNOWN_WORD.match(text)) is not None:
        return found[2], f"is {found[1]}; it is one of {', '.join(_words_of(found[2]))}"
    if (found := _OTHER.match(text)) is not None:
        return found[2], f"is wrong: {found[1]}"
    return "", text


def _kinds(names: str) -> str:
    """Return what types are called by people; a null stands for a nan, no limit on that side."""
    told = [_KINDS.get(name.strip(), name.strip()) for name in names.split("|")]
    return " or ".join(word for word in told if word != "nothing" or len(told) == 1)


def line_of(text: str, path: str) -> int | None:
    """Return the line, from 1, on which a field of a TOML text stands, None where it cannot be found.

    path: as in `limits.baseline_kpa[1]` or `set_first[0].pitch_mm`; a table's own heading counts as its field.
    """
    wanted = re.sub(r"\[\d+\]$", "", path)
    counted: dict[str, int] = {}
    table = ""
    for number, line in enumerate(text.splitlines(), 1):
        heading = re.match(r"\s*(\[\[?)\s*([\w.\-\s\"]+?)\s*\]", line)
        if heading is not None:
            name = heading[2].replace(" ", "").replace('"', "")
            if heading[1] == "[[":
                place = counted[name] = counted.get(name, -1) + 1
                name = f"{name}[{place}]"
            table = f"{name}."
            if name in (path, wanted):
                return number
            continue
        key = re.match(r"\s*([\w.\-\"]+)\s*=", line)
        if key is not None and table + key[1].replace('"', "") == wanted:
            return number
    return None
