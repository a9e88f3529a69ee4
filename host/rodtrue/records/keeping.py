"""Keeping a job in the records at the end of a run, without ever losing it."""

from __future__ import annotations

from pathlib import Path
from shlex import quote

from rodtrue.model.errors import RodtrueError
from rodtrue.model.result import Job
from rodtrue.records.store import open_records


def keep(
    job: Job, file: Path, place: str | None, tag: str | None = None, valve_body_serial: str | None = None
) -> str:
    """Keep a job that was written to `file`; return a line that says so, or why not and how to mend it."""
    try:
        with open_records(place) as records:
            saved = records.save(job, tag=tag, valve_body_serial=valve_body_serial)
            return f"Kept: job {saved.job} in {records.where}"
    except RodtrueError as error:
        return not_kept(error, file, place, tag, valve_body_serial)


def not_kept(
    error: Exception, file: Path, place: str | None, tag: str | None = None, valve_body_serial: str | None = None
) -> str:
    """Return why a job was not kept, and the command that keeps it later as it was to be kept."""
    said = {"--tag": tag, "--serial": valve_body_serial, "--records": place}
    options = "".join(f" {option} {quote(word)}" for option, word in said.items() if word)
    return f"Not kept: {error}\nThe job is in {file}; later: rodtrue records add {quote(str(file))}{options}"


def captures_folder(file: Path, job: Job) -> Path:
    """Return where the relative paths of a job's captures begin: here, or a folder above or beside its file."""
    captures = [run.capture.path for run in (job.as_found, job.as_left) if run is not None and run.capture.path]
    here, beside = Path(), file.absolute().parent
    for folder in (here, *beside.parents, beside):
        if all((folder / path).is_file() for path in captures):
            return folder
    return here
