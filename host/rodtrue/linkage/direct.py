"""The direct layout: one slotted rod between the throttle's pin and the transmission's lever.

Loop closure along the rod: pin travel, plus the rod's length from the slot's rear end to the lever,
less the lever end's travel, is constant. A rod longer by 1 mm so moves the lever by 1 mm at every pin
travel: errors at the adjuster and at the driving end are equal. The angle between sensor axis and rod
and the pin's arc are left to the uncertainty budget. A rod that is pulled works the other way round: longer
by 1 mm it lets the lever off 1 mm of pin travel later.

Signs: pin travel is 0 at curb idle and positive towards wide open; a rod error is positive for a rod
longer than exact (pulled: shorter), where the lever moves too early. Lever travel is 0 on the lever's own
stop and is never negative.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from rodtrue.linkage.closure import Array, LinkageError

ROD = "throttle rod"


def lever_start_mm(rod_error_mm: float) -> float:
    """Return the pin travel at which the lever leaves its stop; negative where it has left already."""
    return 0.0 - rod_error_mm


def lever_travel_mm(
    pin_travel_mm: ArrayLike,
    rod_error_mm: float,
    *,
    hooked: bool = True,
    lever_full_mm: float = math.inf,
) -> Array:
    """Return the lever's travel for the pin's, both in mm at the driving end, shape as given.

    The pin pushes the rear end of the slot and cannot pull: a short rod leaves a gap that the pin
    crosses first. Unhooked, the rod moves nothing and the lever stays on its stop.
    lever_full_mm: where the lever meets its full-travel stop.
    """
    pin = np.asarray(pin_travel_mm, dtype=np.float64)
    if not hooked:
        return np.zeros_like(pin)
    return np.clip(pin + rod_error_mm, 0.0, lever_full_mm)


def pin_travel_at_lever_mm(lever_mm: float, rod_error_mm: float) -> float:
    """Return the pin travel that brings the lever to `lever_mm` (above 0), such as the kickdown detent."""
    return lever_mm - rod_error_mm


def pin_limits_mm(
    rod_error_mm: float, *, slot_length_mm: float, lever_full_mm: float, hooked: bool = True
) -> tuple[float, float]:
    """Return the least and greatest pin travel that the rod allows, in mm; infinite where it sets none.

    Hooked, a rod shorter than the slot can take up holds the pin off its idle stop with the slot's
    front end, and a long one brings the lever to its full-travel stop early. Unhooked, nothing does.
    """
    if not hooked:
        return -math.inf, math.inf
    held_off_mm = -rod_error_mm - slot_length_mm
    return held_off_mm if held_off_mm > 0.0 else -math.inf, lever_full_mm - rod_error_mm


@dataclass(frozen=True)
class DirectLinkage:
    """The direct layout behind the face that all layouts share. Immutable: a changed rod is another linkage."""

    action: Literal["push", "pull"] = "push"
    rod_error_mm: float = 0.0

    @property
    def rods(self) -> tuple[str, ...]:
        return (ROD,)

    @property
    def lever_start_mm(self) -> float:
        return lever_start_mm(self.rod_error_mm)

    @property
    def lever_rate(self) -> float:
        return 1.0

    def changed(self, changes_mm: Mapping[str, float]) -> DirectLinkage:
        unknown = set(changes_mm) - {ROD}
        if unknown:
            raise LinkageError(f"no rod named {unknown.pop()!r} here; rods: {ROD}")
        return replace(self, rod_error_mm=self.rod_error_mm - self.sensitivity(ROD) * changes_mm.get(ROD, 0.0))

    def from_stop(self, stop_mm: float) -> DirectLinkage:
        return replace(self, rod_error_mm=self.rod_error_mm + stop_mm)

    def lever_travel_mm(
        self, pin_travel_mm: ArrayLike, *, hooked: bool = True, lever_full_mm: float = math.inf
    ) -> Array:
        return lever_travel_mm(pin_travel_mm, self.rod_error_mm, hooked=hooked, lever_full_mm=lever_full_mm)

    def pin_travel_at_lever_mm(self, lever_mm: float) -> float:
        return pin_travel_at_lever_mm(lever_mm, self.rod_error_mm)

    def travel_limits_mm(self) -> tuple[float, float]:
        return -math.inf, math.inf

    def pin_limits_mm(
        self, *, slot_length_mm: float, lever_full_mm: float, hooked: bool = True
    ) -> tuple[float, float]:
        return pin_limits_mm(
            self.rod_error_mm, slot_length_mm=slot_length_mm, lever_full_mm=lever_full_mm, hooked=hooked
        )

    def sensitivity(self, rod: str) -> float:
        if rod != ROD:
            raise LinkageError(f"no rod named {rod!r} here; rods: {ROD}")
        return -1.0 if self.action == "push" else 1.0

    def length_change_mm(self, rod: str, to_rod_error_mm: float = 0.0) -> float:
        return (self.rod_error_mm - to_rod_error_mm) * self.sensitivity(rod) + 0.0
