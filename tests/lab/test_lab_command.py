"""`rodtrue lab` as a person and a program use it."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader
from typer.testing import CliRunner

from records.made_up_jobs import CHARACTERISTICS, job
from rodtrue.cli import app
from rodtrue.lab.repeatability import judgement_of
from rodtrue.model.errors import InputError
from rodtrue.model.result import Fixture
from rodtrue.records import open_records

PUBLISHED = Path(__file__).parents[1] / "data" / "published"


def run(*words):
    return CliRunner().invoke(app, ["lab", *map(str, words)], catch_exceptions=True)


def document(*words):
    result = run(*words, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def test_repeatability_in_the_shape_that_programs_read():
    found = document("repeatability", PUBLISHED / "aiag_grr.csv", "--pool")
    assert found["gauge_rr"] == pytest.approx(0.30237, abs=1e-5)
    assert found["percent_gauge_rr"] == pytest.approx(27.86, abs=0.01)
    assert found["distinct_categories"] == 4
    assert {"repeatability", "reproducibility", "part", "total"} <= found.keys()


def test_each_table_fits_eighty_columns(tmp_path):
    values = tmp_path / "values.csv"
    values.write_text("value\n" + "\n".join(f"{50 + (i * 7 % 11) / 10}" for i in range(30)) + "\n40\n")
    for words in (
        ("repeatability", PUBLISHED / "aiag_grr.csv"),
        ("chart", values),
        ("capability", values, "--lower", 45, "--upper", 55),
        ("limits", values),
    ):
        result = run(*words)
        assert result.exit_code == 0, result.output
        assert max(len(line) for line in result.stdout.splitlines()) <= 80


def test_a_plan_holds_every_reading_once_and_a_seed_gives_one_order(tmp_path):
    out = tmp_path / "study.csv"
    assert run("plan", "--parts", 4, "--operators", "A,B", "--trials", 2, "--seed", 9, "--out", out).exit_code == 0
    rows = [line.split(",") for line in out.read_text().splitlines()[1:]]
    assert {(row[1], row[2], row[3]) for row in rows} == {
        (o, str(p), str(t)) for o in "AB" for p in range(1, 5) for t in (1, 2)
    }
    assert len(rows) == 16
    assert [row[3] for row in rows] == ["1"] * 8 + ["2"] * 8
    assert [row[2] for row in rows] != sorted(row[2] for row in rows)
    again = run("plan", "--parts", 4, "--operators", "A,B", "--trials", 2, "--seed", 9).stdout
    assert again == out.read_text()
    other = run("plan", "--parts", 4, "--operators", "A,B", "--trials", 2, "--seed", 10).stdout
    assert other != again


def test_a_plan_never_writes_over_readings(tmp_path):
    out = tmp_path / "study.csv"
    out.write_text("order,operator,part,trial,value\n1,A,1,1,2.5\n")
    result = run("plan", "--out", out)
    assert isinstance(result.exception, InputError)
    assert "2.5" in out.read_text()


def test_a_chart_names_the_points_that_break_a_rule(tmp_path):
    file = tmp_path / "rings.csv"
    rows = (PUBLISHED / "pistonrings.csv").read_text().splitlines()[1:]
    file.write_text("subgroup,value\n" + "".join(f"{row.split(',')[0]},{row.split(',')[2]}\n" for row in rows))
    result = run("chart", file, "--set-from", 25)
    assert "point 37 (mean): beyond the limit" in result.stdout
    assert document("chart", file, "--set-from", 25)["kind"] == "means and ranges"


def test_a_jump_at_the_newest_value_is_named_drawn_and_reported(tmp_path):
    file = tmp_path / "v.csv"
    file.write_text("value\n" + "\n".join(str(10 + i % 2 / 10) for i in range(20)) + "\n15\n")
    words = ("chart", file, "--set-from", 20, "--report", tmp_path / "c.pdf", "--plot", tmp_path / "c.png")
    result = run(*words)
    assert result.exit_code == 0, result.exception
    assert "point 21 (value): beyond the limit" in result.stdout
    assert "point 21 (moving range)" in result.stdout
    assert "point 22" not in result.stdout


def test_capability_in_the_shape_that_programs_read(tmp_path):
    file = tmp_path / "v.csv"
    file.write_text("value\n" + "\n".join(str(10 + (i % 3 - 1)) for i in range(30)) + "\n")
    found = document("capability", file, "--lower", 5, "--upper", 15)
    assert {"mean", "sd", "cp", "cpk", "overall_sd", "pp", "ppk"} <= found.keys()
    assert document("capability", file, "--upper", 15)["cp"] is None


@pytest.mark.parametrize(
    ("text", "words", "says"),
    [
        ("value\n1\ntwo\n", ("capability", "--upper", "3"), "line 3, column value: 'two'"),
        ("worth\n1\n", ("chart",), "no column value"),
        ("value\n" + "1\n" * 9, ("capability", "--lower", "4", "--upper", "2"), "not below"),
        ("value,subgroup\n1,a\n2,a\n3,b\n", ("chart",), "subgroups of 1, 2"),
        ("part,operator,trial,value\n1,A,1,2\n1,A,2,3\n2,A,1,2\n2,A,2,5\n", ("repeatability",), "only one operator"),
    ],
)
def test_bad_files_are_refused_with_the_place(tmp_path, text, words, says):
    file = tmp_path / "bad.csv"
    file.write_text(text)
    result = run(words[0], file, *words[1:])
    assert isinstance(result.exception, InputError)
    assert says in result.exception.message


@pytest.mark.parametrize("kind", ["study", "chart", "capability"])
def test_plots_are_written(tmp_path, kind):
    file, picture = tmp_path / "v.csv", tmp_path / "p.png"
    file.write_text("value\n" + "\n".join(str(10 + (i % 3 - 1)) for i in range(30)) + "\n")
    words = {
        "study": ("repeatability", PUBLISHED / "aiag_grr.csv"),
        "chart": ("chart", file),
        "capability": ("capability", file, "--lower", 5, "--upper", 15),
    }[kind]
    assert run(*words, "--plot", picture).exit_code == 0
    assert picture.read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize("kind", ["study", "chart", "capability"])
def test_reports_are_written_and_the_same_numbers_give_the_same_bytes(tmp_path, kind):
    file, first, second = tmp_path / "v.csv", tmp_path / "1.pdf", tmp_path / "2.pdf"
    file.write_text("value\n" + "\n".join(str(10 + (i % 3 - 1)) for i in range(30)) + "\n")
    words = {
        "study": ("repeatability", PUBLISHED / "aiag_grr.csv"),
        "chart": ("chart", file),
        "capability": ("capability", file, "--lower", 5, "--upper", 15),
    }[kind]
    for out in (first, second):
        assert run(*words, "--report", out).exit_code == 0
    assert first.read_bytes().startswith(b"%PDF")
    assert first.read_bytes() == second.read_bytes()


@pytest.fixture
def kept(tmp_path):
    """Records of thirty made-up jobs of real fixtures and five virtual ones, slopes known, each with as-left."""
    place = str(tmp_path / "records.sqlite")
    with open_records(place) as records:
        for number in range(35):
            step = (number % 5) / 10
            baseline, pressure, slope = (
                replace(CHARACTERISTICS[i], value=middle + step) for i, middle in enumerate((25.5, 431.0, 11.0))
            )
            fixture = Fixture("virtual" if number >= 30 else "board")
            taken_at = f"2026-10-{1 + number % 30:02d}T08:00:00+00:00"
            changes = {"characteristics": [baseline, pressure, slope], "fixture": fixture, "taken_at": taken_at}
            records.save(job(number, **changes), tag="check standard" if number < 20 else None)
    return place


def test_kept_runs_give_the_values_virtual_ones_left_out(kept):
    chart = document("chart", "--characteristic", "slope", "--records", kept)
    assert len(chart["tracks"][0]["points"]) == 30
    assert chart["tracks"][0]["points"][:5] == pytest.approx([11.0, 11.1, 11.2, 11.3, 11.4])
    tagged = document("chart", "--characteristic", "slope", "--records", kept, "--tag", "check standard")
    assert len(tagged["tracks"][0]["points"]) == 20
    virtual = document("limits", "--characteristic", "slope", "--records", kept, "--real")
    assert virtual["n"] == 30


def test_a_batch_report_has_every_characteristic_with_limits(kept, tmp_path):
    result = run("batch", "--records", kept, "--report", tmp_path / "batch.pdf")
    assert result.exit_code == 0, result.output
    assert [line.split(",")[0] for line in result.stdout.splitlines()[:3]] == ["baseline", "full pressure", "slope"]
    assert "30 values, 0 outside" in result.stdout
    assert (tmp_path / "batch.pdf").read_bytes().startswith(b"%PDF")


def test_a_characteristic_that_never_moves_costs_the_others_no_report(tmp_path):
    place = tmp_path / "records.sqlite"
    with open_records(str(place)) as records:
        for number in range(12):
            slope = replace(CHARACTERISTICS[2], value=11.0 + number % 5 / 10)
            records.save(job(number, characteristics=[CHARACTERISTICS[0], slope]))
    result = run("batch", "--records", place, "--report", tmp_path / "batch.pdf")
    assert result.exit_code == 0, result.output
    assert "slope, kPa/mm                12 values" in result.stdout
    assert "not judged: all 12 values are 25.5" in result.stdout
    assert "all 12 values are 25.5" in PdfReader(tmp_path / "batch.pdf").pages[0].extract_text()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("chart",), "one is needed"),
        (("chart", "--characteristic", "colour"), "unknown"),
        (("chart", "--characteristic", "slope", "--tag", "nothing"), "no kept run"),
        (("batch", "--tag", "nothing", "--report", "x.pdf"), "no kept run"),
    ],
)
def test_values_that_are_not_there_are_named(kept, words, says):
    result = run(*words, "--records", kept)
    assert isinstance(result.exception, InputError)
    assert says in result.exception.message


@pytest.mark.parametrize(
    ("percent", "word"),
    [
        (9.99, "acceptable"),
        (10, "acceptable for some uses"),
        (30, "acceptable for some uses"),
        (30.1, "not acceptable"),
    ],
)
def test_a_gauge_is_called_what_the_guideline_calls_it(percent, word):
    # AIAG, Measurement Systems Analysis, 4th edition: under 10 %, 10 to 30 %, over 30 % (from memory).
    assert judgement_of(percent) == word


def test_a_study_is_told_with_units_a_word_and_the_guideline_it_comes_from(tmp_path):
    file = PUBLISHED / "aiag_grr.csv"
    pdf, png = tmp_path / "s.pdf", tmp_path / "s.png"
    result = run("repeatability", file, "--values-in", "mm", "--report", pdf, "--plot", png)
    assert "in (0.2" in result.stdout and "mm)" in result.stdout and "(mm)^2" in result.stdout
    for words in ("ACCEPTABLE FOR SOME USES", "AIAG", "kinds of part"):
        assert words in result.stdout
    assert [line.split()[-1] for line in result.stdout.splitlines()[-2:]] == [str(png), str(pdf)]
    assert "not said" not in result.stdout and "--values-in names it" in run("repeatability", file).stdout


@pytest.mark.parametrize("limit", ["nan", "inf", "-inf"])
def test_a_limit_is_a_finite_number(tmp_path, limit):
    file = tmp_path / "v.csv"
    file.write_text("value\n" + "\n".join(str(10 + (i % 3 - 1)) for i in range(30)) + "\n")
    result = run("capability", file, "--lower", limit, "--upper", 20)
    assert isinstance(result.exception, InputError) and "not finite" in result.exception.message


def test_a_study_not_yet_filled_in_says_so_and_does_not_ask_to_delete_its_plan_for_it(tmp_path):
    plan = tmp_path / "study.csv"
    assert run("plan", "--parts", 2, "--operators", "A,B", "--out", plan).exit_code == 0
    refused = run("repeatability", plan).exception
    assert isinstance(refused, InputError)
    assert "line 2, column value: nothing stands there" in refused.message and "Fill it in" in refused.next_step
