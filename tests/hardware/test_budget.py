"""The parts' budget: the rows that the program needs, each as its rating says."""

import json
from pathlib import Path

import circuits
import pytest

HARDWARE = Path(__file__).resolve().parents[2] / "hardware"
DOCUMENT = json.loads((HARDWARE / "budget.json").read_text("utf-8"))
ROWS = {row["name"]: row for row in DOCUMENT["rows"]}
RANGE_KPA = 2068.0
STEPS = 4096


def test_schema_and_rows():
    assert DOCUMENT["schema"] == "rodtrue.parts-budget/1"
    assert len(ROWS) == len(DOCUMENT["rows"])
    for row in ROWS.values():
        assert row["applies_to"] in ("distance", "reading", "full_scale", "constant")
        assert row["unit"] in ("percent", "mm", "kPa")
        assert row["distribution"] in ("rectangular", "normal", "u-shaped")
        assert row["half_width"] > 0
        assert row["why"]


@pytest.mark.parametrize(("name", "half_width"), [
    ("travel_scale", 0.5),  # 0.5 mm in 100 mm
    ("travel_end_resistors", 0.2 * 0.5),
    ("travel_temperature", 0.2 * 600e-6 * 35 * 100),
    ("travel_nonlinearity", 2 * 0.1),
    ("travel_converter_inl", 100 / 0.8 / STEPS),
    ("pressure_scale", 1.0),
    ("pressure_offset", 0.01 * RANGE_KPA),
    ("pressure_nonlinearity_hysteresis_repeatability", 0.25),
    ("pressure_temperature", 0.0002 * 35 * RANGE_KPA),
    ("pressure_converter_inl", RANGE_KPA / 0.8 / STEPS),
])  # fmt: skip
def test_a_row_is_its_parts_rating(name, half_width):
    assert ROWS[name]["half_width"] == pytest.approx(half_width, abs=6e-4)


def test_a_smooth_error_changes_over_a_short_way_by_no_more_than_the_row_says():
    """A sine of the stated amplitude and wave, looked at everywhere, against the closed form."""
    import numpy as np

    amplitude, wave = 0.1, circuits.RATINGS.track_wave_mm
    start = np.linspace(0.0, wave, 5001)
    change = amplitude * (np.sin(2 * np.pi * (start + 5.0) / wave) - np.sin(2 * np.pi * start / wave))
    assert ROWS["travel_nonlinearity_short"]["half_width"] == pytest.approx(np.abs(change).max(), abs=6e-4)


def test_every_row_is_explained_on_its_page():
    page = (HARDWARE / "budget.md").read_text("utf-8")
    explained = page.split("## Where each comes from")[1]
    for name in ROWS:
        assert f"**{name}**" in explained, name


def test_the_program_loads_it():
    from rodtrue.calibration.parts_budget import parts_budget

    assert {row.name for row in parts_budget().rows} == set(ROWS)
