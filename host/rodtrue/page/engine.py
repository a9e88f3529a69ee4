"""The one run of the process: a thread polls the port and drives the run at its own rhythm.

Browsers look at `shown` and `feed` and hand in what people do with `ask`; nothing of theirs is waited for.
"""

from __future__ import annotations

import contextlib
import logging
import queue
import threading
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from rodtrue.model.errors import InputError, RodtrueError
from rodtrue.page.choice import Choice, Hands
from rodtrue.page.feed import Feed
from rodtrue.page.fixture import BenchFixture
from rodtrue.page.history import CHECK_STANDARD, DriftWatch, RecordsDesk
from rodtrue.page.open_run import OpenRun
from rodtrue.page.shown import Shown, run_shown
from rodtrue.page.trainer import ExerciseWanted, Trainer
from rodtrue.run.prompts import Prompt, safety_hangs_on
from rodtrue.run.training_score import Answer
from rodtrue.run.words import Units
from rodtrue.virtual.handle import Handle

IDLE_S = 0.1

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
        self._open: OpenRun | None = None
        self._prompt: Prompt | None = None
        self._number = 0
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
        """Have one of the commands below done by the engine's thread; what it raises is in the future.

        It is done whoever has left meanwhile: a future that nobody waits for any more is not called off.
        """
        future: Future[T] = Future()
        future.set_running_or_notify_cancel()
        self._asked.put((command, future))
        return future

    # ---- commands, for `ask` ----

    def begin(self, choice: Choice) -> None:
        """Open the chosen fixture and begin a run.

        Raises: InputError where a run is under way, or the choice cannot be; FixtureError where nobody answers.
        """
        if self._open is not None:
            raise InputError("a run is under way already", "End it first.")
        self._show(phase="opening", trouble=None)
        try:
            self._open = OpenRun(choice, self._out)
        except RodtrueError as error:
            self._show(phase="choose", trouble=error)
            raise
        except Exception as error:  # whatever it is: the page must not wait for ever for a fixture that nobody opens
            if not isinstance(error, OSError):
                _log.exception("the run could not begin")
            told = InputError(f"the run cannot begin: {error}", _MEND)
            self._show(phase="choose", trouble=told)
            raise told from error
        if not choice.virtual.hidden:
            self.offered = replace(choice, tag=None)  # a customer's unit is the rule, a check standard is said
        self._prompt = None
        self.feed.clear()
        self._show(phase="run", files={}, trouble=None, kept="", drift=None)
        self._watch_drift(self._open, self._open.fixture_id)

    def answer(self, number: int, word: str, *, from_here: bool = True) -> None:
        """Answer prompt `number`; an answer to one that is not shown any more is dropped.

        from_here: whether it comes from the fixture's own computer, as what safety hangs on must.
        Raises: InputError for a word that does not answer it, or that is not taken from there.
        """
        run = self._running().run
        if not self._asks(number):
            return
        if not from_here and safety_hangs_on(run.prompt, word):
            raise _not_from_there()
        run.answer(word)

    def tick(self, number: int, item: str, word: str, *, from_here: bool = True) -> None:
        """Answer one item of checklist `number`; from_here as in `answer`. Raises: InputError."""
        if not self._asks(number):
            return
        if not from_here:
            raise _not_from_there()
        self._running().run.tick(item, word)

    def stop_run(self) -> None:
        """Stop the run where it stands; what was captured is kept, and how to leave it safe is shown."""
        run = self._running().run
        if not run.finished:
            run.stop()

    def end(self) -> None:
        """End the run where it stands and go back to choosing; what was captured is kept."""
        self._leave_run()
        self._show(phase="choose", run=None, files={}, trouble=None)
        self._watch_fixtures()

    def begin_exercise(self, wanted: ExerciseWanted) -> None:
        """Begin the run of an exercise. Raises: as `begin`; InputError for one that does not exist."""
        if self._open is not None:
            raise InputError("a run is under way already", "End it first.")
        self.begin(self._trainer.take(wanted))

    def try_index_pin(self) -> None:
        """Look at the index pin of the exercise's unit. Raises: InputError where there is no exercise."""
        self._trainer.try_index_pin()

    def answer_exercise(self, answer: Answer) -> None:
        """Take the learner's answer and show the truth. Raises: InputError for none, or too early."""
        under_way = self._running()
        self._trainer.answer(answer, under_way.measured)
        self._show(files=under_way.outcome.files)  # what was kept back is shown now

    def set_units(self, units: Units) -> None:
        """Show these units first, to everybody."""
        self._show(units=units)

    def set_hands(self, hands: Hands, *, from_here: bool = True) -> None:
        """Say who works the virtual unit from now on; from_here as in `answer`, for hands that answer too."""
        if hands == "autopilot" and not from_here:
            raise _not_from_there()
        self._running().give_to(hands)

    def do_step(self) -> None:
        """Have the virtual hands do what the run asks for now."""
        self._running().do_step()

    def steer(self, act: Callable[[Handle, BenchFixture], None]) -> None:
        """Do something at the virtual unit's handle. Raises: InputError as the handle does."""
        self._running().steer(act)

    def pull_cable(self) -> None:
        """Take the virtual fixture's cable out."""
        self._running().virtual.pull_cable()

    def plug_in(self) -> None:
        """Put it in again."""
        self._running().virtual.cable_in = True

    # ---- the thread ----

    def _live(self) -> None:
        while not self._ending.is_set():
            self._do_what_is_asked(wait_s=IDLE_S if self._open is None or self._open.run.finished else 0.0)
            try:
                if self._open is not None:
                    self._go_on(self._open)
            except Exception as error:  # whatever it is: a run must never look alive when nobody drives it
                if not isinstance(error, RodtrueError | OSError):
                    _log.exception("the run was ended")
                self._give_up(error)
        try:
            self._leave_run()
        except (RodtrueError, OSError) as error:
            _log.error("not all that the run leaves could be written: %s", error)

    def _give_up(self, error: Exception) -> None:
        """A run that cannot go on, its disk full perhaps, is ended; what was captured is kept, and why is said."""
        told = error if isinstance(error, RodtrueError) else InputError(f"the run cannot go on: {error}", _MEND)
        with contextlib.suppress(Exception):
            self._leave_run()
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

    def _go_on(self, under_way: OpenRun) -> None:
        """Drive the run for a moment, keep what has come of it, and show how it stands."""
        run, choice = under_way.run, under_way.choice
        if not run.finished:
            under_way.advance(learner_first=self._trainer.hides(choice) and under_way.measured is not None)
        if run.prompt is not self._prompt:
            self._prompt = run.prompt
            self._number += 1
        if run.finished and self.shown.phase == "run":
            under_way.close()
            self._show(phase="over")
        self._write(under_way)
        if run.finished:
            self._keep(under_way)
        moved = self.feed.take(run)
        now = run_shown(
            run,
            self._number,
            run.presses,
            hides_results=self._trainer.hides(choice),
            choice=choice,
            port=under_way.fixture.port,
            unit=under_way.unit_shown,
            exercise=self._trainer.shown(choice, under_way.measured, self.shown.units),
        )
        if now != self.shown.run:
            self._show(run=now)
        elif moved:
            self.on_change()

    # ---- what becomes of a run ----

    def _write(self, under_way: OpenRun) -> None:
        """Write the job whenever a result has come or become final; a learner sees no files before answering."""
        if under_way.outcome.write():
            self._show(files={} if self._trainer.hides(under_way.choice) else under_way.outcome.files)

    def _keep(self, under_way: OpenRun) -> None:
        """Hand the finished job to the records, once; an exercise is none."""
        handed_over = under_way.outcome.hand_over()
        if self.desk is None or handed_over is None:
            return
        tag, serial = under_way.choice.tag, under_way.choice.serial
        self.desk.keep(*handed_over, tag, lambda line: self._tell(under_way, kept=line), serial)
        fixture_id = (handed_over[0].as_found.fixture.identity or {}).get("unique_id")
        if tag == CHECK_STANDARD and fixture_id is not None:
            self._watch_drift(under_way, str(fixture_id))  # what it says now counts, not what it said before

    def _watch_drift(self, under_way: OpenRun, fixture_id: str) -> None:
        if self.desk is None or under_way.choice.virtual.hidden:
            return
        virtual = under_way.run.is_virtual
        self.desk.watch(fixture_id, virtual=virtual, told=lambda watch: self._tell(under_way, drift=watch))

    def _watch_fixtures(self) -> None:
        """Say before a run is begun which fixtures may have drifted."""
        if self.desk is not None:
            self.desk.watch_all(lambda found: self._tell(None, drift=found))

    def _tell(self, under_way: OpenRun | None, **said: str | DriftWatch) -> None:
        """Show what the records say of a run (None: before one), from their thread, unless another is under way."""
        self.ask(lambda: self._show(**said) if self._open in (under_way, None) else None)

    def _show(self, **changes: Any) -> None:
        self.shown = replace(self.shown, version=self.shown.version + 1, **changes)
        self.on_change()

    def _running(self) -> OpenRun:
        if self._open is None:
            raise InputError("no run is under way", "Begin one.")
        return self._open

    def _asks(self, number: int) -> bool:
        """Whether the run waits for an answer to prompt `number`; one just answered has the number still shown."""
        return self._open is not None and number == self._number and self._open.run.prompt is self._prompt

    def _leave_run(self) -> None:
        """End a run under way where it stands, keep what it captured and what was judged, give the port back."""
        try:
            if self._open is not None:
                self._open.run.close()
                self._write(self._open)
                self._keep(self._open)
        finally:
            self._let_go()

    def _let_go(self) -> None:
        under_way, self._open, self._prompt = self._open, None, None
        if under_way is not None:
            under_way.fixture.close()


def _not_from_there() -> InputError:
    return InputError(
        "cautions and what safety hangs on are answered at the fixture's own computer only",
        "Have it done there; the run waits.",
    )
