"""`rodtrue records` as a person uses it."""

import csv
import json
import shlex
import sqlite3

import msgspec
import pytest
from pypdf import PdfReader
from typer.testing import CliRunner

from records.made_up_jobs import job
from rodtrue.cli import app
from rodtrue.cli.records_show import Compared, comparison_lines
from rodtrue.model.errors import InputError
from rodtrue.records import open_records
from rodtrue.records.keeping import keep


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.setenv("RODTRUE_DATA", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)

    def invoke(*words, **more):
        return CliRunner().invoke(app, ["records", *map(str, words)], **more)

    return invoke


def stored(folder, number, **changes):
    path = folder / f"job{number}.json"
    path.write_bytes(msgspec.json.encode(job(number, **changes)))
    return path


def test_add_list_show_and_the_same_job_out_again(run, tmp_path):
    file = stored(tmp_path, 1)
    assert "kept as job 1" in run("add", file).stdout
    assert "was there already as job 1" in run("add", file).stdout
    listed = run("list").stdout
    assert " left " in listed and "invented unit 1" in listed
    assert "-0.096" in listed
    assert max(len(line) for line in listed.splitlines()) <= 80
    shown = run("show", 1).stdout
    assert "SHORT" in shown
    assert "CORRECT" in shown
    run("show", 1, "--out", tmp_path / "again.json")
    assert json.loads((tmp_path / "again.json").read_text()) == json.loads(file.read_text())


def test_a_list_can_be_narrowed_by_day(run, tmp_path):
    run("add", stored(tmp_path, 1, taken_at="2026-09-30T12:00:00+00:00"), stored(tmp_path, 2))
    rows = [json.loads(line) for line in run("list", "--since", "2026-10-01", "--json").stdout.splitlines()]
    assert {row["unit"] for row in rows} == {"invented unit 2"}
    rows = [json.loads(line) for line in run("list", "--until", "2026-09-30", "--json").stdout.splitlines()]
    assert {row["unit"] for row in rows} == {"invented unit 1"}
    assert isinstance(run("list", "--since", "yesterday").exception, InputError)
    for option, day in (("--since", "0001-01-01"), ("--until", "9999-12-31")):
        refused = run("list", option, day).exception
        assert isinstance(refused, InputError) and f"{option} {day}: no date" in refused.message


@pytest.mark.parametrize("taken_at", ["yesterday", "0001-01-01T00:00:00+14:00"])
def test_a_time_that_is_none_or_out_of_reach_hides_no_other_run(run, tmp_path, taken_at):
    """As a job of a backup may have: only job files are held to a time."""
    with open_records(None) as records:
        records.save(job(1, taken_at=taken_at))
        records.save(job(2))
    listed = run("list")
    assert listed.exit_code == 0 and "invented unit 1" in listed.stdout and "invented unit 2" in listed.stdout
    assert run("show", 1).exit_code == 0


def test_a_file_of_records_with_a_question_mark_is_refused_where_another_would_be_written(run, tmp_path):
    asked = run("list", "--records", "my?records.sqlite")
    assert isinstance(asked.exception, InputError) and "question mark" in asked.exception.message
    assert not (tmp_path / "my").exists()


def test_a_list_cut_short_says_so(run, tmp_path):
    run("add", *[stored(tmp_path, number) for number in range(4)])
    assert "3 of 8 runs" in run("list", "--limit", 3).stdout


def test_compare_shows_as_found_beside_as_left(run, tmp_path):
    run("add", stored(tmp_path, 1), stored(tmp_path, 2, as_left=False))
    shown = run("compare", 1).stdout
    assert "-0.096 in (-2.44 mm)" in shown
    assert "+0.001 in (+0.02 mm)" in shown
    assert max(len(line) for line in shown.splitlines()) <= 80
    assert isinstance(run("compare", 2).exception, InputError)
    rows = json.loads(run("compare", 1, 2, "--json").stdout)["rows"]
    (slope,) = [row for row in rows if row["name"] == "slope"]
    assert slope["values"] == [11.1, 11.1] and slope["expanded_uncertainties"] == [0.1, 0.1]
    run("add", stored(tmp_path, 3, as_left=False, reference="lever_stop"))
    assert ["reference", "curb", "idle", "lever", "stop"] in map(str.split, run("compare", 1, 3).stdout.splitlines())
    assert "-2.44 mm (-0.096 in)" in run("compare", 1, "--units", "metric").stdout


def test_one_bad_file_stops_none_of_the_others(run, tmp_path):
    (tmp_path / "bad.json").write_text("{}")
    result = run("add", tmp_path / "bad.json", stored(tmp_path, 1))
    assert result.exit_code == 2
    assert "kept as job 1" in result.stdout


def test_deleting_needs_the_word(run, tmp_path):
    run("add", stored(tmp_path, 1))
    assert isinstance(run("delete", 1, input="yes\n").exception, InputError)
    assert isinstance(run("delete", 1, "--confirm", "").exception, InputError)
    assert " found " in run("list").stdout
    assert run("delete", 1, input="delete\n").exit_code == 0
    assert "No runs" in run("list").stdout


def test_backup_and_restore(run, tmp_path):
    run("add", stored(tmp_path, 1))
    assert "1 jobs" in run("backup", "all.backup").stdout
    assert "1 jobs put back" in run("restore", "all.backup", "--records", "other.sqlite").stdout


def test_the_report_of_a_kept_job_names_the_valve_bodys_serial_number(run, tmp_path):
    run("add", stored(tmp_path, 1), "--serial", "VB-77")
    run("add", stored(tmp_path, 2))
    for number in (1, 2):
        assert run("report", number).exit_code == 0
    first, second = (PdfReader(tmp_path / f"job-{number}.pdf").pages[0].extract_text() for number in (1, 2))
    assert "VB-77" in first and "serial number" in first
    assert "serial number" not in second
    file = tmp_path / "job2.json"
    CliRunner().invoke(app, ["report", str(file), "--serial", "VB-78"])
    assert "VB-78" in PdfReader(file.with_suffix(".pdf")).pages[0].extract_text()


def test_a_report_of_a_kept_job(run, tmp_path):
    run("add", stored(tmp_path, 1))
    result = run("report", 1)
    assert result.exit_code == 0, result.output
    assert (tmp_path / "job-1.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize("number", [0, -1, 2**31, 10**20])
def test_a_number_that_no_job_can_have_is_named_too(run, number):
    assert f"no job {number}" in str(run("show", "--", number).exception)


@pytest.mark.parametrize("words", [("show", 7), ("compare", 7), ("delete", 7), ("report", 7)])
def test_a_job_that_is_not_there_is_named(run, words):
    assert "no job 7" in str(run(*words).exception)


def test_compared_values_near_nought_have_no_sign_and_a_rod_error_has_one():
    rows = [
        Compared("return_error", "kPa", [-0.01, 0.4], [None, None]),
        Compared("friction", "mm", [0.36, -0.001], [None, None]),
        Compared("rod_error", "mm", [0.5, -2.43], [None, None]),
    ]
    _, pressure, friction, error = comparison_lines(["1 as found", "1 as left"], rows)
    assert pressure.split("  ")[-1].strip() == "0.1 psi (0.4 kPa)" and "-0" not in pressure
    assert "0.0142 in (0.36 mm)" in friction and "+" not in friction and "-0" not in friction
    assert "+0.020 in (+0.50 mm)" in error and "-0.096 in (-2.43 mm)" in error


def test_what_is_compared_is_told_to_the_digits_that_its_uncertainty_warrants():
    rows = [
        Compared("return_error", "kPa", [0.20, 0.26], [0.04, 0.04]),
        Compared("ripple", "kPa", [0.9, 1.1], [0.2, 3.0]),
        Compared("slope", "kPa/mm", [11.13, 11.30], [0.20, 0.20]),
        Compared("friction", "mm", [0.271, 0.280], [0.002, 0.002]),
    ]
    _, returned, ripple, slope, friction = comparison_lines(["1 as found", "1 as left"], rows)
    assert returned.split("  ")[-1].strip() == "0.038 psi (0.26 kPa)" and "0.029 psi (0.20 kPa)" in returned
    assert "0.13 psi (0.9 kPa)" in ripple and ripple.split("  ")[-1].strip() == "0.2 psi (1.1 kPa)"
    assert "41.0 psi/in (11.13 kPa/mm)" in slope and "41.6 psi/in (11.30 kPa/mm)" in slope
    assert "0.01067 in (0.271 mm)" in friction
    (_, metric, *_) = comparison_lines(["1 as found", "1 as left"], rows, "metric")
    assert "0.26 kPa (0.038 psi)" in metric
    assert max(map(len, comparison_lines(["1 as found", "1 as left"], rows))) <= 80


def test_a_list_cut_short_says_how_to_see_the_rest_and_an_empty_one_how_to_fill_it(run, tmp_path):
    empty = run("list").stdout
    assert "No runs are kept that match." in empty and "records add" in empty
    for number in (1, 2):
        run("add", stored(tmp_path, number))
    assert "The newest 1 of 4 runs; --limit shows more, --until older ones." in run("list", "--limit", 1).stdout
    assert "records add" not in run("list", "--unit", "nobody's").stdout


def test_days_the_wrong_way_round_are_said(run):
    result = run("list", "--since", "2026-11-30", "--until", "2026-11-01")
    assert isinstance(result.exception, InputError) and "is not before" in result.exception.message


@pytest.mark.parametrize("command", ["list", "export"])
def test_every_filter_is_offered_with_its_words(command):
    said = CliRunner().invoke(app, ["records", command, "--help"]).stdout
    for option in ("--since", "--until", "--unit", "--customer", "--profile", "--verdict", "--fixture", "--tag"):
        assert option in said
    assert "--operator" in said and "--serial" in said
    assert "--body-verdict" in said and "--reference" in said
    assert ("--limit" in said) is (command == "list")


def test_a_list_can_be_narrowed_to_bodies_alone_and_by_their_verdict(run, tmp_path):
    alone = {"reference": "lever_stop", "verdict": "no result", "rod_error": None}
    run("add", stored(tmp_path, 1), stored(tmp_path, 2, body_verdict="nonconforming", as_left=False, **alone))
    run("add", stored(tmp_path, 3, as_left=False, **alone))
    listed = run("list", "--body-verdict", "nonconforming").stdout
    assert "invented unit 2" in listed and "valve body nonconforming" in listed
    assert "invented unit 1" not in listed and "invented unit 3" not in listed
    alone_only = run("list", "--reference", "lever_stop").stdout
    assert "invented unit 1" not in alone_only and "invented unit 3" in alone_only
    run("export", "bodies.csv", "--body-verdict", "nonconforming")
    assert len((tmp_path / "bodies.csv").read_text().splitlines()) == 2


def test_a_serial_number_an_order_and_what_a_job_was_kept_for_are_shown_found_and_exported(run, tmp_path):
    run("add", stored(tmp_path, 1), "--serial", "VB-77", "--tag", "check standard")
    run("add", stored(tmp_path, 2))
    shown = run("show", 1).stdout
    assert "order: order 1" in shown and "serial number: VB-77" in shown and "kept for: check standard" in shown
    assert {json.loads(line)["job"] for line in run("list", "--unit", "vb-7", "--json").stdout.splitlines()} == {1}
    assert "serial number: VB-77" in run("delete", 1, input="no\n").stdout
    run("export", "runs.csv")
    rows = list(csv.DictReader((tmp_path / "runs.csv").read_text().splitlines()))
    assert {(row["job"], row["order"], row["valve_body_serial"]) for row in rows} == {
        ("1", "order 1", "VB-77"),
        ("2", "order 2", ""),
    }


def test_a_list_shows_who_measured_what_for_where_that_was_said_and_finds_it(run, tmp_path):
    run("add", stored(tmp_path, 1), "--serial", "VB-77", "--tag", "check standard")
    run("add", stored(tmp_path, 2, operator="Somebody Else with a long name " * 3))
    run("add", stored(tmp_path, 3, operator=None))
    listed = run("list").stdout
    lines = listed.splitlines()
    assert max(map(len, lines)) <= 80
    assert lines.count("       operator A.B., serial VB-77, kept for check standard") == 1, "once for a job"
    of_third = next(place for place, line in enumerate(lines) if "found invented unit 3" in line)
    assert "invented unit 2" in lines[of_third + 1], "nothing was said of it, nothing is shown"
    for words in (("--serial", "vb-7"), ("--operator", "a.b"), ("--tag", "check standard")):
        found = [json.loads(line)["job"] for line in run("list", *words, "--json").stdout.splitlines()]
        assert found == [1, 1], words


def test_an_export_has_the_uncertainty_of_each_characteristic(run, tmp_path):
    run("add", stored(tmp_path, 1, as_left=False))
    run("export", "runs.csv")
    (row,) = csv.DictReader((tmp_path / "runs.csv").read_text().splitlines())
    assert (row["slope_kpa_per_mm"], row["slope_expanded_uncertainty_kpa_per_mm"]) == ("11.1", "0.1")
    assert (row["friction_mm"], row["friction_expanded_uncertainty_mm"]) == ("0.26", "")


def test_a_job_not_kept_is_kept_later_by_the_command_that_is_told_with_its_tag_and_serial(run, tmp_path):
    file = stored(tmp_path, 1)
    there = file.rename(tmp_path / "my job.json")
    broken, mended = tmp_path / "no database.sqlite", tmp_path / "mended.sqlite"
    broken.write_text("no database at all" * 100)
    said = keep(job(1), there, str(broken), "check standard", "VB 77")
    words = shlex.split(said.split("later: rodtrue records ")[1])
    broken.rename(tmp_path / "aside")
    assert "kept as job 1" in run(*words).stdout
    broken.rename(mended)
    with open_records(str(mended)) as records:
        kept = records.kept_job(1)
    assert (kept.tag, kept.valve_body_serial) == ("check standard", "VB 77")


def test_another_programs_database_is_named_as_such_and_left_alone(run, tmp_path):
    other = sqlite3.connect(tmp_path / "other.sqlite")
    other.execute("CREATE TABLE jobs (x)")
    other.commit()
    refused = run("list", "--records", "other.sqlite").exception
    assert isinstance(refused, InputError) and "another program's tables" in refused.message
    assert other.execute("SELECT name FROM sqlite_master").fetchall() == [("jobs",)]
    other.close()
