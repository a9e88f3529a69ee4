"""`rodtrue judge`, `hinge` and `profile` as a person or a script meets them."""

import csv
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from analysis.made_up_run import MadeUp
from rodtrue.model.samples import STEPS

PUBLISHED = Path(__file__).parents[1] / "data" / "published"
HEADING = "time_s,travel_mm,pressure_kpa,step\n"


def rodtrue(*arguments: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "rodtrue", *map(str, arguments)], capture_output=True, text=True, timeout=120
    )


def write(path: Path, run: MadeUp) -> Path:
    samples = run.samples()
    with path.open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["note", "time_s", "travel_mm", "pressure_kpa", "step"])
        for t, x, p, step in zip(samples.time_s, samples.travel_mm, samples.pressure_kpa, samples.step, strict=True):
            writer.writerow(["ignored", f"{t:.4f}", f"{x:.4f}", f"{p:.3f}", STEPS[step]])
    return path


@pytest.fixture(scope="module")
def short_csv(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(tmp_path_factory.mktemp("runs") / "short.csv", MadeUp(rod_error_mm=-3.0))


def test_json_holds_the_fixed_fields(short_csv):
    done = rodtrue("judge", short_csv, "--json")
    assert done.returncode == 0 and done.stderr == ""
    (line,) = done.stdout.splitlines()
    result = json.loads(line)
    assert set(result) == {
        "schema", "file", "profile", "fixture", "taken_at", "operator", "unit", "capture", "versions", "drive",
        "reference", "rod_unhooked", "verdict", "reason", "body_verdict", "rod_error", "probability", "settle",
        "lever_start_mm", "opening_onset_mm", "closing_onset_mm", "friction_mm", "lag_s", "characteristics",
        "strokes", "correction", "plot", "budget", "findings", "cautions",
        "expected_effect", "profile_details", "checked", "adjusted",
    }  # fmt: skip
    assert result["schema"] == "rodtrue.result/1"
    assert result["verdict"] == "short"
    assert result["fixture"]["kind"] == "csv"
    assert len(result["capture"]["sha256"]) == 64
    error = result["rod_error"]
    assert error["interval_mm"][0] <= -3.0 <= error["interval_mm"][1]
    assert error["limits_mm"] == [-0.5, 1.0] and error["at_most_mm"] is None
    assert set(error["statistical"]) == {"standard_uncertainty_mm", "degrees_of_freedom", "interval_mm"}
    assert result["correction"]["direction"] == "lengthen"
    assert sum(result["probability"].values()) == pytest.approx(1)


def test_a_person_sees_words_both_unit_systems_and_lines_of_eighty(short_csv):
    done = rodtrue("judge", short_csv, "--budget")
    assert done.returncode == 0
    body = done.stdout.splitlines()[1:]  # the first line names the file, whatever its length
    assert max(map(len, body)) <= 80
    text = " ".join(done.stdout.split())
    assert "SHORT" in text and "Lengthen the rod by" in text
    assert "in (" in text and "mm)" in text and "psi" in text and "kPa" in text
    assert "stroke to stroke" in text and "travel nonlinearity" in text


@pytest.mark.parametrize("workers", [1, 2])
def test_a_refused_file_is_told_and_the_others_are_judged(short_csv, tmp_path, workers):
    bad = tmp_path / "bad.csv"
    bad.write_text(HEADING + "0,0,abc,zero\n")
    done = rodtrue("judge", bad, short_csv, tmp_path / "none.csv", "--json", "--workers", workers)
    assert done.returncode == 2
    first, second, third = map(json.loads, done.stdout.splitlines())
    assert first["schema"] == "rodtrue.error/1" and first["file"] == str(bad)
    assert "line 2, column pressure_kpa: 'abc'" in first["error"] and first["next"]
    assert second["verdict"] == "short"
    assert "no such file" in third["error"]
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "the file is empty"),
        (HEADING, "a heading but no rows"),
        ("time_s,travel_mm,step\n0,0,zero\n", "no column pressure_kpa"),
        ("time_s,travel_mm,pressure_kpa\n0,0,1\n", "no column step"),
        (HEADING + "0,1,nan,zero\n", "line 2, column pressure_kpa: 'nan'"),
        (HEADING + "0,1,2,zero\n1,inf,2,zero\n", "line 3, column travel_mm: 'inf'"),
        (HEADING + "0,1,2,zero\n0,1,2,zero\n", "line 3, column time_s: 0 s repeats"),
        (HEADING + "1,1,2,zero\n0.5,1,2,zero\n", "line 3, column time_s: 0.5 s goes back"),
        (HEADING + "0,1,2,warmup\n", "line 2, column step: unknown step 'warmup'"),
        (HEADING + "0,1\n", "line 2: 2 columns, the heading has 4"),
        (HEADING + "0,1,24,8,zero\n", "line 2: 5 columns, the heading has 4"),
        ("step,time_s,travel_mm,pressure_kpa\nzero,0,1,24,8\n", "line 2: 5 columns, the heading has 4"),
        ("time_s,time_s,travel_mm,pressure_kpa,step\n0,0,1,2,zero\n", "time_s stands there twice"),
        ("RODTRUE CAPTURE of something else\n", "no column"),
        (HEADING + "0,1e300,2,zero\n", "line 2, column travel_mm: 1e300 is beyond"),
        (HEADING + "0,1_0,2,zero\n", "line 2, column travel_mm: '1_0'"),
        (HEADING + "".join(f"{i}e-9,1,2,sweep\n" for i in range(9)), "does not look like seconds"),
        (HEADING + "".join(f"{i * 60},1,2,sweep\n" for i in range(9)), "does not look like seconds"),
        (b"\xff\xfe\x00\x01,", "cannot be read"),
    ],
)
def test_bad_csv_is_refused_with_file_line_and_column(tmp_path, text, says):
    path = tmp_path / "bad.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    done = rodtrue("judge", path)
    assert done.returncode == 2
    assert says in done.stderr and "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) >= 2, "what happened, and what to do next"


def test_readable_but_useless_is_no_result_and_exit_zero(tmp_path):
    path = tmp_path / "still.csv"
    path.write_text(HEADING + "".join(f"{i},1,2,sweep\n" for i in range(20)))
    done = rodtrue("judge", path, "--json")
    assert done.returncode == 0
    assert json.loads(done.stdout)["verdict"] == "no result"


def test_answers_about_the_baseline_reach_the_verdict(tmp_path):
    path = write(tmp_path / "long.csv", MadeUp(rod_error_mm=2.0, connected=True))
    assert json.loads(rodtrue("judge", path, "--json").stdout)["verdict"] == "correct", "the trap, unanswered"
    for answer, value in (("connected", False), ("unknown", None)):
        result = json.loads(rodtrue("judge", path, "--baseline", answer, "--json").stdout)
        assert result["verdict"] == "undecided" and result["rod_unhooked"] is value
        assert "baseline_not_proven" in [finding["code"] for finding in result["findings"]]


def test_reference_and_drive_of_a_csv(short_csv):
    result = json.loads(rodtrue("judge", short_csv, "--reference", "lever_stop", "--json").stdout)
    assert (result["verdict"], result["reason"]) == ("no result", "no curb-idle reference")
    result = json.loads(rodtrue("judge", short_csv, "--drive", "slide", "--json").stdout)
    assert "zero transfer to the slide" in [row["name"] for row in result["budget"]]


def test_unknown_option_and_profile_end_with_two(short_csv):
    assert rodtrue("judge", short_csv, "--nonsense").returncode == 2
    done = rodtrue("judge", short_csv, "--profile", "no-such")
    assert done.returncode == 2 and "example-direct" in done.stderr


# --- hinge


def test_hinge_prints_the_fixed_fields_for_published_data():
    # R segmented, data set `stagnant`; exact least squares.
    done = rodtrue("hinge", PUBLISHED / "stagnant_28.csv", "--x", "x", "--y", "y", "--json")
    fit = json.loads(done.stdout)
    assert set(fit) == {
        "break_point", "standard_error", "interval", "slope_left", "slope_right", "intercept", "rss", "n",
    }  # fmt: skip
    assert fit["break_point"] == pytest.approx(0.0411057845921, rel=1e-9) and fit["n"] == 28


def test_hinge_for_a_person_and_level_left_line():
    done = rodtrue("hinge", PUBLISHED / "hinge_flat_ramp.csv", "--x", "x", "--y", "y", "--flat-left")
    assert done.returncode == 0 and "0.388648" in done.stdout


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("x,y\n1,1\n2,2\n3,3\n", "at least 4"),
        ("x,y\n1,1e200\n", "beyond"),
        ("x,y\n1,a\n", "column y"),
        ("x,z\n1,1\n", "no column y"),
    ],
)
def test_hinge_refuses_what_holds_no_break(tmp_path, text, says):
    path = tmp_path / "data.csv"
    path.write_text(text)
    done = rodtrue("hinge", path, "--x", "x", "--y", "y")
    assert done.returncode == 2 and says in done.stderr


# --- profile


def test_new_profile_is_in_order_and_never_overwrites(tmp_path):
    path = tmp_path / "unit.toml"
    assert rodtrue("profile", "new", "bench-unit", "--out", path).returncode == 0
    done = rodtrue("profile", "check", path)
    told = " ".join(done.stdout.split())  # the path decides where the line is wrapped
    assert done.returncode == 0 and "in order" in told and "invented" in told
    again = rodtrue("profile", "new", "bench-unit", "--out", path)
    assert again.returncode == 2 and "exists already" in again.stderr
    assert json.loads(rodtrue("profile", "show", path, "--json").stdout)["name"] == "bench-unit"


def test_list_marks_the_example_as_invented():
    assert "example-direct" in rodtrue("profile", "list").stdout
    assert "invented" in rodtrue("profile", "list").stdout


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("rod_short_mm = 0.5", "rod_short_mm = -1"), "limits.rod_short_mm"),
        (("rod_short_mm = 0.5", 'rod_short_mm = "wide"'), "limits.rod_short_mm"),
        (("rod_short_mm = 0.5", "rod_shrt_mm = 0.5"), "rod_sh"),
        (("baseline_kpa = [5.0, 60.0]", "baseline_kpa = [60.0, 5.0]"), "limits.baseline_kpa"),
        (("sweeps = 6", "sweeps = 2"), "plan"),
        (('layout = "direct"', 'layout = "sideways"'), "layout"),
        (("rodtrue.profile/1", "rodtrue.profile/9"), "schema"),
        (("[limits]", "[limits"), "TOML"),
        (("rest_mm = 0.02", "rest_mm = inf"), "instrument.rest_mm"),
    ],
)
def test_bad_profile_is_refused_with_file_and_field(tmp_path, change, says):
    good = rodtrue("profile", "show", "example-direct").stdout
    assert change[0] in good
    path = tmp_path / "bad.toml"
    path.write_text(good.replace(*change, 1))
    done = rodtrue("profile", "check", path)
    assert done.returncode == 2
    assert says in done.stderr and "bad.toml" in done.stderr and "Traceback" not in done.stderr


def test_every_command_has_help_with_an_example():
    listed = rodtrue("--help")
    assert listed.returncode == 0
    for command in (
        ["judge"],
        ["hinge"],
        ["profile", "list"],
        ["profile", "show"],
        ["profile", "new"],
        ["profile", "check"],
    ):
        done = rodtrue(*command, "--help")
        assert done.returncode == 0 and "Example: rodtrue" in " ".join(done.stdout.split())


def test_help_loads_no_heavy_library():
    heavy = "numpy scipy matplotlib construct rich"
    code = f"import sys, rodtrue.cli; print([m for m in {heavy.split()} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.stdout.strip() == "[]"


def test_installed_command_answers():
    command = shutil.which("rodtrue", path=str(Path(sys.executable).parent))
    assert command is not None
    done = subprocess.run([command, "--version"], capture_output=True, text=True, timeout=60)
    assert done.stdout.startswith("rodtrue ")
