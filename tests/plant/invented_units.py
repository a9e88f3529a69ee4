"""Virtual units for these tests: one with nothing random in it, so that physics can be read off exactly."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from rodtrue.model.profile import Instrument
from rodtrue.profiles import load_profile
from rodtrue.virtual import sensors
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import Scenario, scenario_for

BASELINE_KPA = 25.0
SLOPE_KPA_PER_MM = 12.0
FULL_KPA = 420.0
ORIGIN_MM = 12.0
NOTHING = (0.0, 0.0)
EXACT_INSTRUMENT = Instrument(
    travel_scale=0.0,
    axis_and_arc=0.0,
    travel_nonlinearity_mm=0.0,
    travel_nonlinearity_beyond=0.0,
    baseline_kpa=0.0,
    rest_mm=0.0,
    slide_transfer_mm=0.0,
)


def drawn_scenario(rod_error_mm: float = 0.0, fault: str | None = None) -> Scenario:
    """The shipped scenario, judged by the shipped profile."""
    return scenario_for(load_profile(), rod_error_mm=rod_error_mm, fault=fault)


def exact_scenario(
    rod_error_mm: float = 0.0,
    fault: str | None = None,
    *,
    friction_mm: float = 0.0,
    lag_s: float = 0.001,
    noise_kpa: float = 0.0,
    travel_noise_mm: float = 0.0,
) -> Scenario:
    """A scenario with point ranges, no ripple, no drift, no systematic error."""
    shipped = drawn_scenario(rod_error_mm, fault)
    return replace(
        shipped,
        instrument=EXACT_INSTRUMENT,
        linkage=replace(shipped.linkage, hang_mm=NOTHING),
        valve=replace(
            shipped.valve,
            baseline_kpa=(BASELINE_KPA, BASELINE_KPA),
            slope_kpa_per_mm=(SLOPE_KPA_PER_MM, SLOPE_KPA_PER_MM),
            bend_per_mm=NOTHING,
            full_pressure_kpa=(FULL_KPA, FULL_KPA),
            rounding_kpa=(2.0, 2.0),
            detent_rise_kpa=(100.0, 100.0),
            detent_slope_kpa_per_mm=(100.0, 100.0),
            friction_mm=(friction_mm, friction_mm),
            lag_s=(lag_s, lag_s),
        ),
        pump=replace(shipped.pump, ripple_low_kpa=NOTHING, ripple_full_kpa=NOTHING, speed_wander=NOTHING),
        sensors=replace(
            shipped.sensors,
            travel_origin_mm=(ORIGIN_MM, ORIGIN_MM),
            travel_noise_mm=travel_noise_mm,
            noise_kpa=(noise_kpa, noise_kpa),
            pressure_gain=NOTHING,
            pressure_offset_kpa=NOTHING,
            pressure_bow_kpa=NOTHING,
            supply_v=(5.0, 5.0),
            temperature_c=(28.0, 28.0),
        ),
    )


def ramp(from_mm: float, to_mm: float, seconds: float):
    """A trajectory at even speed."""
    return lambda time_s: np.interp(time_s, [0.0, seconds], [from_mm, to_mm])


def take(plant: Plant, seconds: float, rate_hz: int = 500) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Travel above the sensor's origin in mm and pressure in kPa, by nominal scaling; shape (n,) each."""
    codes = plant.samples(rate_hz, seconds)
    return sensors.nominal_travel_mm(codes[:, 0]) - ORIGIN_MM, sensors.nominal_pressure_kpa(codes[:, 1])


def settled_kpa(plant: Plant, travel_mm: float) -> float:
    """Pressure with the pin brought to a travel and held there for a while."""
    plant.handle.throttle_mm = travel_mm
    take(plant, 0.4)
    return float(take(plant, 0.2)[1].mean())
