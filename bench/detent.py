"""What a kickdown detent moves the knee by, run for run: `python -m bench.detent [--runs N]`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from bench.study import page
from bench.study.cells import FromPlant, separate
from bench.study.judged import Make, judge_many
from bench.study.plant_runs import PlantRun

MOST_UM = 5.0
RUNS = 200
PLANT_DETENTS_MM = (43.0, 23.0, 15.0)
SEPARATE_AMPLITUDES_MM = (45.0, 26.0, 18.0)


def moved_um(without: Make, with_detent: Make, runs: int) -> tuple[float, float, int]:
    """Return the largest and the median movement, and the runs in which only one of both had a value."""
    seeds = range(1, runs + 1)
    pairs = list(zip(judge_many(without, seeds), judge_many(with_detent, seeds), strict=True))
    both = [(a.error, b.error) for a, b in pairs if a.error is not None and b.error is not None]
    distances = np.array([abs(1000 * (b - a)) for a, b in both])
    return float(distances.max()), float(np.median(distances)), len(pairs) - len(both)


def main() -> None:
    """Run all places of the detent and write the results."""
    runs = page.runs_asked(RUNS)
    rows, worst = [], {"plant": 0.0, "second": 0.0}
    lost = 0
    cells: list[tuple[str, str, Make, Make]] = []
    plain = PlantRun()
    for at_mm in PLANT_DETENTS_MM:
        made = FromPlant(replace(plain, detent_mm=at_mm))
        cells.append(("plant", f"{at_mm:g} mm of lever travel", FromPlant(plain), made))
    for amplitude_mm in SEPARATE_AMPLITUDES_MM:
        for kind in ("ramp", "step"):
            where = f"{kind} at {amplitude_mm - 3:g} mm of pin travel"
            made_by = separate(amplitude_mm=amplitude_mm, detent=kind)
            cells.append(("second", where, separate(amplitude_mm=amplitude_mm), made_by))
    for generator, where, without, with_detent in cells:
        largest, middle, missing = moved_um(without, with_detent, runs)
        worst[generator] = max(worst[generator], largest)
        lost += missing
        rows.append([generator, where, f"{largest:.2f}", f"{middle:.2f}", missing])
    page.Page(
        "detent",
        "A detent and the knee",
        f"{runs} runs a place, seeds 1 to {runs}, the same run with and without the detent, rod 3 mm short",
        [
            page.Line(
                "movement of the knee when a detent is added (largest)",
                f"under {MOST_UM:g} um",
                f"{worst['plant']:.2f} um",
                f"{worst['second']:.2f} um",
                max(worst.values()) < MOST_UM and lost == 0,
            )
        ],
        ("generator", "detent", "largest / um", "median / um", "value in one of both only"),
        rows,
    ).write()


if __name__ == "__main__":
    main()
