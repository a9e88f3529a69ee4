"""`rodtrue fixture`: what is there, what it says, and a virtual one served to other programs."""

from __future__ import annotations

import json
import os
import pty
import threading
import tty
from pathlib import Path

import pytest

from cli.commands import rodtrue, served_fixture
from rodtrue.capture.reader import read_capture

COMMANDS = (
    ["demo"],
    ["check"],
    ["capture"],
    ["dump"],
    ["fixture"],
    *(["fixture", name] for name in ("list", "info", "self-test", "install", "virtual", "maintenance")),
)


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_every_help_has_an_example(command: list[str]) -> None:
    ended = rodtrue(*command, "--help")
    assert ended.code == 0
    assert f"Example: rodtrue {' '.join(command)}" in ended.out


def test_no_board_is_no_error_for_list_but_is_one_for_auto() -> None:
    listed = rodtrue("fixture", "list", "--json")
    assert listed.code == 0
    if listed.out:
        pytest.skip("a board is connected to this machine")
    ended = rodtrue("fixture", "info")
    assert ended.code == 3
    assert "--port virtual" in ended.err


def test_info_tells_identity_calibration_and_state() -> None:
    ended = rodtrue("fixture", "info", "--port", "virtual", "--json")
    assert ended.code == 0
    told = json.loads(ended.out)
    assert told["identity"]["kind"] == "virtual"
    assert told["calibration"] is None
    assert "table_agreed" in told["status"]["flags"]
    assert "none: nominal scaling" in rodtrue("fixture", "info", "--port", "virtual").out


def test_a_sound_fixture_passes_its_self_test() -> None:
    ended = rodtrue("fixture", "self-test", "--port", "virtual", "--json")
    assert ended.code == 0
    tests = json.loads(ended.out)["tests"]
    assert tests["converter"] == "passed"
    assert tests["slot_a"] == "empty"


def test_a_self_test_that_fails_ends_with_3_and_names_it() -> None:
    with served_fixture("--tcp", "0", "--fault", "unplugged-sensor") as (_, port):
        ended = rodtrue("fixture", "self-test", "--port", port, "--json")
    assert ended.code == 3
    assert json.loads(ended.out)["tests"]["pressure"] == "failed"
    assert "the self-test failed: pressure" in ended.err


def test_a_served_fixture_is_opened_by_url_and_steered_by_lines(tmp_path: Path) -> None:
    with served_fixture("--tcp", "0", "--rod-error", "0") as (process, port):
        assert port.startswith("socket://127.0.0.1:")
        assert process.stdin is not None and process.stderr is not None
        process.stderr.readline()
        rodtrue("capture", tmp_path / "rest.capture", "--port", port, "--seconds", "0.3")
        process.stdin.write('{"throttle_mm": 20, "rod_hooked": true}\n{"gearbox": 1}\n')
        process.stdin.flush()
        assert "'gearbox' is not known" in process.stderr.readline()
        rodtrue("capture", tmp_path / "open.capture", "--port", port, "--seconds", "1.5")
    rest = read_capture(tmp_path / "rest.capture").samples()
    opened = read_capture(tmp_path / "open.capture").samples()
    assert opened.travel_mm[-50:].mean() - rest.travel_mm.mean() == pytest.approx(20.0, abs=0.5)
    assert opened.pressure_kpa[-50:].mean() > rest.pressure_kpa.mean() + 100.0


def test_a_served_fixture_opens_as_a_device_too_and_only_once(tmp_path: Path) -> None:
    with served_fixture() as (_, port), open(port, "rb+", buffering=0) as held:
        import fcntl

        fcntl.flock(held, fcntl.LOCK_EX)
        ended = rodtrue("fixture", "info", "--port", port)
        assert ended.code == 3
        assert "held by another program" in ended.err


def test_maintenance_asks_first_and_tells_what_follows() -> None:
    refused = rodtrue("fixture", "maintenance", "--port", "virtual", stdin="n\n")
    assert (refused.code, refused.out.strip()) == (0, "Nothing was done.")
    assert rodtrue("fixture", "maintenance", "--port", "virtual").code == 2
    ended = rodtrue("fixture", "maintenance", "--port", "virtual", "--yes")
    assert ended.code == 0
    assert "restarting for maintenance" in ended.out


def test_a_port_that_is_no_fixture_is_told_so_with_what_it_said() -> None:
    far, near = pty.openpty()
    tty.setraw(near)

    def other_program() -> None:
        os.read(far, 1)
        os.write(far, b"Welcome.\nlogin: ")

    answering = threading.Thread(target=other_program)
    answering.start()
    try:
        ended = rodtrue("fixture", "info", "--port", os.ttyname(near))
    finally:
        answering.join()
        os.close(near)
        os.close(far)
    assert ended.code == 3
    assert r"no fixture answered within 5 s; the fixture said: Welcome.\nlogin:" in ended.err  # on one line


def test_a_tcp_port_that_cannot_be_is_refused_in_words() -> None:
    ended = rodtrue("fixture", "virtual", "--tcp", "99999")
    assert ended.code == 2
    assert "65535" in ended.err
    assert "Traceback" not in ended.err
