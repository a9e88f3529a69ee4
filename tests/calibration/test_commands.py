"""`rodtrue calibrate` and `rodtrue judge --calibration` as a person meets them."""

import json
import signal
from dataclasses import replace
from pathlib import Path

import pytest

from cli.commands import LONGEST_S, rodtrue, running
from rodtrue.calibration.files import load_calibration, save_calibration
from rodtrue.calibration.points_file import Points, append_point

DATA = Path(__file__).parents[1] / "data"
VERSION_1 = DATA / "calibration" / "format_version_1.json"
PUBLISHED = DATA / "published"


def test_fit_prints_the_agreed_json() -> None:
    # JCGM 100:2008, H.3.
    name = PUBLISHED / "gum_h3_thermometer.csv"
    ended = rodtrue("calibrate", "fit", name, "--x", "t_k_degC", "--y", "b_k_degC", "--reference-x", 20, "--json")
    told = json.loads(ended.out)
    assert ended.code == 0
    assert set(told) == {
        "coefficients", "standard_errors", "correlation", "residual_sd", "r_squared", "degrees_of_freedom",
    }  # fmt: skip
    assert [round(c, 4) for c in told["coefficients"]] == [-0.1712, 0.0022]
    assert told["correlation"] == pytest.approx(-0.930, abs=0.0005)
    assert told["degrees_of_freedom"] == 9


def test_fit_says_what_a_reading_at_any_point_is_worth() -> None:
    # JCGM 100:2008, H.3.4: b(30 degC) = -0.1494 degC, its standard uncertainty 0.0041 degC.
    name = PUBLISHED / "gum_h3_thermometer.csv"
    columns = ["--x", "t_k_degC", "--y", "b_k_degC", "--reference-x", 20, "--at", 30]
    told = json.loads(rodtrue("calibrate", "fit", name, *columns, "--json").out)
    assert told["at"]["value"] == pytest.approx(-0.1494, abs=5e-5)
    assert told["at"]["curve_uncertainty"] == pytest.approx(0.0041, abs=5e-5)
    squared = told["at"]["curve_uncertainty"] ** 2 + told["residual_sd"] ** 2
    assert told["at"]["further_uncertainty"] == pytest.approx(squared**0.5)
    shown = rodtrue("calibrate", "fit", name, *columns).out
    assert "0.004" in shown and "beyond the points" in shown


def test_fit_without_an_intercept_says_nothing_of_one() -> None:
    # NIST StRD, NoInt1.
    ended = rodtrue(
        "calibrate", "fit", PUBLISHED / "nist_noint1.csv", "--x", "x", "--y", "y", "--no-intercept", "--json"
    )
    told = json.loads(ended.out)
    assert told["coefficients"] == [0.0, pytest.approx(2.07438016528926)]
    assert told["standard_errors"] == [0.0, pytest.approx(0.0165289256198347)]
    assert told["r_squared"] == pytest.approx(0.999365492298663)
    assert told["correlation"] is None


def test_fit_of_a_quadratic_gives_a_matrix_and_draws_its_residuals(tmp_path: Path) -> None:
    plot = tmp_path / "left.png"
    ended = rodtrue(
        "calibrate",
        "fit",
        PUBLISHED / "nist_norris.csv",
        "--x",
        "x",
        "--y",
        "y",
        "--degree",
        2,
        "--json",
        "--plot",
        plot,
    )
    matrix = json.loads(ended.out)["correlation"]
    assert [len(row) for row in matrix] == [3, 3, 3]
    assert [matrix[k][k] for k in range(3)] == pytest.approx([1.0, 1.0, 1.0])
    assert plot.read_bytes().startswith(b"\x89PNG")


def test_fit_tells_a_person_the_direction_and_the_sensors_figures() -> None:
    ended = rodtrue(
        "calibrate", "fit", PUBLISHED / "sensor_linearity_case.csv", "--x", "input_percent", "--y", "output_mA",
        "--cycle", "cycle", "--direction", "direction", "--full-scale", 16,
    )  # fmt: skip
    assert ended.code == 0
    for said in ("output_mA regressed on input_percent", "0.3906", "0.2188", "0.2500", "0.0500"):
        assert said in ended.out


@pytest.mark.parametrize(
    ("rows", "options", "says"),
    [
        ("x,y\n1,2\n2,three\n3,4\n", [], "line 3, column y: 'three'"),
        ("x,y\n1,2\n2,3\n", [], "2 points; 3 are needed"),
        ("x,y\n1,2\n1,3\n1,4\n", [], "x is constant"),
        ("x,y,unit\n1,2,kPa\n2,3,psi\n3,4,kPa\n", [], "line 3, column unit: 'psi'"),
        (
            "x,y,c,d\n1,2,1,up\n3,3,1,up\n2,4,1,up\n",
            ["--cycle", "c", "--direction", "d"],
            "line 4, column x: out of order",
        ),
        (
            "x,y,c,d\n1,2,1,up\n3,3,1,over\n4,4,1,up\n",
            ["--cycle", "c", "--direction", "d"],
            "line 3, column d: 'over'",
        ),
        ("x,y\n1,2\n2,3\n3,5\n", ["--cycle", "c"], "go together"),
    ],
)
def test_fit_refuses_bad_input_by_line_and_column(rows: str, options: list[str], says: str, tmp_path: Path) -> None:
    (tmp_path / "bad.csv").write_text(rows)
    ended = rodtrue("calibrate", "fit", tmp_path / "bad.csv", "--x", "x", "--y", "y", *options)
    assert ended.code == 2
    assert says in ended.err


@pytest.mark.parametrize("option", ["--at", "--reference-x"])
@pytest.mark.parametrize("value", ["1e200", "nan", "-inf"])
def test_fit_refuses_a_place_where_no_row_could_stand(option: str, value: str, tmp_path: Path) -> None:
    file = tmp_path / "points.csv"
    file.write_text("x,y\n1,2\n2,4\n3,5.9\n4,8.2\n")
    refused = rodtrue("calibrate", "fit", file, "--x", "x", "--y", "y", "--degree", 2, option, value)
    assert (refused.code, refused.out) == (2, "")
    assert f"{option} " in refused.err


@pytest.mark.slow
def test_a_guided_calibration_of_the_virtual_fixture_is_written_shown_and_stored(tmp_path: Path) -> None:
    run = rodtrue(
        "calibrate", "run", "--port", "virtual", "--cycles", 2, "--travel-points", "10,30,50,70,90 mm",
        "--pressure-points", "5,20,40,60,80 psi", "--out", tmp_path, "--json", RODTRUE_DATA=str(tmp_path / "data"),
    )  # fmt: skip
    assert run.code == 0, run.err
    assert "NOT A MEASUREMENT" in run.err
    folder = next(tmp_path.glob("*-calibration"))
    assert {path.name for path in folder.iterdir()} == {
        "points.csv", "calibration.json", "certificate.md", "residuals.png",
    }  # fmt: skip
    document = load_calibration(folder / "calibration.json")
    assert json.loads(run.out)["fixture"]["unique_id"] == document.fixture.unique_id
    assert document.travel.curve.coefficients[1] == pytest.approx(125.0, rel=0.02)
    assert [path.read_bytes() for path in (tmp_path / "data" / "calibrations").iterdir()] == [
        (folder / "calibration.json").read_bytes()
    ]
    stored = rodtrue(
        "calibrate", "store", folder / "calibration.json", "--port", "virtual", "--over-pressure", "200 psi", "--json"
    )
    assert "above 200.0 psi (1379 kPa)" in stored.err
    assert stored.code == 0, stored.err
    assert json.loads(stored.out)["generation"] == 1
    again = rodtrue(
        "calibrate", "run", "--port", "virtual", "--points", folder / "points.csv", "--out", tmp_path / "again",
        "--standards", standards_file(tmp_path), RODTRUE_DATA=str(tmp_path / "data2"),
    )  # fmt: skip
    assert again.code == 0, again.err
    remade = load_calibration(next((tmp_path / "again").glob("*/calibration.json")))
    assert remade.travel.curve.coefficients == pytest.approx(document.travel.curve.coefficients, rel=1e-9)


def standards_file(folder: Path) -> Path:
    """The template, filled in with an invented shop's references."""
    text = rodtrue("calibrate", "standards").out
    for name, half_width, relative in (("invented blocks", 0.005, 1e-4), ("invented tester", 0.05, 5e-4)):
        text = text.replace('name = ""', f'name = "{name}"', 1)
        text = text.replace("# half_width = ", f"half_width = {half_width}", 1)
        text = text.replace("# half_width_relative = ", f"half_width_relative = {relative}", 1)
    path = folder / "shop.toml"
    path.write_text(text)
    return path


@pytest.mark.slow
def test_a_calibration_broken_off_by_hand_loses_no_point_and_goes_on(tmp_path: Path) -> None:
    options = (
        "calibrate", "run", "--port", "virtual", "--cycles", "2", "--travel-points", "10,30,50,70,90 mm",
        "--pressure-points", "5,20,40,60,80 psi", "--out", str(tmp_path),
    )  # fmt: skip
    with running(*options) as process:
        assert process.stderr is not None
        for line in process.stderr:
            if line.startswith("  cycle 1, up: 1.9685 in"):
                process.send_signal(signal.SIGINT)
                break
        said = process.stderr.read()
        assert process.wait(LONGEST_S) == 2
    path = next(tmp_path.glob("*-calibration/points.csv"))
    assert "Broken off; kept: " in said and f"--continue {path}" in said
    first = path.read_text().splitlines()
    assert 3 <= len(first) - 1 < 40
    other = rodtrue(*options, "--cycles", 3, "--travel-points", "10,20,50,70,90 mm", "--continue", path)
    assert other.code == 2 and "Give the same points" in other.err
    ended = rodtrue(*options, "--continue", path, RODTRUE_DATA=str(tmp_path / "data"))
    assert ended.code == 0, ended.err
    assert f"{40 - len(first) + 1} points to take" in ended.err
    assert path.read_text().splitlines()[: len(first)] == first
    document = load_calibration(path.with_name("calibration.json"))
    assert [len(channel.points) for channel in document.channels] == [20, 20]
    again = rodtrue(*options, "--continue", path)
    assert again.code == 2 and "that run is whole" in again.err


def test_references_that_nobody_filled_in_come_onto_no_certificate(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text(rodtrue("calibrate", "standards").out)
    ended = rodtrue("calibrate", "run", "--standards", tmp_path / "shop.toml", "--port", "virtual", "--out", tmp_path)
    assert ended.code == 2
    assert "half_width" in ended.err and "calibrate standards" in ended.err
    assert not list(tmp_path.glob("*-calibration"))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (('name = "invented blocks"', 'name = " "'), "field travel.name is empty"),
        (("# due =      ", 'due = "31.1.2027" #'), "field travel.due is '31.1.2027'"),
        (("half_width = 0.05", "half_width = -1.0"), "field pressure.half_width"),
    ],
)
def test_references_filled_in_wrongly_are_refused_by_field(
    change: tuple[str, str], says: str, tmp_path: Path
) -> None:
    path = standards_file(tmp_path)
    assert change[0] in path.read_text()
    path.write_text(path.read_text().replace(*change, 1))
    ended = rodtrue("calibrate", "run", "--standards", path, "--port", "virtual", "--out", tmp_path)
    assert ended.code == 2
    assert says in ended.err


def test_what_the_certificate_will_lack_is_said_loudly_and_points_keep_their_calibrations_number(
    tmp_path: Path,
) -> None:
    document = load_calibration(VERSION_1)
    points = Points(document.fixture, number=4)
    for channel in document.channels:
        for point in channel.points:
            append_point(tmp_path / "points.csv", points, channel.quantity, point)
    ended = rodtrue(
        "calibrate", "run", "--points", tmp_path / "points.csv", "--standards", standards_file(tmp_path), "--done",
        "2026-03-31", "--out", tmp_path / "out", RODTRUE_DATA=str(tmp_path / "data"),
    )  # fmt: skip
    assert ended.code == 0, ended.err
    assert "serial number, certificate and traceability" in " ".join(ended.err.split())
    assert max(map(len, ended.err.split("Written:")[0].splitlines())) <= 80
    assert load_calibration(next((tmp_path / "out").glob("*/calibration.json"))).generation == 4


@pytest.mark.parametrize("text", ["much", "200 bar", "psi", ""])
def test_a_threshold_that_is_no_pressure_is_refused_before_anything_is_opened(text: str) -> None:
    ended = rodtrue("calibrate", "store", VERSION_1, "--port", "/dev/none", "--over-pressure", text)
    assert ended.code == 2
    assert "no pressure" in ended.err


def test_what_a_reading_at_any_point_is_worth_is_shown() -> None:
    told = json.loads(rodtrue("calibrate", "show", VERSION_1, "--at", "12.5 mm", "--json").out)
    assert (told["quantity"], told["value"], told["covered"]) == ("travel", 12.5, True)
    assert 0 < told["expanded_uncertainty"] < 0.1
    shown = rodtrue("calibrate", "show", VERSION_1, "--at", "100 psi").out
    assert "not covered" in shown and "689.476 kPa (100 psi)" in shown
    assert rodtrue("calibrate", "show", VERSION_1, "--at", "1,2 mm").code == 2


@pytest.mark.slow
def test_a_calibration_of_another_fixture_is_not_stored(tmp_path: Path) -> None:
    ended = rodtrue("calibrate", "store", VERSION_1, "--port", "virtual")
    assert ended.code == 2
    assert "5354554459000001" in ended.err


def test_what_a_file_and_what_an_uncalibrated_fixture_holds_is_shown() -> None:
    assert "not a measurement" in rodtrue("calibrate", "show", VERSION_1).out
    assert json.loads(rodtrue("calibrate", "show", VERSION_1, "--json").out)["schema"] == "rodtrue.calibration/1"
    assert "holds no calibration" in rodtrue("calibrate", "show", "--port", "virtual").out


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("1,up,", "1,over,"), "column direction"),
        ((",mm,", ",in,"), "column unit: 'in'; travel is in mm"),
        (("virtual,5354554459000001,pressure", "virtual,00,pressure"), "column fixture_id"),
        (("1,up,15.0,", "1,up,95.5,"), "column reference: out of order"),
        (("1,up,15.0,", "1,up,fifteen,"), "column reference: 'fifteen'"),
    ],
)
def test_bad_points_are_refused_by_line_and_column(change: tuple[str, str], says: str, tmp_path: Path) -> None:
    document = load_calibration(VERSION_1)
    path, points = tmp_path / "points.csv", Points(document.fixture)
    for channel in document.channels:
        for point in channel.points:
            append_point(path, points, channel.quantity, point)
    text = path.read_text()
    assert change[0] in text
    path.write_text(text.replace(*change, 1))
    ended = rodtrue(
        "calibrate", "run", "--points", path, "--standards", standards_file(tmp_path), "--out", tmp_path / "out"
    )
    assert ended.code == 2
    assert says in ended.err


def test_a_board_is_not_calibrated_against_nothing(tmp_path: Path) -> None:
    ended = rodtrue("calibrate", "run", "--port", "/dev/none", "--out", tmp_path)
    assert ended.code == 2
    assert "no reference standards named" in ended.err


@pytest.mark.slow
def test_judge_uses_a_calibration_file_and_says_so(tmp_path: Path) -> None:
    assert rodtrue("demo", "--json", "--out", tmp_path).code == 0
    capture = next(tmp_path.glob("*/as-found.capture"))
    nominal = json.loads(rodtrue("judge", capture, "--json").out)
    assert "calibration_missing" in [finding["code"] for finding in nominal["findings"]]
    rows = {row["name"]: row for row in nominal["budget"]}
    assert "parts" in rows["travel nonlinearity"]["note"]
    document = load_calibration(VERSION_1)
    own = replace(document.fixture, unique_id=nominal["fixture"]["identity"]["unique_id"])
    save_calibration(replace(document, fixture=own, done="2020-01-02", due="2099-01-02"), tmp_path / "own.json")
    told = json.loads(rodtrue("judge", capture, "--calibration", tmp_path / "own.json", "--json").out)
    assert told["fixture"]["calibration"]["file"] == str(tmp_path / "own.json")
    assert not any(finding["code"].startswith("calibration") for finding in told["findings"])
    assert {row["name"]: row for row in told["budget"]}["travel nonlinearity"]["note"].endswith("calibration")
    shown = "".join(rodtrue("judge", capture, "--calibration", tmp_path / "own.json").out.split())
    assert f"fromthefile{tmp_path / 'own.json'},insteadofthefixture'sown" in shown
    save_calibration(replace(document, fixture=own, done="2020-01-02", due="2021-01-02"), tmp_path / "old.json")
    old = json.loads(rodtrue("judge", capture, "--calibration", tmp_path / "old.json", "--json").out)
    assert "calibration_overdue" in [finding["code"] for finding in old["findings"]]
    other = rodtrue("judge", capture, "--calibration", VERSION_1)
    assert other.code == 2 and "5354554459000001" in other.err


def test_a_csv_takes_no_calibration(tmp_path: Path) -> None:
    (tmp_path / "run.csv").write_text("time_s,travel_mm,pressure_kpa,step\n0,0,20,zero\n0.1,0,20,baseline\n")
    ended = rodtrue("judge", tmp_path / "run.csv", "--calibration", VERSION_1)
    assert ended.code == 2
    assert "raw codes" in ended.err
