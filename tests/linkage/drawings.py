"""Drawings of linkages for these tests: the shipped ones, and families drawn rod by rod."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from hypothesis import reject
from hypothesis import strategies as st

from rodtrue.linkage import LinkageError
from rodtrue.linkage.bell_cranks import BellCrankLinkage
from rodtrue.linkage.drawing import linkage_from
from rodtrue.model.geometry import BellCrank, Geometry, LeverArm
from rodtrue.profiles import load_profile

NAMES = {1: ("upper rod", "lower rod"), 2: ("upper rod", "intermediate rod", "lower rod")}
FULL_TRAVEL_MM = 45.0


@dataclass(frozen=True)
class Loop:
    """One rod and the crank it drives: which way the rod runs, its length, and the crank.

    from_square_deg: how far the driven arm stands from square to the rod, positive past it. out_*: of the arm
    that drives the next rod, unused for the lever. turns: +1 where pushing turns the crank counterclockwise.
    """

    way_deg: float
    rod_mm: float
    arm_mm: float
    from_square_deg: float
    turns: int
    out_mm: float = 50.0
    out_from_square_deg: float = 0.0


def drawing(loops: Sequence[Loop], full_travel_mm: float = FULL_TRAVEL_MM) -> Geometry:
    """Draw the loops one after the other, from a pin at the origin that travels along x."""
    x, y = 0.0, 0.0
    cranks: list[BellCrank] = []
    for k, loop in enumerate(loops):
        way = math.radians(loop.way_deg)
        x, y = x + loop.rod_mm * math.cos(way), y + loop.rod_mm * math.sin(way)
        arm_deg = loop.way_deg - loop.turns * (90.0 - loop.from_square_deg)
        arm = math.radians(arm_deg)
        pivot = x - loop.arm_mm * math.cos(arm), y - loop.arm_mm * math.sin(arm)
        if k == len(loops) - 1:
            return Geometry((0.0, 0.0), 0.0, full_travel_mm, tuple(cranks), LeverArm(pivot, loop.arm_mm, arm_deg))
        out_deg = loops[k + 1].way_deg - loop.turns * (90.0 - loop.out_from_square_deg)
        out = math.radians(out_deg)
        cranks.append(BellCrank(pivot, loop.arm_mm, arm_deg, loop.out_mm, out_deg))
        x, y = pivot[0] + loop.out_mm * math.cos(out), pivot[1] + loop.out_mm * math.sin(out)
    raise AssertionError("a linkage has at least one loop")


@st.composite
def linkages(draw: st.DrawFn) -> BellCrankLinkage:
    """Pushed linkages with one or two bell cranks that work over the full travel."""
    cranks = draw(st.integers(1, 2))
    way, loops = draw(st.floats(-15.0, 15.0)), []
    for _ in range(cranks + 1):
        loops.append(
            Loop(
                way_deg=way,
                rod_mm=draw(st.floats(90.0, 450.0)),
                arm_mm=draw(st.floats(55.0, 90.0)),
                from_square_deg=draw(st.floats(-35.0, 10.0)),
                turns=draw(st.sampled_from([-1, 1])),
                out_mm=draw(st.floats(40.0, 60.0)),
                out_from_square_deg=draw(st.floats(-35.0, 10.0)),
            )
        )
        way += draw(st.floats(-120.0, 120.0))
    try:
        return linkage_from(drawing(loops), NAMES[cranks], "push")
    except LinkageError:
        # Some drawings do not reach full travel, or stand on a dead point: no linkage.
        reject()


def shipped(layout: str) -> BellCrankLinkage:
    """The linkage of a shipped example profile."""
    profile = load_profile(f"example-{layout}")
    assert profile.geometry is not None
    return linkage_from(profile.geometry, NAMES[len(profile.geometry.bell_cranks)], profile.action)


def distances_mm(start, end) -> np.ndarray:
    """How far two places are apart."""
    return np.hypot(np.asarray(end[0]) - start[0], np.asarray(end[1]) - start[1])
