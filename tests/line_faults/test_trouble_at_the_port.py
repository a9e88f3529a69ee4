"""Ports that are half open, fixtures that vanish or begin anew, hosts that look away, and a second host."""

from __future__ import annotations

import socket
import subprocess
import sys
import threading
from pathlib import Path

import pytest

import rodtrue_protocol as wire
from link.lines import FakeTime
from rodtrue.capture.reader import read_capture
from rodtrue.link.client import Client
from rodtrue.link.port import Port
from rodtrue.model.errors import FixtureError
from rodtrue.run.manual_time import manual_client
from rodtrue.run.recorder import Recorder
from rodtrue.virtual.fixture import VirtualFixture
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import load_scenario
from run.plant_line import PlantLine
from virtual.bench import RulePlant

PATIENCE_S = 120.0
"""A safety net on a loaded machine, never a promise."""


class PulledLine(PlantLine):
    """A line whose cable is pulled just before (`answered` false) or after the request of a kind is answered."""

    def __init__(self, pulled_at: str, *, answered: bool) -> None:
        super().__init__(Plant(load_scenario(), 1))
        self._pulled_at, self._answered = pulled_at, answered

    def _answer(self, request: wire.WireMessage) -> None:
        if self._pulled_at == request.NAME and not self._answered:
            self.gone = True
            return
        super()._answer(request)
        if self._pulled_at == request.NAME:
            self.gone = True


def _capture(line: PlantLine, path: Path, polls: int = 20) -> None:
    """Do what `rodtrue capture` does."""
    client = Client(line, clock=line.clock, wait=line.wait)
    recorder = Recorder(client, client.hello())
    try:
        recorder.open_capture(path, 500)
        for _ in range(polls):
            recorder.poll(0.04)
    finally:
        recorder.close_capture()


@pytest.mark.parametrize("answered", [False, True], ids=["before", "after"])
@pytest.mark.parametrize("step", ["hello", "read_calibration", "start", "stop", "read_timing"])
def test_the_cable_pulled_at_any_step_is_said_and_the_capture_is_whole(
    tmp_path: Path, step: str, answered: bool
) -> None:
    path = tmp_path / "a.capture"
    line = PulledLine(step, answered=answered)
    if step in ("hello", "read_calibration", "start"):
        with pytest.raises(FixtureError) as gone:
            _capture(line, path)
        assert gone.value.exit_code == 3
        assert gone.value.next_step
    else:
        _capture(line, path)
        assert len(read_capture(path).stream.index) > 300
    if path.exists():
        capture = read_capture(path)
        assert capture.damages == []
        assert [capture.entries[k].name for k in (0, -2, -1)] == ["identity", "fixture_lost", "end"]


def test_a_fixture_that_is_reset_in_the_middle_is_missed(tmp_path: Path) -> None:
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Port(fixture.port) as port:
        client = manual_client(fixture, port)
        recorder = Recorder(client, client.hello())
        recorder.open_capture(tmp_path / "a.capture", 500)
        while (recorder.device_time_s or 0.0) < 1.0:
            recorder.poll(0.04)
        fixture.power_cycle()
        before_s = fixture.device_time_s
        with pytest.raises(FixtureError, match="no samples for 3 s"):
            while fixture.device_time_s < before_s + 20.0:
                recorder.poll(0.04)
        recorder.close_capture()
        assert fixture.resets == 1
    capture = read_capture(tmp_path / "a.capture")
    assert len(capture.stream.index) >= 500
    assert capture.stream.index[-1] + 1 == len(capture.stream.index)


def test_a_second_host_that_starts_the_fixture_anew_is_noticed(tmp_path: Path) -> None:
    """Two programs on one line, as where a serial server lets two in."""
    with VirtualFixture(RulePlant(), pace="manual") as fixture, Port(fixture.port) as port:
        client = manual_client(fixture, port)
        recorder = Recorder(client, client.hello())
        recorder.open_capture(tmp_path / "a.capture", 500)
        while (recorder.device_time_s or 0.0) < 3.0:
            recorder.poll(0.04)
        port.write(wire.encode(wire.Hello(wire.TABLE.digest), 77) + wire.encode(wire.Start(500), 78))
        before_s = fixture.device_time_s
        with pytest.raises(FixtureError, match="begun anew"):
            while fixture.device_time_s < before_s + 20.0:
                recorder.poll(0.04)
        recorder.close_capture()
    capture = read_capture(tmp_path / "a.capture")
    assert len(capture.stream.index) + sum(gap.missing for gap in capture.gaps) == capture.stream.index[-1] + 1
    assert capture.stream.left_out_blocks > 0


def test_a_second_host_is_kept_out_by_the_first_ones_lock() -> None:
    with (
        VirtualFixture(RulePlant(), pace="manual") as fixture,
        Port(fixture.port),
        pytest.raises(FixtureError, match="held by another program"),
    ):
        Port(fixture.port)


def test_a_host_that_stops_reading_for_ten_seconds_goes_on_with_its_gap_stated(tmp_path: Path) -> None:
    with VirtualFixture(RulePlant(), pace="manual", stalls_s=[(2.0, 10.0)]) as fixture, Port(fixture.port) as port:
        client = manual_client(fixture, port)
        recorder = Recorder(client, client.hello())
        recorder.open_capture(tmp_path / "a.capture", 500)
        lost = set()
        away = False
        while (recorder.device_time_s or 0.0) < 15.0:
            if not away and fixture.device_time_s > 1.9:
                fixture.run_for(10.5)
                away = True
            lost |= {notice.code for notice in recorder.poll(0.04).notices}
        recorder.close_capture()
        assert "samples_lost" in lost
        assert recorder.missing_samples > 1000
    stream = read_capture(tmp_path / "a.capture").stream
    assert len(stream.index) + sum(gap.missing for gap in stream.gaps) == stream.index[-1] + 1


class _Silence:
    """A line on which nothing comes."""

    name = "silent"

    def read(self, wait_s: float = 0.0) -> bytes:
        return b""

    def write(self, data: bytes) -> None:
        pass


def test_a_host_that_was_asleep_does_not_blame_the_fixture(tmp_path: Path) -> None:
    line = PlantLine(Plant(load_scenario(), 1))
    client = Client(line, clock=line.clock, wait=line.wait)
    recorder = Recorder(client, client.hello())
    recorder.open_capture(tmp_path / "a.capture", 500)
    recorder.poll(0.04)
    line.lose_blocks = set(range(10**6))
    line.now_s += 10.0
    recorder.poll(0.04)
    line.lose_blocks = set()
    assert len(recorder.poll(0.04).time_s)
    recorder.close_capture()


def test_a_silent_port_ends_the_greeting_in_bounded_time() -> None:
    time = FakeTime()
    with pytest.raises(FixtureError, match="no fixture answered within 5 s"):
        Client(_Silence(), clock=time.clock, wait=time.wait).hello()
    assert time.now_s < 106.0


@pytest.mark.parametrize("closes", [False, True], ids=["half open", "closed at once"])
def test_a_command_on_a_half_open_port_ends_with_3(tmp_path: Path, closes: bool) -> None:
    """A TCP port that takes the connection and says nothing, or hangs up."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        accepted: list[socket.socket] = []

        def accept() -> None:
            connection, _ = server.accept()
            if closes:
                connection.close()
            else:
                accepted.append(connection)

        thread = threading.Thread(target=accept)
        thread.start()
        url = f"socket://127.0.0.1:{server.getsockname()[1]}"
        command = [sys.executable, "-m", "rodtrue", "capture", str(tmp_path / "a.capture"), "--port", url]
        ended = subprocess.run(
            command,
            capture_output=True,
            text=True,
            timeout=PATIENCE_S,
            check=False,
        )
        thread.join()
        for connection in accepted:
            connection.close()
    assert ended.returncode == 3, ended.stderr
    assert url in ended.stderr
    assert "Traceback" not in ended.stderr
