"""What somebody new to the program meets: lines that fit, files that are not lost, names as they were given."""

from __future__ import annotations

from pathlib import Path

import pytest

from cli.commands import rodtrue

COLUMNS = 80


@pytest.fixture(scope="module")
def demo_of_low_supply(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    """What a demo with a pump that delivers too little printed, and its first capture."""
    folder = tmp_path_factory.mktemp("demo")
    ended = rodtrue("demo", "--fast", "--fault", "low-supply", "--out", folder)
    assert ended.code == 0
    return ended.out, next(folder.rglob("as-found.capture"))


@pytest.mark.parametrize(
    "command",
    ["demo", "check", "capture", "judge", "dump", "shifts", "profile new", "fixture virtual", "fixture info"],
)
def test_help_fits_a_terminal(command):
    told = rodtrue(*command.split(), "--help", COLUMNS=str(COLUMNS))
    assert [line for line in told.out.splitlines() if len(line) > COLUMNS] == []
    if command in ("demo", "fixture virtual"):
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
