"""Runs of the virtual plant for the benchmarks: one disturbance at a time, or everything as shipped.

With `exact` every error that no data can show is zero (instrument, tapped friction, sensor), so that what is
left of the error is what the statistical interval has to cover.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from rodtrue.model.profile import Instrument
from rodtrue.model.samples import Samples
from rodtrue.profiles import load_profile
from rodtrue.virtual.direct import play
from rodtrue.virtual.motion import Step, Sweep, guided_run
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import Range, Scenario, scenario_for

Array = NDArray[np.float64]
NOTHING: Range = (0.0, 0.0)
WANDER_S = 4.0
NO_INSTRUMENT_ERROR = Instrument(
    travel_scale=0.0,
    axis_and_arc=0.0,
    travel_nonlinearity_mm=0.0,
    travel_nonlinearity_beyond=0.0,
    baseline_kpa=0.0,
    rest_mm=0.0,
    slide_transfer_mm=0.0,
)


@dataclass(frozen=True)
class PlantRun:
    """What one run of the plant is made of; mm, kPa, s. friction_kpa: between opening and closing."""

    rod_error_mm: float = -3.0
    rate_hz: int = 500
    sweeps: int = 4
    halves_s: tuple[float, ...] = (3.0, 6.0)
    closing_s: float | None = None
    noise_kpa: float = 1.0
    travel_noise_mm: float = 0.02
    ripple_kpa: float = 0.0
    ripple_hz: Range = (60.0, 200.0)
    wander_kpa: float = 0.0
    scatter_mm: float = 0.0
    lag_s: Range = (0.010, 0.010)
    friction_kpa: float = 1.2
    even_speed: bool = False
    detent_mm: float | None = None
    delay_samples: int = 0
    exact: bool = True


@dataclass(frozen=True)
class Truth:
    """What a judgement of the run is held against. baseline_kpa: as the sensor reads it while sweeping."""

    rod_error_mm: float
    middle_mm: float
    baseline_kpa: float | None
    slope_kpa_per_mm: float
    friction_mm: float


def scenario_of(run: PlantRun) -> Scenario:
    """Return the shipped scenario with the run's disturbances and, where `exact`, no hidden error."""
    shipped = scenario_for(load_profile(), rod_error_mm=run.rod_error_mm)
    if not run.exact:
        return shipped
    slope = 12.0
    friction_mm = run.friction_kpa / slope
    beyond_reach = 100.0 if run.detent_mm is None else run.detent_mm
    hand = replace(shipped.hand, unevenness=NOTHING, tremor_mm=NOTHING) if run.even_speed else shipped.hand
    return replace(
        shipped,
        instrument=NO_INSTRUMENT_ERROR,
        hand=hand,
        linkage=replace(shipped.linkage, detent_mm=beyond_reach),
        valve=replace(
            shipped.valve,
            slope_kpa_per_mm=(slope, slope),
            bend_per_mm=NOTHING,
            friction_mm=(friction_mm, friction_mm),
            tap_release=1.0,
            lag_s=run.lag_s,
        ),
        pump=replace(
            shipped.pump,
            ripple_hz=run.ripple_hz,
            ripple_low_kpa=(run.ripple_kpa, run.ripple_kpa),
            ripple_full_kpa=(2 * run.ripple_kpa, 2 * run.ripple_kpa),
        ),
        sensors=replace(
            shipped.sensors,
            travel_noise_mm=run.travel_noise_mm,
            noise_kpa=(run.noise_kpa, run.noise_kpa),
            pressure_gain=NOTHING,
            pressure_offset_kpa=NOTHING,
            pressure_bow_kpa=NOTHING,
        ),
    )


def plant_samples(run: PlantRun, seed: int) -> tuple[Samples, Truth]:
    """Return one run's samples and its truth."""
    plant = Plant(scenario_of(run), seed)
    rng = np.random.default_rng((seed, 60_013))
    steps = guided_run(plant.hand, sweeps=run.sweeps, halves_s=run.halves_s)
    if run.closing_s is not None:
        steps = [_closing_in(step, run.closing_s) for step in steps]
    if run.scatter_mm:
        steps = _scattered(steps, run.scatter_mm, rng)
    unit = plant.truth
    samples = play(plant, steps, run.rate_hz)
    pressure = samples.pressure_kpa
    if run.wander_kpa:
        pressure = pressure + wander(len(pressure), 1.0 / run.rate_hz, run.wander_kpa, rng)
    if run.delay_samples:
        pressure = np.concatenate([pressure[: run.delay_samples], pressure[: -run.delay_samples]])
    truth = Truth(
        rod_error_mm=run.rod_error_mm,
        middle_mm=(unit.opening_onset_mm + unit.closing_onset_mm) / 2,
        baseline_kpa=unit.baseline_kpa if run.exact else None,
        slope_kpa_per_mm=unit.slope_kpa_per_mm,
        friction_mm=unit.friction_mm,
    )
    return replace(samples, pressure_kpa=pressure), truth


def wander(n: int, period_s: float, sd_kpa: float, rng: np.random.Generator) -> Array:
    """Return slow drift, shape (n,): an Ornstein-Uhlenbeck process `WANDER_S` long."""
    decay = np.exp(-period_s / WANDER_S)
    drive = rng.normal(0.0, np.sqrt(1.0 - decay**2), n)
    drive[0] = rng.normal()
    return np.asarray(sd_kpa * lfilter([1.0], [1.0, -decay], drive))


def _closing_in(step: Step, seconds: float) -> Step:
    if not isinstance(step.pin, Sweep):
        return step
    pin = replace(step.pin, closing=replace(step.pin.closing, seconds=seconds))
    return replace(step, pin=pin, seconds=pin.seconds)


def _scattered(steps: Sequence[Step], sd_mm: float, rng: np.random.Generator) -> list[Step]:
    """Return the steps, each sweep as two, the rod's length a little different in every stroke."""
    result, length = [], 0.0
    for step in steps:
        if not isinstance(step.pin, Sweep):
            result.append(step)
            continue
        sweep = step.pin
        first_s = sweep.rest_s + sweep.opening.seconds + sweep.hold_s
        for begins_s, seconds in ((0.0, first_s), (first_s, step.seconds - first_s)):
            wanted = float(rng.normal(0.0, sd_mm))
            part = replace(step, pin=partial(_later, sweep, begins_s), seconds=seconds, lengthen_mm=wanted - length)
            length = wanted
            result.append(part)
    return result


def _later(sweep: Sweep, begins_s: float, time_s: Array) -> Array:
    return sweep(time_s + begins_s)
