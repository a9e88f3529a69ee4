"""Runs of the second generator (tests/separate_generator), which shares no code with the plant."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from bench.study.plant_runs import Truth
from rodtrue.model.samples import STEPS, Samples

sys.path.insert(0, str(Path(__file__).parents[2] / "tests"))
from separate_generator import Case, draw_case, make_arrays

QUIET: dict[str, Any] = {
    "rod_error_mm": -3.0,
    "sweeps": 4,
    "stroke_s": (3.0, 3.0, 6.0, 6.0),
    "amplitude_mm": 45.0,
    "slope_kpa_per_mm": 12.0,
    "friction_mm": 0.1,
    "friction_drop": 0.0,
    "knee_round_mm": 0.0,
    "bend_per_mm": 0.0,
    "supply_droop": 0.0,
    "lag_s": 0.010,
    "noise_kpa": 1.0,
    "travel_noise_mm": 0.015,
    "ripple_kpa": 0.0,
    "wander_kpa": 0.0,
    "scatter_mm": 0.0,
    "rest_jitter_mm": 0.0,
    "travel_scale": 0.0,
    "axis_scale": 0.0,
    "nonlinearity_mm": 0.0,
    "baseline_error_kpa": 0.0,
    "centre_error_mm": 0.0,
    "pressure_gain": 0.0,
    "pressure_offset_kpa": 0.0,
    "zero_reading_mm": 2.0,
}
"""One disturbance at a time is put on top of this."""


def separate_samples(given: dict[str, Any], seed: int) -> tuple[Samples, Truth]:
    """Return one run's samples and its truth. A pair in `given` for lag or ripple_hz is a range to draw from."""
    rng = np.random.default_rng((seed, 60_029))
    drawn = {k: float(rng.uniform(*v)) if k in ("lag_s", "ripple_hz") and isinstance(v, tuple) else v
             for k, v in given.items()}  # fmt: skip
    case: Case = draw_case(seed, **drawn)
    if case.zero_reading_mm and "zero_rows" not in given:
        case = replace(case, zero_rows=True)
    arrays = make_arrays(case)
    step = np.array([STEPS.index(word) for word in ("zero", "baseline", "response", "sweep", "adjusted")])
    codes = np.zeros(len(arrays["step"]), dtype=np.uint8)
    for index in step:
        codes[arrays["step"] == STEPS[index]] = index
    samples = Samples(
        arrays["time_s"], arrays["travel_mm"], arrays["pressure_kpa"], codes, travel_step_mm=125.0 / 4096.0
    )
    hidden = case.baseline_error_kpa or case.pressure_gain or case.pressure_offset_kpa
    truth = Truth(
        rod_error_mm=case.rod_error_mm,
        middle_mm=case.lever_start_mm + case.centre_error_mm,
        baseline_kpa=None if hidden else case.baseline_kpa,
        slope_kpa_per_mm=case.slope_kpa_per_mm,
        friction_mm=case.friction_mm,
    )
    return samples, truth
