"""What to turn: from the rod error to the change at the adjuster, through the layout's kinematics.

The measurement tells one number, the rod error at the driving end, and not which rod it sits in. Rods that are
set first by a gauge, such as the intermediate rod by its index pin, come first, without an amount: the gauge
decides. The final adjuster then takes out the whole error, all other rods taken as exact.
"""

from __future__ import annotations

from typing import Any, Literal

from rodtrue.linkage import Linkage, LinkageError, linkage_of
from rodtrue.model.profile import Adjuster, Profile
from rodtrue.model.result import Correction

Way = Literal["lengthen", "shorten"]


def correction_for(profile: Profile, rod_error_mm: float, *, needed: bool) -> Correction:
    """Return the correction that brings a rod error (positive: long) to zero.

    needed: false where the rod is correct as it is; the correction then says `none`. Where no length of the
    adjuster's rod takes out the whole error, the correction has a direction and no amount.
    Raises: LinkageError: a profile whose geometry makes no linkage.
    """
    adjuster = profile.adjuster
    if not needed:
        return Correction("none", 0.0, where=adjuster.where)
    linkage = linkage_of(profile)
    change_mm = _change_mm(linkage, adjuster, rod_error_mm)
    way = _way(linkage, adjuster, rod_error_mm)
    amount_mm = None if change_mm is None else abs(change_mm)
    turns = _turns(amount_mm, adjuster)
    steps = [_set_first(linkage, first, rod_error_mm) for first in profile.set_first]
    steps.append(_step(adjuster, way, amount_mm, turns))
    return Correction(way, amount_mm, turns, adjuster.where, steps)


def correction_at_least(profile: Profile, at_least_mm: float) -> Correction:
    """Return the correction of a rod known only to be shorter than exact by at least this much.

    at_least_mm: at the driving end; the correction's is at the adjuster, None where no length does so much.
    Raises: as `correction_for`.
    """
    linkage, adjuster = linkage_of(profile), profile.adjuster
    change_mm = _change_mm(linkage, adjuster, -at_least_mm)
    way = _way(linkage, adjuster, -at_least_mm)
    steps = [_set_first(linkage, first, None) for first in profile.set_first]
    return Correction(way, None, None, adjuster.where, steps, None if change_mm is None else abs(change_mm))


def _change_mm(linkage: Linkage, adjuster: Adjuster, rod_error_mm: float) -> float | None:
    """Return the change of one rod's length that takes out a rod error sitting in it, None where none does."""
    try:
        return 0.0 - linkage.length_change_mm(adjuster.rod, to_rod_error_mm=rod_error_mm)
    except LinkageError:
        return None


def _way(linkage: Linkage, adjuster: Adjuster, rod_error_mm: float) -> Way:
    # A pushed rod made longer has the lever start earlier; a pulled one has it start later.
    return "lengthen" if linkage.sensitivity(adjuster.rod) * rod_error_mm > 0.0 else "shorten"


def _turns(amount_mm: float | None, adjuster: Adjuster) -> float | None:
    """Return the turns for a change of length; None for a slip joint, which has no thread."""
    return None if amount_mm is None or adjuster.pitch_mm is None else amount_mm / adjuster.pitch_mm


def _step(adjuster: Adjuster, direction: str, amount_mm: float | None, turns: float | None) -> dict[str, Any]:
    return {
        "rod": adjuster.rod,
        "direction": direction,
        "amount_mm": amount_mm,
        "turns": turns,
        "where": adjuster.where,
        "how": adjuster.how,
    }


def _set_first(linkage: Linkage, adjuster: Adjuster, rod_error_mm: float | None) -> dict[str, Any]:
    """Return the step of a rod that its gauge sets.

    alone_mm, alone_turns: the change at this adjuster that would take out the whole error by itself, positive
    longer; where the gauge asks for about this much, the error sat here.
    """
    alone_mm = None if rod_error_mm is None else _change_mm(linkage, adjuster, rod_error_mm)
    alone = {"alone_mm": alone_mm, "alone_turns": _turns(alone_mm, adjuster)}
    return _step(adjuster, "set", None, None) | alone
