"""What to turn: from the rod error to the change at the adjuster, through the layout's kinematics."""

from __future__ import annotations

from typing import Literal

from rodtrue.linkage import direct
from rodtrue.model.profile import Profile
from rodtrue.model.result import Correction

Way = Literal["lengthen", "shorten"]


def correction_for(profile: Profile, rod_error_mm: float, *, needed: bool) -> Correction:
    """Return the correction that brings a rod error (positive: long) to zero.

    needed: false where the rod is correct as it is; the correction then says `none`.
    Raises: ValueError: a layout whose kinematics are not known here.
    """
    if profile.layout != "direct":
        raise ValueError(f"no kinematics for the layout {profile.layout}")
    where = profile.adjuster.where
    if not needed:
        return Correction("none", 0.0, where=where)
    change_mm = direct.length_change_mm(rod_error_mm)
    turns = direct.adjuster_turns(abs(change_mm), profile.adjuster.pitch_mm)
    way: Way = "lengthen" if change_mm > 0 else "shorten"
    step = {
        "rod": "throttle rod",
        "direction": way,
        "amount_mm": abs(change_mm),
        "turns": turns,
        "where": where,
    }
    return Correction(way, abs(change_mm), turns, where, [step])


def correction_at_least(profile: Profile, at_least_mm: float) -> Correction:
    """Return the correction of a rod known only to be shorter than exact by at least this much."""
    return Correction("lengthen", None, None, profile.adjuster.where, [], at_least_mm)
