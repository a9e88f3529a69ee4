"""Shift points over the throttle's whole opening, for an exact rod and for a rod error with its interval."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from rodtrue.model.errors import InputError
from rodtrue.model.profile import Profile
from rodtrue.model.shifts import Speed
from rodtrue.model.units import kmh_to_mph, mm_to_inch
from rodtrue.shifts.points import ShiftPoint, Unit, kickdown_end, part_throttle_end, shift_point

SHIFTS_SCHEMA = "rodtrue.shifts/1"
OPENINGS = tuple(step / 10 for step in range(11))
"""Throttle openings as fractions of the pin's travel from curb idle to wide open."""

Ends = tuple[float | None, float | None]


@dataclass(frozen=True)
class RodErrorGiven:
    """The rod error that a prediction is for; positive is long.

    interval_mm: between which it lies, where known. at_most: the rod is this short or shorter still, and
    every speed is the highest that remains possible.
    """

    value_mm: float
    interval_mm: tuple[float, float] | None = None
    at_most: bool = False


@dataclass(frozen=True)
class Reach:
    """The speeds between which a shift lies for the two ends of the rod error's interval.

    None at an end where there is no such shift.
    """

    kmh: Ends
    mph: Ends


@dataclass(frozen=True)
class Intervals:
    """The reach of each shift at one opening."""

    upshift: Reach
    downshift: Reach
    part_throttle_downshift: Reach
    kickdown: Reach


@dataclass(frozen=True)
class Change:
    """This rod less the exact rod; positive: this rod shifts at a higher speed, later on the way up.

    None where one of the two does not shift.
    """

    kmh: float | None
    mph: float | None


@dataclass(frozen=True)
class Opening:
    """One throttle opening; `rod`, `intervals` and changes are None where no rod error was given."""

    opening: float
    travel_mm: float
    travel_in: float
    exact: ShiftPoint
    rod: ShiftPoint | None
    intervals: Intervals | None
    upshift_change: Change | None
    downshift_change: Change | None


@dataclass(frozen=True)
class EndSpeeds:
    """From which speed on a forced downshift no longer happens, at any opening."""

    exact: Speed
    rod: Speed | None


@dataclass(frozen=True)
class Prediction:
    """Everything `rodtrue shifts` says of one rod."""

    schema: str
    profile: str
    invented: bool
    rod_error: RodErrorGiven | None
    openings: list[Opening]
    part_throttle_ends: EndSpeeds
    kickdown_ends: EndSpeeds


def unit_of(profile: Profile) -> Unit:
    """Return what a profile says of the unit's shifts.

    Raises: InputError: the profile has no section `shifts`.
    """
    if profile.shifts is None:
        raise InputError(
            f"profile {profile.name}: it has no section [shifts], from which shift points follow",
            "Add one from the unit's service information; `rodtrue profile show example-direct` shows its fields.",
        )
    return Unit(profile.shifts, profile.lever.free_mm)


def predict_shifts(
    profile: Profile, rod_error: RodErrorGiven | None = None, openings: Sequence[float] = OPENINGS
) -> Prediction:
    """Return the shift points at each opening (fractions, 0 to 1), for an exact rod and for a rod error.

    Raises: InputError: the profile has no section `shifts`, or the rod error is no length that such a
    throttle has.
    """
    unit = unit_of(profile)
    wide_open_mm = unit.data.throttle.wide_open_mm
    if rod_error is not None:
        _refuse_absurd(rod_error, wide_open_mm)
    return Prediction(
        schema=SHIFTS_SCHEMA,
        profile=profile.name,
        invented=profile.invented,
        rod_error=rod_error,
        openings=[_opening(unit, opening, opening * wide_open_mm, rod_error) for opening in openings],
        part_throttle_ends=_ends(part_throttle_end, unit, rod_error),
        kickdown_ends=_ends(kickdown_end, unit, rod_error),
    )


def change(exact: Speed, rod: Speed) -> Change:
    """Return how much faster the road must go for a shift with this rod than with an exact one."""
    if exact.kmh is None or rod.kmh is None:
        return Change(None, None)
    return Change(rod.kmh - exact.kmh, kmh_to_mph(rod.kmh - exact.kmh))


def _opening(unit: Unit, opening: float, travel_mm: float, error: RodErrorGiven | None) -> Opening:
    exact = shift_point(unit, travel_mm, 0.0)
    rod = None if error is None else shift_point(unit, travel_mm, error.value_mm)
    return Opening(
        opening=opening,
        travel_mm=travel_mm,
        travel_in=mm_to_inch(travel_mm),
        exact=exact,
        rod=rod,
        intervals=None if error is None else _intervals(unit, travel_mm, error.interval_mm),
        upshift_change=None if rod is None else change(exact.upshift, rod.upshift),
        downshift_change=None if rod is None else change(exact.downshift, rod.downshift),
    )


def _intervals(unit: Unit, travel_mm: float, interval_mm: tuple[float, float] | None) -> Intervals | None:
    """Shift speeds never fall as the rod gets longer, so the ends of its interval are the ends of theirs."""
    if interval_mm is None:
        return None
    short, long = (shift_point(unit, travel_mm, end) for end in interval_mm)
    return Intervals(
        upshift=_reach(short.upshift, long.upshift),
        downshift=_reach(short.downshift, long.downshift),
        part_throttle_downshift=_reach(short.part_throttle_downshift, long.part_throttle_downshift),
        kickdown=_reach(short.kickdown, long.kickdown),
    )


def _reach(low: Speed, high: Speed) -> Reach:
    return Reach((low.kmh, high.kmh), (low.mph, high.mph))


def _ends(end: Callable[[Unit, float], Speed], unit: Unit, error: RodErrorGiven | None) -> EndSpeeds:
    return EndSpeeds(end(unit, 0.0), None if error is None else end(unit, error.value_mm))


def _refuse_absurd(error: RodErrorGiven, wide_open_mm: float) -> None:
    for value_mm in (error.value_mm, *(error.interval_mm or ())):
        if not (math.isfinite(value_mm) and abs(value_mm) <= wide_open_mm):
            raise InputError(
                f"rod error {value_mm:g} mm: no length within the throttle's whole travel of "
                f"{mm_to_inch(wide_open_mm):.2f} in ({wide_open_mm:g} mm)",
                "Give the rod error in millimetres at the driving end, positive for a long rod.",
            )
    if error.interval_mm is not None and not error.interval_mm[0] <= error.value_mm <= error.interval_mm[1]:
        raise InputError(
            f"rod error {error.value_mm:g} mm: it lies outside its own interval {list(error.interval_mm)}",
            "Give an interval that holds the value.",
        )
