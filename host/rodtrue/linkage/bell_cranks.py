"""A linkage with bell cranks as analysis and plant use it: lever start, lever travel, and what a rod's length does.

Lever travel is the lever's angle from its stop, as an equivalent at the driving end: over the angle that one mm
of the pin turns the lever of the exact linkage where it starts. So it is a measure of the lever alone, the
same whatever the rods' lengths, and equals pin travel near the start of an exact linkage.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from rodtrue.linkage.chain import Chain
from rodtrue.linkage.closure import Array, LinkageError
from rodtrue.linkage.limits import travel_limits_mm

SAME_MM = 1e-6
"""Two ways to the same place agree within this."""


@dataclass(frozen=True)
class BellCrankLinkage:
    """A chain, and what one mm of lever travel stands for. Immutable: a changed rod is another linkage.

    lever_rad_per_mm: turn of the exact linkage's lever for one mm of the pin, with its sign.
    """

    chain: Chain
    lever_rad_per_mm: float

    @property
    def rods(self) -> tuple[str, ...]:
        return tuple(rod.name for rod in self.chain.rods)

    @property
    def lever_start_mm(self) -> float:
        return self.pin_travel_at_lever_mm(0.0)

    @property
    def rod_error_mm(self) -> float:
        return 0.0 - self.lever_start_mm

    @property
    def lever_rate(self) -> float:
        return float(self.chain.moves(self.lever_start_mm).lever_rad) / self.lever_rad_per_mm

    def changed(self, changes_mm: Mapping[str, float]) -> BellCrankLinkage:
        return replace(self, chain=self.chain.changed(changes_mm))

    def from_stop(self, stop_mm: float) -> BellCrankLinkage:
        return replace(self, chain=self.chain.from_stop(stop_mm))

    def lever_travel_mm(
        self, pin_travel_mm: ArrayLike, *, hooked: bool = True, lever_full_mm: float = math.inf
    ) -> Array:
        pin = np.asarray(pin_travel_mm, dtype=np.float64)
        if not hooked:
            return np.zeros_like(pin)
        # Before the start the pin has not met the slot's end, and the lever stays on its stop.
        start_mm = self.lever_start_mm
        lever_mm = self.chain.lever_angle_rad(np.maximum(pin, start_mm)) / self.lever_rad_per_mm
        return np.where(pin > start_mm, np.clip(lever_mm, 0.0, lever_full_mm), 0.0)

    def pin_travel_at_lever_mm(self, lever_mm: float) -> float:
        return self.chain.pin_travel_at_angle_mm(lever_mm * self.lever_rad_per_mm)

    def travel_limits_mm(self) -> tuple[float, float]:
        return travel_limits_mm(self.chain, self.lever_start_mm)

    def pin_limits_mm(
        self, *, slot_length_mm: float, lever_full_mm: float, hooked: bool = True
    ) -> tuple[float, float]:
        if not hooked:
            return -math.inf, math.inf
        # With the slot's other end on the pin, the slotted rod is as one longer (pulled: shorter) by the slot.
        slack = self.changed({self.rods[0]: self.chain.pushes * slot_length_mm})
        held_off_mm = slack.lever_start_mm
        toggle_mm = self.travel_limits_mm()[1]
        lever_stops = float(self.lever_travel_mm(toggle_mm)) > lever_full_mm
        full_mm = self.pin_travel_at_lever_mm(lever_full_mm) if lever_stops else toggle_mm
        return held_off_mm if held_off_mm > 0.0 else -math.inf, full_mm

    def sensitivity(self, rod: str) -> float:
        # The lever held on its stop, nothing below the rod moves: what it is made longer, the pin gives way.
        moved = self.chain.moves(self.lever_start_mm).rods[self.chain.rod_index(rod)]
        return -1.0 / float(moved)

    def length_change_mm(self, rod: str, to_rod_error_mm: float = 0.0) -> float:
        start_mm = 0.0 - to_rod_error_mm
        k = self.chain.rod_index(rod)
        change_mm = self.chain.span_mm(rod, start_mm) - self.chain.rods[k].length_mm
        changed = self.changed({rod: change_mm})
        # Two pins have a distance also beyond a crank's dead point, where the rod would not work as assembled.
        off_rad = float(changed.chain.lever_angle_rad(start_mm))
        if max(abs(changed.lever_start_mm - start_mm), abs(off_rad / self.lever_rad_per_mm)) > SAME_MM:
            raise LinkageError(
                f"no length of the {rod} makes the lever start at {start_mm:.2f} mm: a crank would pass a dead point"
            )
        return change_mm
