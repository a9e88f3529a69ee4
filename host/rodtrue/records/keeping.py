"""Keeping a job in the records at the end of a run, without ever losing it."""

from __future__ import annotations

from pathlib import Path

from rodtrue.model.errors import RodtrueError
from rodtrue.model.result import Job
from rodtrue.records.store import open_records


def keep(job: Job, file: Path, place: str | None, tag: str | None = None) -> str:
    """Keep a job that was written to `file`; return a line that says so, or why not and how to mend it."""
    try:
        with open_records(place) as records:
            saved = records.save(job, tag=tag)
            return f"Kept: job {saved.job} in {records.where}"
    except RodtrueError as error:
        where = f" --records {place}" if place else ""
        return f"Not kept: {error}\nThe job is in {file}; later: rodtrue records add {file}{where}"


def captures_folder(file: Path, job: Job) -> Path:
    """Return where the relative paths of a job's captures begin: here, or a folder above or beside its file."""
    captures = [run.capture.path for run in (job.as_found, job.as_left) if run is not None and run.capture.path]
    here, beside = Path(), file.absolute().parent
    for folder in (here, *beside.parents, beside):
        if all((folder / path).is_file() for path in captures):
            return folder
    return here
