"""Who looks at the page, and what they may do there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Action = Literal[
    "look",
    "answer_steps",
    "steer_virtual_fixture",
    "download_report",
    "acknowledge_cautions",
    "answer_safety_questions",
    "store_calibration",
    "install_firmware",
    "delete",
    "see_access_code",
    "end_sessions",
]

_LOCAL_ONLY: dict[Action, bool] = {
    "look": False,
    "answer_steps": False,
    "steer_virtual_fixture": False,
    "download_report": False,
    "acknowledge_cautions": True,
    "answer_safety_questions": True,
    "store_calibration": True,
    "install_firmware": True,
    "delete": True,
    "see_access_code": True,
    "end_sessions": True,
}
"""What takes a person beside the fixture's own computer, and what anyone let in may do."""


@dataclass(frozen=True)
class Viewer:
    """One who has been let in. local: sits at the computer that the program runs on. address: for a log."""

    local: bool
    address: str


def may(viewer: Viewer, action: Action) -> bool:
    """Whether this viewer may do this. Raises: KeyError for an action that the table does not name."""
    return viewer.local or not _LOCAL_ONLY[action]
