"""Two bell cranks: a slotted upper rod, an intermediate rod between the bell cranks, a lower rod to the lever.

The intermediate rod is always set first, by an index pin that holds the upper bell crank where it stands at curb
idle; the threaded upper rod then makes the final adjustment.
"""

from __future__ import annotations

from rodtrue.linkage.bell_cranks import BellCrankLinkage
from rodtrue.linkage.drawing import Action, linkage_from
from rodtrue.model.geometry import Geometry

RODS = ("upper rod", "intermediate rod", "lower rod")
SET_FIRST = "intermediate rod"


def two_bell_cranks(geometry: Geometry, action: Action = "push") -> BellCrankLinkage:
    """Return the exact linkage that a drawing with two bell cranks shows. Raises: as `drawing.linkage_from`."""
    return linkage_from(geometry, RODS, action)
