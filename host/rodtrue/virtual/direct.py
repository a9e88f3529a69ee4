"""The short way from plant to samples: a whole guided run without firmware, wire or port."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rodtrue.model.conditions import Drive
from rodtrue.model.profile import Profile
from rodtrue.model.samples import STEPS, Samples
from rodtrue.virtual import sensors
from rodtrue.virtual.motion import Step, guided_run
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import scenario_for
from rodtrue.virtual.truth import Truth


def run_samples(
    profile: Profile,
    *,
    rod_error_mm: float,
    seed: int,
    fault: str | None = None,
    sweeps: int = 6,
    halves_s: Sequence[float] = (3.0, 6.0),
    rate_hz: int = 500,
    drive: Drive = "slide",
) -> tuple[Samples, Truth]:
    """Return the samples of one guided run, calibrated nominally, and what is true of the unit.

    Travel is as the sensor reads it, from the sensor's own origin: the `zero` step tells where the pin
    stood on its stop.
    Raises: InputError for a rod error out of range, a fault or a layout that does not exist.
    """
    scenario = scenario_for(profile, rod_error_mm=rod_error_mm, fault=fault, drive=drive)
    plant = Plant(scenario, seed)
    return play(plant, guided_run(plant.hand, sweeps=sweeps, halves_s=halves_s), rate_hz), plant.truth


def play(plant: Plant, steps: Sequence[Step], rate_hz: int = 500) -> Samples:
    """Return the samples of the steps, played one after the other; time begins at 0."""
    codes, names = [], []
    for step in steps:
        plant.handle.begin(step)
        taken = plant.samples(rate_hz, step.seconds)
        codes.append(taken)
        names.append(np.full(len(taken), STEPS.index(step.name), dtype=np.uint8))
    both = np.concatenate(codes)
    period_s = sensors.sample_period_us(rate_hz) * 1e-6
    return Samples(
        time_s=np.arange(len(both), dtype=np.float64) * period_s,
        travel_mm=sensors.nominal_travel_mm(both[:, 0]),
        pressure_kpa=sensors.nominal_pressure_kpa(both[:, 1]),
        step=np.concatenate(names),
        travel_step_mm=sensors.TRAVEL_STEP_MM,
    )
