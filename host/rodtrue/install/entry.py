"""The way in: which port, what runs there, and into maintenance.

Only frozen messages are used, so that a fixture with another message table can be mended.
"""

from __future__ import annotations

import contextlib
import time
from dataclasses import dataclass

import rodtrue_protocol as wire
from rodtrue.link.port import FoundPort, Port, choose_port, find_ports
from rodtrue.model.errors import FixtureError, InputError

AUTO, VIRTUAL = "auto", "virtual"
_HELLO_WITHIN_S = 1.5
_ACK_WITHIN_S = 1.0
_LEAVES_WITHIN_S = 1.5
_RETURNS_WITHIN_S = 15.0
_LOOK_S = 0.05
_AGAIN_S = 0.2
_SOFT_RESET = 0x04


@dataclass(frozen=True)
class Place:
    """A board's port. serial_number: by which it is found again under another name; None where unknown."""

    port: str
    serial_number: str | None = None

    def again(self) -> str:
        """Return the port the board has now."""
        if self.serial_number is not None:
            for found in find_ports():
                if found.serial_number == self.serial_number:
                    return found.device
        return self.port


def choose(name: str) -> Place:
    """Return the place of a board, named as `choose_port` takes it.

    Raises: FixtureError where there is none, or with `auto` more than one; InputError for a virtual fixture.
    """
    if name == VIRTUAL:
        raise InputError(
            "port virtual: a virtual fixture has no board to install on",
            "It always runs the firmware of this program. Name a board's port, or leave --port out.",
        )
    found = find_ports()
    if name == AUTO and not found:
        raise FixtureError(
            "port auto: no fixture board is connected (looked at USB identities only)",
            "Connect the board, or name its port with --port. A new board shows up once MicroPython is on it. "
            "Without a board there is nothing to install on; the virtual fixture runs this same firmware: "
            "rodtrue check --port virtual.",
        )
    port = choose_port(found, name)
    return Place(port, _serial_number(found, port))


def who_is_there(place: Place) -> wire.Identity | None:
    """Say hello and return who answers; None where no program of ours runs.

    Raises: FixtureError where the port cannot be opened.
    """
    with Port(place.port) as port:
        frame = _hello_harmless_to_a_prompt()
        port.write(b"\0" + frame)
        decoder = wire.Decoder()
        until = time.monotonic() + _HELLO_WITHIN_S
        while time.monotonic() < until:
            for event in decoder.feed(port.read(_LOOK_S)):
                if isinstance(event, wire.Identity):
                    return event
    return None


def enter_maintenance(place: Place) -> Place:
    """Have the running program restart into a boot without itself, and wait until the board is back.

    Raises: FixtureError where it does not answer or does not come back.
    """
    with Port(place.port) as port:
        port.write(b"\0" + wire.encode(wire.EnterMaintenance(), 1))
        decoder = wire.Decoder()
        until = time.monotonic() + _ACK_WITHIN_S
        while not any(isinstance(event, wire.Ack) for event in decoder.feed(port.read(_LOOK_S))):
            if time.monotonic() > until:
                raise FixtureError(
                    f"port {place.port}: the fixture does not go into maintenance",
                    "Unplug it, hold its button while plugging it in, and install again.",
                )
        _see_it_leave(port)
    return _back(place)


def after_restart(place: Place) -> Place:
    """Wait for a board that has just been reset to leave and to come back, perhaps under another name.

    Raises: FixtureError where it does not come back.
    """
    # Opened too early, the port is still the one that is about to vanish.
    with contextlib.suppress(FixtureError), Port(place.again()) as port:
        _see_it_leave(port)
    return _back(place)


def _back(place: Place) -> Place:
    until = time.monotonic() + _RETURNS_WITHIN_S
    while True:
        now = Place(place.again(), place.serial_number)
        try:
            Port(now.port).close()
            return now
        except FixtureError as error:
            if time.monotonic() > until:
                raise FixtureError(
                    f"port {place.port}: the board did not come back within {_RETURNS_WITHIN_S:g} s of its restart",
                    "Unplug it, plug it in again, and look with `rodtrue fixture list`.",
                ) from error
        time.sleep(_AGAIN_S)


def _see_it_leave(port: Port) -> None:
    """Read until the port is gone: a USB port vanishes with its board's reset, a line through an adapter stays."""
    until = time.monotonic() + _LEAVES_WITHIN_S
    try:
        while time.monotonic() < until:
            port.read(_LOOK_S)
    except FixtureError:
        return


def _serial_number(found: list[FoundPort], port: str) -> str | None:
    return next((entry.serial_number for entry in found if entry.device == port), None)


def _hello_harmless_to_a_prompt() -> bytes:
    """Return a hello that a prompt does not take for its soft reset."""
    frames = (wire.encode(wire.Hello(wire.TABLE.digest), sequence) for sequence in range(256))
    return next(frame for frame in frames if _SOFT_RESET not in frame)
