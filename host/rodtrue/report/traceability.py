"""By which calibration the codes became travel and pressure: number, dates, references, range, and where from."""

from __future__ import annotations

from typing import Any

from rodtrue.model.both_units import Units, both
from rodtrue.model.result import Result
from rodtrue.model.units import kpa_to_psi, mm_to_inch
from rodtrue.report.shown import own_words

UNCALIBRATED = {"calibration_missing", "calibration_mismatched"}


def calibration_words(result: Result, units: Units) -> str:
    """Return what is known of the calibration of a result, and what was used where there was none."""
    held = result.fixture.calibration
    codes = {finding.code for finding in result.findings}
    if held is None:
        if result.fixture.identity is None and not UNCALIBRATED & codes:  # from a CSV
            return "not recorded: the profile's half-widths"
        return "none: nominal values and the parts' uncertainty"
    said = [
        *([f"number {held['generation']}"] if held.get("generation") else []),
        f"done {held.get('done') or 'on an unknown date'}",
        *([f"due {held['due']}"] if held.get("due") else []),
        *([f"of fixture {held['fixture_id']}"] if held.get("fixture_id") else []),
    ]
    words = ", ".join(map(str, said))
    if held.get("references"):
        words += f"; references: {held['references']}"
    if isinstance(held.get("range"), dict):
        words += f"; covers {_range(held['range'], units)}"
    words += f"; from the file {held['file']}" if held.get("file") else "; held by the fixture"
    if "calibration_mismatched" in codes:
        words += "; not used, as it is of another fixture: nominal values and the parts' uncertainty"
    return own_words(words, 500)


def _range(covers: dict[str, Any], units: Units) -> str:
    told = []
    for name in ("travel", "pressure"):
        ends = covers.get(name)
        if isinstance(ends, dict) and all(isinstance(ends.get(end), int | float) for end in ("lowest", "highest")):
            low, high = ends["lowest"], ends["highest"]
            if name == "travel":
                inches = f"{mm_to_inch(low):.2f} to {mm_to_inch(high):.2f} in"
                told.append(f"travel {both(inches, f'{low:.1f} to {high:.1f} mm', units)}")
            else:
                psi = f"{kpa_to_psi(low):.0f} to {kpa_to_psi(high):.0f} psi"
                told.append(f"pressure {both(psi, f'{low:.0f} to {high:.0f} kPa', units)}")
    return ", ".join(told) or "an unknown range"
