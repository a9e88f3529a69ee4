"""The uncertainty budget of the rod error, as in JCGM 100:2008 (GUM), clauses 4.3, 5.1 and G.4.

Rows are standard uncertainties in mm at the driving end; they are taken as uncorrelated. Pressure gain and
offset have no row: the ramp and the baseline share the sensor, so both cancel in the onset.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from rodtrue.analysis.decision import coverage_factor
from rodtrue.analysis.interval import Spread
from rodtrue.analysis.reference import Baseline, Rests
from rodtrue.model.conditions import Conditions
from rodtrue.model.instrument import InstrumentTerms
from rodtrue.model.profile import Profile
from rodtrue.model.result import BudgetRow

_SQRT3 = math.sqrt(3)
UNKNOWN_FRICTION_MM = 1.0
"""With openings alone the friction is unknown; a valve has at most this much (common practice, no source)."""
UNSEEN_BEND_KPA_PER_MM2 = 0.05
"""Bend allowed for where the window is too short to show one (invented, generous)."""
STATISTICAL_ROW = "stroke to stroke"
FREE_TRAVEL_ROW = "lever free travel"


@dataclass(frozen=True)
class Measured:
    """What the budget needs to know of the fit. mm, kPa/mm and s as named.

    bend_shift_mm: what the bend moves the middle of the onsets by. linkage_shift_mm: what the linkage's own bend
    moved it by, and was taken out. unequal_speed_mm_per_s: mean speed of
    the openings less that of the closings, on the ramp; None with one direction only. speed_mm_per_s: the
    mean speed on the ramp.
    """

    lever_start_mm: float
    slope_kpa_per_mm: float
    friction_mm: float | None
    extrapolated_mm: float
    window_mm: float
    bend_shift_mm: float | None
    linkage_shift_mm: float
    lag_told: bool
    unequal_speed_mm_per_s: float | None
    speed_mm_per_s: float


@dataclass(frozen=True)
class Combined:
    """Combined standard uncertainty in mm and its effective degrees of freedom (Welch-Satterthwaite)."""

    standard_uncertainty_mm: float
    degrees_of_freedom: float
    systematic_mm: float
    limiting_row: str


_SAID_OF = {"parts": "from the parts' ratings, not calibrated", "calibration": "from the calibration"}


def with_instrument(profile: Profile, terms: InstrumentTerms | None) -> Profile:
    """Return the profile with the half-widths of scale, gain and offset that hold for this fixture.

    The mounting (axis and arc, rests, the slide's stop) and the baseline's drift stay the profile's.
    """
    if terms is None:
        return profile
    part = replace(
        profile.instrument,
        travel_scale=terms.travel_scale,
        travel_nonlinearity_mm=terms.travel_near_mm,
        travel_nonlinearity_near_mm=terms.travel_near_reach_mm,
        pressure_gain=terms.pressure_gain,
        pressure_offset_kpa=terms.pressure_offset_kpa,
    )
    return replace(profile, instrument=part)


def travel_rows(distance_mm: float, rests: Rests, profile: Profile, conditions: Conditions) -> list[BudgetRow]:
    """Return the rows of a travel `distance_mm` from zero.

    Half-widths from the profile, which has taken over the scale of the instrument terms (`with_instrument`);
    the nonlinearity from those terms where there are any.
    """
    part, terms = profile.instrument, conditions.instrument
    distance = abs(distance_mm)
    source = "" if terms is None else _SAID_OF[terms.source]
    if terms is None:
        far = distance > part.travel_nonlinearity_near_mm
        nonlinearity = part.travel_nonlinearity_beyond * distance if far else part.travel_nonlinearity_mm
    else:
        nonlinearity = terms.travel_nonlinearity_mm(distance)
    between = "between zero and lever start" + (f"; {source}" if source else "")
    rows = [
        _rectangular("rests", max(part.rest_mm, _half_range(rests)), "mm", 1.0),
        _rectangular("travel nonlinearity", nonlinearity, "mm", 1.0, between),
        _rectangular("travel scale", part.travel_scale, "mm/mm", distance, source),
        _rectangular("axis and arc", part.axis_and_arc, "mm/mm", distance),
    ]
    if terms is not None:
        constant = terms.travel_constant_mm
        rows.append(_rectangular("joint and converter", constant, "mm", 1.0, "from the parts' ratings"))
    if conditions.drive == "slide":
        rows.insert(0, _rectangular("zero transfer to the slide", part.slide_transfer_mm, "mm", 1.0))
    return rows


def rod_error_budget(
    measured: Measured,
    spread: Spread,
    baseline: Baseline,
    rests: Rests,
    profile: Profile,
    conditions: Conditions,
) -> list[BudgetRow]:
    """Return the rows of the rod error's budget: statistical, travel, baseline, valve and ramp."""
    per_kpa = 1.0 / measured.slope_kpa_per_mm
    u = spread.standard_uncertainty_mm
    note = f"largest of three: {spread.of}"
    rows = [BudgetRow(STATISTICAL_ROW, u, "mm", "t", 1.0, 1.0, u, spread.degrees_of_freedom, note)]
    rows += travel_rows(measured.lever_start_mm, rests, profile, conditions)
    rows.append(_rectangular("baseline since its step", profile.instrument.baseline_kpa, "kPa", per_kpa))
    if conditions.instrument is not None:
        local, source = conditions.instrument.pressure_local_kpa, _SAID_OF[conditions.instrument.source]
        rows.append(_rectangular("pressure nonlinearity", local, "kPa", per_kpa, f"ramp against baseline; {source}"))
    if baseline.standard_error_kpa > 0:
        u = baseline.standard_error_kpa
        freedom = len(baseline.approaches_kpa) - 1
        rows.append(BudgetRow("baseline approaches", u, "kPa", "t", 1.0, per_kpa, u * per_kpa, freedom))
    if profile.lever.free_half_width_mm > 0:
        rows.append(_rectangular(FREE_TRAVEL_ROW, profile.lever.free_half_width_mm, "mm", 1.0))
    if measured.friction_mm is None:
        rows.append(_rectangular("friction unknown", UNKNOWN_FRICTION_MM / 4, "mm", 1.0, "one direction only"))
    else:
        # What exceeds a valve's friction sits in the linkage and may act one way only.
        beyond_mm = max(0.0, abs(measured.friction_mm) - UNKNOWN_FRICTION_MM)
        half = (abs(measured.friction_mm) - beyond_mm) / 4 + beyond_mm / 2
        rows.append(_rectangular("friction asymmetry", half, "mm", 1.0))
    rows.append(_rectangular("ramp bend", _bend_half_width(measured), "mm", 1.0, "over the distance carried back"))
    if measured.linkage_shift_mm != 0.0:
        half = abs(measured.linkage_shift_mm) / 2
        rows.append(
            _rectangular("linkage bend", half, "mm", 1.0, "known from the geometry, half of what was taken out")
        )
    if not measured.lag_told:
        lag = profile.thresholds.lag_max_s
        if measured.unequal_speed_mm_per_s is None:
            rows.append(_rectangular("lag not told apart", lag * measured.speed_mm_per_s, "mm", 1.0, "one direction"))
        else:
            half = lag * abs(measured.unequal_speed_mm_per_s) / 2
            rows.append(_rectangular("lag not told apart", half, "mm", 1.0, "opening and closing speeds differ"))
    return rows


def _rectangular(name: str, half_width: float, unit: str, sensitivity: float, note: str = "") -> BudgetRow:
    u = half_width / _SQRT3 * sensitivity
    return BudgetRow(name, half_width, unit, "rectangular", _SQRT3, sensitivity, u, None, note)


def _half_range(rests: Rests) -> float:
    places = [*([] if rests.first_mm is None else [rests.first_mm]), *rests.later_mm]
    return (max(places) - min(places)) / 2 if len(places) > 1 else 0.0


def _bend_half_width(measured: Measured) -> float:
    if measured.bend_shift_mm is not None:
        return abs(measured.bend_shift_mm) / 2
    reach = measured.extrapolated_mm * (measured.extrapolated_mm + measured.window_mm)
    return UNSEEN_BEND_KPA_PER_MM2 * reach / measured.slope_kpa_per_mm


def combine(rows: list[BudgetRow]) -> Combined:
    """Return the combined uncertainty; the statistical row's part and the rest apart.

    Degrees of freedom: JCGM 100:2008, equation G.2b.
    """
    variance = sum(row.standard_uncertainty_mm**2 for row in rows)
    fourth = sum(row.standard_uncertainty_mm**4 / row.degrees_of_freedom for row in rows if row.degrees_of_freedom)
    systematic = sum(row.standard_uncertainty_mm**2 for row in rows if row.name != STATISTICAL_ROW)
    limiting = max(rows, key=lambda row: row.standard_uncertainty_mm).name
    freedom = variance**2 / fourth if fourth > 0 else 1e9
    return Combined(math.sqrt(variance), min(freedom, 1e9), math.sqrt(systematic), limiting)


def expanded(combined: Combined, probability: float) -> tuple[float, float]:
    """Return the expanded uncertainty in mm and its coverage factor."""
    factor = coverage_factor(probability, combined.degrees_of_freedom)
    return factor * combined.standard_uncertainty_mm, factor
