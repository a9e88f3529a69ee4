"""The virtual fixture: the firmware's own files in a real MicroPython, on a plant that does not exist.

Nothing it produces is a measurement; it says so in its identity.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType
from typing import Generic, Protocol, Self, TypeVar

from rodtrue.model.errors import FixtureError
from rodtrue.resources import room, room_path
from rodtrue.virtual.child import BoardSettings
from rodtrue.virtual.conversions import Converting
from rodtrue.virtual.flash import PassingFlash
from rodtrue.virtual.interpreter import find_interpreter
from rodtrue.virtual.line import Line, PtyLine, SocketLine
from rodtrue.virtual.pace import ManualPace, Pace, RealPace
from rodtrue.virtual.server import PinChange, Server

HandleT_co = TypeVar("HandleT_co", covariant=True)


class SteeredPlant(Converting, Protocol[HandleT_co]):
    """A plant with a handle, such as rodtrue.virtual.plant.Plant."""

    @property
    def handle(self) -> HandleT_co:
        """What steers it."""


class VirtualFixture(Generic[HandleT_co]):
    """A fixture to open through pyserial at `port`, like any board.

    pace: "real" lets device time follow the wall clock; "manual" lets it pass in `run_for` only, while
    requests are answered with time standing still and nothing is lost by speed.
    interpreter: path of a MicroPython, before the environment's and the installed one.
    firmware: folder of firmware files, by default the shipped ones.
    state_dir: the board's flash (calibration, maintenance flag); by default it is gone with the fixture.
    ticks_start_us: where the device ticks begin; they wrap at 2^30 us.
    clock_error: how much faster than this computer's the board's crystal runs, relative; with real pace.
    stalls_s: pairs (from, for) in s of device time since power-up in which the host takes nothing.
    tcp_port: serve a TCP port on the loopback instead of a pseudo-terminal; 0 for any free one.
    Raises: FixtureError where the interpreter cannot be run, here or, later, where the child has failed.
    """

    def __init__(
        self,
        plant: SteeredPlant[HandleT_co],
        *,
        pace: Pace = "real",
        interpreter: str | None = None,
        firmware: Path | None = None,
        state_dir: Path | None = None,
        ticks_start_us: int = 0,
        clock_error: float = 0.0,
        stalls_s: Sequence[tuple[float, float]] = (),
        tcp_port: int | None = None,
    ) -> None:
        self._plant = plant
        self._pace = ManualPace() if pace == "manual" else RealPace(clock_error)
        self._wiring = wiring()
        found = find_interpreter(named=interpreter)
        self._own_state_dir = None if state_dir else PassingFlash()
        settings = BoardSettings(
            firmware=(firmware or room_path("firmware")).resolve(),
            flash=self._own_state_dir.path if self._own_state_dir else state_dir or Path(),
            wiring=self._wiring,
            ticks_start_us=ticks_start_us,
            stalls_us=[(round(begin * 1e6), round(length * 1e6)) for begin, length in stalls_s],
        )
        try:
            line: Line = PtyLine() if tcp_port is None else SocketLine(tcp_port)
        except BaseException:
            self._forget_state()
            raise
        self.port = line.port
        try:
            self._server = Server(plant, found, settings, line, self._pace)
        except BaseException:
            line.close()
            self._forget_state()
            raise
        try:
            self._server.wait_until_ready()
        except BaseException:
            self.close()
            raise

    @property
    def handle(self) -> HandleT_co:
        """What steers the plant."""
        return self._plant.handle

    @property
    def device_time_s(self) -> float:
        """Device time that has been granted, from the first conversion, in s."""
        return self._server.granted_us * 1e-6

    @property
    def lamp(self) -> bool:
        """Whether the lamp is lit."""
        return self._server.levels.get(self._wiring["lamp"], False)

    @property
    def sounder(self) -> bool:
        """Whether the sounder sounds."""
        return self._server.levels.get(self._wiring["sounder"], False)

    @property
    def sounder_changes(self) -> list[PinChange]:
        """When the sounder went on and off."""
        gpio = self._wiring["sounder"]
        return [change for change in self._server.pin_changes if change.gpio == gpio]

    @property
    def resets(self) -> int:
        """How often the board has booted again since it was made."""
        return len(self._server.resets)

    @property
    def carried_bytes(self) -> int:
        """How many bytes have been put on the line; a pseudo-terminal hands them on a moment later."""
        return self._server.carried_bytes

    @property
    def failure(self) -> FixtureError | None:
        """Why the child has ended, None while it runs. The line is gone by then."""
        return self._server.failure

    def run_for(self, seconds: float) -> None:
        """Grant device time and return when it is consumed and what was said is on its way.

        Raises: FixtureError where the child has failed; ValueError with real pace.
        """
        if isinstance(self._pace, RealPace):
            raise ValueError("run_for is for manual pace; in real pace device time passes by itself")
        target_us = self._server.granted_us + round(seconds * 1e6)
        self._pace.raise_target(target_us)
        self._server.wait_until(target_us)

    def settle(self, sent_bytes: int) -> None:
        """Return once the board, its time standing still, has done what so many bytes from the host ask of it, and
        what it said is on its way.

        sent_bytes: as the host counts them since the fixture was made. A board that never comes to rest, or bytes
        that never come, end the wait after 10 s. Raises: FixtureError where the child has failed.
        """
        self._server.settle(sent_bytes)

    def power_cycle(self) -> None:
        """Switch the board off and on; the flash stays."""
        self._server.power_cycle()

    def close(self) -> None:
        """Unplug it: the line goes away, the child ends."""
        self._server.close()
        self._forget_state()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _forget_state(self) -> None:
        if self._own_state_dir is not None:
            self._own_state_dir.remove()


def wiring() -> dict[str, int]:
    """Return the pin map's GPIO numbers by pin name."""
    pin_map = json.loads((room("hardware") / "pins.json").read_text("utf-8"))
    return {pin["name"]: pin["gpio"] for pin in pin_map["pins"]}
