"""From a plane drawing to a linkage that works: lengths, assemblies, and whether each rod is pushed or pulled."""

from __future__ import annotations

import math
from typing import Literal

from rodtrue.linkage.bell_cranks import BellCrankLinkage
from rodtrue.linkage.chain import Chain, Crank, Moves, Rod
from rodtrue.linkage.closure import LinkageError, assembly_of
from rodtrue.linkage.limits import travel_limits_mm
from rodtrue.model.geometry import Geometry, Point

Action = Literal["push", "pull"]
DEAD_SHARE = 0.02
"""A rod that moves, or bears on an arm, less than this share of what it could stands on a dead point."""
SHORTEST_ARM_MM = 1.0
"""No arm that a pin sits on is shorter; near 0 the ratio of two arms is no number."""
JUST_BEYOND_MM = 1e-3


def linkage_from(geometry: Geometry, rod_names: tuple[str, ...], action: Action) -> BellCrankLinkage:
    """Return the linkage that a drawing shows, its rods exact: the lever starts at travel 0.

    rod_names: from the driving end to the lever, one more than bell cranks.
    Raises: LinkageError for another number of bell cranks, lengths that are not above 0, a crank on a dead
    point, a rod that is pulled where the action is `push` (or none that is where it is `pull`), or a linkage
    that does not work all the way to full travel.
    """
    bell_cranks, lever = geometry.bell_cranks, geometry.lever
    if len(bell_cranks) != len(rod_names) - 1:
        raise LinkageError(f"{len(bell_cranks)} bell cranks drawn, {len(rod_names) - 1} needed")
    _refuse_no_place(geometry)
    _refuse_no_arm(geometry)
    cranks = [
        Crank(c.pivot_mm, c.in_arm_mm, c.out_arm_mm, math.radians(c.out_arm_deg - c.in_arm_deg)) for c in bell_cranks
    ]
    cranks.append(Crank(lever.pivot_mm, lever.arm_mm))
    driving = [geometry.pin_mm, *(_end(c.pivot_mm, c.out_arm_mm, c.out_arm_deg) for c in bell_cranks)]
    driven = [_end(c.pivot_mm, c.in_arm_mm, c.in_arm_deg) for c in bell_cranks]
    driven.append(_end(lever.pivot_mm, lever.arm_mm, lever.arm_deg))
    rods = [_rod(name, k, driving, driven, cranks) for k, name in enumerate(rod_names)]
    way = math.cos(math.radians(geometry.travel_deg)), math.sin(math.radians(geometry.travel_deg))
    ahead = (driven[0][0] - driving[0][0]) * way[0] + (driven[0][1] - driving[0][1]) * way[1]
    chain = Chain(geometry.pin_mm, way, tuple(rods), tuple(cranks), driven[-1], math.copysign(1.0, ahead))
    moves = chain.moves(0.0)
    _refuse_dead_points(chain, moves)
    _refuse_wrong_action(chain, moves, action)
    _refuse_short_travel(chain, geometry.full_travel_mm)
    return BellCrankLinkage(chain, float(moves.lever_rad))


def _end(pivot: Point, arm_mm: float, angle_deg: float) -> Point:
    angle = math.radians(angle_deg)
    return pivot[0] + arm_mm * math.cos(angle), pivot[1] + arm_mm * math.sin(angle)


def _rod(name: str, k: int, driving: list[Point], driven: list[Point], cranks: list[Crank]) -> Rod:
    length_mm = math.dist(driving[k], driven[k])
    if not 0.0 < length_mm < math.inf:
        raise LinkageError(f"the {name} as drawn is {length_mm:g} mm long")
    back = assembly_of(driven[k], driving[k], cranks[k - 1].pivot_mm) if k > 0 else None
    return Rod(name, length_mm, assembly_of(driving[k], driven[k], cranks[k].pivot_mm), back)


def _refuse_no_place(drawn: Geometry) -> None:
    numbers = [*drawn.pin_mm, drawn.travel_deg, *drawn.lever.pivot_mm, drawn.lever.arm_deg]
    for crank in drawn.bell_cranks:
        numbers += [*crank.pivot_mm, crank.in_arm_deg, crank.out_arm_deg]
    if not all(map(math.isfinite, numbers)):
        raise LinkageError("every place and angle must be a finite number")


def _refuse_no_arm(drawn: Geometry) -> None:
    arms = [arm for crank in drawn.bell_cranks for arm in (crank.in_arm_mm, crank.out_arm_mm)]
    for arm_mm in (*arms, drawn.lever.arm_mm):
        if not SHORTEST_ARM_MM <= arm_mm < math.inf:
            raise LinkageError(f"an arm is {arm_mm:g} mm long; every arm must be {SHORTEST_ARM_MM:g} mm or longer")


def _refuse_dead_points(chain: Chain, moves: Moves) -> None:
    """On a dead point a rod's length does nothing, or anything: no correction can be told there."""
    most = 1.0
    for rod, crank, moved, arm_mm in zip(chain.rods, chain.cranks, moves.rods, moves.arms_mm, strict=True):
        if abs(float(moved)) < DEAD_SHARE * most:
            raise LinkageError(f"at curb idle the {rod.name} stands square to the way of its driving end")
        if abs(float(arm_mm)) < DEAD_SHARE * crank.in_arm_mm:
            raise LinkageError(f"at curb idle the {rod.name} lies in one line with the arm it drives")
        most = abs(float(moved / arm_mm)) * crank.out_arm_mm


def _refuse_wrong_action(chain: Chain, moves: Moves, action: Action) -> None:
    pulled = [rod.name for rod, moved in zip(chain.rods, moves.rods, strict=True) if moved < 0.0]
    if pulled and action == "push":
        raise LinkageError(f"as drawn the {' and the '.join(pulled)} would be pulled, and the action is push")
    if not pulled and action == "pull":
        raise LinkageError("as drawn every rod would be pushed, and the action is pull")


def _refuse_short_travel(chain: Chain, full_travel_mm: float) -> None:
    if not 0.0 < full_travel_mm < math.inf:
        raise LinkageError(f"full travel is {full_travel_mm:g} mm; it must be above 0")
    reach_mm = travel_limits_mm(chain, 0.0)[1]
    if reach_mm < full_travel_mm:
        raise LinkageError(
            f"as drawn the linkage works up to a pin travel of {reach_mm:.2f} mm, {full_travel_mm - reach_mm:.2f} mm "
            f"short of full travel; beyond, {_ends_at(chain, reach_mm)}"
        )


def _ends_at(chain: Chain, reach_mm: float) -> str:
    """Say what ends the travel: a rod that cannot close, or an arm on its dead point."""
    try:
        beyond = chain.moves(reach_mm + JUST_BEYOND_MM)
    except LinkageError as error:
        return str(error)
    before = chain.moves(reach_mm)
    turned = [rod.name for rod, a, b in zip(chain.rods, before.rods, beyond.rods, strict=True) if a * b <= 0.0]
    return f"the arm that drives the {turned[0]} passes its dead point" if turned else "a crank passes its dead point"
