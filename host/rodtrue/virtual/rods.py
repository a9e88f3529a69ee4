"""The unit's linkage with its rods as they are: the drawn error, a wrong intermediate rod, turns at the adjuster.

The rod error asked for is put into the rod with the final adjuster, all other rods exact. A wrong intermediate
rod comes on top, the final adjustment left as it is.
"""

from __future__ import annotations

from functools import lru_cache

from rodtrue.linkage import RODS, Linkage, LinkageError
from rodtrue.linkage.two_bell_cranks import SET_FIRST
from rodtrue.model.errors import InputError
from rodtrue.virtual.scenario import Scenario

State = tuple[float, float]
"""What the adjusted rod has been turned longer by, and how much too long the intermediate rod is, in mm."""

STATES = 16
"""How many states of the rods are kept: while nobody turns anything there is one."""


class Rods:
    """A unit's rods; a state of them is a linkage with travel counted from the pin's idle stop."""

    def __init__(self, scenario: Scenario) -> None:
        """Raises: InputError where the linkage cannot have the scenario's rod error."""
        if scenario.linkage_exact.rods != RODS[scenario.layout]:
            raise ValueError(f"scenario {scenario.name}: its linkage is not of the layout {scenario.layout}")
        self._exact = scenario.linkage_exact
        self._adjusted = scenario.adjusted_rod
        try:
            self._as_found_mm = self._exact.length_change_mm(self._adjusted, to_rod_error_mm=scenario.rod_error_mm)
        except LinkageError as error:
            raise InputError(
                f"rod error {scenario.rod_error_mm:g} mm: this linkage cannot have it: {error}",
                "Give a smaller one, or correct the geometry in the profile.",
            ) from error
        self.linkage = lru_cache(STATES)(self._linkage)
        self.pin_limits_mm = lru_cache(STATES)(self._pin_limits_mm)

    def _linkage(self, turned_mm: float, intermediate_error_mm: float) -> Linkage:
        """Return the linkage with the adjusted rod turned longer by so much and the intermediate rod off."""
        changes_mm = {self._adjusted: self._as_found_mm + turned_mm}
        if intermediate_error_mm:
            changes_mm[SET_FIRST] = changes_mm.get(SET_FIRST, 0.0) + intermediate_error_mm
        return self._exact.changed(changes_mm)

    def _pin_limits_mm(
        self, state: State, stop_mm: float, slot_length_mm: float, lever_full_mm: float
    ) -> tuple[float, float]:
        """Return the pin's limits in a state of the rods, counted from a stop at `stop_mm`."""
        linkage = self.linkage(*state).from_stop(stop_mm)
        return linkage.pin_limits_mm(slot_length_mm=slot_length_mm, lever_full_mm=lever_full_mm)

    def refuse(self, turned_mm: float, intermediate_error_mm: float) -> None:
        """Refuse a state in which the linkage does not go together. Raises: InputError."""
        try:
            _ = self._linkage(turned_mm, intermediate_error_mm).lever_start_mm
        except LinkageError as error:
            raise InputError(
                f"{turned_mm:+.1f} mm at the adjuster: the linkage does not go together: {error}",
                "Turn less.",
            ) from error
