"""One case to arrays, and to a CSV capture."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from separate_generator.case import Case
from separate_generator.instrument import read_pressure, read_travel, ripple, wander
from separate_generator.motion import STEPS, run_motion
from separate_generator.valve import valve_pressure


def make_arrays(case: Case) -> dict[str, NDArray[Any]]:
    """Return the capture of `case`: the same seed gives the same arrays.

    time_s, travel_mm, pressure_kpa, step (words): as written to a file, shape (n,).
    pin_mm, rod_error_mm, stroke, clean_kpa: what was really there, for the generator's own tests.
    """
    finer = math.ceil(1000 / case.rate_hz)
    internal_hz = case.rate_hz * finer
    rng = np.random.default_rng((case.seed, 4099))
    motion = run_motion(case, internal_hz, rng)
    clean = valve_pressure(case, motion, internal_hz, rng)[::finer]
    pin, step = motion.pin_mm[::finer], motion.step[::finer]
    time_s = np.arange(len(pin)) / case.rate_hz
    pressure = clean + ripple(case, time_s, clean, rng) + wander(case, time_s, rng)
    early = np.isin(step, [STEPS.index(name) for name in ("zero", "baseline", "response")])
    pressure = pressure + case.baseline_error_kpa * early
    words = np.array(STEPS)[step]
    if not case.sweeps_labelled:
        words[words == "sweep"] = ""
    arrays: dict[str, NDArray[Any]] = {
        "time_s": time_s,
        "travel_mm": read_travel(case, pin, rng),
        "pressure_kpa": read_pressure(case, pressure, rng),
        "step": words,
        "pin_mm": pin,
        "rod_error_mm": motion.rod_error_mm[::finer],
        "stroke": motion.stroke[::finer],
        "clean_kpa": clean,
    }
    kept = ~_lost(case, pin, arrays["stroke"])
    return {name: values[kept] for name, values in arrays.items()}


def _lost(case: Case, pin_mm: NDArray[np.float64], stroke: NDArray[np.int64]) -> NDArray[np.bool_]:
    lost = np.isin(stroke, case.missing_strokes)
    for number, low_mm, high_mm in case.gaps_mm:
        lost |= (stroke == number) & (pin_mm >= low_mm) & (pin_mm <= high_mm)
    return lost


def write_csv(case: Case, path: Path) -> Path:
    """Write the capture of `case` to `path` and return it."""
    arrays = make_arrays(case)
    columns = (arrays[name].tolist() for name in ("time_s", "travel_mm", "pressure_kpa", "step"))
    rows = [f"{t:.6f},{x:.4f},{p:.3f},{s}" for t, x, p, s in zip(*columns, strict=True)]
    path.write_text("time_s,travel_mm,pressure_kpa,step\n" + "\n".join(rows) + "\n", "utf-8")
    return path
