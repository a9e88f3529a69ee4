"""`fixture info` and `self-test` on fixtures with something wrong: said in words, within 80 columns."""

from __future__ import annotations

import json

import pytest
from msgspec.structs import replace

from cli.commands import Ended, rodtrue, served_fixture
from rodtrue.cli.fixture_state import self_test
from rodtrue.link.client import Client
from rodtrue.virtual.fixture import VirtualFixture
from virtual.test_commands import channel_codes

BOTH = ("info", "self-test")


def on_fixture(command: str, **codes: int) -> Ended:
    """Run the command on a fixture whose named channels read these 12-bit codes."""
    with VirtualFixture(channel_codes(**codes)) as fixture:
        return rodtrue("fixture", command, "--port", fixture.port)


def fits(ended: Ended) -> bool:
    return max(map(len, ended.out.splitlines())) <= 80


def test_info_tells_who_it_is_how_it_samples_and_what_it_reads() -> None:
    ended = on_fixture("info", travel=2000)
    assert ended.code == 0 and fits(ended)
    assert "virtual fixture, not a measurement" in ended.out and "by power-on" in ended.out
    assert "none: nominal scaling" in ended.out and "jitter" in ended.out and "0 samples" in ended.out
    assert "Reads 1.911 in (48.54 mm)" in ended.out, "(2000 / 4096 - 0.1) / 0.8 x 100 mm"
    assert "Nothing wrong in these" in ended.out


@pytest.mark.parametrize(
    ("command", "codes", "words"),
    [
        ("info", {"pressure": 0}, ("pressure sensor FAULT  Open or shorted to ground", "Its plug first")),
        ("self-test", {"travel": 4095}, ("travel sensor   FAULT  At the supply", "ground wire")),
        ("self-test", {"supply": 2800}, ("sensor supply   FAULT  Too low: 4.39 V", "USB cable")),
        ("info", {"supply": 0}, ("reference       FAULT", "3.0 V reference is missing")),
    ],
    ids=str,
)
def test_a_fault_is_named_with_what_to_look_at(command: str, codes: dict[str, int], words: tuple[str, ...]) -> None:
    ended = on_fixture(command, **codes)
    assert fits(ended)
    flowing = " ".join(ended.out.split())
    for said in words:
        assert " ".join(said.split()) in flowing
    assert "Look at:" in ended.out
    assert ended.code == (3 if command == "self-test" else 0)


@pytest.mark.parametrize("command", BOTH)
def test_json_carries_the_same_diagnosis(command: str) -> None:
    with served_fixture("--tcp", "0", "--fault", "unplugged-sensor") as (_, port):
        ended = rodtrue("fixture", command, "--port", port, "--json")
    told = json.loads(ended.out)
    faults = [entry for entry in told["diagnosis"] if entry["state"] == "fault"]
    assert [entry["part"] for entry in faults] == ["pressure sensor"]
    assert "unplugged" in faults[0]["says"] and faults[0]["look_at"]
    if command == "info":
        assert told["timing"]["jitter_us"] == told["timing"]["early_us"] + told["timing"]["late_us"]
    else:
        assert abs(told["clock"]["deviation"]) <= 0.02 + told["clock"]["uncertainty"]
        assert "First look at: Its plug first." in ended.err


def test_a_pump_that_delivers_too_little_is_no_fault_of_the_fixture() -> None:
    with served_fixture("--tcp", "0", "--fault", "low-supply") as (_, port):
        ended = rodtrue("fixture", "self-test", "--port", port)
    assert ended.code == 0, "the fixture is sound; the unit is not"


def test_room_beyond_what_the_wire_can_tell_is_that_much_or_more(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    tested = Client.self_test

    def room(bytes_free: int) -> str:
        monkeypatch.setattr(
            Client, "self_test", lambda client: replace(tested(client), free_storage_bytes=bytes_free)
        )
        with VirtualFixture(channel_codes(travel=2000)) as fixture:
            self_test(fixture.port)
        return " ".join(capsys.readouterr().out.split())

    assert "free_storage_bytes 4294967295 or more" in room(4294967295)
    assert "free_storage_bytes 1234567 or more" not in room(1234567)
