"""One bell crank: a slotted upper rod to the bell crank, and from it a lower rod to the lever.

The lower rod is the adjustable one, by a slip joint at its upper end. Whether the slot is at the throttle's end
of the upper rod or at the bell crank's does not matter here: what counts is the distance between the two pins
when the rod carries load.
"""

from __future__ import annotations

from rodtrue.linkage.bell_cranks import BellCrankLinkage
from rodtrue.linkage.drawing import Action, linkage_from
from rodtrue.model.geometry import Geometry

RODS = ("upper rod", "lower rod")


def one_bell_crank(geometry: Geometry, action: Action = "push") -> BellCrankLinkage:
    """Return the exact linkage that a drawing with one bell crank shows. Raises: as `drawing.linkage_from`."""
    return linkage_from(geometry, RODS, action)
