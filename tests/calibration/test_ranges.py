"""What a calibration covers: known from the host's copy, told where readings lie beyond."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import rodtrue_protocol as wire
from rodtrue.calibration.document import CalibrationDocument
from rodtrue.calibration.files import keep_copy, load_calibration, stored_path
from rodtrue.calibration.parts_budget import parts_budget, terms_of_calibration, terms_of_parts
from rodtrue.calibration.ranges import beyond_range, kept_range, range_of
from rodtrue.calibration.record import record_of
from rodtrue.capture.notes import calibration_fields

DOCUMENT = load_calibration(Path(__file__).parents[1] / "data" / "calibration" / "format_version_1.json")
COVERED = range_of(DOCUMENT, "a test")
TRAVEL_MM, PRESSURE_KPA = np.linspace(10.0, 60.0, 1000), np.linspace(40.0, 500.0, 1000)


def held(document: CalibrationDocument, over_pressure_kpa: float | None = None) -> dict:  # type: ignore[type-arg]
    data = wire.encode_calibration(record_of(document, over_pressure_kpa))
    return calibration_fields(wire.Calibration(0, document.generation, data))


def test_the_range_is_found_in_the_copy_of_the_very_calibration_that_the_fixture_holds(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("RODTRUE_DATA", str(tmp_path))
    assert kept_range(held(DOCUMENT)) is None
    keep_copy(DOCUMENT)
    found = kept_range(held(DOCUMENT, 1500.0))
    assert found is not None and found["from"] == "this computer's copy"
    assert (found["travel"]["lowest"], found["travel"]["highest"]) == (5.0, 95.0)
    assert found["pressure"]["highest"] == max(point.reference for point in DOCUMENT.pressure.points)
    assert kept_range(held(replace(DOCUMENT, generation=2))) is None
    curve = replace(DOCUMENT.travel.curve, r0=DOCUMENT.travel.curve.r0 + 0.001)
    assert kept_range(held(replace(DOCUMENT, travel=replace(DOCUMENT.travel, curve=curve)))) is None
    stored_path(DOCUMENT).write_text("{")
    assert kept_range(held(DOCUMENT)) is None


def test_readings_within_half_a_step_of_the_outermost_points_are_covered() -> None:
    assert beyond_range(COVERED, TRAVEL_MM, PRESSURE_KPA) == ()
    assert beyond_range(COVERED, TRAVEL_MM - 9.0, PRESSURE_KPA) == ()
    assert beyond_range(None, TRAVEL_MM - 50.0, PRESSURE_KPA) == ()
    single = PRESSURE_KPA.copy()
    single[3] = 1900.0
    assert beyond_range(COVERED, TRAVEL_MM, single) == ()


@pytest.mark.parametrize(
    ("travel_mm", "pressure_kpa", "quantity", "read"),
    [
        (TRAVEL_MM - 10.6, PRESSURE_KPA, "travel", (-0.6, 49.4)),
        (TRAVEL_MM + 41.0, PRESSURE_KPA, "travel", (51.0, 101.0)),
        (TRAVEL_MM, PRESSURE_KPA + 200.0, "pressure", (240.0, 700.0)),
        (TRAVEL_MM, PRESSURE_KPA - 40.0, "pressure", (0.0, 460.0)),
    ],
)
def test_readings_farther_out_are_told_with_both_ranges(
    travel_mm: np.ndarray, pressure_kpa: np.ndarray, quantity: str, read: tuple[float, float]
) -> None:
    (found,) = beyond_range(COVERED, travel_mm, pressure_kpa)
    assert found.quantity == quantity
    assert found.read == pytest.approx(read, abs=3.0)
    assert found.calibrated == (COVERED[quantity]["lowest"], COVERED[quantity]["highest"])


def test_beyond_the_calibration_the_parts_uncertainty_counts_where_it_is_wider_and_only_for_that_channel() -> None:
    channels, budget = held(DOCUMENT)["channels"], parts_budget()
    parts, inside = terms_of_parts(budget), terms_of_calibration(channels, budget)
    travel = terms_of_calibration(channels, budget, ["travel"])
    assert travel.travel_far_mm == parts.travel_far_mm > inside.travel_far_mm
    assert travel.travel_scale == max(parts.travel_scale, inside.travel_scale)
    assert travel.pressure_gain == inside.pressure_gain
    pressure = terms_of_calibration(channels, budget, ["pressure"])
    assert pressure.pressure_gain == parts.pressure_gain > inside.pressure_gain
    assert pressure.pressure_local_kpa >= inside.pressure_local_kpa
    assert pressure.travel_far_mm == inside.travel_far_mm
