"""A CSV that we wrote says whether the fixture was calibrated, and is judged no more closely than its capture; and
whether it was a virtual one.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest

from analysis.made_up_run import MadeUp
from rodtrue.calibration.parts_budget import parts_budget, terms_of_parts
from rodtrue.capture.csv_file import read_run
from rodtrue.capture.csv_out import write_csv
from rodtrue.judging import CsvAnswers, Provenance, judge_file, judge_samples
from rodtrue.model.conditions import CalibrationState, Conditions
from rodtrue.model.result import CaptureRef, Fixture, Result
from rodtrue.profiles import load_profile

ANSWERS = CsvAnswers("unhooked", "curb_idle", "slide")


def _judged(path: Path, state: CalibrationState | None) -> Result:
    write_csv(MadeUp(rod_error_mm=-3.0).samples(), path, state)
    return judge_file(path, None, ANSWERS)


def _reach_mm(result: Result) -> float:
    assert result.rod_error is not None and result.rod_error.expanded_uncertainty_mm is not None
    return result.rod_error.expanded_uncertainty_mm


def test_of_a_fixture_without_calibration_it_is_as_wide_as_its_capture(tmp_path: Path) -> None:
    conditions = Conditions(
        "virtual", "slide", calibration="missing", instrument=terms_of_parts(parts_budget())
    )
    provenance = Provenance(None, CaptureRef(None, None), Fixture("virtual"))
    capture = judge_samples(MadeUp(rod_error_mm=-3.0).samples(), load_profile(), conditions, provenance)
    told, silent = _judged(tmp_path / "told.csv", "missing"), _judged(tmp_path / "silent.csv", None)
    assert _reach_mm(told) == pytest.approx(_reach_mm(capture), rel=0.01)  # rounded to the file
    assert _reach_mm(silent) < _reach_mm(told)
    assert "calibration_missing" in [finding.code for finding in told.findings]
    assert told.fixture.kind == "csv"


def test_of_a_calibrated_fixture_the_profiles_half_widths_stand_in(tmp_path: Path) -> None:
    told, silent = _judged(tmp_path / "told.csv", "overdue"), _judged(tmp_path / "silent.csv", None)
    assert _reach_mm(told) == _reach_mm(silent)
    assert "calibration_overdue" in [finding.code for finding in told.findings]


@pytest.mark.parametrize("words", [["good", "good"], ["missing", "in order"], ["", ""]])
def test_anything_else_in_a_column_of_that_name_is_ignored(tmp_path: Path, words: list[str]) -> None:
    path = tmp_path / "a.csv"
    with path.open("w", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["time_s", "travel_mm", "pressure_kpa", "step", "calibration"])
        rows.writerows([0.01 * k, 0.0, 20.0, "sweep", word] for k, word in enumerate(words))
    samples, state, _ = read_run(path)
    assert len(samples) == 2 and state is None


@pytest.mark.parametrize(("kind", "marked"), [("virtual", "virtual"), ("board", "csv"), (None, "csv")])
def test_what_a_virtual_fixture_made_stays_marked_through_a_csv(tmp_path: Path, kind: Any, marked: str) -> None:
    path = tmp_path / "a.csv"
    write_csv(MadeUp(rod_error_mm=-3.0).samples(), path, "missing", kind)
    assert judge_file(path, None, ANSWERS).fixture.kind == marked
    lines = path.read_text().splitlines()
    assert ("fixture" in lines[0].split(",")) is (kind is not None)
    assert kind is None or all(line.endswith(f",missing,{kind}") for line in lines[1:])
