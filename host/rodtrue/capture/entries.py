"""The host's notes in a capture: read, and checked for what others take from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import msgspec

from rodtrue.capture.framing import Item
from rodtrue.model.conditions import Drive, Reference

NUMBER = "nth"
"""Field that numbers a capture's notes from 0, so that a lost one is missed."""

LAST_HOST_TIME_US = 253_402_300_799_000_000
"""The last second of the year 9999."""


@dataclass(frozen=True)
class Entry:
    """One of the host's notes: its name, the sample it concerns, when it was made, what it says.

    number: place among the notes of its capture, from 0; None in captures that did not number them.
    """

    name: str
    sample_index: int
    host_time_us: int
    fields: dict[str, Any]
    number: int | None = None


@dataclass(frozen=True)
class _Identity:
    kind: Literal["board", "virtual"]
    interpreter: str
    unique_id: str


@dataclass(frozen=True)
class _Channel:
    r0: float
    c0: float
    c1: float
    c2: float
    scale_half_width: float
    nonlinearity_half_width: float


@dataclass(frozen=True)
class _ChannelRange:
    lowest: float
    highest: float
    below: float
    above: float


@dataclass(frozen=True)
class _Range:
    travel: _ChannelRange
    pressure: _ChannelRange


@dataclass(frozen=True)
class _Held:
    fixture_id: str
    due: str | None
    channels: tuple[_Channel, _Channel]
    range: _Range | None = None


@dataclass(frozen=True)
class _Calibration:
    calibration: _Held | None


@dataclass(frozen=True)
class _Step:
    step: Literal["", "zero", "baseline", "response", "sweep", "adjusted"]


@dataclass(frozen=True)
class _Profile:
    profile: str
    text: str


@dataclass(frozen=True)
class _Conditions:
    drive: Drive | None = None
    reference: Reference = "curb_idle"
    operator: str | None = None
    unit: str | None = None


@dataclass(frozen=True)
class _Plan:
    sweeps: int
    extended_sweeps: int


@dataclass(frozen=True)
class _RodUnhooked:
    answer: bool | None


@dataclass(frozen=True)
class _Caution:
    code: str
    text: str
    acknowledged_at: str | None = None


@dataclass(frozen=True)
class _Checked:
    checklist: str
    item: str
    text: str
    answer: str
    answered_at: str | None = None


@dataclass(frozen=True)
class _Adjusted:
    moved: str | None = None
    advised_mm: float | None = None


_KNOWN: dict[str, Any] = {
    "identity": _Identity,
    "calibration": _Calibration,
    "step": _Step,
    "profile": _Profile,
    "conditions": _Conditions,
    "plan": _Plan,
    "rod_unhooked": _RodUnhooked,
    "caution": _Caution,
    "checked": _Checked,
    "adjusted": _Adjusted,
}
"""What a note must hold where somebody takes it from there; other notes may hold anything."""


def read_entry(item: Item) -> Entry:
    """Return the note in an item. Raises: ValueError saying what is wrong with it."""
    try:
        fields = msgspec.json.decode(item.payload, type=dict[str, Any])
        name = msgspec.convert(fields.pop("entry", None), str)
        number = msgspec.convert(fields.pop(NUMBER, None), int | None)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise ValueError(f"is no note ({error})") from error
    if name in _KNOWN:
        try:
            msgspec.convert(fields, _KNOWN[name])
        except msgspec.ValidationError as error:
            raise ValueError(f"{name}: {str(error).replace('$.', '')}") from error
    return Entry(name, item.sample_index, item.host_time_us, fields, number)


def missing_note(entries: Sequence[Entry]) -> int | None:
    """Return the number of the first note that is missing from, or twice in, a capture's notes; None for none.

    Notes lost at a capture's end are not missed: with them went the samples that they were about. Captures that did
    not number their notes have None missing.
    """
    for expected, entry in enumerate(entries):
        if entry.number is not None and entry.number != expected:
            return expected
    return None
