"""The fixture of a run, opened, lost and found again; a virtual one with its unit and its cable."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack

from rodtrue.calibration.parts_budget import parts_budget, terms_of_parts
from rodtrue.model.errors import FixtureError
from rodtrue.model.profile import Profile
from rodtrue.page.choice import REAL_SPEED, Choice
from rodtrue.run.autopilot import Pacer
from rodtrue.run.hand import VirtualHand
from rodtrue.run.recorder import Recorder
from rodtrue.run.session import Session, open_port, open_virtual
from rodtrue.virtual.replug import LastingPlant
from rodtrue.virtual.scenario import body_scenario, scenario_for


class BenchFixture:
    """One fixture for as long as a run lasts. plant, hand: of a virtual one, else None.

    cable_in: a virtual one's cable; a real one's shows only when it is opened.
    Raises: FixtureError from `open` where nobody answers, InputError for a unit that cannot be.
    """

    def __init__(self, choice: Choice, profile: Profile) -> None:
        self._choice = choice
        self._stack = ExitStack()
        self._session: Session | None = None
        self._pacer: Pacer | None = None
        self.cable_in = True
        self.plant: LastingPlant | None = None
        self.hand: VirtualHand | None = None
        if choice.is_virtual:
            unit = choice.virtual
            terms = terms_of_parts(parts_budget())
            if choice.measured_from == "lever_stop":
                scenario = body_scenario(profile, fault=unit.fault, terms=terms)
            else:
                scenario = scenario_for(
                    profile, rod_error_mm=unit.rod_error_mm, fault=unit.fault, drive=choice.drive, terms=terms
                )
            self.plant = LastingPlant(scenario, unit.seed)
            self.hand = VirtualHand(self.plant.hand, self.plant.handle)

    @property
    def port(self) -> str:
        """What it is opened at, for people."""
        return self._choice.port if self._session is None or self.plant is not None else self._session.port

    @property
    def clock(self) -> Callable[[], float]:
        """Device time of a virtual one at its own speed, else the computer's; seconds."""
        if self._session is None:
            raise FixtureError("the fixture is not open", "Plug it in and open it again.")
        return self._session.client.clock

    def open(self) -> Recorder:
        """Open and greet it, and return the recorder of what it sends."""
        self.close()
        if self.plant is None:
            opened = open_port(self._choice.port)
        elif not self.cable_in:
            raise FixtureError("the virtual fixture's cable is out", "Plug it in.")
        else:
            self.plant.plug_in()
            opened = open_virtual(self.plant, "real" if self._choice.virtual.speed == REAL_SPEED else "manual")
        self._session = self._stack.enter_context(opened)
        if self.plant is not None and self._choice.virtual.speed != REAL_SPEED:
            self._pacer = Pacer(self._session.client.clock, self._choice.virtual.speed)
        return Recorder(self._session.client, self._session.identity)

    def keep_pace(self) -> None:
        """Hold a virtual unit at its speed; nothing beside a real one."""
        if self._pacer is not None:
            self._pacer.keep()

    def pull_cable(self) -> None:
        """Take a virtual one's cable out."""
        self.cable_in = False
        self.close()

    def close(self) -> None:
        """Give the port back. Closing twice is harmless."""
        self._session = self._pacer = None
        self._stack.close()
