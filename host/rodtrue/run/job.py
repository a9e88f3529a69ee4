"""Where a job's files go: a new folder for each, and in it the job itself, `job.json`."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import msgspec

from rodtrue.model.errors import InputError
from rodtrue.model.result import Job
from rodtrue.whole_file import write_whole


def new_folder(out: Path, word: str) -> Path:
    """Make and return a new folder in `out`, named by the time and what it is for.

    Raises: InputError where it cannot be made.
    """
    stamp = f"{datetime.now():%Y%m%d-%H%M%S}-{word}"
    for attempt in range(1000):
        folder = out / (stamp if not attempt else f"{stamp}-{attempt + 1}")
        try:
            folder.mkdir(parents=True)
            return folder
        except FileExistsError:
            continue
        except OSError as error:
            raise cannot_write(folder, error) from error
    raise InputError(f"folder {out}: no free name left for {stamp}", "Name another folder with --out.")


def write_job(folder: Path, job: Job) -> Path:
    """Write `job.json`, whole or not at all, and return its path; one that stands there is kept until then.

    Raises: InputError where it cannot be written.
    """
    path = folder / "job.json"
    try:
        write_whole(path, msgspec.json.format(msgspec.json.encode(job), indent=1) + b"\n")
    except OSError as error:
        raise cannot_write(path, error) from error
    return path


def cannot_write(path: Path, error: OSError) -> InputError:
    """Return the error that says so, and what to do."""
    return InputError(f"{path}: cannot be written ({error.strerror})", "Name another folder with --out.")
