"""The cautions: one table of codes and wording in `shared/cautions.json`, read here."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

import msgspec

from rodtrue.model.conditions import Drive, Reference
from rodtrue.resources import room

When = Literal["before", "adjust", "after"]


@dataclass(frozen=True)
class Caution:
    """One caution: its code, when it is shown, for which drives and references of travel, and its wording."""

    code: str
    when: When
    text: str
    drives: tuple[Drive, ...] = ("slide", "throttle", "bench")
    references: tuple[Reference, ...] = ("curb_idle", "lever_stop")


@dataclass(frozen=True)
class _Table:
    schema: str
    note: str
    cautions: list[Caution]


@cache
def all_cautions() -> tuple[Caution, ...]:
    """Return every caution, in the order in which they are shown."""
    text = (room("shared") / "cautions.json").read_bytes()
    return tuple(msgspec.json.decode(text, type=_Table).cautions)


def cautions_for(when: When, drive: Drive, reference: Reference = "curb_idle") -> list[Caution]:
    """Return the cautions of one moment of a run with one drive, in order; `lever_stop`: with a body alone."""
    return [
        caution
        for caution in all_cautions()
        if caution.when == when and drive in caution.drives and reference in caution.references
    ]


def leave_safe(drive: Drive, reference: Reference = "curb_idle") -> str:
    """Return what a run that ends early leaves to be done, in one paragraph."""
    first = "Shut the supply" if drive == "bench" else "Stop the engine"
    rest = " ".join(caution.text for caution in cautions_for("after", drive, reference))
    return f"Before you leave: {first} and relieve the pressure. {rest}"
