"""Which interpreter runs the firmware, and how loudly it fails where none can."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from pytest_mock import MockerFixture

import rodtrue_protocol as wire
from rodtrue.model.errors import FixtureError
from rodtrue.virtual import interpreter, server
from rodtrue.virtual.fixture import VirtualFixture
from virtual.bench import Host, RulePlant, firmware_with, ramp_codes


def test_an_interpreter_named_but_not_there_fails_aloud(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("RODTRUE_MICROPYTHON", str(tmp_path / "nowhere"))
    with pytest.raises(FixtureError, match="nowhere cannot be run: No such file") as caught:
        VirtualFixture(RulePlant())
    assert caught.value.exit_code == 3
    assert "RODTRUE_MICROPYTHON" in caught.value.next_step


@pytest.mark.parametrize("script", ["exit 0", "echo this is no interpreter; exit 3"])
def test_a_program_that_is_no_interpreter_fails_aloud(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, script: str
) -> None:
    impostor = tmp_path / "impostor"
    impostor.write_text(f"#!/bin/sh\n{script}\n")
    impostor.chmod(0o755)
    monkeypatch.setenv("RODTRUE_MICROPYTHON", str(impostor))
    with pytest.raises(FixtureError, match="ended before the firmware began") as caught:
        VirtualFixture(RulePlant())
    assert caught.value.exit_code == 3


def test_a_program_that_never_begins_is_given_up(
    monkeypatch: pytest.MonkeyPatch, mocker: MockerFixture, tmp_path: Path
) -> None:
    sleeper = tmp_path / "sleeper"
    sleeper.write_text("#!/bin/sh\nexec sleep 60\n")
    sleeper.chmod(0o755)
    monkeypatch.setenv("RODTRUE_MICROPYTHON", str(sleeper))
    mocker.patch.object(server, "BEGINS_WITHIN_S", 0.2)
    mocker.patch.object(server, "HANGS_AFTER_S", 0.2)
    with pytest.raises(FixtureError, match="did not begin the firmware"):
        VirtualFixture(RulePlant())


def test_a_loop_that_calls_nothing_is_taken_for_a_bite(mocker: MockerFixture, tmp_path: Path) -> None:
    firmware = firmware_with(
        tmp_path,
        "selftest.py",
        "    means = []\n",
        "    while board.reset_cause == 1:\n        pass\n    means = []\n",
    )
    mocker.patch.object(server, "HANGS_AFTER_S", 1.0)
    with VirtualFixture(RulePlant(), pace="manual", firmware=firmware) as fixture, Host(fixture.port) as host:
        host.greet()
        host.send("self_test")
        fixture.run_for(1.0)
        assert fixture.resets == 1
        assert host.greet().reset_cause == wire.ResetCause.WATCHDOG


def test_a_wheel_that_exists_but_is_not_installed_is_asked_for(mocker: MockerFixture) -> None:
    mocker.patch.object(interpreter, "_command_of_wheel", return_value=None)
    mocker.patch.object(interpreter, "_has_wheel_for_platform", return_value=True)
    with pytest.raises(FixtureError, match="not installed"):
        interpreter.find_interpreter({})


@pytest.fixture
def platform_without_wheel(mocker: MockerFixture) -> None:
    mocker.patch.object(interpreter, "_command_of_wheel", return_value=None)
    mocker.patch.object(interpreter, "_has_wheel_for_platform", return_value=False)


@pytest.mark.usefixtures("platform_without_wheel")
def test_without_any_wheel_the_shims_run_the_same_files_and_say_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("RODTRUE_REQUIRE_REAL", raising=False)
    monkeypatch.delenv("RODTRUE_MICROPYTHON", raising=False)
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Host(fixture.port) as host:
        assert host.greet().interpreter == "cpython-shim"
        host.stream()
        fixture.run_for(2.0)
        assert host.ask("self_test") is not None
        host.ask("stop")
        np.testing.assert_array_equal(host.codes()[:, 0], ramp_codes(1000))


@pytest.mark.usefixtures("platform_without_wheel")
def test_the_shims_are_refused_where_real_is_required() -> None:
    with pytest.raises(FixtureError, match="RODTRUE_REQUIRE_REAL=1 refuses"):
        interpreter.find_interpreter({"RODTRUE_REQUIRE_REAL": "1"})


def test_by_default_the_installed_wheels_command_runs() -> None:
    found = interpreter.find_interpreter({})
    assert Path(found.command[0]).name == "micropython"
    assert Path(found.command[0]).parent == Path(sys.executable).parent.resolve()
    assert found.name is None


def test_a_killed_interpreter_takes_the_line_away_and_is_told() -> None:
    firmware_error = "ended by itself"
    with VirtualFixture(RulePlant(), pace="manual") as fixture:
        fixture._server._child._process.kill()
        with pytest.raises(FixtureError, match=firmware_error):
            fixture.run_for(1.0)
        assert fixture.failure is not None
