"""Practising with `rodtrue check --port virtual`: other bodies, faults, a calibrated virtual fixture."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest

from cli.commands import rodtrue
from rodtrue.model.errors import InputError
from rodtrue.profiles import load_profile
from rodtrue.run.session import default_plant
from rodtrue.run.virtual_unit import virtual_plant

ALONE = ("--port", "virtual", "--drive", "bench", "--reference", "lever_stop")


@pytest.fixture(scope="module")
def calibration(tmp_path_factory) -> Path:
    """What `calibrate run --port virtual` writes."""
    folder = tmp_path_factory.mktemp("calibrated")
    ended = rodtrue("calibrate", "run", "--port", "virtual", "--cycles", "2", "--out", folder)
    assert ended.code == 0, ended.err
    (written,) = folder.glob("*/calibration.json")
    return written


@pytest.mark.slow
@pytest.mark.parametrize(
    ("more", "verdict"),
    [((), "conforming"), (("--fault", "low-supply"), "nonconforming")],
    ids=["sound", "low supply"],
)
def test_a_virtual_body_on_a_calibrated_fixture_comes_to_a_verdict(
    calibration: Path, tmp_path: Path, more: tuple[str, ...], verdict: str
) -> None:
    ended = rodtrue(
        *["check", *ALONE, "--seed", "1", *more, "--calibration", calibration, "--serial", "VB-1"],
        *["--out", tmp_path / "out", "--records", tmp_path / "records.sqlite", "--json"],
        stdin="\n" * 300,
    )
    assert ended.code == 0, ended.err
    found = json.loads(ended.out)["as_found"]
    assert found["body_verdict"] == verdict
    assert found["fixture"]["kind"] == "virtual" and found["fixture"]["calibration"]["generation"] == 1
    listed = rodtrue("records", "list", "--records", tmp_path / "records.sqlite").out
    assert "* virtual fixture, not a measurement" in listed
    assert rodtrue("lab", "batch", "--records", tmp_path / "records.sqlite").code == 2, "no statistic counts it"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--seed", "2"), "--seed at port /dev/nothing: it is of a virtual unit"),
        (("--reading", "2"), "--reading at port /dev/nothing: it is of a virtual unit"),
        (("--rod-error", "-2"), "--rod-error at port /dev/nothing: it is of a virtual unit"),
        (("--fault", "air"), "--fault at port /dev/nothing: it is of a virtual unit"),
        (("--calibration", "c.json"), "A board measures with the calibration it holds: rodtrue calibrate store"),
    ],
)
def test_a_real_board_is_given_nothing_of_a_virtual_unit(words: tuple[str, ...], says: str) -> None:
    refused = rodtrue("check", "--port", "/dev/nothing", *words)
    assert refused.code == 2 and says in " ".join(refused.err.split())


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((*ALONE, "--rod-error", "-2"), "a valve body alone has no rod"),
        ((*ALONE, "--calibration", "nowhere.json"), "nowhere.json: cannot be read"),
        (("--port", "virtual", "--rod-error", "400"), "outside what the virtual fixture covers"),
    ],
)
def test_what_a_virtual_unit_cannot_be_is_refused(words: tuple[str, ...], says: str, tmp_path: Path) -> None:
    refused = rodtrue("check", *words, "--out", tmp_path)
    assert refused.code == 2 and says in " ".join(refused.err.split())
    assert not list(tmp_path.iterdir())


def test_a_calibration_that_the_virtual_fixture_would_not_take_is_refused(tmp_path: Path) -> None:
    document = json.loads((Path(__file__).parents[1] / "data" / "calibration" / "format_version_1.json").read_text())
    file = tmp_path / "c.json"
    file.write_text(json.dumps(document | {"generation": 4}))
    refused = rodtrue("check", *ALONE, "--calibration", file)
    assert refused.code == 2 and "number 4" in refused.err and "calibrate run --port virtual" in refused.err


def test_another_seed_is_another_body_on_the_same_fixture() -> None:
    profile = load_profile()
    bodies = [virtual_plant(profile, "bench", "lever_stop", seed=seed).truth for seed in range(1, 6)]
    assert (
        len({body.slope_kpa_per_mm for body in bodies}) == len(bodies) == len({body.baseline_kpa for body in bodies})
    )
    fixture = default_plant().truth
    for name in ("pressure_gain", "pressure_offset_kpa", "pressure_bow_kpa", "travel_scale", "travel_bow_mm"):
        assert {getattr(body, name) for body in bodies} == {getattr(fixture, name)}, name


def test_another_reading_is_the_same_body_with_other_noise() -> None:
    plants = [virtual_plant(load_profile(), "bench", "lever_stop", seed=3, reading=reading) for reading in (0, 0, 1)]
    assert plants[0].truth == plants[1].truth == plants[2].truth
    times_us = np.arange(1, 401, dtype=np.int64) * 500
    once, again, other = (plant.conversions(times_us) for plant in plants)
    assert np.array_equal(once, again) and not np.array_equal(once, other)


def test_what_is_due_in_a_virtual_study_names_a_part_of_its_own(tmp_path: Path) -> None:
    plan = tmp_path / "study.csv"
    assert rodtrue("lab", "plan", "--parts", "3", "--operators", "A,B", "--trials", "2", "--out", plan).code == 0
    first = next(csv.DictReader(plan.read_text().splitlines()))
    words = ("lab", "next", plan, "--virtual", "--records", tmp_path / "records.sqlite")
    with_rods = rodtrue(*words).out
    assert f"--seed {first['part']}" in with_rods
    assert f"--rod-error {[-3.0, -1.0, 1.0][int(first['part']) - 1]:.2f}" in with_rods
    alone = rodtrue(*words, "--reference", "lever_stop", "--characteristic", "slope").out
    assert f"--seed {first['part']}" in alone and "--rod-error" not in alone
    assert "--seed" not in rodtrue(*words[:3], "--records", tmp_path / "records.sqlite").out
    with pytest.raises(InputError, match="no rod"):
        virtual_plant(load_profile(), "bench", "lever_stop", rod_error_mm=1.0)
