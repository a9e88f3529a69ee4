"""`rodtrue fixture install` as a person runs it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from cli.commands import rodtrue, served_fixture
from install.unix_board import OTHER_INTERPRETER, UnixBoard
from rodtrue.link.port import find_ports

# On a busy machine the Unix port's prompt on a pseudo-terminal now and then loses a byte.
pytestmark = [pytest.mark.slow, pytest.mark.flaky(reruns=2)]


def test_a_dry_run_tells_the_steps_and_changes_nothing(tmp_path: Path) -> None:
    with UnixBoard(tmp_path) as board:
        ended = rodtrue("fixture", "install", "--port", board.port, "--dry-run")
        assert ended.code == 0
        assert not list(board.flash.iterdir())
        sent = bytes(board.from_host)
    assert "compiled for an RP2040 (armv6m)" in ended.out and "main.py" in ended.out
    assert "Nothing was changed." in ended.out
    assert sent.count(b"\0") == 2 and len(sent) < 40, "one hello and no more"
    assert max(map(len, ended.out.splitlines())) <= 80


def test_a_dry_run_names_the_firmware_that_runs() -> None:
    with served_fixture("--tcp", "0") as (_, port):
        ended = rodtrue("fixture", "install", "--port", port, "--dry-run", "--json")
    assert ended.code == 0
    told = json.loads(ended.out)
    assert (told["running_firmware"], told["compiled_for"]) == ("0.1.0", "armv6m")
    assert {"name", "bytes", "sha256"} == set(told["files"][0])


def test_an_installation_tells_its_steps_aside_and_its_outcome_as_json(tmp_path: Path) -> None:
    with UnixBoard(tmp_path) as board:
        ended = rodtrue("fixture", "install", "--port", board.port, "--json")
        assert ended.code == 0, ended.err
        told = json.loads(ended.out)
        again = rodtrue("fixture", "install", "--port", board.port)
    assert told["identity"]["table_digest"] and told["copied"][-1] == "main.py"
    assert "Every file reads back as written." in ended.err
    assert "0 files copied and verified, 19 there already" in again.out
    assert "It holds no calibration yet" in again.out
    assert max(map(len, (again.out + again.err).splitlines())) <= 80


def test_no_board_ends_with_3_and_a_dry_run_still_shows_what_is_installed() -> None:
    if find_ports():
        pytest.skip("a board is connected to this machine")
    refused = rodtrue("fixture", "install")
    assert refused.code == 3 and "no fixture board is connected" in refused.err
    dry = rodtrue("fixture", "install", "--dry-run")
    assert dry.code == 3 and "main.py" in dry.out
    for ended in (refused, dry):
        assert "Without a board" in ended.err and "rodtrue check --port virtual" in ended.err


def test_several_boards_are_listed_and_none_is_touched(monkeypatch: pytest.MonkeyPatch) -> None:
    from rodtrue.install import entry
    from rodtrue.link.port import FoundPort
    from rodtrue.model.errors import FixtureError

    boards = [FoundPort("port-1", "a board", "A1"), FoundPort("port-2", "a board", "A2")]
    monkeypatch.setattr(entry, "find_ports", lambda: boards)
    with pytest.raises(FixtureError, match=r"2 fixture boards are connected: 1: port-1 .*2: port-2"):
        entry.choose("auto")
    assert entry.choose("port-2") == entry.Place("port-2", "A2")


def test_a_board_is_found_again_by_its_serial_number_under_another_name(monkeypatch: pytest.MonkeyPatch) -> None:
    from rodtrue.install import entry
    from rodtrue.link.port import FoundPort

    monkeypatch.setattr(entry, "find_ports", lambda: [FoundPort("port-9", "a board", "A2")])
    assert entry.Place("port-2", "A2").again() == "port-9"
    assert entry.Place("port-2", None).again() == "port-2"


def test_a_virtual_fixture_is_bad_usage_and_another_interpreter_is_fixture_trouble(tmp_path: Path) -> None:
    assert rodtrue("fixture", "install", "--port", "virtual").code == 2
    prompt = OTHER_INTERPRETER.format(name="micropython", version=(1, 22, 2))
    with UnixBoard(tmp_path, prompt) as board:
        ended = rodtrue("fixture", "install", "--port", board.port)
    assert ended.code == 3 and "too old" in ended.err and "newer MicroPython" in ended.err
