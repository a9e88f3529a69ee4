"""Writing samples as CSV, in the columns that `rodtrue judge` reads."""

from __future__ import annotations

from pathlib import Path

from rodtrue.model.conditions import CalibrationState
from rodtrue.model.errors import InputError
from rodtrue.model.samples import STEPS, Samples
from rodtrue.whole_file import write_whole


def write_csv(samples: Samples, path: Path, calibration: CalibrationState | None = None) -> None:
    """Write `time_s,travel_mm,pressure_kpa,step`, one line a sample; travel from the sensor's own origin.

    calibration: its state, written beside each sample in a column of its own, so that whoever judges the file
    need not take the fixture for a calibrated one; None for no such column.

    Whole or not at all: a run cut short would read as one with fewer sweeps.

    Raises: InputError where the file cannot be written.
    """
    heading, state = ("", "") if calibration is None else (",calibration", f",{calibration}")
    columns = zip(
        samples.time_s.tolist(),
        samples.travel_mm.tolist(),
        samples.pressure_kpa.tolist(),
        samples.step.tolist(),
        strict=True,
    )
    lines = (
        f"{time_s:.6f},{travel_mm:.5f},{pressure_kpa:.4f},{STEPS[step]}{state}\n"
        for time_s, travel_mm, pressure_kpa, step in columns
    )
    try:
        write_whole(path, "".join([f"time_s,travel_mm,pressure_kpa,step{heading}\n", *lines]).encode())
    except OSError as error:
        raise InputError(f"CSV {path}: cannot be written ({error.strerror})", "Name another file.") from error
