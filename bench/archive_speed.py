"""Judging two thousand captures with one worker and with two: `python -m bench.archive_speed`."""

from __future__ import annotations

import time
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from bench.study import page
from bench.study.plant_runs import PlantRun, plant_samples
from rodtrue.archive.work import Request
from rodtrue.archive.workers import judge_in_processes
from rodtrue.model.samples import STEPS

FILES, DIFFERENT = 2_000, 20


def write_files(folder: Path) -> list[str]:
    """Write the captures as CSV: some that differ, each many times under another name."""
    texts = []
    for seed in range(DIFFERENT):
        samples, _ = plant_samples(PlantRun(sweeps=3), seed)
        words = np.array(STEPS)[samples.step].tolist()
        columns = (samples.time_s.tolist(), samples.travel_mm.tolist(), samples.pressure_kpa.tolist(), words)
        rows = [f"{t:.6f},{x:.4f},{p:.3f},{word}" for t, x, p, word in zip(*columns, strict=True)]
        texts.append("time_s,travel_mm,pressure_kpa,step\n" + "\n".join(rows) + "\n")
    files = []
    for i in range(FILES):
        path = folder / f"{i:04d}.csv"
        path.write_text(texts[i % DIFFERENT], "utf-8")
        files.append(str(path))
    return files


def main() -> None:
    """Judge them all with one worker and with two, and write the results."""
    with TemporaryDirectory() as folder:
        files = write_files(Path(folder))
        times = {}
        for workers in (1, 2):
            begun = time.perf_counter()
            judged = sum(outcome.result is not None for outcome in judge_in_processes(files, Request(), workers))
            times[workers] = time.perf_counter() - begun
            if judged != FILES:
                raise SystemExit(f"{FILES - judged} files were refused")
    page.Page(
        "archive_speed",
        "Judging an archive with one worker and with two",
        f"{FILES:,} CSV captures of the plant, three sweeps each, {DIFFERENT} of them different; one turn each",
        [page.Line("one worker's time over two workers'", "-", f"{times[1] / times[2]:.2f}")],
        ("workers", "s", "captures a second"),
        [[workers, f"{seconds:.0f}", f"{FILES / seconds:.1f}"] for workers, seconds in times.items()],
        ["Read the ratio; the times are this machine's, which has two cores."],
    ).write()


if __name__ == "__main__":
    main()
