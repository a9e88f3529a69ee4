"""Short works killed at a numbered call of their own: in turn one drawn from all of them, from those that touch what
is kept, and from the last of these. For each: how it is prepared, what it does, and how it must be found.
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from bench.study import after_a_kill as after
from bench.study.killing import watch_to_the_end
from bench.study.nursery import Nursery, Trial
from rodtrue.model.result import Job
from rodtrue.records import open_records
from rodtrue.records.backup import back_up
from rodtrue.records.rows import runs_of

FIRST_SCHEMA = Path(__file__).parents[2] / "tests" / "data" / "records" / "first_schema.sql"
LAST_TOUCHING = 12
FIRST_HOLDS = (4, 2)
"""Runs and jobs."""


@dataclass(frozen=True)
class Stock:
    """What the works are done with: files of one finished run, a calibration, and folders for them."""

    scratch: Path
    job: Path
    other_job: Path
    capture: Path
    calibration: Path
    backup: Path

    @staticmethod
    def of_run(folder: Path, calibration: Path, scratch: Path) -> Stock:
        """Make it from a finished run's folder: its job, one of its as-found run alone, and a backup of the two
        whose captures are gone.
        """
        scratch.mkdir(parents=True)
        job = after.job_in(folder / "job.json")
        other = scratch / "other-job.json"
        other.write_bytes(msgspec.json.encode(replace(job, as_left=None, reference="another")))
        gone = scratch / "gone"
        gone.mkdir()
        moved = [_with_captures_in(gone, each) for each in (job, after.job_in(other))]
        with open_records(str(scratch / "gone.sqlite")) as records:
            for each in moved:
                records.save(each)
            back_up(records, scratch / "backup")
        shutil.rmtree(gone)
        return Stock(
            scratch, folder / "job.json", other, folder / "as-found.capture", calibration, scratch / "backup"
        )

    @property
    def jobs(self) -> list[Job]:
        """Both jobs."""
        return [after.job_in(self.job), after.job_in(self.other_job)]


@dataclass(frozen=True)
class Work:
    """One short work. prepare: makes what stands in a new folder before. given: its arguments in that folder.
    wrong: looks at it afterwards; the folder of the work let live lies beside.
    """

    does: str
    prepare: Callable[[Stock, Path], None]
    given: Callable[[Stock, Path], dict[str, Any]]
    wrong: Callable[[Stock, Path, Path], list[str]]


def _with_captures_in(folder: Path, job: Job) -> Job:
    """Copy the job's captures, and return it naming the copies."""
    changed = {}
    for role, result in runs_of(job):
        assert result.capture.path is not None
        copy = folder / Path(result.capture.path).name
        shutil.copy(result.capture.path, copy)
        changed[role] = replace(result, capture=replace(result.capture, path=str(copy)))
    return replace(job, **changed)


def kill_short_work(
    nursery: Nursery, stock: Stock, name: str, kills: int, rng: np.random.Generator
) -> tuple[int, list[str]]:
    """Kill a work so many times; return how many of the kills struck it, and what was wrong after any."""
    work = WORKS[name]
    place = stock.scratch / "works" / name
    counts = {touching: _calls(nursery, stock, work, place / f"counted-{touching}", touching) for touching in (0, 1)}
    undisturbed = place / "counted-1"
    struck, wrong = 0, []
    for number in range(kills):
        touching = int(number % 3 > 0)
        folder = _prepared(work, stock, place / str(number))
        first = max(0, counts[1] - LAST_TOUCHING) if number % 3 == 2 else 0
        dies_at = int(rng.integers(first, counts[touching]))
        trial = Trial(
            f"bench.study.kill_works:{work.does}",
            work.given(stock, folder),
            dies_at=dies_at,
            counts_to=str(folder.with_suffix(".ended")),
            touching=bool(touching),
        )
        watch_to_the_end(nursery.begin(trial))
        struck += not folder.with_suffix(".ended").exists()
        try:
            wrong += work.wrong(stock, folder, undisturbed)
        except Exception as error:
            wrong.append(f"{name}, call {dies_at} of {counts[touching]}: {error!r}")
    return struck, wrong


def _prepared(work: Work, stock: Stock, folder: Path) -> Path:
    folder.mkdir(parents=True)
    work.prepare(stock, folder)
    return folder


def _calls(nursery: Nursery, stock: Stock, work: Work, folder: Path, touching: int) -> int:
    _prepared(work, stock, folder)
    counted = folder.with_suffix(".calls")
    trial = Trial(
        f"bench.study.kill_works:{work.does}",
        work.given(stock, folder),
        counts_to=str(counted),
        touching=bool(touching),
    )
    watch_to_the_end(nursery.begin(trial))
    if not counted.exists():
        raise RuntimeError(f"{work.does} does not end well: {nursery.said.read_text()[-2000:]}")
    return int(counted.read_text())


# What each work finds, does, and must leave.


def _nothing(_stock: Stock, _folder: Path) -> None:
    """An empty folder."""


def _one_job_kept(stock: Stock, folder: Path) -> None:
    with open_records(str(folder / "records.sqlite")) as records:
        records.save(stock.jobs[0])


def _two_jobs_kept(stock: Stock, folder: Path) -> None:
    with open_records(str(folder / "records.sqlite")) as records:
        for job in stock.jobs:
            records.save(job)


def _backed_up(stock: Stock, folder: Path) -> None:
    shutil.copy(stock.backup, folder / "backup")


def _first_schema(_stock: Stock, folder: Path) -> None:
    database = sqlite3.connect(folder / "records.sqlite")
    database.executescript(FIRST_SCHEMA.read_text("utf-8"))
    database.close()


def _older(name: str, content: bytes) -> Callable[[Stock, Path], None]:
    def prepare(_stock: Stock, folder: Path) -> None:
        (folder / name).write_bytes(content)

    return prepare


def _replaced(name: str, older: bytes | None) -> Callable[[Stock, Path, Path], list[str]]:
    def wrong(_stock: Stock, folder: Path, undisturbed: Path) -> list[str]:
        return after.same_or(folder / name, older, (undisturbed / name).read_bytes())

    return wrong


def _migrated(_stock: Stock, folder: Path, _undisturbed: Path) -> list[str]:
    file = folder / "records.sqlite"
    with open_records(str(file)) as records:
        found = (records.count(), sum(1 for _ in records.kept()))
    return ([] if found == FIRST_HOLDS else [f"{file}: {found} runs and jobs"]) + after.database_wrong(file)


def _keeping(stock: Stock, folder: Path) -> dict[str, Any]:
    return {"document": str(stock.calibration), "to": str(folder), "data": str(folder / "data")}


def _calibration_kept(stock: Stock, folder: Path, undisturbed: Path) -> list[str]:
    written = [_replaced(name, None)(stock, folder, undisturbed) for name in ("certificate.md", "residuals.png")]
    return [*after.calibrations_wrong(folder), *written[0], *written[1]]


OLD = b"what stood here before\n"
WORKS = {
    "save": Work(
        "save",
        _one_job_kept,
        lambda stock, folder: {"job": str(stock.other_job), "records": str(folder / "records.sqlite")},
        lambda stock, folder, _: after.records_wrong(folder / "records.sqlite", stock.jobs, 1),
    ),
    "migration": Work(
        "migrate", _first_schema, lambda _, folder: {"records": str(folder / "records.sqlite")}, _migrated
    ),
    "job file": Work(
        "job_file",
        _older("job.json", OLD),
        lambda stock, folder: {"job": str(stock.job), "to": str(folder)},
        _replaced("job.json", OLD),
    ),
    "report": Work(
        "report",
        _older("report.pdf", OLD),
        lambda stock, folder: {"job": str(stock.job), "to": str(folder / "report.pdf")},
        _replaced("report.pdf", OLD),
    ),
    "plot": Work(
        "plot",
        _nothing,
        lambda stock, folder: {"job": str(stock.job), "to": str(folder)},
        _replaced("plot.png", None),
    ),
    "samples as CSV": Work(
        "samples",
        _nothing,
        lambda stock, folder: {"capture": str(stock.capture), "to": str(folder / "run.csv")},
        _replaced("run.csv", None),
    ),
    "export": Work(
        "export",
        _two_jobs_kept,
        lambda _, folder: {"records": str(folder / "records.sqlite"), "to": str(folder / "runs.csv")},
        _replaced("runs.csv", None),
    ),
    "calibration on the host": Work("keep_calibration", _nothing, _keeping, _calibration_kept),
    "backup": Work(
        "backup",
        _two_jobs_kept,
        lambda _, folder: {"records": str(folder / "records.sqlite"), "to": str(folder / "backup")},
        lambda _stock, folder, _: after.backup_wrong(
            folder / "backup", folder / "records.sqlite", folder / "again.sqlite", 2
        ),
    ),
    "restore": Work(
        "restore",
        _backed_up,
        lambda _, folder: {
            "backup": str(folder / "backup"),
            "records": str(folder / "again.sqlite"),
            "captures": str(folder / "captures"),
        },
        lambda _stock, folder, _: after.restoring_wrong(
            folder / "backup", folder / "again.sqlite", folder / "captures", 2
        ),
    ),
}

