"""What a calibration run asks for, and when a reading has settled."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from rodtrue.calibration.channel import LEAST_PLACES, nominal_reading
from rodtrue.calibration.document import Point
from rodtrue.calibration.performance import Direction
from rodtrue.model.codes import PRESSURE_SPAN_KPA, TRAVEL_SPAN_MM
from rodtrue.model.errors import InputError
from rodtrue.model.units import KPA_PER_PSI, MM_PER_INCH

CODES_PER_CONVERTER_STEP = 16
QUARTER_STEP = CODES_PER_CONVERTER_STEP / 4
_SPANS = {"travel": TRAVEL_SPAN_MM, "pressure": PRESSURE_SPAN_KPA}
_UNITS = {"travel": {"mm": 1.0, "in": MM_PER_INCH}, "pressure": {"kPa": 1.0, "psi": KPA_PER_PSI}}
DEFAULT_PLACES = {"travel": "5,15,25,35,45,55,65,75,85,95 mm", "pressure": "5,10,15,20,30,40,50,60,70,80,90 psi"}


@dataclass(frozen=True)
class Target:
    """One comparison to make: value in mm or kPa."""

    cycle: int
    direction: Direction
    value: float


def places_of(quantity: str, text: str) -> list[float]:
    """Return the reference values named in a text such as "5,10,20 psi", rising, in mm or kPa.

    Raises: InputError: no number, two units in one list, a unit of another quantity, a value that does not rise or
    that the sensor cannot show.
    """
    units = _UNITS[quantity]
    named = re.findall(r"[a-zA-Z]+", text)
    known = " or ".join(units)
    if len(named) != 1 or named[0] not in units or not text.strip().endswith(named[0]):
        what = f"units {', '.join(named)}" if named else "no unit"
        raise InputError(
            f"{quantity} points {text!r}: {what}; one unit at the end is needed, {known}",
            f"Give for instance {DEFAULT_PLACES[quantity]!r}.",
        )
    values = []
    for word in text.strip().removesuffix(named[0]).split(","):
        try:
            value = float(word)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise InputError(
                f"{quantity} points {text!r}: {word.strip()!r} is not a number", "Separate numbers by commas."
            )
        values.append(value * units[named[0]])
    for before, after in pairwise(values):
        if after <= before:
            raise InputError(f"{quantity} points {text!r}: not in rising order", "Give each value once, rising.")
    outside = [value for value in values if not 0 <= value <= _SPANS[quantity]]
    if outside:
        unit = "mm" if quantity == "travel" else "kPa"
        raise InputError(
            f"{quantity} points {text!r}: {outside[0]:.6g} {unit} is not within the sensor's 0 to "
            f"{_SPANS[quantity]:g} {unit}",
            "Leave out what the sensor cannot show; never load it past its range.",
        )
    return values


def refuse_too_few(quantity: str, places: Sequence[float]) -> None:
    """Refuse, before the first is set, fewer places than a curve needs. Raises: InputError."""
    if len(places) < LEAST_PLACES:
        raise InputError(
            f"{quantity} points: {len(places)} named; a calibration needs {LEAST_PLACES} or more",
            f"Give for instance {DEFAULT_PLACES[quantity]!r}.",
        )


def plan(places: Sequence[float], cycles: int) -> list[Target]:
    """Return the comparisons of so many cycles, up and down, in order."""
    up = [(place, "up") for place in places]
    down = [(place, "down") for place in reversed(places)]
    return [
        Target(cycle, "up" if word == "up" else "down", place)
        for cycle in range(1, cycles + 1)
        for place, word in (*up, *down)
    ]


def left_to_take(planned: Sequence[Target], taken: Sequence[Point], quantity: str) -> list[Target]:
    """Return the comparisons still to make of a run that was broken off, in order.

    Raises: InputError where what was taken is not the beginning of what is planned.
    """
    for number, point in enumerate(taken):
        expected = planned[number] if number < len(planned) else None
        found = Target(point.cycle, point.direction, point.reference)
        if expected is None or (expected.cycle, expected.direction) != (found.cycle, found.direction) or not (
            math.isclose(expected.value, found.value, rel_tol=1e-9, abs_tol=1e-9)
        ):
            unit = "mm" if quantity == "travel" else "kPa"
            asked = "no further one" if expected is None else _words(expected, unit)
            raise InputError(
                f"{quantity} point {number + 1} of the run to continue is {_words(found, unit)}; asked for now is "
                f"{asked}",
                "Give the same points and --cycles as at its beginning, or begin a new run.",
            )
    return list(planned[len(taken) :])


LEAST_FOLLOWED, MOST_FOLLOWED = 0.3, 3.0
"""A sensor's move by nominal scaling over the reference's: a track of half or double length lies within (ours)."""
_LEAST_MOVE = 0.01
"""Of the span: after a smaller move play at the joint may hide it."""


def follows(before: Point | None, point: Point, quantity: str) -> bool:
    """Whether a reading moved as its reference did since the point before it; true where that hardly did."""
    moved = 0.0 if before is None else point.reference - before.reference
    if before is None or abs(moved) < _LEAST_MOVE * _SPANS[quantity]:
        return True
    first, second = nominal_reading(np.array([before.code, point.code]), _SPANS[quantity])
    return LEAST_FOLLOWED < float(second - first) / moved < MOST_FOLLOWED


def _words(target: Target, unit: str) -> str:
    return f"cycle {target.cycle}, {target.direction}, {target.value:g} {unit}"


@dataclass(frozen=True)
class Settled:
    """A settled reading: mean and standard deviation of `samples` sample codes."""

    code: float
    sd_codes: float
    samples: int


def settled(codes: NDArray[np.uint16]) -> Settled | None:
    """Return the reading of a channel's newest second of codes, shape (n,), or None while it still moves.

    It stands when its second half differs from its first by no more than a quarter of a converter step and
    three standard errors of that difference.
    """
    n = len(codes)
    half = n // 2
    values = codes.astype(np.float64)
    first, second = values[:half], values[half:]
    spread = math.sqrt((float(first.var(ddof=1)) + float(second.var(ddof=1))) / 2)
    if abs(float(second.mean() - first.mean())) > QUARTER_STEP + 3 * spread * math.sqrt(2 / half):
        return None
    return Settled(float(values.mean()), float(values.std(ddof=1)), n)
