"""A study from its plan to its report with the values of kept runs: nothing is typed twice."""

import csv
import json
import os
import shlex
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader
from typer.testing import CliRunner

from records.made_up_jobs import RESULT, job
from rodtrue.cli import app
from rodtrue.model.errors import InputError
from rodtrue.records import RunFilter, open_records

STUDY = Path(__file__).parents[1] / "data" / "published" / "aiag_grr.csv"
TAG = "study 1"


def lab(*words):
    return CliRunner().invoke(app, ["lab", *map(str, words)], catch_exceptions=True)


def typed(said):
    """Return the command in what was printed, its plain words, and its options."""
    words = shlex.split(" ".join(line.removesuffix("\\") for line in said.splitlines() if line.startswith("  ")))
    begins = next((i for i, word in enumerate(words) if word.startswith("--")), len(words))
    options = dict(zip(words[begins::2], words[begins + 1 :: 2], strict=False))
    return words[:2], words[2:begins], options


class Shop:
    """Kept runs: each says what the published study has for its part, operator and trial."""

    def __init__(self, folder):
        self.place = folder / "records.sqlite"
        self.plan = folder / "plan.csv"
        rows = list(csv.DictReader(STUDY.read_text().splitlines()))
        who = "operator" if "operator" in rows[0] else "appraiser"
        self.published = {(row["part"], row[who], int(row["trial"])): float(row["value"]) for row in rows}
        self._minute = 0
        made = lab("plan", "--parts", 10, "--operators", "A,B,C", "--trials", 3, "--out", self.plan)
        assert made.exit_code == 0, made.output
        self.planned = [
            (row["part"], row["operator"], int(row["trial"]))
            for row in csv.DictReader(self.plan.read_text().splitlines())
        ]

    def measure(self, part, operator, trial, tag=TAG):
        self._minute += 1
        taken_at = f"2026-10-{1 + self._minute // 60:02d}T08:{self._minute % 60:02d}:00+00:00"
        assert RESULT.rod_error is not None
        error = replace(RESULT.rod_error, value_mm=self.published[part, operator, trial])
        with open_records(str(self.place)) as records:
            made = job(self._minute, taken_at=taken_at, rod_error=error, operator=operator)
            same = {"unit": part}
            return records.save(replace(made, as_found=replace(made.as_found, **same)), tag=tag).job

    def repeatability(self, *words):
        return lab("repeatability", self.plan, "--characteristic", "rod_error", "--records", self.place, *words)

    def next(self):
        return lab("next", self.plan, "--records", self.place, "--tag", TAG).stdout


@pytest.fixture
def shop(tmp_path):
    return Shop(tmp_path)


def test_a_planned_study_comes_out_of_kept_runs_as_it_was_published(shop, tmp_path):
    for reading in shop.planned:
        shop.measure(*reading)
    shop.measure("1", "A", 1, tag=None)  # a customer's unit of the same name
    result = shop.repeatability("--tag", TAG, "--pool", "--json")
    assert result.exit_code == 0, result.output
    found = json.loads(result.stdout)
    # AIAG, Measurement Systems Analysis, 4th edition, gauge study: GRR 0.30237, 27.86 %, 4 categories.
    assert found["gauge_rr"] == pytest.approx(0.30237, abs=1e-5)
    assert found["distinct_categories"] == 4
    assert "All are taken:" in shop.next()
    pdf = tmp_path / "study.pdf"
    shown = shop.repeatability("--tag", TAG, "--report", pdf).stdout
    assert "mm)" in shown and max(map(len, shown.splitlines()[:-1])) <= 80
    text = "\n".join(page.extract_text() for page in PdfReader(pdf).pages)
    assert "rod error of 90 kept runs" in text and "acceptable for some uses" in text


def test_what_is_due_follows_the_plan_and_skips_what_was_measured_already(shop):
    first, second, third = shop.planned[:3]
    assert f"0 of 90 readings are kept.\nNext, number 1: operator {first[1]} measures part {first[0]}" in shop.next()
    shop.measure(*first)
    shop.measure(*third)
    said = shop.next()
    assert "2 of 90 readings are kept." in said
    assert f"\nNext, number 2: operator {second[1]} measures part {second[0]}" in said
    command, _, chosen = typed(said)
    assert command == ["rodtrue", "check"]
    assert chosen == {
        "--operator": second[1],
        "--unit": second[0],
        "--tag": TAG,
        "--profile": "example-direct",
        "--drive": "slide",
        "--reference": "curb_idle",
        "--records": str(shop.place),
    }


def test_readings_out_of_the_planned_order_are_named_when_they_are_taken_and_in_the_report(shop, tmp_path):
    first, second, third, *rest = shop.planned
    shop.measure(*first)
    assert "out of the planned order" not in shop.next()
    jumped = shop.measure(*third)
    words = f"number 3 (operator {third[1]}, part {third[0]}, job {jumped}) when number 2 was due"
    assert f"Taken out of the planned order: {words}." in " ".join(shop.next().split())
    for reading in (second, *rest):
        shop.measure(*reading)
    said = " ".join(shop.next().split())
    assert f"Taken out of the planned order: {words}. All are taken" in said, "one jump, told once"
    pdf = tmp_path / "study.pdf"
    told = shop.repeatability("--tag", TAG, "--report", pdf)
    assert told.exit_code == 0 and words in " ".join(told.stdout.split())
    assert words in " ".join(" ".join(page.extract_text() for page in PdfReader(pdf).pages).split())
    (jump,) = json.loads(shop.repeatability("--tag", TAG, "--json").stdout)["out_of_order"]
    assert (jump["taken"]["order"], jump["due"]["order"], jump["job"]) == (3, 2, jumped)


def test_a_study_taken_as_planned_says_so_in_its_report(shop, tmp_path):
    for reading in shop.planned:
        shop.measure(*reading)
    pdf = tmp_path / "study.pdf"
    assert "out of the planned order" not in shop.repeatability("--tag", TAG, "--report", pdf).stdout
    assert "Order as planned" in " ".join(" ".join(page.extract_text() for page in PdfReader(pdf).pages).split())


def test_an_unfinished_study_says_what_is_missing(shop):
    for reading in shop.planned[:-1]:
        shop.measure(*reading)
    result = shop.repeatability("--tag", TAG)
    assert isinstance(result.exception, InputError)
    part, operator, _ = shop.planned[-1]
    assert f"89 of 90 readings are kept; next is operator {operator} with part {part}" in result.exception.message


def test_a_reading_taken_too_often_is_named_and_can_be_left_out(shop):
    for reading in shop.planned:
        shop.measure(*reading)
    again = shop.measure(*shop.planned[0])
    result = shop.repeatability("--tag", TAG)
    assert isinstance(result.exception, InputError)
    assert "measured 4 times, 3 are planned" in result.exception.message and str(again) in result.exception.message
    assert shop.repeatability("--tag", TAG, "--without", again).exit_code == 0


def test_without_a_plan_every_kept_run_that_fits_is_taken(shop):
    for reading in shop.planned:
        shop.measure(*reading)
    words = ("--characteristic", "rod_error", "--records", shop.place, "--tag", TAG)
    assert lab("repeatability", *words).exit_code == 0
    shop.measure("1", "A", 1)
    uneven = lab("repeatability", *words)
    assert isinstance(uneven.exception, InputError) and "not every cell has 4 trials" in uneven.exception.message


def test_parts_may_have_names_and_a_plan_of_one_is_refused():
    assert ",A,body 7," in lab("plan", "--parts", "body 7,body 9", "--operators", "A,B", "--trials", 2).stdout
    for words in (("--parts", "1"), ("--parts", "x,x"), ("--operators", "A")):
        assert isinstance(lab("plan", *words).exception, InputError)


def test_the_rod_error_of_kept_runs_can_be_charted_too(shop):
    for reading in shop.planned[:10]:
        shop.measure(*reading)
    shown = lab("chart", "--characteristic", "rod_error", "--records", shop.place)
    assert shown.exit_code == 0 and "mm)" in shown.stdout


def shell(said, folder, keys=""):
    """Paste the printed command into a shell."""
    line = "\n".join(line for line in said.splitlines() if line.startswith("  "))
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    return subprocess.run(
        ["bash", "-ec", line],
        cwd=folder,
        env=os.environ | {"PATH": path, "RODTRUE_DATA": str(folder / "data")},
        input=keys,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


@pytest.mark.slow
def test_the_command_for_what_is_due_takes_that_reading_when_it_is_typed(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    plan, place = "my study.csv", "my records.sqlite"
    parts = ("--parts", "body 7,it's 9", "--operators", "A.B.,C", "--trials", 2)
    laid_out = lab("plan", *parts, "--out", plan)
    assert laid_out.exit_code == 0
    words = ("next", plan, "--tag", "study 1", "--virtual", "--since", "2026-01-01", "--profile", "two-bell")
    words = (*words, "--reference", "lever_stop", "--characteristic", "slope", "--records", place)
    said = lab(*words).stdout
    assert "0 of 8 readings are kept." in said and max(map(len, said.splitlines())) <= 80
    done = shell(said, tmp_path, "\n" * 300)
    assert done.returncode == 0, done.stderr[-2000:]
    first, second = list(csv.DictReader(Path(plan).read_text().splitlines()))[:2]
    with open_records(place) as records:
        (run,) = records.runs(RunFilter(role="as_found"))
    assert (run.unit, run.operator) == (first["part"], first["operator"])
    assert (run.tag, run.fixture_kind) == ("study 1", "virtual")
    assert (run.profile, run.reference) == ("example-two-bell-cranks", "lever_stop")
    due = lab(*words).stdout
    assert "1 of 8 readings are kept." in due
    of_first, of_second = typed(said)[2], typed(due)[2]
    seed = {"body 7": "1", "it's 9": "2"}[second["part"]]
    changed = {"--operator": second["operator"], "--unit": second["part"], "--seed": seed, "--reading": "2"}
    assert of_second == of_first | changed and of_first["--reading"] == "1"


@pytest.mark.slow
def test_the_command_for_a_study_all_taken_reports_those_runs_and_no_others(shop, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for reading in shop.planned:
        shop.measure(*reading)
    again = shop.measure(*shop.planned[0])
    words = ("--tag", TAG, "--without", again, "--since", "2026-10-01", "--until", "2026-10-31", "--real")
    words = (*words, "--profile", "direct", "--fixture", "00c0ffee00c0ffee")
    said = lab("next", shop.plan.name, "--records", shop.place.name, *words).stdout
    assert "All are taken:" in said and max(map(len, said.splitlines())) <= 80
    done = shell(said, tmp_path)
    assert done.returncode == 0, done.stderr
    assert "10 parts, 3 operators, 3 trials" in done.stdout and "ACCEPTABLE FOR SOME USES" in done.stdout


def test_a_reading_that_would_not_be_counted_is_not_asked_for(shop):
    for option, day in (("--until", "2026-01-31"), ("--since", "2126-01-01")):
        refused = lab("next", shop.plan, "--records", shop.place, option, day).exception
        assert isinstance(refused, InputError) and option in refused.message


def test_a_profile_named_in_part_is_named_in_full_or_refused(shop):
    words = ("next", shop.plan, "--records", shop.place, "--profile")
    assert typed(lab(*words, "one-bell").stdout)[2]["--profile"] == "example-one-bell-crank"
    refused = lab(*words, "bell").exception
    assert isinstance(refused, InputError) and "names no profile" in refused.message


def test_a_fixture_asked_for_is_said_and_a_profile_that_is_not_here_too(shop):
    shop.measure(*shop.planned[0])
    said = lab("next", shop.plan, "--records", shop.place, "--fixture", "00c0ffee00c0ffee").stdout
    assert "On fixture 00c0ffee00c0ffee" in said and "is not here" not in said
    with open_records(str(shop.place)) as records:
        made = job(77, profile="my-unit", operator=shop.planned[1][1])
        records.save(replace(made, as_found=replace(made.as_found, unit=shop.planned[1][0])))
    assert "The profile my-unit is not here" in lab("next", shop.plan, "--records", shop.place).stdout
