"""Scenarios: the invented unit and shop a virtual fixture stands on, as ranges to draw from.

Read from `shared/scenarios`. A pair (low, high) is a range from which each run draws evenly.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field, replace
from typing import Literal

import msgspec

from rodtrue.linkage import Linkage, linkage_of
from rodtrue.linkage.direct import ROD, DirectLinkage
from rodtrue.model.both_units import length
from rodtrue.model.conditions import Drive
from rodtrue.model.errors import InputError
from rodtrue.model.instrument import InstrumentTerms
from rodtrue.model.profile import Instrument, Layout, Lever, Profile
from rodtrue.resources import room
from rodtrue.virtual.faults import OF_RODS, refuse_fault_without_layout

LEAST_ROD_ERROR_MM = -15.0
GREATEST_ROD_ERROR_MM = 12.0
Range = tuple[float, float]


@dataclass(frozen=True)
class LinkageRanges:
    """Slot, stops and detent, in mm at the driving end; turn_mm: rod length a turn, at the adjuster."""

    slot_length_mm: float
    lever_full_mm: float
    detent_mm: float
    hang_mm: Range
    turn_mm: float


@dataclass(frozen=True)
class ValveRanges:
    """The throttle valve: its curve, friction and lag."""

    baseline_kpa: Range
    slope_kpa_per_mm: Range
    straight_mm: Range
    bend_per_mm: Range
    full_pressure_kpa: Range
    rounding_kpa: Range
    detent_rise_kpa: Range
    detent_slope_kpa_per_mm: Range
    friction_mm: Range
    tap_release: float
    lag_s: Range


@dataclass(frozen=True)
class PumpRanges:
    """Ripple and the engine speed it hangs on."""

    ripple_hz: Range
    ripple_low_kpa: Range
    ripple_full_kpa: Range
    speed_wander: Range


@dataclass(frozen=True)
class SensorRanges:
    """Both sensors, their supply and the oil's temperature.

    pressure_shorted: the pressure sensor's signal lies on its supply.
    """

    travel_origin_mm: Range
    travel_noise_mm: float
    noise_kpa: Range
    pressure_gain: Range
    pressure_offset_kpa: Range
    pressure_bow_kpa: Range
    supply_v: Range
    temperature_c: Range
    pressure_shorted: bool = False


@dataclass(frozen=True)
class HandRanges:
    """The hand that moves the pin."""

    tremor_hz: Range
    tremor_mm: Range
    unevenness: Range
    full_travel_mm: float


@dataclass(frozen=True)
class FaultSizes:
    """How bad a fault is where a unit has it.

    supply_share: of the healthy plateau and detent. intermediate_mm: how far off the intermediate rod is;
    intermediate_ways: +1 too long, -1 too short, drawn evenly.
    """

    lever_sticks_mm: Range = (3.0, 5.0)
    pin_sticks_mm: Range = (0.4, 0.8)
    clamp_slip_mm: Range = (0.5, 0.8)
    supply_share: Range = (0.45, 0.6)
    air_lag_s: Range = (0.12, 0.25)
    air_surge_hz: Range = (5.0, 12.0)
    air_surge_low_kpa: Range = (4.0, 6.0)
    air_surge_full_kpa: Range = (10.0, 16.0)
    intermediate_mm: Range = (2.0, 4.0)
    intermediate_ways: tuple[float, ...] = (-1.0, 1.0)


@dataclass(frozen=True)
class Scenario:
    """An invented unit with a rod error and, perhaps, a fault.

    instrument, lever: half-widths of the systematic errors, from the profile that will judge the run; terms: of
    the sensors, where they are not the profile's. From the profile, too, are linkage_exact, the kinematics with
    exact rods, and adjusted_rod, the rod with the final adjuster. body_alone: a valve body without any rod; what
    moves is its lever, and the travel sensor sits on that.
    """

    schema: Literal["rodtrue.scenario/1"]
    name: str
    title: str
    invented: bool
    layout: Layout
    linkage: LinkageRanges
    valve: ValveRanges
    pump: PumpRanges
    sensors: SensorRanges
    hand: HandRanges
    fault_sizes: FaultSizes = field(default_factory=FaultSizes)
    rod_error_mm: float = 0.0
    fault: str | None = None
    drive: Drive = "slide"
    instrument: Instrument = field(default_factory=Instrument)
    terms: InstrumentTerms | None = None
    lever: Lever = field(default_factory=Lever)
    linkage_exact: Linkage = field(default_factory=DirectLinkage)
    adjusted_rod: str = ROD
    body_alone: bool = False


def shipped_scenarios() -> list[str]:
    """Return the names of the scenarios that come with the program, sorted."""
    folder = room("shared") / "scenarios"
    return sorted(entry.name.removesuffix(".toml") for entry in folder.iterdir() if entry.name.endswith(".toml"))


def load_scenario(name: str = "invented-shop-direct") -> Scenario:
    """Return a shipped scenario, before a profile has given it its linkage.

    Raises: InputError where there is none of that name.
    """
    if name not in shipped_scenarios():
        raise InputError(
            f"scenario {name}: not a shipped scenario", "Name one of: " + ", ".join(shipped_scenarios()) + "."
        )
    text = (room("shared") / "scenarios" / f"{name}.toml").read_text("utf-8")
    return msgspec.convert(tomllib.loads(text), Scenario)


def scenario_for(
    profile: Profile,
    *,
    rod_error_mm: float = 0.0,
    fault: str | None = None,
    drive: Drive = "slide",
    terms: InstrumentTerms | None = None,
) -> Scenario:
    """Return the shipped scenario of the profile's layout, with a rod error and, perhaps, a fault.

    The systematic errors will be drawn within the profile's own half-widths, those of the sensors within `terms`
    where they are given (a fixture of its parts); the linkage is the profile's.
    Raises: InputError for a layout without a scenario, a rod error out of range, an unknown fault;
    ValueError for a fault that the layout cannot have.
    """
    if not LEAST_ROD_ERROR_MM <= rod_error_mm <= GREATEST_ROD_ERROR_MM:
        raise InputError(
            f"rod error {length(rod_error_mm, signed=True)}: outside what the virtual fixture covers",
            f"Give {length(LEAST_ROD_ERROR_MM, signed=True)} to {length(GREATEST_ROD_ERROR_MM, signed=True)}; "
            "negative: short.",
        )
    refuse_fault_without_layout(fault, profile.layout)
    scenario = load_scenario(f"invented-shop-{profile.layout}")
    turn_mm = profile.adjuster.pitch_mm or scenario.linkage.turn_mm
    return replace(
        scenario,
        rod_error_mm=rod_error_mm,
        fault=fault,
        drive=drive,
        instrument=profile.instrument,
        terms=terms,
        lever=profile.lever,
        linkage=replace(scenario.linkage, turn_mm=turn_mm),
        linkage_exact=linkage_of(profile),
        adjusted_rod=profile.adjuster.rod,
    )


def body_scenario(profile: Profile, *, fault: str | None = None, terms: InstrumentTerms | None = None) -> Scenario:
    """Return a valve body alone on a bench, of the kind that the profile's layout stands on.

    No rod, so no rod error and no linkage: the lever's own travel counts from its own stop, and the ramp begins
    after the profile's lever free travel.
    Raises: InputError for an unknown fault, or one that only a rod can have.
    """
    if fault in OF_RODS:
        raise InputError(
            f"fault {fault}: a valve body alone has no rod", "Name another fault, or put the unit on with its rods."
        )
    scenario = scenario_for(profile, fault=fault, drive="bench", terms=terms)
    return replace(scenario, layout="direct", linkage_exact=DirectLinkage(), adjusted_rod=ROD, body_alone=True)
