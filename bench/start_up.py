"""Start-up time of the command line, over that of an empty Python: `python -m bench.start_up`."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from bench.study import page
from bench.study.plant_runs import PlantRun, plant_samples
from bench.study.timing import medians_s
from rodtrue.model.samples import STEPS

TURNS = 11
RODTRUE = [sys.executable, "-m", "rodtrue"]


def run(command: list[str]) -> None:
    subprocess.run(command, check=True, capture_output=True)


def write_csv(path: Path) -> int:
    """Write a run of the plant as a CSV capture; return its rows."""
    samples, _ = plant_samples(PlantRun(sweeps=6), 1)
    words = np.array(STEPS)[samples.step].tolist()
    columns = (samples.time_s.tolist(), samples.travel_mm.tolist(), samples.pressure_kpa.tolist(), words)
    rows = [f"{t:.6f},{x:.4f},{p:.3f},{word}" for t, x, p, word in zip(*columns, strict=True)]
    path.write_text("time_s,travel_mm,pressure_kpa,step\n" + "\n".join(rows) + "\n", "utf-8")
    return len(rows)


def main() -> None:
    """Time the commands and write the results."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "run.csv"
        count = write_csv(path)
        commands = {
            "python -c pass": [sys.executable, "-c", "pass"],
            "import numpy": [sys.executable, "-c", "import numpy"],
            "import numpy, scipy.signal, scipy.special": [
                sys.executable,
                "-c",
                "import numpy, scipy.signal, scipy.special",
            ],
            "rodtrue --help": [*RODTRUE, "--help"],
            "rodtrue judge --help": [*RODTRUE, "judge", "--help"],
            "rodtrue judge FILE": [*RODTRUE, "judge", str(path), "--json"],
        }
        things: dict[str, Callable[[], None]] = {name: partial(run, words) for name, words in commands.items()}
        times = medians_s(things, TURNS)
    empty = times["python -c pass"]
    lines = [
        page.Line(f"start-up of {name} over python -c pass", "stays quick", f"{times[name] / empty:.1f}")
        for name in ("rodtrue --help", "rodtrue judge --help", "rodtrue judge FILE")
    ]
    page.Page(
        "start_up",
        "Start-up of the command line",
        f"medians of {TURNS} turns; FILE has {count:,} rows",
        lines,
        ("command", "median / ms", "over python -c pass"),
        [[name, f"{1000 * t:.0f}", f"{t / empty:.1f}"] for name, t in times.items()],
        ["Read the ratios; the times are this machine's."],
        ("numpy", "scipy", "typer", "rich"),
    ).write()


if __name__ == "__main__":
    main()
