"""`rodtrue demo`: the whole job on firmware, wire, capture, fit and verdict, with no hardware."""

from __future__ import annotations

import json
import re
import signal
import time
from pathlib import Path

import pytest

from bench.demo_study import study, summary
from cli.commands import LONGEST_S, rodtrue, running
from rodtrue.capture.reader import read_capture
from rodtrue.cli.demo import Layout
from rodtrue.cli.options import FaultWord
from rodtrue.virtual.faults import FAULTS


def _only_folder(out: Path) -> Path:
    (folder,) = out.iterdir()
    return folder


def test_it_finds_the_error_says_what_to_do_and_shows_the_unit_corrected(tmp_path: Path) -> None:
    ended = rodtrue("demo", "--fast", "--rod-error", "-2.5", "--out", tmp_path)
    assert ended.code == 0
    for words in (
        "VIRTUAL FIXTURE, NOT A MEASUREMENT",
        "SHORT",
        "Rod error: -0.0",
        "give or take",
        "Lengthen the rod by 0.",
        "slip joint",
        "made with an error of -0.098 in (-2.50 mm)",
        "AS LEFT",
        "CORRECT",
        "in of travel",
    ):
        assert words in ended.out
    folder = _only_folder(tmp_path)
    assert {path.name for path in folder.iterdir()} == {
        "as-found.capture", "as-left.capture", "job.json", "plot.png", "report.pdf",
    }  # fmt: skip
    for path in folder.iterdir():
        assert str(path) in ended.out
    assert (folder / "plot.png").read_bytes().startswith(b"\x89PNG\r\n\x1a\n")
    assert (folder / "report.pdf").read_bytes().startswith(b"%PDF-")


def test_metric_comes_first_where_asked_for(tmp_path: Path) -> None:
    ended = rodtrue("demo", "--fast", "--units", "metric", "--rod-error", "-0.0984 in", "--out", tmp_path)
    assert ended.code == 0
    assert "made with an error of -2.50 mm (-0.098 in)" in ended.out
    assert "mm of travel" in ended.out and "in of travel" not in ended.out


def test_its_lines_fit_a_terminal_of_eighty_columns(tmp_path: Path) -> None:
    ended = rodtrue("demo", "--fast", "--out", tmp_path)
    too_long = [line for line in ended.out.splitlines() if len(line) > 80 and str(tmp_path) not in line]
    assert too_long == []


def test_json_is_one_document_and_says_virtual(tmp_path: Path) -> None:
    ended = rodtrue("demo", "--json", "--rod-error", "3", "--seed", "2", "--out", tmp_path)
    assert ended.code == 0
    (line,) = ended.out.splitlines()
    result = json.loads(line)
    assert result["schema"] == "rodtrue.result/1"
    assert result["verdict"] == "long"
    assert result["fixture"]["kind"] == "virtual"
    assert "micropython" in result["fixture"]["interpreter"]
    assert (result["drive"], result["rod_unhooked"]) == ("slide", True)
    assert "Written:" in ended.err
    job = json.loads((_only_folder(tmp_path) / "job.json").read_text())
    assert job["schema"] == "rodtrue.job/1"
    assert job["as_found"] == result
    assert job["as_left"] is None


def test_judging_its_capture_again_repeats_its_result(tmp_path: Path) -> None:
    shown = json.loads(rodtrue("demo", "--json", "--rod-error", "-0.2", "--out", tmp_path).out)
    again = json.loads(rodtrue("judge", "--json", shown["capture"]["path"]).out)
    assert again == shown


@pytest.mark.slow
def test_a_seed_repeats_a_run_sample_by_sample(tmp_path: Path) -> None:
    first, second = (
        json.loads(rodtrue("demo", "--json", "--seed", "4", "--out", tmp_path / name).out) for name in "ab"
    )
    assert first["rod_error"] == second["rod_error"]
    assert first["plot"] == second["plot"]
    other = json.loads(rodtrue("demo", "--json", "--seed", "5", "--out", tmp_path / "c").out)
    assert other["rod_error"] != first["rod_error"]


@pytest.mark.slow
def test_a_small_part_of_the_study_holds() -> None:
    outcomes = study((-12.0, -3.0, 0.1, 3.0), (1,))
    counts = summary(outcomes)
    assert counts["wrong"] == 0
    assert counts["large_right"] == counts["large_runs"] == 3
    assert counts["covered"] == 4


@pytest.mark.parametrize("fault", ["stuck-lever", "unplugged-sensor", "baseline-connected", "binding"])
def test_with_a_fault_it_never_says_correct_or_long_with_confidence(tmp_path: Path, fault: str) -> None:
    ended = rodtrue("demo", "--json", "--rod-error", "3", "--fault", fault, "--out", tmp_path)
    assert ended.code == 0
    assert json.loads(ended.out)["verdict"] in ("undecided", "no result")


@pytest.mark.parametrize("seed", ["1", "2"])
def test_a_linkage_that_binds_is_said_first_and_nothing_is_to_be_turned(tmp_path: Path, seed: str) -> None:
    ended = rodtrue("demo", "--fast", "--fault", "binding", "--seed", seed, "--out", tmp_path)
    assert ended.code == 0
    said = ended.out.split("AS FOUND")[1]
    assert said.index("[STOP]") < said.index("NO RESULT")
    assert "find what binds" in " ".join(said.split())
    assert "Lengthen" not in said and "Shorten" not in said and "AS LEFT" not in said


def test_ctrl_c_ends_it_without_a_traceback_and_keeps_the_capture(tmp_path: Path) -> None:
    with running("demo", "--out", tmp_path) as process:
        captures: list[Path] = []
        while not (captures and captures[0].stat().st_size > 5000) and process.poll() is None:
            time.sleep(0.02)
            captures = list(tmp_path.glob("*/as-found.capture"))
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=LONGEST_S)
    assert process.returncode == 2
    assert "Traceback" not in said
    assert "stopped by hand before it was done" in said
    assert read_capture(captures[0]).damages == []


def test_its_fault_words_are_the_virtual_fixtures() -> None:
    assert [word.value for word in FaultWord] == list(FAULTS)


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["--rod-error", "40"], 2, "rod error +1.575 in (+40.00 mm)"),
        (["--rod-error", "3 feet"], 2, "--rod-error '3 feet': no length"),
        (["--layout", "round"], 2, "round"),
        (["--fault", "gremlins"], 2, "gremlins"),
        (["--fault", "wrong-intermediate-rod"], 2, "no intermediate rod"),
    ],
)
def test_what_it_cannot_show_is_refused_in_words(tmp_path: Path, arguments: list[str], code: int, words: str) -> None:
    ended = rodtrue("demo", "--json", "--out", tmp_path, *arguments)
    assert (ended.code, ended.out) == (code, "")
    assert words in ended.err


def test_an_interpreter_that_is_not_there_fails_aloud(tmp_path: Path) -> None:
    ended = rodtrue("demo", "--json", "--out", tmp_path, RODTRUE_MICROPYTHON=str(tmp_path / "nowhere"))
    assert (ended.code, ended.out) == (3, "")
    assert "nowhere" in ended.err


def test_a_folder_that_cannot_be_made_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    ended = rodtrue("demo", "--json", "--out", tmp_path / "file")
    assert ended.code == 2
    assert re.search(r"file/.*cannot be written", ended.err)


def test_layouts_are_named_as_profiles_name_them() -> None:
    assert [layout.value for layout in Layout] == ["direct", "one-bell-crank", "two-bell-cranks"]
