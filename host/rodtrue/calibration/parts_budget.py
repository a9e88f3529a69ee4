"""What the fixture's parts bring to the uncertainty (`hardware/budget.json`), and what a calibration leaves of it.

Rows combine as standard uncertainties (JCGM 100:2008, 5.1.2); every term is given as the half-width of a
rectangular distribution of the same standard uncertainty (4.3.7).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Literal

import msgspec

from rodtrue.model.codes import PRESSURE_SPAN_KPA, TRAVEL_SPAN_MM
from rodtrue.model.errors import InputError
from rodtrue.model.instrument import InstrumentTerms
from rodtrue.resources import room

SCHEMA = "rodtrue.parts-budget/1"
_RECTANGULAR = {"rectangular": 1.0, "normal": math.sqrt(3) / 1.96, "u-shaped": math.sqrt(1.5)}
"""Half-width of a rectangular distribution of equal standard uncertainty, per half-width of each; a normal
one's is its 95 % half-width.
"""
_WIDTHS = {
    "travel": ("travel_scale", "travel_near_mm", "travel_far_mm"),
    "pressure": ("pressure_gain", "pressure_offset_kpa", "pressure_local_kpa"),
}
"""By channel, the terms that a calibration takes from the parts."""
_TWO_PLACES = math.sqrt(2)
"""A distance has an error at both of its ends."""


@dataclass(frozen=True)
class PartsRow:
    """One row. applies_to: distance (a difference of two travels or pressures), reading, full_scale, constant.

    distance_up_to_mm, distance_from_mm, pressure_up_to_kpa: over what distance or pressure it holds. lsb: it is
    the converter's. in_statistical_part: the scatter of the fit shows it already. calibration_removes: a
    calibration takes its place.
    """

    name: str
    channel: Literal["travel", "pressure"]
    applies_to: Literal["distance", "reading", "full_scale", "constant"]
    half_width: float
    unit: Literal["percent", "mm", "kPa"]
    distribution: Literal["rectangular", "normal", "u-shaped"]
    why: str
    calibration_removes: bool = False
    in_statistical_part: bool = False
    distance_up_to_mm: float | None = None
    distance_from_mm: float | None = None
    pressure_up_to_kpa: float | None = None
    lsb: float | None = None

    @property
    def rectangular(self) -> float:
        """Half-width of a rectangular distribution of the same standard uncertainty: relative, mm or kPa."""
        width = self.half_width * _RECTANGULAR[self.distribution]
        if self.unit != "percent":
            return width
        span = TRAVEL_SPAN_MM if self.channel == "travel" else PRESSURE_SPAN_KPA
        return width / 100 * (span if self.applies_to == "full_scale" else 1.0)


@dataclass(frozen=True)
class PartsBudget:
    """The rows as filed."""

    schema: str
    rows: list[PartsRow]
    comment: str = ""


@cache
def parts_budget() -> PartsBudget:
    """Return the budget that comes with the program."""
    return parse_parts_budget((room("hardware") / "budget.json").read_bytes(), "hardware/budget.json")


def parse_parts_budget(text: bytes, where: str) -> PartsBudget:
    """Return a parts' budget from JSON. Raises: InputError naming the place where it is none."""
    try:
        budget = msgspec.json.decode(text, type=PartsBudget)
    except msgspec.DecodeError as error:
        raise InputError(f"parts' budget {where}: {error}", "Mend it, or take the shipped one.") from error
    if budget.schema != SCHEMA:
        raise InputError(f"parts' budget {where}: schema {budget.schema!r}, not {SCHEMA}", "Take the shipped one.")
    for row in budget.rows:
        if not (math.isfinite(row.half_width) and row.half_width >= 0):
            raise InputError(f"parts' budget {where}: row {row.name}: half-width {row.half_width}", "Mend it.")
        _role(row, where)
    terms_of_parts(budget)
    return budget


def terms_of_parts(budget: PartsBudget) -> InstrumentTerms:
    """Return the terms of a fixture without a calibration."""
    return _terms("parts", budget.rows)


def terms_of_calibration(
    channels: list[dict[str, Any]], budget: PartsBudget, beyond: Iterable[str] = ()
) -> InstrumentTerms:
    """Return the terms of a calibrated fixture.

    channels: travel and pressure as a fixture stores them (scale_half_width, nonlinearity_half_width). What
    the calibration states takes the place of the parts' rows for it; temperature, play and converter stay. Over
    a short distance the parts' smoothness holds too, whichever is less.
    beyond: channels, travel or pressure, with readings beyond the calibrated range, of which a calibration says
    nothing: for those the parts' half-widths hold wherever they are the wider.
    """
    travel, pressure = channels
    parts = terms_of_parts(budget)
    kept = _terms("calibration", [row for row in budget.rows if not row.calibration_removes])
    far = _TWO_PLACES * travel["nonlinearity_half_width"]
    terms = InstrumentTerms(
        source="calibration",
        travel_scale=math.hypot(travel["scale_half_width"], kept.travel_scale),
        travel_near_mm=min(parts.travel_near_mm, far),
        travel_near_reach_mm=parts.travel_near_reach_mm,
        travel_far_mm=far,
        travel_constant_mm=kept.travel_constant_mm,
        pressure_gain=math.hypot(pressure["scale_half_width"], kept.pressure_gain),
        pressure_offset_kpa=math.hypot(pressure["nonlinearity_half_width"], kept.pressure_offset_kpa),
        pressure_local_kpa=math.hypot(_TWO_PLACES * pressure["nonlinearity_half_width"], kept.pressure_local_kpa),
    )
    for quantity in beyond:
        wider = {name: max(getattr(terms, name), getattr(parts, name)) for name in _WIDTHS[quantity]}
        terms = replace(terms, **wider)
    return terms


def _terms(source: Literal["parts", "calibration"], rows: list[PartsRow]) -> InstrumentTerms:
    def together(*roles: str) -> float:
        return _root_sum(row.rectangular for row in rows if set(_role(row, "")) & set(roles))

    reaches = [row.distance_up_to_mm for row in rows if row.distance_up_to_mm is not None]
    return InstrumentTerms(
        source=source,
        travel_scale=together("travel_scale"),
        travel_near_mm=together("travel_near"),
        travel_near_reach_mm=min(reaches, default=0.0),
        travel_far_mm=together("travel_far"),
        travel_constant_mm=together("travel_constant"),
        pressure_gain=together("pressure_gain"),
        pressure_offset_kpa=together("pressure_offset"),
        pressure_local_kpa=together("pressure_local"),
    )


def _role(row: PartsRow, where: str) -> tuple[str, ...]:
    """Return which terms a row goes into. Raises: InputError for a row that fits none: none is left out unseen."""
    if row.in_statistical_part:
        return ()
    match row.channel, row.applies_to, row.unit:
        case "travel", "distance", "percent":
            return ("travel_scale",)
        case "travel", "distance", "mm" if row.distance_up_to_mm is not None:
            return ("travel_near",)
        case "travel", "full_scale", "percent" if row.distance_from_mm is not None:
            return ("travel_far",)
        case "travel", "constant", "mm":
            return ("travel_constant",)
        case "pressure", "reading", "percent":
            return ("pressure_gain",)
        case "pressure", "full_scale", "percent":
            return ("pressure_offset",)
        case "pressure", "constant", "kPa":
            # An offset cancels between ramp and baseline; the converter's error differs from code to code.
            return ("pressure_offset",) if row.lsb is None else ("pressure_offset", "pressure_local")
        case "pressure", "distance", "kPa" if row.pressure_up_to_kpa is not None:
            return ("pressure_local",)
    raise InputError(
        f"parts' budget {where}: row {row.name}: {row.applies_to} in {row.unit} is not known for {row.channel}",
        "Give it as another row, or teach rodtrue.calibration.parts_budget.",
    )


def _root_sum(widths: Iterable[float]) -> float:
    return math.sqrt(sum(width**2 for width in widths))
