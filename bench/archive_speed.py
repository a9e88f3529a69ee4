"""Judging two thousand captures with one worker and with two: `python -m bench.archive_speed`.

A number behind it judges so many instead: `python -m bench.archive_speed 200`. The machine's load while it ran is
written down, for workers that share their cores with others show no gain.
"""

from __future__ import annotations

import os
import sys
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


def write_files(folder: Path, count: int) -> list[str]:
    """Write the captures as CSV: some that differ, each many times under another name."""
    texts = []
    for seed in range(DIFFERENT):
        samples, _ = plant_samples(PlantRun(sweeps=3), seed)
        words = np.array(STEPS)[samples.step].tolist()
        columns = (samples.time_s.tolist(), samples.travel_mm.tolist(), samples.pressure_kpa.tolist(), words)
        rows = [f"{t:.6f},{x:.4f},{p:.3f},{word}" for t, x, p, word in zip(*columns, strict=True)]
        texts.append("time_s,travel_mm,pressure_kpa,step\n" + "\n".join(rows) + "\n")
    files = []
    for i in range(count):
        path = folder / f"{i:04d}.csv"
        path.write_text(texts[i % DIFFERENT], "utf-8")
        files.append(str(path))
    return files


def main(count: int = FILES) -> None:
    """Judge them all with one worker and with two, and write the results."""
    load_before = os.getloadavg()[0]
    with TemporaryDirectory() as folder:
        files = write_files(Path(folder), count)
        times = {}
        for workers in (1, 2):
            begun = time.perf_counter()
            judged = sum(outcome.result is not None for outcome in judge_in_processes(files, Request(), workers))
            times[workers] = time.perf_counter() - begun
            if judged != count:
                raise SystemExit(f"{count - judged} files were refused")
    page.Page(
        "archive_speed",
        "Judging an archive with one worker and with two",
        f"{count:,} CSV captures of the plant, three sweeps each, {DIFFERENT} of them different; one turn each",
        [page.Line("one worker's time over two workers'", "-", f"{times[1] / times[2]:.2f}")],
        ("workers", "s", "captures a second"),
        [[workers, f"{seconds:.0f}", f"{count / seconds:.1f}"] for workers, seconds in times.items()],
        [
            f"Read the ratio; the times are this machine's: {os.cpu_count()} cores, "
            f"{load_before:.1f} processes running or waiting when it began."
        ],
    ).write()


if __name__ == "__main__":
    main(*map(int, sys.argv[1:2]))
