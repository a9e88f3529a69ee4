"""The one run of the process: a thread polls the port and drives the run at its own rhythm.

Browsers look at `shown` and `feed` and hand in what people do with `ask`; nothing of theirs is waited for.
"""

from __future__ import annotations

import contextlib
import logging
import queue
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from rodtrue.model.errors import FixtureError, InputError, RodtrueError
from rodtrue.model.result import Result
from rodtrue.page.choice import Choice, Hands
from rodtrue.page.feed import Feed
from rodtrue.page.fixture import BenchFixture
from rodtrue.page.history import CHECK_STANDARD, DriftWatch, RecordsDesk
from rodtrue.page.outcome import job_of, write_outcome
from rodtrue.page.shown import Shown, UnitShown, run_shown
from rodtrue.page.trainer import ExerciseShown, ExerciseWanted, Trainer
from rodtrue.profiles import parse_profile, profile_text
from rodtrue.run.autopilot import Autopilot
from rodtrue.run.guided import GuidedRun, RunSettings
from rodtrue.run.job import new_folder
from rodtrue.run.prompts import Prompt, safety_hangs_on
from rodtrue.run.training_score import Answer
from rodtrue.run.words import Units
from rodtrue.virtual.handle import Handle

POLL_S = 0.02
IDLE_S = 0.1
LOOK_FOR_FIXTURE_EVERY_S = 1.0

_MEND = "Make room on the disk, or name another folder with --out. Stop the engine and relieve the pressure first."

_log = logging.getLogger(__name__)

T = TypeVar("T")


class Engine:
    """What all browsers share. out: where each job gets a folder of its own. offered: what to offer for a run.

    desk: where finished jobs are kept; None keeps none.
    shown: what there is to see, replaced whole; feed: the live picture. Both may be read from any thread, and
    `on_change` is called from the engine's own whenever either has changed.
    """

    def __init__(self, out: Path, offered: Choice | None = None, desk: RecordsDesk | None = None) -> None:
        self.offered = offered or Choice()
        self.shown = Shown()
        self.feed = Feed()
        self.on_change: Callable[[], None] = lambda: None
        self.desk = desk
        self._out = out
        self._asked: queue.Queue[tuple[Callable[[], object], Future[Any]]] = queue.Queue()
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._live, name="engine", daemon=True)
        self._choice = Choice()
        self._fixture: BenchFixture | None = None
        self._run: GuidedRun | None = None
        self._pilot: Autopilot | None = None
        self._hands: Hands = "helper"
        self._prompt: Prompt | None = None
        self._number = 0
        self._looked_at_s = 0.0
        self._judged = 0
        self._kept_run: GuidedRun | None = None
        self._job_file: Path | None = None
        self._trainer = Trainer()

    def start(self) -> None:
        """Begin to live."""
        self._thread.start()
        self._watch_fixtures()

    def stop(self) -> None:
        """End a run under way, keep what it captured, give the port back."""
        self._ending.set()
        self._thread.join()
        if self.desk is not None:
            self.desk.close()

    def ask(self, command: Callable[[], T]) -> Future[T]:
        """Have one of the commands below done by the engine's thread; what it raises is in the future."""
        future: Future[T] = Future()
        self._asked.put((command, future))
        return future

    # ---- commands, for `ask` ----

    def begin(self, choice: Choice) -> None:
        """Open the chosen fixture and begin a run.

        Raises: InputError where a run is under way, or the choice cannot be; FixtureError where nobody answers.
        """
        if self._run is not None:
            raise InputError("a run is under way already", "End it first.")
        self._show(phase="opening", trouble=None)
        try:
            text, where = profile_text(choice.profile)
            profile = parse_profile(text, where)
            self._fixture = BenchFixture(choice, profile)
            recorder = self._fixture.open()
            folder = new_folder(self._out, "run")
        except RodtrueError as error:
            self._leave_fixture()
            self._show(phase="choose", trouble=error)
            raise
        settings = RunSettings(
            profile,
            text,
            folder,
            drive=choice.drive,
            reference=choice.measured_from,
            operator=choice.operator,
            unit=choice.unit,
            checklists=choice.checklists,
        )
        self._choice = choice
        if not choice.virtual.hidden:
            self.offered = replace(choice, tag=None)  # a customer's unit is the rule, a check standard is said
        self._run = GuidedRun(recorder, settings)
        self._prompt, self._judged, self._job_file = None, 0, None
        self._hands = "mine" if choice.virtual.hidden else "helper"
        self.feed.clear()
        self._show(phase="run", files={}, trouble=None, kept="", drift=None)
        self._watch_drift(self._run, str(recorder.identity["unique_id"]))

    def answer(self, number: int, word: str, *, from_here: bool = True) -> None:
        """Answer prompt `number`; an answer to one that is not shown any more is dropped.

        from_here: whether it comes from the fixture's own computer, as what safety hangs on must.
        Raises: InputError for a word that does not answer it, or that is not taken from there.
        """
        run = self._running()
        if number != self._number:
            return
        if not from_here and safety_hangs_on(run.prompt, word):
            raise _not_from_there()
        run.answer(word)

    def tick(self, number: int, item: str, word: str, *, from_here: bool = True) -> None:
        """Answer one item of checklist `number`; from_here as in `answer`. Raises: InputError."""
        if number != self._number:
            return
        if not from_here:
            raise _not_from_there()
        self._running().tick(item, word)

    def stop_run(self) -> None:
        """Stop the run where it stands; what was captured is kept, and how to leave it safe is shown."""
        run = self._running()
        if not run.finished:
            run.stop()

    def end(self) -> None:
        """End the run where it stands and go back to choosing; what was captured is kept."""
        self._leave_run()
        self._show(phase="choose", run=None, files={}, trouble=None)
        self._watch_fixtures()

    def begin_exercise(self, wanted: ExerciseWanted) -> None:
        """Begin the run of an exercise. Raises: as `begin`; InputError for one that does not exist."""
        if self._run is not None:
            raise InputError("a run is under way already", "End it first.")
        self.begin(self._trainer.take(wanted))

    def try_index_pin(self) -> None:
        """Look at the index pin of the exercise's unit. Raises: InputError where there is no exercise."""
        self._trainer.try_index_pin()

    def answer_exercise(self, answer: Answer) -> None:
        """Take the learner's answer and show the truth. Raises: InputError for none, or too early."""
        self._trainer.answer(answer, self._measured(self._running()))
        self._judged = 0  # what was kept back is shown now

    def set_units(self, units: Units) -> None:
        """Show these units first, to everybody."""
        self._show(units=units)

    def set_hands(self, hands: Hands) -> None:
        """Say who works the virtual unit from now on."""
        self._pilot = None
        self._hands = hands

    def do_step(self) -> None:
        """Have the virtual hands do what the run asks for now."""
        fixture, run = self._virtual(), self._running()
        assert fixture.hand is not None
        fixture.hand.follow(run)

    def steer(self, act: Callable[[Handle, BenchFixture], None]) -> None:
        """Do something at the virtual unit's handle. Raises: InputError as the handle does."""
        fixture = self._virtual()
        assert fixture.plant is not None
        act(fixture.plant.handle, fixture)

    def pull_cable(self) -> None:
        """Take the virtual fixture's cable out."""
        self._virtual().pull_cable()

    def plug_in(self) -> None:
        """Put it in again."""
        self._virtual().cable_in = True

    # ---- the thread ----

    def _live(self) -> None:
        while not self._ending.is_set():
            self._do_what_is_asked(wait_s=IDLE_S if self._run is None or self._run.finished else 0.0)
            try:
                if self._run is not None and not self._run.finished:
                    self._advance(self._run)
                self._publish()
            except Exception as error:  # whatever it is: a run must never look alive when nobody drives it
                if not isinstance(error, RodtrueError | OSError):
                    _log.exception("the run was ended")
                self._give_up(error)
        self._leave_run()

    def _give_up(self, error: Exception) -> None:
        """A run that cannot go on, its disk full perhaps, is ended; what was captured is kept, and why is said."""
        told = error if isinstance(error, RodtrueError) else InputError(f"the run cannot go on: {error}", _MEND)
        with contextlib.suppress(Exception):
            self._leave_run()
        self._run = self._pilot = self._prompt = None
        self._leave_fixture()
        self._show(phase="choose", run=None, trouble=told)

    def _do_what_is_asked(self, wait_s: float) -> None:
        with contextlib.suppress(queue.Empty):
            while True:
                command, future = self._asked.get(timeout=wait_s) if wait_s else self._asked.get_nowait()
                wait_s = 0.0
                try:
                    future.set_result(command())
                except Exception as error:
                    future.set_exception(error)

    def _advance(self, run: GuidedRun) -> None:
        fixture = self._fixture
        assert fixture is not None
        if run.fixture_lost:
            self._look_for_fixture(run, fixture)
            return
        try:
            if self._hands == "autopilot" and fixture.hand is not None:
                self._fly(run, fixture)
            else:
                if self._hands == "helper" and fixture.hand is not None:
                    fixture.hand.follow(run)
                run.update(POLL_S)
        except FixtureError as error:
            self._pilot = None
            run.lose_fixture(error)
            fixture.close()
        fixture.keep_pace()

    def _fly(self, run: GuidedRun, fixture: BenchFixture) -> None:
        if self._pilot is None and fixture.hand is not None:
            fault = self._choice.virtual.fault
            self._pilot = Autopilot(run, fixture.hand, fixture.clock, adjust=True, fault=fault)
        if self._pilot is not None and not (self._hides_results() and self._measured(run)):
            self._pilot.step()
        else:
            run.update(POLL_S)  # the learner answers first

    def _look_for_fixture(self, run: GuidedRun, fixture: BenchFixture) -> None:
        """Answers go on being taken; now and then, see whether the fixture is there again."""
        time.sleep(POLL_S)
        now_s = time.monotonic()
        if now_s - self._looked_at_s < LOOK_FOR_FIXTURE_EVERY_S:
            return
        self._looked_at_s = now_s
        with contextlib.suppress(FixtureError):
            run.resume(fixture.open())

    def _publish(self) -> None:
        run, fixture = self._run, self._fixture
        if run is None or fixture is None:
            return
        if run.prompt is not self._prompt:
            self._prompt = run.prompt
            self._number += 1
        if run.finished and self.shown.phase == "run":
            run.close()
            self._leave_fixture_open_for_words()
            self._show(phase="over")
        self._write_what_is_judged(run)
        if run.finished:
            self._keep(run)
        moved = self.feed.take(run)
        now = run_shown(
            run,
            self._number,
            run.presses,
            hides_results=self._hides_results(),
            choice=self._choice,
            port=fixture.port,
            unit=self._unit_shown(fixture),
            exercise=self._exercise_shown(run),
        )
        if now != self.shown.run:
            self._show(run=now)
        elif moved:
            self.on_change()

    def _write_what_is_judged(self, run: GuidedRun) -> None:
        """Write the job anew whenever a result has come or become final."""
        key = hash(tuple(id(result) for result in run.results.values()))
        if not run.results or key == self._judged:
            return
        self._judged = key
        files = write_outcome(run, self._choice, self.shown.units)
        self._job_file = files.get("job")
        self._show(files={} if self._hides_results() else files)

    def _keep(self, run: GuidedRun) -> None:
        """Hand the finished job to the records, once; an exercise is none."""
        job, file = job_of(run, self._choice), self._job_file
        if self.desk is None or job is None or file is None or self._choice.virtual.hidden or run is self._kept_run:
            return
        self._kept_run = run
        self.desk.keep(job, file, self._choice.tag, lambda line: self._tell(run, kept=line))
        fixture_id = (job.as_found.fixture.identity or {}).get("unique_id")
        if self._choice.tag == CHECK_STANDARD and fixture_id is not None:
            self._watch_drift(run, str(fixture_id))  # what it says now counts, not what it said before

    def _watch_drift(self, run: GuidedRun, fixture_id: str) -> None:
        if self.desk is None or self._choice.virtual.hidden:
            return
        self.desk.watch(fixture_id, virtual=run.is_virtual, told=lambda watch: self._tell(run, drift=watch))

    def _watch_fixtures(self) -> None:
        """Say before a run is begun which fixtures may have drifted."""
        if self.desk is not None:
            self.desk.watch_all(lambda found: self._tell(None, drift=found))

    def _tell(self, run: GuidedRun | None, **said: str | DriftWatch) -> None:
        """Show what the records say of a run (None: before one), from their thread, unless another is under way."""
        self.ask(lambda: self._show(**said) if self._run in (run, None) else None)

    def _leave_fixture_open_for_words(self) -> None:
        if self._fixture is not None:
            self._fixture.close()

    def _hides_results(self) -> bool:
        return self._trainer.hides(self._choice)

    def _exercise_shown(self, run: GuidedRun) -> ExerciseShown | None:
        return self._trainer.shown(self._choice, self._measured(run), self.shown.units)

    def _measured(self, run: GuidedRun) -> Result | None:
        """Return the result as found, None until the sweeps are over and the engine is off."""
        over = run.label == "as-left" or run.stage in ("adjust", "finish")
        return run.results.get("as-found") if over else None

    def _unit_shown(self, fixture: BenchFixture) -> UnitShown | None:
        if fixture.plant is None:
            return None
        handle = fixture.plant.handle
        return UnitShown(
            self._hands,
            handle.rod_hooked,
            handle.holding_spring,
            round(handle.rod_turns, 3),
            handle.fault,
            fixture.cable_in,
        )

    def _show(self, **changes: Any) -> None:
        self.shown = replace(self.shown, version=self.shown.version + 1, **changes)
        self.on_change()

    def _running(self) -> GuidedRun:
        if self._run is None:
            raise InputError("no run is under way", "Begin one.")
        return self._run

    def _virtual(self) -> BenchFixture:
        if self._fixture is None or self._fixture.plant is None:
            raise InputError("there is no virtual unit to steer", "Choose the virtual fixture.")
        return self._fixture

    def _leave_run(self) -> None:
        if self._run is not None:
            self._run.close()
            self._write_what_is_judged(self._run)
            self._keep(self._run)
        self._run = self._pilot = self._prompt = None
        self._leave_fixture()

    def _leave_fixture(self) -> None:
        if self._fixture is not None:
            self._fixture.close()
        self._fixture = None


def _not_from_there() -> InputError:
    return InputError(
        "cautions and what safety hangs on are answered at the fixture's own computer only",
        "Have it done there; the run waits.",
    )
