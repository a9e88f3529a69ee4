"""The port: found by USB identity only, opened exclusively, trouble said by name."""

from __future__ import annotations

import os
import pty
import socket
import tty
from collections.abc import Iterator
from dataclasses import dataclass
from types import SimpleNamespace

import pytest
from pytest_mock import MockerFixture

from rodtrue.link import port as port_module
from rodtrue.link.port import FoundPort, Port, choose_port, find_ports, known_usb_identities
from rodtrue.model.errors import FixtureError
from rodtrue.run.session import open_port


@dataclass
class Pair:
    """Both ends of a pseudo-terminal."""

    name: str
    far: int


@pytest.fixture
def pair() -> Iterator[Pair]:
    far, near = pty.openpty()
    tty.setraw(near)
    name = os.ttyname(near)
    os.close(near)
    yield Pair(name, far)
    os.close(far)


def test_bytes_go_both_ways(pair: Pair) -> None:
    with Port(pair.name) as port:
        port.write(b"\x01\x00\x03\x04")
        assert os.read(pair.far, 10) == b"\x01\x00\x03\x04"
        os.write(pair.far, b"\x11\x13\x00\xff\n\r")
        assert port.read(2.0) == b"\x11\x13\x00\xff\n\r"
        assert port.read() == b""


def test_a_url_opens_as_well() -> None:
    with Port("loop://") as port:
        port.write(b"around")
        assert port.read(2.0) == b"around"


def test_a_socket_url_opens_and_its_end_is_said() -> None:
    with (
        socket.create_server(("127.0.0.1", 0)) as server,
        Port(f"socket://127.0.0.1:{server.getsockname()[1]}") as port,
    ):
        other, _ = server.accept()
        other.sendall(b"hello")
        assert port.read(2.0) == b"hello"
        other.close()
        with pytest.raises(FixtureError, match="went away"):
            port.read(2.0)


def test_a_port_in_use_is_said(pair: Pair) -> None:
    with Port(pair.name), pytest.raises(FixtureError, match="held by another program") as refused:
        Port(pair.name)
    assert pair.name in refused.value.message
    assert "Close the other program" in refused.value.next_step


def test_a_missing_port_is_said() -> None:
    with pytest.raises(FixtureError, match="there is no such port") as refused:
        Port("/dev/no-such-fixture")
    assert "--port virtual" in refused.value.next_step


@pytest.mark.parametrize("name", ["socket://127.0.0.1:1", "nonsense://x", "socket://no-port", "hwgrep://("])
def test_a_port_that_cannot_be_opened_names_itself_and_the_reason(name: str) -> None:
    with pytest.raises(FixtureError) as refused:
        Port(name)
    assert f"port {name}: cannot be opened (" in refused.value.message
    assert refused.value.next_step


def test_unplugging_is_said_at_the_next_read() -> None:
    far, near = pty.openpty()
    tty.setraw(near)
    port = Port(os.ttyname(near))
    os.close(near)
    os.close(far)
    with pytest.raises(FixtureError, match="went away") as refused:
        port.read(2.0)
    assert "kept" in refused.value.next_step
    port.close()


def _usb(device: str, vid: int | None, pid: int | None) -> SimpleNamespace:
    return SimpleNamespace(device=device, vid=vid, pid=pid, description=f"at {device}", serial_number="1")


def test_auto_looks_at_usb_identities_only(mocker: MockerFixture) -> None:
    vid, pid = next(iter(known_usb_identities()))
    ports = [_usb("/dev/b", vid, pid), _usb("/dev/a", vid, pid ^ 1), _usb("/dev/c", None, None)]
    mocker.patch.object(port_module.list_ports, "comports", return_value=ports)
    opened = mocker.patch.object(port_module.serial, "serial_for_url")
    assert choose_port(find_ports()) == "/dev/b"
    opened.assert_not_called()


def test_auto_without_a_board_offers_the_virtual_fixture_by_name() -> None:
    with pytest.raises(FixtureError) as refused:
        choose_port([])
    assert "--port virtual" in refused.value.next_step
    assert refused.value.exit_code == 3


TWO = [FoundPort("/dev/x1", "left bench", "E66058388324A1B2"), FoundPort("/dev/x2", "right bench", None)]


def test_auto_with_several_boards_lists_them_with_what_the_port_option_takes() -> None:
    with pytest.raises(FixtureError) as refused:
        choose_port(TWO)
    for words in ("1: /dev/x1 (left bench), E66058388324A1B2", "2: /dev/x2 (right bench), no unique number"):
        assert words in refused.value.message
    assert "--port" in refused.value.next_step


@pytest.mark.parametrize(
    ("name", "device"),
    [
        ("1", "/dev/x1"),
        ("2", "/dev/x2"),
        ("e66058388324a1b2", "/dev/x1"),
        ("/dev/x2", "/dev/x2"),
        ("socket://127.0.0.1:8714", "socket://127.0.0.1:8714"),
        ("COM3", "COM3"),
    ],
)
def test_one_of_several_boards_is_named_by_place_unique_number_or_device(name: str, device: str) -> None:
    assert choose_port(TWO, name) == device


@pytest.mark.parametrize("name", ["0", "3", "0123456789abcdef"])
def test_a_board_that_is_not_there_is_said_with_those_that_are(name: str) -> None:
    with pytest.raises(
        FixtureError, match=f"port {name}: no such board among the 2 connected: 1: /dev/x1"
    ) as refused:
        choose_port(TWO, name)
    assert refused.value.exit_code == 3


def test_a_board_is_opened_by_its_place(mocker: MockerFixture) -> None:
    """From the option to the port that is opened."""
    vid, pid = next(iter(known_usb_identities()))
    ports = [_usb("/dev/rodtrue-a", vid, pid), _usb("/dev/rodtrue-b", vid, pid)]
    mocker.patch.object(port_module.list_ports, "comports", return_value=ports)
    with pytest.raises(FixtureError, match="port /dev/rodtrue-b: there is no such port"), open_port("2"):
        pass
