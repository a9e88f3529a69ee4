"""What somebody new to the program meets: lines that fit, files that are not lost, names as they were given."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.main import get_command
from typer.testing import CliRunner

from cli.commands import rodtrue
from rodtrue.cli import app

COLUMNS = 80


@pytest.fixture(scope="module")
def demo_of_low_supply(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    """What a demo with a pump that delivers too little printed, and its first capture."""
    folder = tmp_path_factory.mktemp("demo")
    ended = rodtrue("demo", "--fast", "--fault", "low-supply", "--out", folder)
    assert ended.code == 0
    return ended.out, next(folder.rglob("as-found.capture"))


def test_a_list_of_words_in_a_help_is_whole():
    told = rodtrue("fixture", "virtual", "--help", COLUMNS=str(COLUMNS))
    words = told.out.replace("-\n", "-").split()
    assert {"binding,", "stuck-lever,", "baseline-connected."} <= set(words)


def test_low_supply_is_said_before_the_correction(demo_of_low_supply):
    told = demo_of_low_supply[0].split("AS FOUND")[1].split("AS LEFT")[0]
    assert told.index("Full throttle pressure is only") < told.index("the rod by")
    assert told.count("Full throttle pressure is only") == 1


def test_dump_fits_a_terminal_and_shows_every_code(demo_of_low_supply):
    told = rodtrue("dump", demo_of_low_supply[1]).out
    assert [line for line in told.splitlines() if len(line) > COLUMNS] == []
    assert "rod_short_mm = 0.5       # a rod may be" in told, "the profile's own lines stay lines"
    samples = int(told.split(" samples,")[0].split()[-1])
    assert sum(word.replace("/", "", 1).isdigit() and "/" in word for word in told.split()) == samples


def test_csv_that_is_there_already_is_overwritten_only_by_force(demo_of_low_supply, tmp_path):
    capture, out = demo_of_low_supply[1], tmp_path / "run.csv"
    out.write_text("mine")
    refused = rodtrue("dump", capture, "--csv", out)
    assert refused.code == 2 and "is there already" in refused.err and "--force" in refused.err
    assert out.read_text() == "mine"
    assert rodtrue("dump", capture, "--csv", out, "--force").code == 0
    assert out.read_text().startswith("time_s,travel_mm")


def test_new_profile_is_found_by_the_name_it_was_given(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert rodtrue("profile", "new", "my-unit").code == 0
    assert rodtrue("profile", "check", "my-unit").code == 0
    assert rodtrue("shifts", "--profile", "my-unit", "--rod-error", "2").code == 0
    unknown = rodtrue("profile", "check", "my-other-unit")
    assert unknown.code == 2 and "no such file" in unknown.err


def test_stuck_lever_is_named(tmp_path):
    ended = rodtrue("demo", "--fast", "--fault", "stuck-lever", "--out", tmp_path)
    told = " ".join(ended.out.split())
    assert "NO RESULT" in told
    assert "The lever or the valve does not move" in told
    assert "not connected" not in told


def test_every_help_and_all_that_needs_no_fixture_fits_a_terminal(demo_of_low_supply, tmp_path, monkeypatch):
    """In this process: a hundred starts of the program would take minutes."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", str(COLUMNS))
    monkeypatch.setenv("RODTRUE_DATA", str(tmp_path / "data"))
    capture = demo_of_low_supply[1]
    job = capture.parent / "job.json"
    said = [(*words, "--help") for words in _commands(get_command(app))]
    said += [
        ("profile", "new", "unit-of-an-ordinary-name"),
        ("profile", "check", "unit-of-an-ordinary-name.toml"),
        ("profile", "list"),
        ("calibrate", "standards"),
        ("fixture", "list"),
        ("shifts", "--rod-error", "3"),
        ("shifts", str(job)),
        ("dump", str(capture), "--csv", "run.csv"),
        ("judge", "run.csv", "--budget"),
        ("judge", "run.csv", "--budget", "--units", "metric"),
        ("hinge", "run.csv", "--x", "travel_mm", "--y", "pressure_kpa"),
    ]
    assert len(said) > 40
    wide = {}
    for arguments in said:
        ended = CliRunner().invoke(app, arguments)
        assert ended.exit_code == 0, (arguments, ended.output)
        lines = [line for line in ended.output.splitlines() if str(job.parent) not in line and len(line) > COLUMNS]
        wide |= {arguments: lines} if lines else {}
    assert not wide


def _commands(command, words=()):
    yield words
    for name, below in getattr(command, "commands", {}).items():
        yield from _commands(below, (*words, name))
