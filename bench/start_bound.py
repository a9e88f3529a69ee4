"""The running fit's scatter over the Cramer-Rao bound, and gross failures without a starting value.

`python -m bench.start_bound [--runs N]`
"""

from __future__ import annotations

import warnings

import numpy as np
from scipy.optimize import OptimizeWarning

from bench.study import page
from bench.study.ramps import HIGH_MM, LEVEL, LOW_MM, SLOPE, Array, bound, course, curve_fit_from, running_fit
from bench.study.scores import clopper_pearson
from rodtrue.analysis.strokes import smooth

RUNS = 2000
SAMPLES = 3000
RATE_HZ = 500.0
NOISE_KPA = 1.5
TRAVEL_NOISE_MM = 0.02
TRAVEL_STEP_MM, PRESSURE_STEP_KPA = 125.0 / 4096, 2585.0 / 4096
RIPPLE_KPA = (1.0, 3.0)
RIPPLE_HZ = (60.0, 300.0)
GROSS_MM = 0.5
GROSS_BOUNDS = 6.0
X = np.linspace(LOW_MM, HIGH_MM, SAMPLES)


def real_line(p: Array, rng: np.random.Generator) -> tuple[Array, Array]:
    """Return travel and pressure as the line delivers them: travel noise, ripple, whole converter steps.

    The travel goes through the smoothing that every stroke goes through.
    """
    time_s = np.arange(SAMPLES) / RATE_HZ
    ripple = rng.uniform(*RIPPLE_KPA) * np.sin(2 * np.pi * (rng.uniform(*RIPPLE_HZ) * time_s + rng.random()))
    travel = X + TRAVEL_NOISE_MM * rng.standard_normal(SAMPLES)
    travel = np.round(travel / TRAVEL_STEP_MM) * TRAVEL_STEP_MM
    pressure = np.round((p + ripple) / PRESSURE_STEP_KPA) * PRESSURE_STEP_KPA
    return smooth(travel, 1.0 / RATE_HZ), pressure


def ratio(runs: int, seed: int, *, ends: bool, real: bool) -> tuple[float, float, int]:
    """Return RMSE over the bound, the largest error over the bound, and the runs without a fit."""
    rng = np.random.default_rng(seed)
    ratios, without = [], 0
    for _ in range(runs):
        lower = float(rng.uniform(0.0, 6.0))
        width = float(rng.uniform(6.0, 10.0)) if ends else np.inf
        p = course(X, LEVEL, lower, SLOPE, width) + NOISE_KPA * rng.standard_normal(SAMPLES)
        fit = running_fit(*real_line(p, rng)) if real else running_fit(X, p)
        if fit is None:
            without += 1
        else:
            ratios.append((fit.lower - lower) / bound(X, lower, width, NOISE_KPA))
    return float(np.sqrt(np.mean(np.square(ratios)))), float(np.max(np.abs(ratios))), without


def hard_case(number: int, rng: np.random.Generator) -> tuple[str, float, float]:
    """Return the kind of ramp, where it begins and how wide it is: what a search may miss."""
    kinds = ("3 mm ramp", "last 5 %", "hinge", "level after it")
    kind = kinds[number % len(kinds)]
    if kind == "3 mm ramp":
        return kind, float(rng.uniform(LOW_MM + 1.0, HIGH_MM - 4.0)), 3.0
    if kind == "last 5 %":
        return kind, HIGH_MM - 0.05 * (HIGH_MM - LOW_MM), np.inf
    if kind == "hinge":
        return kind, float(rng.uniform(LOW_MM + 1.0, HIGH_MM - 3.0)), np.inf
    return kind, float(rng.uniform(LOW_MM + 1.0, 8.0)), float(rng.uniform(4.0, 10.0))


def gross(error: float | None, limit: float) -> bool:
    return error is None or not abs(error) <= limit


def failures(runs: int, seed: int) -> tuple[dict[str, int], dict[str, int], int]:
    """Return gross failures of the running fit by kind of ramp, of curve_fit by kind of start, and tries of it.

    Gross: no fit, or further off than the larger of GROSS_MM and GROSS_BOUNDS times the bound. curve_fit is
    told whether the ramp ends, which the running fit is not.
    """
    rng = np.random.default_rng(seed)
    mine: dict[str, int] = {}
    theirs: dict[str, int] = {}
    warnings.simplefilter("ignore", OptimizeWarning)
    for number in range(runs):
        kind, lower, width = hard_case(number, rng)
        p = course(X, LEVEL, lower, SLOPE, width) + NOISE_KPA * rng.standard_normal(SAMPLES)
        limit = max(GROSS_MM, GROSS_BOUNDS * bound(X, lower, width, NOISE_KPA))
        fit = running_fit(X, p)
        mine[kind] = mine.get(kind, 0) + gross(None if fit is None else fit.lower - lower, limit)
        starts = {
            "all ones": [1.0, 1.0, 1.0, 1.0],
            "beyond the far end": [float(p.mean()), HIGH_MM, 1.0, 1.0],
            "drawn at random": [float(p.mean()), float(rng.uniform(LOW_MM, HIGH_MM)), 1.0, float(rng.uniform(1, 10))],
        }
        for name, start in starts.items():
            found = curve_fit_from(X, p, start if np.isfinite(width) else start[:3])
            theirs[name] = theirs.get(name, 0) + gross(None if found is None else float(found[1]) - lower, limit)
    return mine, theirs, runs


def main() -> None:
    """Run all and write the results."""
    runs = page.runs_asked(RUNS)
    goals = {False: 1.05, True: 1.10}
    lines, rows = [], []
    for real in (False, True):
        cells = {}
        for ends in (False, True):
            name = "level, ramp, level" if ends else "level, ramp"
            cells[name] = ratio(runs, 20260101 + 2 * real + ends, ends=ends, real=real)
            over, largest, without = cells[name]
            disturbance = "codes, travel noise, ripple" if real else "white noise"
            rows.append([name, disturbance, f"{over:.3f}", f"{largest:.2f}", without])
        what = (
            "the same with 12-bit codes, travel noise 0.02 mm, ripple" if real else "RMSE of the start over its bound"
        )
        reached = all(cell[0] <= goals[real] and cell[2] == 0 for cell in cells.values())
        words = ", ".join(f"{cell[0]:.3f} ({name})" for name, cell in cells.items())
        lines.append(page.Line(what, f"at most {goals[real]:.2f}", words, "", reached))
    mine, theirs, tries = failures(runs, 20260105)
    total = sum(mine.values())
    low, high = clopper_pearson(total, runs)
    poor = ", ".join(f"{count / tries:.0%} from {name}" for name, count in theirs.items())
    lines.append(
        page.Line(
            "gross failures without a start value",
            f"0 of {RUNS:,}",
            f"{total} of {runs:,} (95 % limits {low:.4f}-{high:.4f}); curve_fit from poor starts: {poor}",
            "",
            total == 0,
        )
    )
    kinds = [f"- {kind}: {count} gross failures" for kind, count in mine.items()]
    page.Page(
        "start_bound",
        "Scatter of the running fit over the Cramer-Rao bound",
        f"{runs} runs a cell, {SAMPLES} samples from {LOW_MM:g} to {HIGH_MM:g} mm, slope {SLOPE:g} kPa/mm, "
        f"noise {NOISE_KPA:g} kPa; the bound is that of the white noise alone",
        lines,
        ("data", "disturbance", "RMSE over bound", "largest error over bound", "no fit"),
        rows,
        ["Ramps of the search without a start value:", "", *kinds, "",
         f"Gross: no fit, or off by more than the larger of {GROSS_MM:g} mm and {GROSS_BOUNDS:g} bounds."],
    ).write()  # fmt: skip


if __name__ == "__main__":
    main()
