"""Writing samples as CSV, in the columns that `rodtrue judge` reads."""

from __future__ import annotations

from pathlib import Path

from rodtrue.model.errors import InputError
from rodtrue.model.samples import STEPS, Samples
from rodtrue.whole_file import write_whole


def write_csv(samples: Samples, path: Path) -> None:
    """Write `time_s,travel_mm,pressure_kpa,step`, one line a sample; travel from the sensor's own origin.

    Whole or not at all: a run cut short would read as one with fewer sweeps.

    Raises: InputError where the file cannot be written.
    """
    columns = zip(
        samples.time_s.tolist(),
        samples.travel_mm.tolist(),
        samples.pressure_kpa.tolist(),
        samples.step.tolist(),
        strict=True,
    )
    lines = (
        f"{time_s:.6f},{travel_mm:.5f},{pressure_kpa:.4f},{STEPS[step]}\n"
        for time_s, travel_mm, pressure_kpa, step in columns
    )
    try:
        write_whole(path, "".join(["time_s,travel_mm,pressure_kpa,step\n", *lines]).encode())
    except OSError as error:
        raise InputError(f"CSV {path}: cannot be written ({error.strerror})", "Name another file.") from error
