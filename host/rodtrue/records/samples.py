"""The samples behind a kept run, out of its capture, as CSV or Parquet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from rodtrue.capture.csv_out import write_csv
from rodtrue.capture.reader import read_capture
from rodtrue.judging import sha256_of
from rodtrue.model.errors import InputError
from rodtrue.model.samples import STEPS, Samples
from rodtrue.records.parquet import write_parquet
from rodtrue.records.store import Records, job_of

if TYPE_CHECKING:
    from rodtrue.model.conditions import CalibrationState
    from rodtrue.model.result import Result

Role = Literal["as_found", "as_left"]


def export_samples(records: Records, number: int, role: Role, path: Path, restored_to: Path | None = None) -> int:
    """Write the samples of a kept run's capture; `.csv` or `.parquet` decides the form. Returns how many.

    restored_to: where an earlier `restore` put captures that their run's path no longer leads to.
    Raises: InputError where there is no such run or capture, the capture is not the one that was judged, or the file
    is there already or cannot be written.
    """
    if path.suffix not in (".csv", ".parquet"):
        raise InputError(f"{path}: neither .csv nor .parquet", "Name a file that ends in one of them.")
    if path.exists():
        raise InputError(f"{path}: is there already", "Name another file; nothing is overwritten.")
    kept = records.kept_job(number)
    job = job_of(kept)
    run = job.as_found if role == "as_found" else job.as_left
    if run is None:
        raise InputError(f"job {number} has no as-left run", "Leave --as-left out.")
    capture = read_capture(_capture_of(number, run, Path(kept.folder or ""), restored_to))
    samples = capture.samples()
    if path.suffix == ".csv":
        write_csv(samples, path, capture.calibration_state(), run.fixture.kind)
    else:
        _write_parquet(samples, run, path, capture.calibration_state())
    return len(samples)


def _capture_of(number: int, run: Result, folder: Path, restored_to: Path | None) -> Path:
    named, digest = run.capture.path, run.capture.sha256
    if not named or not digest:
        raise InputError(f"job {number}: its run names no capture", "It was judged from a CSV; that file has them.")
    places = [folder / named]
    if restored_to is not None:
        places.append(restored_to / f"{digest}.capture")
    for place in places:
        if place.is_file() and sha256_of(place) == digest:
            return place
    raise InputError(
        f"job {number}: {places[0]} is gone, or no longer the capture that was judged",
        "Put it back there, or restore a backup that holds it.",
    )


def _write_parquet(samples: Samples, run: Result, path: Path, calibration: CalibrationState) -> None:
    columns = {
        "time_s": samples.time_s,
        "travel_mm": samples.travel_mm,
        "pressure_kpa": samples.pressure_kpa,
        "step": np.array(STEPS)[samples.step],
    }
    about = {
        "fixture": run.fixture.kind,
        "calibration": calibration,
        "capture_sha256": run.capture.sha256 or "",
    }
    try:
        write_parquet(path, columns, about)
    except OSError as error:
        raise InputError(f"{path}: cannot be written ({error.strerror or error})", "Name another file.") from error
