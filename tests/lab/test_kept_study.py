"""A study from its plan to its report with the values of kept runs: nothing is typed twice."""

import csv
import json
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader
from typer.testing import CliRunner

from records.made_up_jobs import RESULT, job
from rodtrue.cli import app
from rodtrue.model.errors import InputError
from rodtrue.records import open_records

STUDY = Path(__file__).parents[1] / "data" / "published" / "aiag_grr.csv"
TAG = "study 1"


def lab(*words):
    return CliRunner().invoke(app, ["lab", *map(str, words)], catch_exceptions=True)


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
    assert f"2 of 90 readings are kept.\nNext, number 2: operator {second[1]} measures part {second[0]}" in said
    assert f"rodtrue check --operator {second[1]} --unit {second[0]} --tag '{TAG}'" in said


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
