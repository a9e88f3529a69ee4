"""What a profile may say of shifting from second to third: throttle pressure, governor, shift valve.

Every number is the user's to take from the unit's service information; the shipped ones are invented.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ThrottlePressure:
    """Throttle pressure against pin travel with an exact rod, as typical values.

    From the baseline a straight ramp up to the plateau; past the detent a second, steeper ramp up to the
    full pressure. wide_open_mm: pin travel at wide-open throttle.
    """

    baseline_kpa: float
    slope_kpa_per_mm: float
    plateau_kpa: float
    detent_mm: float
    detent_slope_kpa_per_mm: float
    full_kpa: float
    wide_open_mm: float


@dataclass(frozen=True)
class Governor:
    """Governor pressure at some speeds, shape (n,) each, straight in speed squared from one to the next.

    A governor with two stages needs three: where pressure begins (0 kPa), where the second stage takes
    over, and the highest. Speeds are the road's (`road_kmh`), or the output shaft's (`shaft_rpm`) with
    the axle ratio and the tyre's rolling radius.
    """

    pressure_kpa: tuple[float, ...]
    road_kmh: tuple[float, ...] | None = None
    shaft_rpm: tuple[float, ...] | None = None
    axle_ratio: float | None = None
    tyre_radius_mm: float | None = None


@dataclass(frozen=True)
class ShiftValve:
    """Areas and spring of the 2-3 shift valve.

    governor_area_second_mm2, governor_area_third_mm2: what governor pressure acts on before and after
    the upshift. throttle_area_mm2: the valve's own face, under throttle pressure in second only.
    part_throttle_area_mm2: the part-throttle plug, under throttle pressure in third. kickdown_area_mm2:
    the kickdown plug, under throttle pressure in third past the detent. spring_preload_n: spring force
    in second; over `stroke_mm` to third it grows by `spring_rate_n_per_mm`.
    """

    governor_area_second_mm2: float
    governor_area_third_mm2: float
    throttle_area_mm2: float
    part_throttle_area_mm2: float
    kickdown_area_mm2: float
    spring_preload_n: float
    spring_rate_n_per_mm: float
    stroke_mm: float


@dataclass(frozen=True)
class ShiftData:
    """All that the shift points follow from."""

    throttle: ThrottlePressure
    governor: Governor
    valve: ShiftValve


@dataclass(frozen=True)
class Speed:
    """A road speed in both units; None where there is none, and then why."""

    kmh: float | None
    mph: float | None
    why_not: str | None = None


@dataclass(frozen=True)
class OpeningEffect:
    """The change of the upshift speed at one opening, positive for later; None where one does not shift."""

    opening: float
    travel_mm: float
    upshift_change_kmh: float | None
    upshift_change_mph: float | None
    why_not: str | None


@dataclass(frozen=True)
class ShiftEffect:
    """The expected effect of a rod error on the shifts, and the same in one sentence for a person."""

    openings: list[OpeningEffect]
    kickdown_exact: Speed
    kickdown: Speed
    sentence: str
