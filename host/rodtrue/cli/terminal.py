"""The guided run's front end in a terminal: prints what is asked, takes what is typed, shows one live line."""

from __future__ import annotations

import time

from rich.console import Console

from rodtrue.cli.answers import Answers, answers_to
from rodtrue.cli.keyboard import Keyboard
from rodtrue.cli.live_show import heading, prompt_text, status_line
from rodtrue.cli.show import result_lines
from rodtrue.cli.textplot import draw_result
from rodtrue.cli.wrapped import hanging
from rodtrue.model.both_units import Units, in_order
from rodtrue.model.counted import counted
from rodtrue.model.errors import InputError
from rodtrue.model.result import Result
from rodtrue.plain_text import without_controls
from rodtrue.run.guided import GuidedRun
from rodtrue.run.hand import VirtualHand
from rodtrue.run.prompts import (
    DONE,
    FINISH,
    Acknowledge,
    Ask,
    CheckItem,
    Checklist,
    Prompt,
    Sweeping,
    Wait,
)

POLL_S = 0.03
LINE_EVERY_S = 0.1
TO_TICK = "  [ ] "

LOUD = "!" * 79
"""Stands above and below what must not be overlooked."""


class TerminalRun:
    """One run in one terminal.

    hand: moves a virtual unit; None beside a real one. units: which system comes first in all that is said.
    """

    def __init__(
        self,
        run: GuidedRun,
        console: Console,
        keyboard: Keyboard,
        hand: VirtualHand | None,
        units: Units = "inch",
    ) -> None:
        self._run = run
        self._console = console
        self._keyboard = keyboard
        self._hand = hand
        self._units = units
        self._notices_said = 0
        self._results_shown: dict[str, Result] = {}
        self._line_at_s = 0.0
        self._line_open = False
        self._finish_offered = False

    def go(self) -> None:
        """Go through the run to its end.

        Raises: InputError where the input ends before the run does; FixtureError where the fixture is lost.
        """
        self._console.rule(heading(self._run.is_virtual))
        seen: Prompt | None = None
        while not self._run.finished:
            prompt = self._run.prompt
            if prompt is not seen:
                seen = prompt
                self._begin(prompt)
            self._run.update(POLL_S)
            self._say_notices()
            if self._run.prompt is prompt:
                self._take_answer(prompt)
                self._live_line(prompt)
        self._show_results()
        self._say_stops()
        self._say(prompt_text(self._run))

    def _begin(self, prompt: Prompt) -> None:
        if self._hand is not None:
            self._hand.follow(self._run)
        self._show_results()
        self._keyboard.forget()
        said = prompt_text(self._run)
        if isinstance(prompt, Acknowledge):
            title, text = said.split(" ", 1)
        else:
            title, text = f"{self._run.stages[self._run.stage]}:", said
        self._say("")
        self._say(text, f"{title} ")
        indent = " " * (len(title) + 1)
        if isinstance(prompt, Checklist):
            self._ask_item(prompt.items[0])
        elif isinstance(prompt, Ask | Acknowledge):
            self._say(self._answers(prompt).hint(), indent)
        elif isinstance(prompt, Sweeping):
            self._offer_finish(prompt, indent)

    def _answers(self, question: Ask | Acknowledge | CheckItem) -> Answers:
        return answers_to(question, virtual=self._run.is_virtual)

    def _offer_finish(self, prompt: Sweeping, indent: str) -> None:
        """Say once in a series, as soon as it holds, how to end it early; to a person: a script's lines wait."""
        if prompt.done == 0:
            self._finish_offered = False
        if self._keyboard.person and prompt.may_finish and not self._finish_offered:
            self._finish_offered = True
            self._say(_finish_hint(prompt), indent)

    def _ask_item(self, item: CheckItem) -> None:
        self._say(item.text, TO_TICK)
        self._say(self._answers(item).hint(), " " * len(TO_TICK))

    def _tick(self, checklist: Checklist, typed: str) -> None:
        """Take the answer to the first open item; after the last one the run goes on."""
        item = self._open_items(checklist)[0]
        answers = self._answers(item)
        word = answers.meant(typed)
        if word is None:
            self._refuse(typed, f"{answers.hint()} Ctrl-C ends the run.", " " * len(TO_TICK))
            return
        self._run.tick(item.code, word)
        still_open = self._open_items(checklist)
        if still_open:
            self._ask_item(still_open[0])
        else:
            self._run.answer(DONE)

    def _open_items(self, checklist: Checklist) -> list[CheckItem]:
        return [item for item in checklist.items if not self._run.ticked.get(item.code)]

    def _take_answer(self, prompt: Prompt) -> None:
        if isinstance(prompt, Wait) or (isinstance(prompt, Sweeping) and not self._keyboard.person):
            return
        try:
            typed = self._keyboard.line()
        except EOFError:
            raise InputError(
                "the input ended before the run was over; what was captured until then is kept",
                "Run `rodtrue check` in a terminal and answer its questions, or see `rodtrue demo`.",
            ) from None
        if typed is None:
            return
        if isinstance(prompt, Checklist):
            self._tick(prompt, typed)
        elif isinstance(prompt, Sweeping):
            self._finish(prompt, typed)
        elif isinstance(prompt, Ask | Acknowledge):
            answers = self._answers(prompt)
            word = answers.meant(typed)
            if word is None:
                self._refuse(typed, answers.hint(), "  ")
            else:
                self._run.answer(word)

    def _finish(self, prompt: Sweeping, typed: str) -> None:
        """End the sweeps early where that was typed; Enter alone says nothing here."""
        if not typed:
            return
        if prompt.may_finish and Answers((FINISH,)).meant(typed):
            self._run.answer(FINISH)
        else:
            least = f"The least to judge: {counted(prompt.finish_from, 'sweep')}."
            self._refuse(typed, _finish_hint(prompt) if prompt.may_finish else least, "  ")

    def _refuse(self, typed: str, hint: str, indent: str) -> None:
        said = repr(typed) if typed.strip() else "Enter alone"
        self._say(f"{said} is no answer here. {hint}", indent)

    def _say_notices(self) -> None:
        notices = self._run.live.notices
        for notice in notices[self._notices_said :]:
            loud = notice.severity == "stop"
            self._say("")
            if loud:
                self._console.bell()
                self._say(LOUD)
            self._say(notice.text, f"{notice.severity.upper()}: ")
            if loud:
                self._say(LOUD)
        self._notices_said = len(notices)

    def _say_stops(self) -> None:
        """Say at the end what called for a stop in the course of the run, each kind once."""
        stops = {notice.code: notice.text for notice in self._run.live.notices if notice.severity == "stop"}
        for text in stops.values():
            self._say(text, "During this run, STOP: ")

    def _show_results(self) -> None:
        for label, result in self._run.results.items():
            if label not in self._results_shown:
                self._results_shown[label] = result
                told = [*result_lines(result, self._units), *draw_result(result.plot, units=self._units)]
                self._print(["", label.replace("-", " ").upper(), *told])

    def _live_line(self, prompt: Prompt) -> None:
        """Show travel, pressure and sweeps while nothing is asked; a file gets no such line."""
        now_s = time.monotonic()
        if not self._console.is_terminal or not isinstance(prompt, Wait | Sweeping):
            return
        if now_s - self._line_at_s >= LINE_EVERY_S:
            self._line_at_s = now_s
            self._line_open = True
            self._console.file.write(f"\r{in_order(status_line(self._run), self._units):<79}")
            self._console.file.flush()

    def _say(self, text: str, first: str = "") -> None:
        """Print a text after `first`, its further lines under where it begins."""
        self._print(hanging(in_order(without_controls(text), self._units), first) or [first.rstrip()])

    def _print(self, lines: list[str]) -> None:
        if self._line_open:
            self._line_open = False
            self._console.print()
        for line in lines:
            self._console.print(without_controls(line), markup=False, soft_wrap=True)


def _finish_hint(prompt: Sweeping) -> str:
    return f"Type {FINISH} to end before {prompt.target} are done."
