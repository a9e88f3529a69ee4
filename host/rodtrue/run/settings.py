"""What is known before a run begins."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from rodtrue.model.conditions import Drive, Reference
from rodtrue.model.errors import InputError
from rodtrue.model.profile import Profile


@dataclass(frozen=True)
class RunSettings:
    """What is known before the run begins.

    profile_text: the profile as written, for the capture. reference: `lever_stop` for a valve body alone, without
    a rod, on a bench. checklists: whether fitting, sense of travel and preconditions are gone through and recorded,
    item by item.
    Raises: InputError for a body alone that does not stand on a bench.
    """

    profile: Profile
    profile_text: str
    folder: Path
    drive: Drive = "slide"
    reference: Reference = "curb_idle"
    operator: str | None = None
    unit: str | None = None
    rate_hz: int = 500
    checklists: bool = False

    def __post_init__(self) -> None:
        if self.body_alone and self.drive != "bench":
            raise InputError(
                f"the lever's own stop as reference, drive {self.drive}: that is for a valve body alone on a bench",
                "Say drive bench too; or leave the reference out where a rod is to be measured.",
            )

    @property
    def body_alone(self) -> bool:
        """Whether a valve body is measured by itself: its lever is moved, from the lever's own stop, and no rod."""
        return self.reference == "lever_stop"
