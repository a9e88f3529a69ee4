"""The way in and out of maintenance over a port that vanishes and comes back, as USB does.

A pseudo-terminal under a name that a link gives it stands for the port; closing its far end makes it vanish.
"""

from __future__ import annotations

import os
import pty
import threading
import tty
from collections.abc import Callable
from pathlib import Path

import pytest

import rodtrue_protocol as wire
from rodtrue.install import entry
from rodtrue.install.entry import Place, after_restart, choose, enter_maintenance, who_is_there
from rodtrue.link.port import FoundPort
from rodtrue.model.errors import FixtureError


class UsbPort:
    """A port at a path of its own, plugged in and unplugged."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.plug_in()

    def plug_in(self) -> None:
        self.far, near = pty.openpty()
        tty.setraw(near)
        self._near = near
        self.path.symlink_to(os.ttyname(near))

    def unplug(self) -> None:
        self.path.unlink()
        os.close(self._near)
        os.close(self.far)

    def later(self, *actions: Callable[[], None], after_s: float = 0.3) -> threading.Timer:
        def act() -> None:
            for action in actions:
                action()

        timer = threading.Timer(after_s, act)
        timer.start()
        return timer


@pytest.mark.parametrize("name", ["2", "E66058388324A1B2", "e66058388324a1b2", "/dev/x2"])
def test_a_board_is_named_as_everywhere_else_and_found_again_by_its_number(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    boards = [FoundPort("/dev/x1", "left", None), FoundPort("/dev/x2", "right", "E66058388324A1B2")]
    monkeypatch.setattr(entry, "find_ports", lambda: boards)
    assert choose(name) == Place("/dev/x2", "E66058388324A1B2")


def test_the_board_is_waited_for_while_its_port_is_gone(tmp_path: Path) -> None:
    usb = UsbPort(tmp_path / "port")
    leaves = usb.later(usb.unplug)
    returns = usb.later(usb.plug_in, after_s=2.0)
    place = Place(str(usb.path))
    assert after_restart(place) == place
    leaves.join()
    returns.join()
    usb.unplug()


def test_maintenance_is_asked_for_and_the_board_that_answers_is_waited_for(tmp_path: Path) -> None:
    usb = UsbPort(tmp_path / "port")
    asked: list[wire.Event] = []

    def program() -> None:
        decoder = wire.Decoder("to_fixture")
        while not asked:
            asked.extend(decoder.feed(os.read(usb.far, 64)))
        request = asked[0]
        assert isinstance(request, wire.EnterMaintenance)
        os.write(usb.far, wire.encode(wire.Ack(request.sequence, request.TYPE), 0))

    running = threading.Thread(target=program)
    running.start()
    returns = usb.later(usb.unplug, usb.plug_in, after_s=1.0)
    assert enter_maintenance(Place(str(usb.path))).port == str(usb.path)
    running.join()
    returns.join()
    usb.unplug()


def test_a_board_that_does_not_come_back_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(entry, "_RETURNS_WITHIN_S", 0.5)
    usb = UsbPort(tmp_path / "port")
    leaves = usb.later(usb.unplug)
    with pytest.raises(FixtureError, match="did not come back"):
        after_restart(Place(str(usb.path)))
    leaves.join()


def test_a_program_that_does_not_answer_is_left_alone(tmp_path: Path) -> None:
    usb = UsbPort(tmp_path / "port")
    place = Place(str(usb.path))
    assert who_is_there(place) is None
    with pytest.raises(FixtureError, match="does not go into maintenance") as raised:
        enter_maintenance(place)
    assert "hold its button while plugging it in" in raised.value.next_step
    sent = os.read(usb.far, 4096)
    assert b"\x04" not in sent.split(b"\0")[1], "the hello holds no prompt's soft reset"
    usb.unplug()
