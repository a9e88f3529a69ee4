"""Writing samples as CSV, in the columns that `rodtrue judge` reads."""

from __future__ import annotations

from pathlib import Path

from rodtrue.model.errors import InputError
from rodtrue.model.samples import STEPS, Samples


def write_csv(samples: Samples, path: Path) -> None:
    """Write `time_s,travel_mm,pressure_kpa,step`, one line a sample; travel from the sensor's own origin.

    Raises: InputError where the file cannot be written.
    """
    rows = zip(
        samples.time_s.tolist(),
        samples.travel_mm.tolist(),
        samples.pressure_kpa.tolist(),
        samples.step.tolist(),
        strict=True,
    )
    try:
        with path.open("w", encoding="utf-8", newline="\n") as file:
            file.write("time_s,travel_mm,pressure_kpa,step\n")
            file.writelines(
                f"{time_s:.6f},{travel_mm:.5f},{pressure_kpa:.4f},{STEPS[step]}\n"
                for time_s, travel_mm, pressure_kpa, step in rows
            )
    except OSError as error:
        raise InputError(f"CSV {path}: cannot be written ({error.strerror})", "Name another file.") from error
