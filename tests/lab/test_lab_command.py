"""`rodtrue lab` as a person and a program use it."""

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader
from typer.testing import CliRunner

from records.made_up_jobs import CHARACTERISTICS, job
from rodtrue import __version__
from rodtrue.cli import app
from rodtrue.lab.capability import capability
from rodtrue.lab.charts import individuals
from rodtrue.lab.quantity import Shown
from rodtrue.lab.repeatability import judgement_of
from rodtrue.model.errors import InputError
from rodtrue.model.result import Fixture
from rodtrue.records import open_records
from rodtrue.report.lab_figures import BatchRow, capability_figure, chart_figure

PUBLISHED = Path(__file__).parents[1] / "data" / "published"


def run(*words):
    return CliRunner().invoke(app, ["lab", *map(str, words)], catch_exceptions=True)


def pdf_text(file):
    """What a PDF says, without its line breaks."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(file).pages).split())


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
            records.save(job(number, **changes), tag="last month" if number < 20 else None)
    return place


def test_kept_runs_give_the_values_virtual_ones_left_out(kept):
    chart = document("chart", "--characteristic", "slope", "--records", kept)
    assert len(chart["tracks"][0]["points"]) == 30
    assert chart["tracks"][0]["points"][:5] == pytest.approx([11.0, 11.1, 11.2, 11.3, 11.4])
    tagged = document("chart", "--characteristic", "slope", "--records", kept, "--tag", "last month")
    assert len(tagged["tracks"][0]["points"]) == 20
    virtual = document("limits", "--characteristic", "slope", "--records", kept, "--real")
    assert virtual["n"] == 30


def test_a_batch_report_has_every_characteristic_with_limits(kept, tmp_path):
    result = run("batch", "--records", kept, "--report", tmp_path / "batch.pdf")
    assert result.exit_code == 0, result.output
    rows = result.stdout.split("Ppk\n")[1].split("\n\n")[0].splitlines()
    assert [row.split("  ")[0] for row in rows] == ["baseline", "full pressure", "slope"]
    assert [row.split()[-3:-1] for row in rows] == [["30", "0"]] * 3
    assert "Runs      30, as found; without virtual ones" in result.stdout
    assert max(len(line) for line in result.stdout.splitlines() if "Written" not in line) <= 80
    text = pdf_text(tmp_path / "batch.pdf")
    assert "30, as found; without virtual ones" in text and "30 with rods" in text


@pytest.fixture
def three_bodies(tmp_path):
    """Records of three made-up bodies, the last of them with a slope beyond its limit and no serial number."""
    place = str(tmp_path / "few.sqlite")
    with open_records(place) as records:
        for number, (serial, slope) in enumerate([("VB-101", 11.0), ("VB-102", 11.2), (None, 21.0)]):
            word = "above" if slope > 20 else "within"
            made = [CHARACTERISTICS[0], replace(CHARACTERISTICS[2], value=slope, decision=word)]
            verdict = "nonconforming" if slope > 20 else "conforming"
            records.save(job(number, characteristics=made, body_verdict=verdict), valve_body_serial=serial)
    return place


def test_a_batch_lists_each_body_and_says_that_few_make_no_index(three_bodies, tmp_path):
    result = run("batch", "--records", three_bodies, "--report", tmp_path / "b.pdf")
    assert result.exit_code == 0, result.output
    lines = result.stdout.split("Written")[0].splitlines()
    assert max(map(len, lines)) <= 80
    assert "1. serial VB-101, unit invented unit 0, job 1: CONFORMING" in lines
    assert "3. no serial number kept, unit invented unit 2, job 3: NONCONFORMING" in lines
    # NIST SP 811, appendix B: 1 psi = 6.894757 kPa, 1 in = 25.4 mm; so 1 kPa/mm is 3.684 psi/in.
    (beyond,) = [line for line in lines if line.endswith("above")]
    assert "77.4 ± 0.4 psi/in (21.00 ± 0.10 kPa/mm)" in beyond
    said, text = " ".join(" ".join(lines).split()), pdf_text(tmp_path / "b.pdf")
    for told in (said, text):
        assert "need at least 8 values of a characteristic and were not computed for: baseline (3), slope (3)" in told
        assert "serial VB-102" in told and "18.4 to 73.7 psi/in" in told and "Ppk" not in told


def test_a_batch_of_few_bodies_in_the_shape_that_programs_read(three_bodies):
    found = document("batch", "--records", three_bodies)
    assert [body["valve_body_serial"] for body in found["bodies"]] == ["VB-101", "VB-102", None]
    assert [body["body_verdict"] for body in found["bodies"]] == ["conforming", "conforming", "nonconforming"]
    slope = found["bodies"][2]["characteristics"][1]
    assert (slope["name"], slope["value"], slope["limits"]) == ("slope", 21.0, [5.0, 20.0])
    assert slope["decision"] == "above"
    assert found["characteristics"] == []
    assert [row["name"] for row in found["not_judged"]] == ["baseline", "slope"]


def test_eight_bodies_are_enough_for_an_index_and_seven_are_not(tmp_path):
    place = str(tmp_path / "records.sqlite")
    for number in range(8):
        with open_records(place) as records:
            slope = replace(CHARACTERISTICS[2], value=11.0 + number % 5 / 10)
            records.save(job(number, characteristics=[slope]))
        found = document("batch", "--records", place)
        assert len(found["bodies"]) == number + 1
        assert [row["name"] for row in found["characteristics"]] == (["slope"] if number == 7 else [])


def test_a_batch_whose_runs_have_no_limits_is_listed_too(tmp_path):
    place = str(tmp_path / "records.sqlite")
    with open_records(place) as records:
        free = replace(CHARACTERISTICS[2], limits=(None, None), decision="not judged")
        records.save(job(characteristics=[free], body_verdict=None))
    said = run("batch", "--records", place).stdout
    assert "job 1: NOT JUDGED" in said and "No characteristic has limits in these runs" in said


def test_a_characteristic_that_never_moves_costs_the_others_no_report(tmp_path):
    place = tmp_path / "records.sqlite"
    with open_records(str(place)) as records:
        for number in range(12):
            slope = replace(CHARACTERISTICS[2], value=11.0 + number % 5 / 10)
            records.save(job(number, characteristics=[CHARACTERISTICS[0], slope]))
    result = run("batch", "--records", place, "--report", tmp_path / "batch.pdf")
    assert result.exit_code == 0, result.output
    assert "slope " in result.stdout
    assert "baseline: not judged: all 12 values are 25.5" in result.stdout
    assert "all 12 values are 25.5" in pdf_text(tmp_path / "batch.pdf")


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
    assert "in (0.2" in result.stdout and "mm)" in result.stdout and "(in)^2" in result.stdout
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
    assert "nothing stands in its column value" in refused.message
    assert "Fill it in" in refused.next_step and "--characteristic" in refused.next_step
    assert "delete" not in refused.next_step
    plan.write_text(plan.read_text("utf-8").replace(",\n", ",1.5\n", 1), "utf-8")
    begun = run("repeatability", plan).exception
    assert isinstance(begun, InputError) and "column value: nothing stands there" in begun.message


@pytest.mark.parametrize(("count", "rough"), [(19, True), (20, False)])
def test_limits_set_from_few_points_are_called_rough(tmp_path, count, rough):
    file = tmp_path / "v.csv"
    file.write_text("value\n" + "\n".join(str(10 + (i % 3 - 1)) for i in range(count)) + "\n")
    said = run("chart", file).stdout
    assert (f"{count} points set these limits" in said) is rough


@pytest.mark.parametrize("first", [None, "inch", "metric"])
@pytest.mark.parametrize(
    "words",
    [("batch",), ("capability", "--characteristic", "slope", "--lower", 5, "--upper", 20)],
    ids=["batch", "capability"],
)
def test_a_report_says_each_number_in_both_systems_the_wanted_one_first(kept, tmp_path, words, first):
    pdf = tmp_path / "r.pdf"
    result = run(*words, "--records", kept, "--report", pdf, *(("--units", first) if first else ()))
    assert result.exit_code == 0, result.output
    # The mean of 11.0, 11.1, ... 11.4 kPa/mm; NIST SP 811, appendix B: 1 psi = 6.894757 kPa, 1 in = 25.4 mm.
    # Their standard deviation is 0.144 kPa/mm, 0.53 psi/in: two digits of it end at the second decimal.
    one, other = ("11.20 kPa/mm", "41.26 psi/in")[:: 1 if first == "metric" else -1]
    assert f"{one.split()[1]} (" in result.stdout and f"{other.split()[1]} (" not in result.stdout
    assert f"{one} {other}" in pdf_text(pdf)
    assert "18.42 psi/in" in pdf_text(pdf) and "5 kPa/mm" in pdf_text(pdf)  # a limit
    width = float(PdfReader(pdf).pages[0].mediabox.width)
    assert width == pytest.approx(595 if first == "metric" else 612, abs=1)  # A4, letter


def test_limits_of_a_chart_and_squares_of_a_study_are_in_both_systems(kept, tmp_path):
    pdf = tmp_path / "c.pdf"
    assert run("chart", "--records", kept, "--characteristic", "baseline", "--report", pdf).exit_code == 0
    assert "3.727 psi 25.70 kPa" in pdf_text(pdf)  # the centre line: 25.5 to 25.9 kPa
    assert run("repeatability", PUBLISHED / "aiag_grr.csv", "--values-in", "mm", "--report", pdf).exit_code == 0
    assert "0.137 (in)² 88.4 (mm)²" in pdf_text(pdf)  # the parts' sum of squares; 88.3619 / 25.4^2
    metric = run("repeatability", PUBLISHED / "aiag_grr.csv", "--values-in", "in", "--units", "metric").stdout
    assert "8.0 mm (0.31 in)" in metric  # 0.3132 in x 25.4


@pytest.mark.parametrize(
    ("first", "one", "other", "top"),
    [("inch", "slope / (psi/in)", "slope / (kPa/mm)", 73.68), ("metric", "slope / (kPa/mm)", "slope / (psi/in)", 20)],
)
def test_a_picture_has_a_scale_for_either_system(first, one, other, top):
    values = np.array([11.0 + n % 5 / 10 for n in range(30)])
    shown = Shown("kPa/mm", first)
    figure = capability_figure(BatchRow("slope", values, capability(values, 5.0, 20.0), shown))
    histogram, normal = figure.axes
    assert histogram.get_xlabel() == one == normal.get_ylabel()
    assert [axis.get_xlabel() for axis in histogram.child_axes] == [other]
    assert [axis.get_ylabel() for axis in normal.child_axes] == [other]
    assert histogram.get_xlim()[1] > top > histogram.get_xlim()[1] * 0.8
    track = chart_figure(individuals(values), shown).axes[0]
    assert track.get_ylabel().endswith(one.removeprefix("slope")) and len(track.child_axes) == 1
    unsaid = chart_figure(individuals(values), Shown()).axes[0]
    assert unsaid.get_ylabel() == "value" and not unsaid.child_axes


def test_no_table_shows_more_digits_than_a_study_or_a_few_values_can_tell(tmp_path):
    file, pdf = tmp_path / "v.csv", tmp_path / "r.pdf"
    file.write_text("value\n" + "\n".join(f"{11.0 + (i * 7 % 11) / 10:.7f}" for i in range(30)) + "\n")
    for words in (
        ("repeatability", PUBLISHED / "aiag_grr.csv", "--values-in", "mm"),
        ("chart", file, "--values-in", "kPa"),
        ("capability", file, "--lower", 8, "--upper", 14, "--values-in", "kPa/mm"),
    ):
        told = run(*words, "--report", pdf).stdout.split("Written")[0] + re.sub(r"Number.*", "", pdf_text(pdf))
        shown = re.findall(r"(?<![\w.-])\d+\.\d+(?![\w.-])", told)
        assert shown, words
        for number in set(shown) - {__version__}:
            assert len(number.replace(".", "").lstrip("0")) <= 5, (words, number)
    study = run("repeatability", PUBLISHED / "aiag_grr.csv", "--pool").stdout
    # AIAG, Measurement Systems Analysis, 4th edition, gauge study: 27.86 % of the total spread.
    assert "takes 28 % of the total spread" in " ".join(study.split())
    assert " 100   1.1" in study


def test_a_picture_of_virtual_runs_says_so():
    values = np.array([11.0 + n % 5 / 10 for n in range(30)])
    assert "not a measurement" in chart_figure(individuals(values), Shown(virtual=True)).get_suptitle()
    assert chart_figure(individuals(values), Shown()).get_suptitle() == ""


@pytest.fixture
def mixed(tmp_path):
    """Records of 12 units with rods, 9 bodies alone, and 10 runs of the check standard, one body each time.

    As left, a unit's slope is 3 kPa/mm higher; the units 0 to 5 were not adjusted.
    """
    place = str(tmp_path / "mixed.sqlite")
    with open_records(place) as records:
        for number in range(31):
            alone, standard = 12 <= number < 21, number >= 21
            slope = replace(CHARACTERISTICS[2], value=(30.0 if alone else 11.0) + number % 5 / 10)
            baseline = replace(CHARACTERISTICS[0], value=25.0 + number % 7 / 10)
            made = job(
                number, as_left=not alone and number >= 6, characteristics=[baseline, slope],
                reference="lever_stop" if alone else "curb_idle",
            )  # fmt: skip
            if made.as_left is not None:
                left = [baseline, replace(slope, value=slope.value + 3.0)]
                made = replace(made, as_left=replace(made.as_left, characteristics=left))
            if standard:
                made = replace(made, as_found=replace(made.as_found, unit="standard"))
            records.save(made, tag="check standard" if standard else None)
    return place


@pytest.mark.parametrize(
    "words",
    [
        ("batch",),
        ("capability", "--characteristic", "slope", "--lower", 5),
        ("limits", "--characteristic", "slope"),
        ("chart", "--characteristic", "slope"),
    ],
    ids=lambda words: words[0],
)
def test_travel_at_the_pin_and_at_the_lever_is_never_pooled_in_silence(mixed, words):
    refused = run(*words, "--records", mixed).exception
    assert isinstance(refused, InputError)
    assert "with rods and 9 of valve bodies alone" in refused.message
    assert "--reference lever_stop" in refused.next_step
    assert run(*words, "--records", mixed, "--reference", "lever_stop").exit_code == 0


def test_a_pressure_is_one_quantity_with_rods_and_without(mixed):
    found = document("capability", "--characteristic", "baseline", "--lower", 5, "--records", mixed)
    assert found["n"] == 21
    assert found["kept_runs"]["references"] == {"curb_idle": 12, "lever_stop": 9}


def test_a_batch_says_which_of_a_jobs_runs_it_counts(mixed, tmp_path):
    words = ("batch", "--records", mixed, "--reference", "curb_idle")
    pdf = tmp_path / "b.pdf"

    def slope(*more):
        found = document(*words, *more)
        (row,) = [each for each in found["characteristics"] if each["name"] == "slope"]
        return found["kept_runs"], row["unit"], row["capability"]

    as_found, unit, found = slope()
    assert (as_found["state"], as_found["runs"], found["n"], unit) == ("as_found", 12, 12, "kPa/mm")
    assert found["mean"] == pytest.approx(np.mean([11.0 + n % 5 / 10 for n in range(12)]))
    as_left, _, found = slope("--state", "as-left")
    assert (as_left["state"], as_left["runs"], found["n"]) == ("last", 12, 12)
    assert found["mean"] == pytest.approx(np.mean([11.0 + n % 5 / 10 + (3.0 if n >= 6 else 0.0) for n in range(12)]))
    said = run(*words, "--state", "as-left", "--report", pdf).stdout
    assert "12, as left, each job's last run" in said and "12, as left, each job's last run" in pdf_text(pdf)


def test_the_check_standard_is_no_body_of_a_batch_unless_asked_for(mixed):
    words = ("capability", "--characteristic", "slope", "--lower", 5, "--reference", "curb_idle", "--records", mixed)
    assert document(*words)["n"] == 12
    asked = document(*words, "--tag", "check standard")
    assert asked["n"] == 10 and asked["kept_runs"]["units_again"] == ["standard"]
    assert "Measured more than once, each run counted as another body: standard" in " ".join(
        run(*words, "--tag", "check standard").stdout.split()
    )
    assert (
        document("chart", "--characteristic", "slope", "--reference", "curb_idle", "--records", mixed)["kept_runs"][
            "runs"
        ]
        == 22
    )


CONSTANT = "value\n" + "11.1\n" * 30  # their standard deviation comes out as 4e-15, for rounding
FLAT_GROUPS = "value,subgroup\n" + "".join(f"{11.1 + k / 10:.1f},g{k}\n" * 3 for k in range(6))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (CONSTANT, ("capability", "--lower", 5)),
        (CONSTANT, ("limits",)),
        (CONSTANT, ("chart",)),
        (CONSTANT, ("chart", "--kind", "weighted")),
        (FLAT_GROUPS, ("chart", "--kind", "deviations")),
        (FLAT_GROUPS, ("chart", "--kind", "ranges")),
        (FLAT_GROUPS, ("capability", "--lower", 5)),
    ],
    ids=lambda value: " ".join(map(str, value)) if isinstance(value, tuple) else "",
)
def test_equal_values_are_refused_though_rounding_gives_them_a_spread(tmp_path, text, words):
    file = tmp_path / "v.csv"
    file.write_text(text)
    refused = run(words[0], file, *words[1:]).exception
    assert isinstance(refused, InputError) and "Record more digits" in refused.next_step


def study_of(file, value):
    rows = (f"{p},{o},{t},{value(p, o, t)}" for p in range(4) for o in "AB" for t in (1, 2, 3))
    file.write_text("part,operator,trial,value\n" + "\n".join(rows) + "\n")
    return file


@pytest.mark.parametrize("method", ["anova", "range"])
def test_a_gauge_that_repeats_to_the_digit_is_said_to_have_too_few_digits(tmp_path, method):
    file = study_of(tmp_path / "s.csv", lambda part, operator, trial: 11.1 + part / 10)
    said = " ".join(run("repeatability", file, "--method", method).stdout.split())
    assert "the readings have too few digits to show the repeatability" in said
    assert "more than 1000 kinds of part" in said
    assert document("repeatability", file, "--method", method)["repeatability"] == 0


def test_a_range_study_in_which_no_average_differs_is_refused_in_words(tmp_path):
    file = study_of(tmp_path / "s.csv", lambda part, operator, trial: (part % 2) ^ (operator == "B"))
    refused = run("repeatability", file, "--method", "range").exception
    assert isinstance(refused, InputError) and "averages" in refused.message
    found = document("repeatability", file)
    low, high = found["interval"]["total"]
    assert low <= found["total"] <= high and found["part"] == 0


def test_a_report_that_cannot_be_written_names_no_option_that_is_not_there(tmp_path):
    file = tmp_path / "v.csv"
    file.write_text("value\n" + "\n".join(str(10 + n % 3) for n in range(30)) + "\n")
    refused = run("chart", file, "--report", tmp_path / "no folder" / "c.pdf").exception
    assert isinstance(refused, InputError) and "--out" not in refused.next_step


def test_fixtures_put_together_are_said_and_one_can_be_taken_alone(tmp_path):
    place = str(tmp_path / "records.sqlite")
    with open_records(place) as records:
        for number in range(20):
            slope = replace(CHARACTERISTICS[2], value=11.0 + number % 5 / 10)
            fixture = Fixture("board", None, {"unique_id": f"number {number % 2}"})
            records.save(job(number, characteristics=[slope], fixture=fixture))
    words = ("chart", "--characteristic", "slope", "--records", place)
    said = " ".join(run(*words).stdout.split())
    assert "number 0, number 1 (several together; --fixture takes one)" in said
    alone = run(*words, "--fixture", "number 1").stdout
    assert "several" not in alone and "Runs      10" in alone
