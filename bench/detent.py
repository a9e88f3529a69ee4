"""What a kickdown detent moves the knee by, run for run: `python -m bench.detent [--runs N]`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from bench.study import page
from bench.study.cells import FromPlant, separate
from bench.study.judged import Kept, Make, judge_many
from bench.study.plant_runs import PlantRun

MOST_UM = 5.0
RUNS = 100
PLANT_DETENTS_MM = (43.0, 23.0, 15.0)
SEPARATE_AMPLITUDES_MM = (45.0, 26.0, 18.0)


def moved_um(without: list[Kept], with_detent: list[Kept]) -> tuple[float, float, int]:
    """Return the largest and the median movement, and the runs in which only one of both had a value."""
    pairs = list(zip(without, with_detent, strict=True))
    both = [(a.error, b.error) for a, b in pairs if a.error is not None and b.error is not None]
    distances = np.array([abs(1000 * (b - a)) for a, b in both])
    return float(distances.max()), float(np.median(distances)), len(pairs) - len(both)


def main() -> None:
    """Run all places of the detent and write the results."""
    runs = page.runs_asked(RUNS)
    rows, worst = [], {"plant": 0.0, "second": 0.0}
    lost = 0
    plain = PlantRun()
    cells: list[tuple[str, Make, dict[str, Make]]] = [
        (
            "plant",
            FromPlant(plain),
            {f"{at:g} mm of lever travel": FromPlant(replace(plain, detent_mm=at)) for at in PLANT_DETENTS_MM},
        )
    ]
    for amplitude in SEPARATE_AMPLITUDES_MM:
        with_detents: dict[str, Make] = {
            f"{kind} at {amplitude - 3:g} mm of pin travel": separate(amplitude_mm=amplitude, detent=kind)
            for kind in ("ramp", "step")
        }
        cells.append(("second", separate(amplitude_mm=amplitude), with_detents))
    for generator, plain_make, detents in cells:
        without = judge_many(plain_make, range(1, runs + 1))
        for where, make in detents.items():
            largest, middle, missing = moved_um(without, judge_many(make, range(1, runs + 1)))
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
