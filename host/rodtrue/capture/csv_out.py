"""Writing samples as CSV, in the columns that `rodtrue judge` reads."""

from __future__ import annotations

from pathlib import Path

from rodtrue.model.conditions import CalibrationState, FixtureKind
from rodtrue.model.errors import InputError
from rodtrue.model.samples import STEPS, Samples
from rodtrue.whole_file import write_whole


def write_csv(
    samples: Samples,
    path: Path,
    calibration: CalibrationState | None = None,
    fixture: FixtureKind | None = None,
) -> None:
    """Write `time_s,travel_mm,pressure_kpa,step`, one line a sample; travel from the sensor's own origin.

    calibration: its state, fixture: what it is, each written beside every sample in a column of its own, so that
    whoever has the file takes the fixture neither for a calibrated one nor for a board; None for no such column.

    Whole or not at all: a run cut short would read as one with fewer sweeps.

    Raises: InputError where the file cannot be written.
    """
    said = {"calibration": calibration, "fixture": fixture}
    heading = "".join(f",{name}" for name, word in said.items() if word is not None)
    words = "".join(f",{word}" for word in said.values() if word is not None)
    columns = zip(
        samples.time_s.tolist(),
        samples.travel_mm.tolist(),
        samples.pressure_kpa.tolist(),
        samples.step.tolist(),
        strict=True,
    )
    lines = (
        f"{time_s:.6f},{travel_mm:.5f},{pressure_kpa:.4f},{STEPS[step]}{words}\n"
        for time_s, travel_mm, pressure_kpa, step in columns
    )
    try:
        write_whole(path, "".join([f"time_s,travel_mm,pressure_kpa,step{heading}\n", *lines]).encode())
    except OSError as error:
        raise InputError(f"CSV {path}: cannot be written ({error.strerror})", "Name another file.") from error
