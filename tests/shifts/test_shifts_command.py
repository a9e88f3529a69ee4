"""`rodtrue shifts` as a person or a script meets it."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from analysis.made_up_run import MadeUp
from rodtrue.judging import CsvAnswers, encode, judge_file
from rodtrue.model.result import JOB_SCHEMA, Job
from rodtrue.model.samples import STEPS
from shifts.example_unit import changed_text, write_changed

PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"
"""First eight bytes of a PNG file (PNG specification, W3C, section 5.2; from memory)."""


def shifts(*arguments: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "rodtrue", "shifts", *map(str, arguments)], capture_output=True, text=True, timeout=120
    )


def json_of(*arguments: object) -> list[dict[str, Any]]:
    done = shifts(*arguments, "--json")
    assert done.returncode == 0, done.stderr
    return [json.loads(line) for line in done.stdout.splitlines()]


def refusal_of(*arguments: object) -> str:
    done = shifts(*arguments)
    assert done.returncode == 2 and done.stdout == "" and "Traceback" not in done.stderr
    return " ".join(done.stderr.split())


@pytest.fixture(scope="module")
def judged(tmp_path_factory: pytest.TempPathFactory) -> dict[float, Any]:
    """Results of runs made up with a rod error, judged from CSV."""
    folder = tmp_path_factory.mktemp("judged")
    results = {}
    for error_mm in (-3.0, 0.1):
        samples = MadeUp(rod_error_mm=error_mm).samples()
        rows = zip(samples.time_s, samples.travel_mm, samples.pressure_kpa, samples.step, strict=True)
        lines = [f"{t:.4f},{x:.4f},{p:.3f},{STEPS[step]}" for t, x, p, step in rows]
        path = folder / f"{error_mm:g}.csv"
        path.write_text("time_s,travel_mm,pressure_kpa,step\n" + "\n".join(lines) + "\n")
        results[error_mm] = judge_file(path, None, CsvAnswers(baseline="unhooked"))
    return results


def test_help_names_every_option_and_an_example():
    done = shifts("--help")
    assert done.returncode == 0
    for word in (
        "--profile",
        "--rod-error",
        "--interval",
        "--json",
        "--plot",
        "RESULT.json",
        "Example: rodtrue shifts",
    ):
        assert word in done.stdout


def test_person_reads_both_tables_in_eighty_columns_mph_first():
    done = shifts("--rod-error", -3, "--interval", 0.3)
    assert done.returncode == 0 and done.stderr == ""
    assert max(map(len, done.stdout.splitlines())) <= 80
    text = " ".join(done.stdout.split())
    assert "invented example" in text
    assert "-0.118 in (-3.00 mm), short" in text and "earlier at half throttle" in text
    assert "Kickdown up to: 58 mph (93 km/h) with an exact rod; none" in text
    assert text.index("upshift 2-3, mph") < text.index("upshift 2-3, km/h")
    half = [line for line in done.stdout.splitlines() if line.split()[:3] == ["50", "0.886", "22.5"]]
    assert len(half) == 2


def test_a_rod_error_is_taken_in_either_unit_and_the_help_says_so():
    (inches,) = json_of("--rod-error", "-0.118110236 in", "--interval", "0.02 in")
    (metric,) = json_of("--rod-error", "-3 mm", "--interval", "0.508")
    assert inches["rod_error"]["value_mm"] == pytest.approx(metric["rod_error"]["value_mm"]) == -3.0
    assert inches["rod_error"]["interval_mm"] == pytest.approx(metric["rod_error"]["interval_mm"])
    assert "'3 mm' or '0.12 in'" in " ".join(shifts("--help").stdout.split())
    refused = shifts("--rod-error", "3 ft")
    assert refused.returncode == 2 and "'0.12 in'" in refused.stderr


def test_json_holds_both_units_the_interval_and_the_exact_rod():
    (document,) = json_of("--rod-error", 2.0, "--interval", 0.5)
    assert document["schema"] == "rodtrue.shifts/1"
    assert document["profile"] == "example-direct" and document["invented"] is True
    assert document["rod_error"] == {"value_mm": 2.0, "interval_mm": [1.5, 2.5], "at_most": False}
    assert [row["opening"] for row in document["openings"]] == [i / 10 for i in range(11)]
    half = document["openings"][5]
    assert half["travel_in"] == pytest.approx(half["travel_mm"] / 25.4)
    for rod in ("exact", "rod"):
        up = half[rod]["upshift"]
        assert up["kmh"] == pytest.approx(1.609344 * up["mph"])
    assert half["upshift_change"]["kmh"] == pytest.approx(
        half["rod"]["upshift"]["kmh"] - half["exact"]["upshift"]["kmh"]
    )
    low, high = half["intervals"]["upshift"]["kmh"]
    assert low < half["rod"]["upshift"]["kmh"] < high
    assert half["exact"]["kickdown"]["kmh"] is None and half["exact"]["kickdown"]["why_not"]
    assert document["openings"][10]["exact"]["kickdown"]["mph"] == pytest.approx(58, abs=1)
    assert document["part_throttle_ends"]["exact"]["mph"] == pytest.approx(40, abs=1)


def test_without_a_rod_error_only_the_exact_rod_is_shown():
    (document,) = json_of()
    assert document["rod_error"] is None
    assert all(row["rod"] is None and row["upshift_change"] is None for row in document["openings"])
    done = shifts()
    assert done.returncode == 0 and "change" not in done.stdout


def test_stored_result_gives_error_interval_and_kind(judged, tmp_path):
    path = tmp_path / "result.json"
    path.write_bytes(encode(judged[-3.0]))
    (document,) = json_of(path)
    stored = judged[-3.0].rod_error
    assert document["rod_error"]["value_mm"] == stored.value_mm
    assert document["rod_error"]["interval_mm"] == list(stored.interval_mm)
    assert document["source"] == {"file": str(path), "run": None, "fixture_kind": "csv", "reason": None}


def test_job_gives_both_runs_and_one_picture(judged, tmp_path):
    path, picture = tmp_path / "job.json", tmp_path / "job.png"
    path.write_bytes(encode(Job(JOB_SCHEMA, judged[-3.0], judged[0.1])))
    found, left = json_of(path, "--plot", picture)
    assert (found["source"]["run"], left["source"]["run"]) == ("as found", "as left")
    assert found["rod_error"]["value_mm"] < -2 < left["rod_error"]["value_mm"]
    assert picture.read_bytes().startswith(PNG_SIGNATURE)


def test_virtual_result_stays_marked(judged, tmp_path):
    path = tmp_path / "result.json"
    document = json.loads(encode(judged[-3.0]))
    document["fixture"]["kind"] = "virtual"
    path.write_text(json.dumps(document))
    assert "virtual fixture, not a measurement" in shifts(path).stdout
    assert json_of(path)[0]["source"]["fixture_kind"] == "virtual"


def test_bound_is_taken_as_the_highest_that_remains_possible(judged, tmp_path):
    path = tmp_path / "result.json"
    document = json.loads(encode(judged[-3.0]))
    document["rod_error"] |= {"value_mm": None, "interval_mm": None, "at_most_mm": -12.0}
    path.write_text(json.dumps(document))
    (predicted,) = json_of(path)
    assert predicted["rod_error"] == {"value_mm": -12.0, "interval_mm": None, "at_most": True}
    text = " ".join(shifts(path).stdout.split())
    assert "or shorter still" in text and "at least" in text


def test_result_without_a_rod_error_shows_the_exact_rod_and_the_reason(judged, tmp_path):
    path = tmp_path / "result.json"
    document = json.loads(encode(judged[-3.0]))
    document |= {"rod_error": None, "verdict": "no result", "reason": "the lever is not connected"}
    path.write_text(json.dumps(document))
    done = shifts(path)
    assert done.returncode == 0 and "the lever is not connected" in " ".join(done.stdout.split())
    assert json_of(path)[0]["rod_error"] is None


def test_result_under_a_profile_of_ones_own_needs_its_file(judged, tmp_path):
    path = tmp_path / "result.json"
    document = json.loads(encode(judged[-3.0]))
    document["profile"] = "my-unit"
    path.write_text(json.dumps(document))
    refusal = refusal_of(path)
    assert "'my-unit'" in refusal and "--profile" in refusal
    own = write_changed(tmp_path / "my-unit.toml", ('name = "example-direct"', 'name = "my-unit"'))
    assert json_of(path, "--profile", own)[0]["profile"] == "my-unit"


def test_missing_speed_is_a_dash_with_its_reason(tmp_path):
    weak = write_changed(
        tmp_path / "weak.toml",
        ("shaft_rpm = [0.0, 925.0, 3780.0]", "shaft_rpm = [0.0, 925.0, 2700.0]"),
        ("pressure_kpa = [0.0, 150.0, 620.0]", "pressure_kpa = [0.0, 150.0, 360.0]"),
    )
    done = shifts("--profile", weak, "--rod-error", 3, "--plot", tmp_path / "weak.png")
    assert done.returncode == 0
    rows = [line.split() for line in done.stdout.splitlines() if line.split()[:1] == ["100"]]
    assert [row[3:6] for row in rows] == [["-", "-", "-"]] * 2
    assert "goes up at no speed of the governor curve" in " ".join(done.stdout.split())


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--rod-error", "500"], ["500 mm", "whole travel", "45 mm"]),
        (["--rod-error", "nan"], ["nan mm"]),
        (["--rod-error", "1", "--interval", "inf"], ["inf mm"]),
        (["--rod-error", "1", "--interval", "-1"], ["--interval"]),
        (["--interval", "1"], ["--rod-error"]),
        (["--rod-error", "three"], ["--rod-error"]),
        (["--profile", "no-such"], ["no-such", "example-direct"]),
        (["no-such.json"], ["no-such.json", "cannot be read"]),
        (["no-such.json", "--rod-error", "1"], ["either"]),
        (["--plot", "no-such-folder/shifts.png"], ["no-such-folder", "cannot be written"]),
        (["--plot", "shifts.wrong"], ["shifts.wrong", ".png"]),
    ],
)
def test_bad_usage_is_refused_in_words(arguments, words):
    refusal = refusal_of(*arguments)
    for word in words:
        assert word in refusal


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (b"", "not one JSON document"),
        (b"time_s,travel_mm\n0,0\n", "not one JSON document"),
        (b"\xff\xfe\x00", "not one JSON document"),
        (b'{"schema": "rodtrue.result/1"}\n{"schema": "rodtrue.result/1"}\n', "not one JSON document"),
        (b"[1, 2]", "schema is None"),
        (b'{"schema": "rodtrue.error/1"}', "'rodtrue.error/1'"),
        (b'{"schema": "rodtrue.result/1"}', "profile"),
        (b'{"schema": "rodtrue.job/1", "as_found": 3, "as_left": null}', "field as_found"),
    ],
)
def test_file_that_is_no_result_is_refused_by_what_is_wrong_with_it(tmp_path, content, word):
    path = tmp_path / "given.json"
    path.write_bytes(content)
    refusal = refusal_of(path)
    assert str(path) in refusal and word in refusal


def test_profile_without_shift_data_is_refused_with_what_to_add(tmp_path):
    path = tmp_path / "without.toml"
    text = changed_text()
    path.write_text(text[: text.index("[shifts.throttle]")])
    refusal = refusal_of("--profile", path, "--rod-error", 1)
    assert "no section [shifts]" in refusal and "service information" in refusal


def test_module_is_listed_among_the_commands():
    done = subprocess.run([sys.executable, "-m", "rodtrue", "--help"], capture_output=True, text=True, timeout=120)
    commands = [line.split()[0] for line in done.stdout.splitlines() if line.startswith("  ") and line.split()]
    assert commands.index("hinge") < commands.index("shifts") < commands.index("fixture")


def test_picture_is_written_for_the_options_too(tmp_path: Path):
    picture = tmp_path / "shifts.png"
    done = shifts("--rod-error", 2, "--interval", 1, "--plot", picture)
    assert done.returncode == 0 and str(picture) in done.stderr
    assert picture.read_bytes().startswith(PNG_SIGNATURE)
