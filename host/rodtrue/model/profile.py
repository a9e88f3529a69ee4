"""A profile: what is known and demanded of one kind of unit.

Every number is the user's to take from the unit's service information; the shipped ones are
invented examples. Read from TOML by `rodtrue.profiles`, which checks types and names the field.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from rodtrue.model.geometry import Geometry
from rodtrue.model.shifts import ShiftData

Layout = Literal["direct", "one-bell-crank", "two-bell-cranks"]
Range = tuple[float | None, float | None]


@dataclass(frozen=True)
class Limits:
    """What is demanded. Ranges are closed; None is no limit on that side. SI units as named."""

    rod_short_mm: float
    rod_long_mm: float
    baseline_kpa: Range
    slope_kpa_per_mm: Range
    full_pressure_kpa: Range
    lever_free_travel_mm: Range = (None, None)
    friction_mm: Range = (None, None)
    return_error_kpa: Range = (None, None)
    ripple_kpa: Range = (None, None)


@dataclass(frozen=True)
class Lever:
    """Lever motion before pressure rises, at the driving end, with its rectangular half-width."""

    free_mm: float = 0.0
    free_half_width_mm: float = 0.0


@dataclass(frozen=True)
class Instrument:
    """Half-widths (rectangular) that hold until a calibration says better. Invented example values."""

    travel_scale: float = 0.005
    axis_and_arc: float = 0.002
    travel_nonlinearity_mm: float = 0.05
    travel_nonlinearity_near_mm: float = 5.0
    travel_nonlinearity_beyond: float = 0.01
    baseline_kpa: float = 0.5
    rest_mm: float = 0.02
    slide_transfer_mm: float = 0.15
    pressure_gain: float = 0.01
    pressure_offset_kpa: float = 2.0


@dataclass(frozen=True)
class RunPlan:
    """Sweeps before the first look and after the one extension, and the least for any verdict."""

    sweeps: int = 6
    extended_sweeps: int = 12
    least_sweeps: int = 3


@dataclass(frozen=True)
class Adjuster:
    """Where a rod's length is set. `pitch_mm` is None for a slip joint: it slides, it has no turns.

    rod: which of the layout's rods. how: what sets one that is set first, before anything is measured.
    """

    where: str
    pitch_mm: float | None = None
    rod: str = "throttle rod"
    how: str = ""


@dataclass(frozen=True)
class Thresholds:
    """Where a finding begins. Units in the names."""

    rest_shift_mm: float = 0.2
    lag_max_s: float = 0.03
    too_fast_mm_per_s: float = 60.0
    start_spread_mm: float = 0.25
    start_jump_mm: float = 0.25
    pressure_limit_kpa: float = 2000.0
    running_travel_limit_mm: float = 6.0
    idle_speed_limit_rpm: float = 1200.0
    not_returned_mm: float = 1.0
    not_returned_kpa: float = 20.0
    binding_mm: float = 2.0
    sluggish_s: float = 0.06
    response_noise_ratio: float = 5.0
    ripple_high_kpa: float = 5.0
    sensor_highest_kpa: float = 2100.0
    supply_low_v: float = 4.5
    fluid_cold_degc: float = 40.0


@dataclass(frozen=True)
class Profile:
    """One kind of unit. `name` is the word used on the command line, `title` the one people read.

    adjuster: the final adjustment, by which a measured rod error is taken out. set_first: what is set before
    it, in this order. geometry: of a layout with bell cranks.
    """

    schema: str
    name: str
    title: str
    invented: bool
    layout: Layout
    limits: Limits
    adjuster: Adjuster
    set_first: tuple[Adjuster, ...] = ()
    geometry: Geometry | None = None
    action: Literal["push", "pull"] = "push"
    note: str = ""
    lever: Lever = field(default_factory=Lever)
    instrument: Instrument = field(default_factory=Instrument)
    plan: RunPlan = field(default_factory=RunPlan)
    thresholds: Thresholds = field(default_factory=Thresholds)
    shifts: ShiftData | None = None
