"""Kinematics of the throttle linkage, one module a layout. Positions in mm, as driving-end equivalents.

`linkage_of(profile)` returns the exact linkage of a profile; `changed` makes one with other rod lengths.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Protocol

from numpy.typing import ArrayLike

from rodtrue.linkage import direct, one_bell_crank, two_bell_cranks
from rodtrue.linkage.closure import Array, LinkageError
from rodtrue.model.profile import Layout, Profile

__all__ = ["RODS", "Linkage", "LinkageError", "linkage_of"]

RODS: dict[Layout, tuple[str, ...]] = {
    "direct": (direct.ROD,),
    "one-bell-crank": one_bell_crank.RODS,
    "two-bell-cranks": two_bell_cranks.RODS,
}
"""The rods of each layout, from the driving end to the lever."""


class Linkage(Protocol):
    """What every layout answers. Immutable; its rods may be exact or not.

    Lengths in mm; travel, lever travel and rod error as equivalents at the driving end, with the signs of the
    whole program: travel positive towards wide open, rod error positive where the lever moves too early.
    """

    @property
    def rods(self) -> tuple[str, ...]:
        """The rods' names, from the driving end to the lever."""

    @property
    def lever_start_mm(self) -> float:
        """Pin travel at which the lever leaves its stop; negative where it has left already.

        Raises: LinkageError where a rod cannot close with the lever on its stop.
        """

    @property
    def rod_error_mm(self) -> float:
        """How much longer than exact the rod or chain is: `-lever_start_mm`. Raises: as there."""

    @property
    def lever_rate(self) -> float:
        """Lever travel for one mm of the pin at the lever start, over that of the exact linkage."""

    def changed(self, changes_mm: Mapping[str, float]) -> Linkage:
        """Return the linkage with rods made longer by so much (negative: shorter), by their names.

        Raises: LinkageError for a rod it does not have, or one left without length.
        """

    def from_stop(self, stop_mm: float) -> Linkage:
        """Return the linkage with travel counted from a stop that stands at this travel of the present one."""

    def lever_travel_mm(
        self, pin_travel_mm: ArrayLike, *, hooked: bool = True, lever_full_mm: float = math.inf
    ) -> Array:
        """Return the lever's travel from its stop for the pin's travel, shape as given.

        The pin meets only one end of the slot: until it does there is a gap, and the lever stays on its stop.
        Unhooked, always. lever_full_mm: where the lever meets its full-travel stop.
        Raises: LinkageError where a rod cannot close, naming it and by how much.
        """

    def pin_travel_at_lever_mm(self, lever_mm: float) -> float:
        """Return the pin travel that brings the lever to a travel, such as the kickdown detent's.

        Raises: LinkageError where a rod cannot close with the lever there.
        """

    def travel_limits_mm(self) -> tuple[float, float]:
        """Return the least and the greatest pin travel at which the linkage works; infinite where none is."""

    def pin_limits_mm(
        self, *, slot_length_mm: float, lever_full_mm: float, hooked: bool = True
    ) -> tuple[float, float]:
        """Return the least and the greatest pin travel that the rods allow, infinite where they set none.

        Hooked, a linkage shorter than the slot can take up holds the pin off its idle stop; at the other end
        the lever's full-travel stop or a limit of the linkage ends the travel.
        """

    def sensitivity(self, rod: str) -> float:
        """Return the change of the lever start for one mm more of a rod's length, in mm.

        Raises: LinkageError for a rod it does not have.
        """

    def length_change_mm(self, rod: str, to_rod_error_mm: float = 0.0) -> float:
        """Return the change of one rod's length, from what it is here, that brings the rod error to a value.

        Exact however far, the other rods as they are.
        Raises: LinkageError where no length of this rod does it.
        """


def linkage_of(profile: Profile) -> Linkage:
    """Return the exact linkage of a profile.

    Raises: LinkageError where its geometry is missing, or shows no linkage of its layout that works.
    """
    if profile.layout == "direct":
        return direct.DirectLinkage(profile.action)
    if profile.geometry is None:
        raise LinkageError(f"the layout {profile.layout} needs a geometry")
    if profile.layout == "one-bell-crank":
        return one_bell_crank.one_bell_crank(profile.geometry, profile.action)
    return two_bell_cranks.two_bell_cranks(profile.geometry, profile.action)
