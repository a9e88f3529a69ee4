"""`rodtrue lab` as a person and a program use it."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from rodtrue.cli import app
from rodtrue.model.errors import InputError

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
