"""Limits of travel of a chain: as far as every loop closes as it was assembled and no crank turns back.

A limit is a toggle (rod and driven arm in one line: the loop cannot close beyond) or a dead point (rod and
driving arm in one line: the rod, and with it the lever, turns back).
"""

from __future__ import annotations

import numpy as np

from rodtrue.linkage.chain import Chain, Moves
from rodtrue.linkage.closure import LinkageError

STEP_MM = 1.0
"""How closely the limits are looked for: two nearer to each other than this are taken as none."""
FOUND_MM = 1e-9


def travel_limits_mm(chain: Chain, from_mm: float) -> tuple[float, float]:
    """Return the least and the greatest pin travel at which the chain works as it does at `from_mm`.

    Looked for outwards from there and narrowed down to 1e-9 mm.
    Raises: LinkageError where it does not close there.
    """
    signs = _signs(chain.moves(from_mm))
    return _limit_mm(chain, signs, from_mm, -1.0), _limit_mm(chain, signs, from_mm, 1.0)


def _limit_mm(chain: Chain, signs: list[float], from_mm: float, way: float) -> float:
    def works(travel_mm: float) -> bool:
        try:
            return _signs(chain.moves(travel_mm)) == signs
        except LinkageError:
            return False

    inside, outside = from_mm, from_mm + way * STEP_MM
    # The slotted rod and the arm it drives reach only so far: this ends.
    while works(outside):
        inside, outside = outside, outside + way * STEP_MM
    while abs(outside - inside) > FOUND_MM:
        middle = (inside + outside) / 2.0
        inside, outside = (middle, outside) if works(middle) else (inside, middle)
    return inside


def _signs(moves: Moves) -> list[float]:
    return [float(np.sign(value)) for value in (*moves.rods, *moves.arms_mm)]
