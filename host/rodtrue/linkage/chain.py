"""A chain of rods and cranks on a plane, from the throttle's pin to the lever: the mechanism alone.

The pin moves along a straight way and drives the slotted rod; each further rod runs from one bell crank to the
next, the last one to the lever. Forward, from the pin to the lever, every loop closes by `closure.meet`;
backward, from the lever to the pin, the same loops close from the other end, which answers in closed form
where the pin must stand for a lever angle, whatever the rods' lengths. Equations: README.md beside this file.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from rodtrue.linkage.closure import Array, Assembly, LinkageError, Place, meet
from rodtrue.model.geometry import Point


@dataclass(frozen=True)
class Crank:
    """A crank about a fixed pivot. Its second arm stands `between_rad` counterclockwise of its first.

    The lever is one without a second arm.
    """

    pivot_mm: Point
    in_arm_mm: float
    out_arm_mm: float = 0.0
    between_rad: float = 0.0

    def carry(self, driven: Place) -> Place:
        """Return the second arm's pin for the first one's."""
        return _turned(driven, self.pivot_mm, self.between_rad, self.out_arm_mm / self.in_arm_mm)

    def carry_back(self, driving: Place) -> Place:
        """Return the first arm's pin for the second one's."""
        return _turned(driving, self.pivot_mm, -self.between_rad, self.in_arm_mm / self.out_arm_mm)


@dataclass(frozen=True)
class Rod:
    """A rod between two pins, and how it is assembled, seen from either end.

    assembly: of the driven crank's pin, seen from the driving pin. back: of the driving crank's pin, seen
    from the driven one; the slotted rod, whose driving pin is on no crank, has none.
    """

    name: str
    length_mm: float
    assembly: Assembly
    back: Assembly | None = None


@dataclass(frozen=True)
class Moves:
    """What one mm of the pin does: the chain's velocities, each of the shape of the pin travels.

    rods: for each rod, mm it moves along itself, towards its driven end; positive: it is pushed.
    arms_mm: for each rod, its moment arm about the crank it drives. lever_rad: the lever's turn, positive
    counterclockwise. Infinite on a toggle.
    """

    rods: tuple[Array, ...]
    arms_mm: tuple[Array, ...]
    lever_rad: Array


@dataclass(frozen=True)
class Chain:
    """Rod k drives crank k; the last crank is the lever. Immutable: a changed rod is another chain.

    pin_mm: the pin at travel 0. way: unit vector of its travel. lever_pin_mm: the lever's pin with the lever
    on its stop. pushes: +1 where the pin pushes the slotted rod, -1 where it pulls.
    """

    pin_mm: Point
    way: Point
    rods: tuple[Rod, ...]
    cranks: tuple[Crank, ...]
    lever_pin_mm: Point
    pushes: float

    def rod_index(self, name: str) -> int:
        """Return a rod's place in the chain. Raises: LinkageError for a rod it does not have."""
        names = [rod.name for rod in self.rods]
        if name not in names:
            raise LinkageError(f"no rod named {name!r} here; rods: " + ", ".join(names))
        return names.index(name)

    def changed(self, changes_mm: Mapping[str, float]) -> Chain:
        """Return the chain with rods longer by so much (negative: shorter), by their names.

        Raises: LinkageError for a rod it does not have, or one left without length.
        """
        rods = list(self.rods)
        for name, change_mm in changes_mm.items():
            k = self.rod_index(name)
            length_mm = rods[k].length_mm + change_mm
            if not 0.0 < length_mm < math.inf:
                raise LinkageError(f"the {name} of {rods[k].length_mm:.2f} mm cannot change by {change_mm:.2f} mm")
            rods[k] = replace(rods[k], length_mm=length_mm)
        return replace(self, rods=tuple(rods))

    def from_stop(self, stop_mm: float) -> Chain:
        """Return the chain with travel counted from a stop that stands at this travel of the present one."""
        return replace(self, pin_mm=self.pin_at(stop_mm))

    def pin_at(self, travel_mm: float) -> Point:
        """Return the pin's place at a travel."""
        return self.pin_mm[0] + travel_mm * self.way[0], self.pin_mm[1] + travel_mm * self.way[1]

    # Forward: from the pin to the lever.

    def pins(self, pin_travel_mm: ArrayLike) -> list[tuple[Place, Place]]:
        """Return for each rod its driving and its driven pin; coordinates in mm of the shape given.

        The rods carry load throughout: there is no gap in the slot, and the lever's stop is not there.
        Raises: LinkageError where a rod cannot close.
        """
        return list(self._forward(np.asarray(pin_travel_mm, dtype=np.float64)))

    def _forward(self, travel: Array) -> Iterator[tuple[Place, Place]]:
        driving: Place = self.pin_mm[0] + travel * self.way[0], self.pin_mm[1] + travel * self.way[1]
        for rod, crank in zip(self.rods, self.cranks, strict=True):
            driven = meet(driving, rod.length_mm, crank.pivot_mm, crank.in_arm_mm, rod.assembly, rod.name)
            yield driving, driven
            driving = crank.carry(driven)

    def lever_angle_rad(self, pin_travel_mm: ArrayLike) -> Array:
        """Return the lever's angle from its stop, positive counterclockwise, shape as given. Raises: as `pins`."""
        x, y = self.pins(pin_travel_mm)[-1][1]
        pivot = self.cranks[-1].pivot_mm
        x, y = x - pivot[0], y - pivot[1]
        stop_x, stop_y = self.lever_pin_mm[0] - pivot[0], self.lever_pin_mm[1] - pivot[1]
        return np.arctan2(stop_x * y - stop_y * x, stop_x * x + stop_y * y)

    def moves(self, pin_travel_mm: ArrayLike) -> Moves:
        """Return what one mm of the pin does at these pin travels. Raises: as `pins`.

        A rod's two ends move equally far along it; across it they turn it. So the motion along the rod, over
        its moment arm about a crank, is the crank's turn.
        """
        rods, arms = [], []
        turn: Array = np.zeros(())
        for k, (driving, driven) in enumerate(self.pins(pin_travel_mm)):
            length = self.rods[k].length_mm
            along = (driven[0] - driving[0]) / length, (driven[1] - driving[1]) / length
            if k == 0:
                moved = self.way[0] * along[0] + self.way[1] * along[1]
            else:
                moved = turn * _moment_arm(driving, along, self.cranks[k - 1].pivot_mm)
            arm = _moment_arm(driven, along, self.cranks[k].pivot_mm)
            with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
                turn = moved / arm
            rods.append(moved)
            arms.append(arm)
        return Moves(tuple(rods), tuple(arms), turn)

    # Backward: from the lever to the pin.

    def pin_travel_at_angle_mm(self, angle_rad: float) -> float:
        """Return the pin travel that brings the lever to an angle from its stop, positive counterclockwise.

        Raises: LinkageError where a rod cannot close with the lever there.
        """
        driven = self._driven(0, angle_rad)
        rod = self.rods[0]
        x, y = float(driven[0]) - self.pin_mm[0], float(driven[1]) - self.pin_mm[1]
        along, aside = x * self.way[0] + y * self.way[1], abs(x * self.way[1] - y * self.way[0])
        if not aside <= rod.length_mm:
            raise LinkageError(
                f"the {rod.name} cannot close: its driven pin is {aside:.2f} mm beside the throttle pin's way, "
                f"{aside - rod.length_mm:.2f} mm too far (the rod reaches {rod.length_mm:.2f} mm)"
            )
        return along - self.pushes * math.sqrt((rod.length_mm - aside) * (rod.length_mm + aside))

    def span_mm(self, rod: str, pin_travel_mm: float) -> float:
        """Return how far apart a rod's two pins are with the pin at a travel and the lever on its stop.

        It is the length at which this rod, the others as they are, has the lever start there.
        Raises: LinkageError where another rod cannot close.
        """
        k = self.rod_index(rod)
        place = self.pin_at(pin_travel_mm)
        driving: Place = np.asarray(place[0]), np.asarray(place[1])
        for above, crank in zip(self.rods[:k], self.cranks[:k], strict=True):
            driven = meet(driving, above.length_mm, crank.pivot_mm, crank.in_arm_mm, above.assembly, above.name)
            driving = crank.carry(driven)
        driven = self._driven(k, 0.0)
        return math.hypot(float(driven[0] - driving[0]), float(driven[1] - driving[1]))

    def _driven(self, rod_index: int, lever_rad: float) -> Place:
        """Return the driven pin of a rod for the lever at an angle from its stop."""
        pin: Place = np.asarray(self.lever_pin_mm[0]), np.asarray(self.lever_pin_mm[1])
        driven = _turned(pin, self.cranks[-1].pivot_mm, lever_rad)
        for k in range(len(self.rods) - 1, rod_index, -1):
            rod, crank = self.rods[k], self.cranks[k - 1]
            assert rod.back is not None
            driving = meet(driven, rod.length_mm, crank.pivot_mm, crank.out_arm_mm, rod.back, rod.name)
            driven = crank.carry_back(driving)
        return driven


def _turned(place: Place, pivot: Point, angle_rad: float, ratio: float = 1.0) -> Place:
    """Return a place turned about a pivot, counterclockwise, its distance times `ratio`."""
    x, y = place[0] - pivot[0], place[1] - pivot[1]
    cos, sin = ratio * math.cos(angle_rad), ratio * math.sin(angle_rad)
    return pivot[0] + cos * x - sin * y, pivot[1] + sin * x + cos * y


def _moment_arm(place: Place, along: Place, pivot: Point) -> Array:
    """Return the moment arm about a pivot of a unit force at a place, positive counterclockwise."""
    return (place[0] - pivot[0]) * along[1] - (place[1] - pivot[1]) * along[0]
