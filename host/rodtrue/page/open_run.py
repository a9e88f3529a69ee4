"""One run of the page with its fixture: driven on, its fixture lost and found again, its virtual unit worked."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from pathlib import Path

from rodtrue.model.errors import FixtureError, InputError
from rodtrue.model.result import Result
from rodtrue.page.choice import Choice, Hands
from rodtrue.page.fixture import BenchFixture
from rodtrue.page.outcome import Outcome
from rodtrue.page.shown import UnitShown
from rodtrue.profiles import parse_profile, profile_text
from rodtrue.run.autopilot import Autopilot
from rodtrue.run.guided import GuidedRun, RunSettings
from rodtrue.run.job import new_folder
from rodtrue.virtual.handle import Handle

POLL_S = 0.02
LOOK_FOR_FIXTURE_EVERY_S = 1.0


class OpenRun:
    """A run from its choice to its end. out: where it gets a folder of its own.

    run: what is asked and recorded. fixture: open until the run is over. outcome: what it leaves behind.
    Raises: InputError for a choice that cannot be, FixtureError where nobody answers.
    """

    def __init__(self, choice: Choice, out: Path) -> None:
        text, where = profile_text(choice.profile)
        profile = parse_profile(text, where)
        self.choice = choice
        self.fixture = BenchFixture(choice, profile)
        with contextlib.ExitStack() as until_open:
            until_open.callback(self.fixture.close)
            recorder = self.fixture.open()
            settings = RunSettings(
                profile,
                text,
                new_folder(out, "run"),
                drive=choice.drive,
                reference=choice.measured_from,
                operator=choice.operator,
                unit=choice.unit,
                checklists=choice.checklists,
            )
            self.run = GuidedRun(recorder, settings)
            until_open.pop_all()
        self.fixture_id = str(recorder.identity["unique_id"])
        self.outcome = Outcome(self.run, choice)
        self.hands: Hands = "mine" if choice.virtual.hidden else "helper"
        self._pilot: Autopilot | None = None
        self._looked_at_s = 0.0

    @property
    def measured(self) -> Result | None:
        """The result as found, None until the sweeps are over and the engine is off."""
        over = self.run.label == "as-left" or self.run.stage in ("adjust", "finish")
        return self.run.results.get("as-found") if over else None

    @property
    def virtual(self) -> BenchFixture:
        """The fixture, to have its unit worked. Raises: InputError where it is no virtual one."""
        if self.fixture.plant is None:
            raise _no_virtual_unit()
        return self.fixture

    @property
    def unit_shown(self) -> UnitShown | None:
        """The virtual unit's handle as it stands; None beside a real one."""
        if self.fixture.plant is None:
            return None
        handle = self.fixture.plant.handle
        return UnitShown(
            self.hands,
            handle.rod_hooked,
            handle.holding_spring,
            round(handle.rod_turns, 3),
            handle.fault,
            self.fixture.cable_in,
        )

    def give_to(self, hands: Hands) -> None:
        """Say who works the virtual unit from now on."""
        self._pilot = None
        self.hands = hands

    def do_step(self) -> None:
        """Have the virtual hands do what the run asks for now. Raises: InputError where there are none."""
        if self.fixture.hand is None:
            raise _no_virtual_unit()
        self.fixture.hand.follow(self.run)

    def steer(self, act: Callable[[Handle, BenchFixture], None]) -> None:
        """Do something at the virtual unit's handle. Raises: InputError as the handle does, or without one."""
        if self.fixture.plant is None:
            raise _no_virtual_unit()
        act(self.fixture.plant.handle, self.fixture)

    def advance(self, *, learner_first: bool) -> None:
        """Go on for a moment. learner_first: nothing is answered for the learner of an exercise now."""
        if self.run.fixture_lost:
            self._look_for_fixture()
            return
        try:
            if self.hands == "autopilot" and self.fixture.hand is not None and not learner_first:
                self._fly()
            else:
                if self.hands == "helper" and self.fixture.hand is not None:
                    self.fixture.hand.follow(self.run)
                self.run.update(POLL_S)
        except FixtureError as error:
            self._pilot = None
            self.run.lose_fixture(error)
            self.fixture.close()
        self.fixture.keep_pace()

    def close(self) -> None:
        """End the run where it stands; what was captured is kept."""
        self.run.close()
        self.fixture.close()

    def _fly(self) -> None:
        if self._pilot is None and self.fixture.hand is not None:
            fault = self.choice.virtual.fault
            self._pilot = Autopilot(self.run, self.fixture.hand, self.fixture.clock, adjust=True, fault=fault)
        if self._pilot is not None:
            self._pilot.step()

    def _look_for_fixture(self) -> None:
        """Answers go on being taken; now and then, see whether the fixture is there again."""
        time.sleep(POLL_S)
        now_s = time.monotonic()
        if now_s - self._looked_at_s < LOOK_FOR_FIXTURE_EVERY_S:
            return
        self._looked_at_s = now_s
        with contextlib.suppress(FixtureError):
            self.run.resume(self.fixture.open())


def _no_virtual_unit() -> InputError:
    return InputError("there is no virtual unit to steer", "Choose the virtual fixture.")
