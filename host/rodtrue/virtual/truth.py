"""What is true of one virtual unit and its fixture: every hidden number, drawn once from a key.

The key is (seed, rod error, layout, fault); the same key gives the same unit, whatever the machine.
Systematic errors are drawn from the distributions the uncertainty budget assumes (rectangular, half-
widths from the profile), so that a stated interval can be held against them.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace

import numpy as np

from rodtrue.linkage import Linkage
from rodtrue.model.profile import Layout
from rodtrue.virtual import faults
from rodtrue.virtual.scenario import FaultSizes, Range, Scenario

ASYMMETRY_SHARE_OF_FRICTION = 0.25


@dataclass(frozen=True)
class Truth:
    """Every drawn number. Lengths are equivalents at the driving end; signs as everywhere.

    transfer_mm: true pin travel where the slide's stop stands; only with drive `slide`.
    travel_scale, axis_and_arc: fractions by which the travel reading is too large.
    nonlinearity_mm: error of the travel reading at the knee, against zero.
    travel_offset_mm: error of the travel sensor at the start of its track. travel_bow_mm: how far its track bows
    from a straight line, in the middle.
    baseline_drift_kpa: pressure gained between the baseline step and the sweeps.
    friction_asymmetry_mm: how far the middle of both onsets lies above the lever's start.
    lever_rate: lever travel for one mm of the pin where the lever starts; 1 for an exact linkage.
    intermediate_error_mm: how much longer than exact the intermediate rod is, at its own adjuster.
    pressure_shorted: the pressure sensor's signal lies on its supply.
    """

    seed: int
    layout: Layout
    fault: str | None
    rod_error_mm: float
    lever_free_mm: float
    slot_length_mm: float
    lever_full_mm: float
    detent_mm: float
    hang_mm: float
    turn_mm: float
    baseline_kpa: float
    slope_kpa_per_mm: float
    straight_mm: float
    bend_per_mm: float
    full_pressure_kpa: float
    rounding_kpa: float
    detent_rise_kpa: float
    detent_slope_kpa_per_mm: float
    friction_mm: float
    friction_asymmetry_mm: float
    tap_release: float
    lag_s: float
    ripple_hz: float
    ripple_low_kpa: float
    ripple_full_kpa: float
    speed_wander: float
    transfer_mm: float
    travel_scale: float
    axis_and_arc: float
    nonlinearity_mm: float
    baseline_drift_kpa: float
    rest_half_width_mm: float
    travel_origin_mm: float
    travel_noise_mm: float
    noise_kpa: float
    pressure_gain: float
    pressure_offset_kpa: float
    pressure_bow_kpa: float
    supply_v: float
    temperature_c: float
    pressure_shorted: bool
    lever_sticks_mm: float = 0.0
    pin_sticks_mm: float = 0.0
    clamp_slip_mm: float = 0.0
    intermediate_error_mm: float = 0.0
    lever_rate: float = 1.0
    travel_offset_mm: float = 0.0
    travel_bow_mm: float = 0.0

    @property
    def lever_start_mm(self) -> float:
        """Pin travel at which the lever leaves its stop: what a run is to find, with its sign turned."""
        return 0.0 - self.rod_error_mm

    @property
    def opening_onset_mm(self) -> float:
        """Pin travel at which the opening ramp, free of lag, meets the baseline."""
        lever_mm = (self.lever_free_mm, self.friction_asymmetry_mm, self.friction_mm / 2)
        return sum((travel_mm / self.lever_rate for travel_mm in lever_mm), start=self.lever_start_mm)

    @property
    def closing_onset_mm(self) -> float:
        """Pin travel at which the closing ramp, free of lag, meets the baseline."""
        return self.opening_onset_mm - self.friction_mm / self.lever_rate


def stream(scenario: Scenario, seed: int, purpose: str) -> np.random.Generator:
    """Return the generator for one purpose, keyed on seed, rod error, layout and fault."""
    rod_error_mm = round(scenario.rod_error_mm, 6) + 0.0  # no minus zero
    key = f"{seed}|{rod_error_mm:.6f}|{scenario.layout}|{scenario.fault or ''}|{purpose}"
    digest = hashlib.sha256(key.encode()).digest()
    return np.random.default_rng(np.random.SeedSequence(int.from_bytes(digest[:16], "little")))


def draw_truth(scenario: Scenario, seed: int) -> Truth:
    """Return the hidden numbers of one virtual unit and fixture, before any fault."""
    rng = stream(scenario, seed, "truth")

    def within(limits: Range) -> float:
        return float(rng.uniform(*limits))

    def either_way(half_width: float) -> float:
        return float(rng.uniform(-half_width, half_width))

    linkage, valve, pump, sensors = scenario.linkage, scenario.valve, scenario.pump, scenario.sensors
    instrument, lever = scenario.instrument, scenario.lever
    friction_mm = within(valve.friction_mm)
    transfer_mm = either_way(instrument.slide_transfer_mm)
    travel_scale = instrument.travel_scale if scenario.terms is None else scenario.terms.travel_scale
    return Truth(
        seed=seed,
        layout=scenario.layout,
        fault=None,
        rod_error_mm=scenario.rod_error_mm,
        lever_free_mm=lever.free_mm + either_way(lever.free_half_width_mm),
        slot_length_mm=linkage.slot_length_mm,
        lever_full_mm=linkage.lever_full_mm,
        detent_mm=linkage.detent_mm,
        hang_mm=within(linkage.hang_mm),
        turn_mm=linkage.turn_mm,
        baseline_kpa=within(valve.baseline_kpa),
        slope_kpa_per_mm=within(valve.slope_kpa_per_mm),
        straight_mm=within(valve.straight_mm),
        bend_per_mm=within(valve.bend_per_mm),
        full_pressure_kpa=within(valve.full_pressure_kpa),
        rounding_kpa=within(valve.rounding_kpa),
        detent_rise_kpa=within(valve.detent_rise_kpa),
        detent_slope_kpa_per_mm=within(valve.detent_slope_kpa_per_mm),
        friction_mm=friction_mm,
        friction_asymmetry_mm=either_way(friction_mm * ASYMMETRY_SHARE_OF_FRICTION),
        tap_release=valve.tap_release,
        lag_s=within(valve.lag_s),
        ripple_hz=within(pump.ripple_hz),
        ripple_low_kpa=within(pump.ripple_low_kpa),
        ripple_full_kpa=within(pump.ripple_full_kpa),
        speed_wander=within(pump.speed_wander),
        transfer_mm=transfer_mm if scenario.drive == "slide" else 0.0,
        travel_scale=either_way(travel_scale),
        axis_and_arc=either_way(instrument.axis_and_arc),
        nonlinearity_mm=either_way(travel_nonlinearity_half_width_mm(scenario, scenario.rod_error_mm)),
        baseline_drift_kpa=either_way(instrument.baseline_kpa),
        rest_half_width_mm=instrument.rest_mm,
        travel_origin_mm=within(sensors.travel_origin_mm),
        travel_noise_mm=sensors.travel_noise_mm,
        noise_kpa=within(sensors.noise_kpa),
        pressure_gain=within(sensors.pressure_gain),
        pressure_offset_kpa=within(sensors.pressure_offset_kpa),
        pressure_bow_kpa=within(sensors.pressure_bow_kpa),
        supply_v=within(sensors.supply_v),
        temperature_c=within(sensors.temperature_c),
        pressure_shorted=sensors.pressure_shorted,
        travel_bow_mm=0.0 if scenario.terms is None else either_way(scenario.terms.travel_far_mm / 2),
    )


_OF_THE_SENSORS = (
    "travel_origin_mm", "travel_scale", "nonlinearity_mm", "travel_offset_mm", "travel_bow_mm", "travel_noise_mm",
    "pressure_gain", "pressure_offset_kpa", "pressure_bow_kpa", "noise_kpa", "supply_v",
)  # fmt: skip


def with_sensors_of(unit: Truth, fixture: Truth) -> Truth:
    """Return the unit as measured with another one's fixture: the same two sensors, so the same calibration."""
    return replace(unit, **{name: getattr(fixture, name) for name in _OF_THE_SENSORS})


def travel_nonlinearity_half_width_mm(scenario: Scenario, distance_mm: float) -> float:
    """Return the half-width of the travel's nonlinearity over a distance from zero, in mm.

    Of a sensor of its parts it is what the track may do over a short way; over a long one its bow comes on top.
    """
    if scenario.terms is not None:
        return scenario.terms.travel_near_mm
    instrument = scenario.instrument
    distance = abs(distance_mm)
    if distance <= instrument.travel_nonlinearity_near_mm:
        return instrument.travel_nonlinearity_mm
    return max(instrument.travel_nonlinearity_mm, instrument.travel_nonlinearity_beyond * distance)


def with_fault(healthy: Truth, fault: str | None, sizes: FaultSizes, rng: np.random.Generator) -> Truth:
    """Return the unit with a fault. One whose doing is not a number acts in the plant itself."""
    ailing = replace(healthy, fault=fault)

    def within(limits: Range) -> float:
        return float(rng.uniform(*limits))

    match fault:
        case faults.BINDING:
            return replace(
                ailing, lever_sticks_mm=within(sizes.lever_sticks_mm), pin_sticks_mm=within(sizes.pin_sticks_mm)
            )
        case faults.LOOSE_CLAMP:
            return replace(ailing, clamp_slip_mm=within(sizes.clamp_slip_mm))
        case faults.LOW_SUPPLY:
            share = within(sizes.supply_share)
            return replace(
                ailing,
                full_pressure_kpa=healthy.full_pressure_kpa * share,
                detent_rise_kpa=healthy.detent_rise_kpa * share,
            )
        case faults.AIR:
            return replace(
                ailing,
                lag_s=within(sizes.air_lag_s),
                ripple_hz=within(sizes.air_surge_hz),
                ripple_low_kpa=within(sizes.air_surge_low_kpa),
                ripple_full_kpa=within(sizes.air_surge_full_kpa),
            )
        case faults.WRONG_INTERMEDIATE_ROD:
            way = float(rng.choice(sizes.intermediate_ways))
            return replace(ailing, intermediate_error_mm=way * within(sizes.intermediate_mm))
    return ailing


def as_mounted(unit: Truth, linkage: Linkage, scenario: Scenario) -> Truth:
    """Return the unit with the rod error and lever rate that its linkage has as the run finds it.

    A wrong intermediate rod moves the knee, and with the distance the travel's nonlinearity goes along.
    """
    drawn_for_mm = travel_nonlinearity_half_width_mm(scenario, unit.rod_error_mm)
    found_mm = linkage.rod_error_mm
    share = travel_nonlinearity_half_width_mm(scenario, found_mm) / drawn_for_mm if drawn_for_mm > 0.0 else 1.0
    return replace(
        unit,
        rod_error_mm=found_mm,
        lever_rate=linkage.lever_rate,
        nonlinearity_mm=unit.nonlinearity_mm * share,
    )
