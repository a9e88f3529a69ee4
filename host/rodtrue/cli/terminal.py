"""The guided run's front end in a terminal: prints what is asked, takes what is typed, shows one live line."""

from __future__ import annotations

import time

from rich.console import Console

from rodtrue.cli.keyboard import Keyboard
from rodtrue.cli.live_show import heading, prompt_text, status_line
from rodtrue.cli.show import result_lines
from rodtrue.cli.textplot import draw_result
from rodtrue.model.both_units import Units, in_order
from rodtrue.model.errors import InputError
from rodtrue.model.result import Result
from rodtrue.plain_text import without_controls
from rodtrue.run.guided import GuidedRun
from rodtrue.run.hand import VirtualHand
from rodtrue.run.prompts import (
    DONE,
    FINISH,
    YES,
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
NOT_SAID = "virtual fixture"
"""What Enter answers to a free text of a checklist, at a virtual unit."""

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
        title = "" if isinstance(prompt, Acknowledge) else f"{self._run.stages[self._run.stage]}: "
        self._say(f"\n{title}{prompt_text(self._run)}")
        if isinstance(prompt, Checklist):
            self._ask_item(prompt.items[0])
            return
        ways = self._ways_to_answer(prompt)
        if ways:
            self._say(f"  {ways}")

    def _ways_to_answer(self, prompt: Prompt) -> str:
        if isinstance(prompt, Sweeping):
            return f"(type {FINISH} to end before)" if prompt.may_finish else ""
        if isinstance(prompt, Acknowledge):
            return "Enter or yes: understood" if self._enter_will_do(prompt) else "type yes: understood"
        if not isinstance(prompt, Ask):
            return ""
        if not prompt.choices:
            return f"type it; Enter for: {prompt.default}"
        words = " / ".join(prompt.choices)
        return f"{words}; Enter for {prompt.choices[0]}" if self._enter_will_do(prompt) else f"type {words}"

    def _ask_item(self, item: CheckItem) -> None:
        self._say(f"  [ ] {item.text}")
        self._say(f"      {self._ways_to_tick(item)}")

    def _ways_to_tick(self, item: CheckItem) -> str:
        if not item.words:
            return f"type it; Enter for: {NOT_SAID}" if self._run.is_virtual else "type it"
        words = " / ".join(item.words)
        return f"{words}; Enter for {item.words[0]}" if self._run.is_virtual else f"type {words} when it holds"

    def _tick(self, checklist: Checklist, typed: str) -> None:
        """Take the answer to the first open item; after the last one the run goes on."""
        item = self._open_items(checklist)[0]
        word = self._item_word(item, typed)
        if word is None:
            self._say(f"      {typed!r} is no answer: {self._ways_to_tick(item)}; Ctrl-C ends the run")
            return
        self._run.tick(item.code, word)
        still_open = self._open_items(checklist)
        if still_open:
            self._ask_item(still_open[0])
        else:
            self._run.answer(DONE)

    def _open_items(self, checklist: Checklist) -> list[CheckItem]:
        return [item for item in checklist.items if not self._run.ticked.get(item.code)]

    def _item_word(self, item: CheckItem, typed: str) -> str | None:
        """Return the answer that was typed; Enter is one at a virtual unit alone."""
        if not typed.strip():
            return (item.words[0] if item.words else NOT_SAID) if self._run.is_virtual else None
        if not item.words:
            return typed
        matching = [word for word in item.words if word.startswith(typed.strip().lower())]
        return matching[0] if len(matching) == 1 else None

    def _enter_will_do(self, prompt: Acknowledge | Ask) -> bool:
        """Enter is an answer where no safety hangs on it, and always at a virtual unit."""
        return self._run.is_virtual or (isinstance(prompt, Ask) and not prompt.in_words)

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
        else:
            self._answer(prompt, typed)

    def _answer(self, prompt: Prompt, typed: str) -> None:
        word = self._word(prompt, typed)
        if word is None and isinstance(prompt, Sweeping):
            if typed:
                least = "" if prompt.may_finish else f": {prompt.finish_from} sweeps are the least to judge"
                self._say(f"  {typed!r} is no answer{least}")
            return
        if word is None:
            self._say(f"  {typed!r} is no answer: {self._ways_to_answer(prompt)}")
        else:
            self._run.answer(word)

    def _word(self, prompt: Prompt, typed: str) -> str | None:
        """Return the answer that was typed, in full or shortened; None where it is none."""
        if isinstance(prompt, Ask) and not prompt.choices:
            return typed or prompt.default
        choices = _choices(prompt)
        if not typed:
            will_do = isinstance(prompt, Acknowledge | Ask) and self._enter_will_do(prompt)
            return choices[0] if will_do else None
        matching = [choice for choice in choices if choice.startswith(typed.lower())]
        return matching[0] if len(matching) == 1 else None

    def _say_notices(self) -> None:
        notices = self._run.live.notices
        for notice in notices[self._notices_said :]:
            said = f"{notice.severity.upper()}: {notice.text}"
            if notice.severity == "stop":
                self._console.bell()
                said = f"{LOUD}\n{said}\n{LOUD}"
            self._say(f"\n{said}")
        self._notices_said = len(notices)

    def _say_stops(self) -> None:
        """Say at the end what called for a stop in the course of the run, each kind once."""
        stops = {notice.code: notice.text for notice in self._run.live.notices if notice.severity == "stop"}
        for text in stops.values():
            self._say(f"During this run, STOP: {text}")

    def _show_results(self) -> None:
        for label, result in self._run.results.items():
            if label not in self._results_shown:
                self._results_shown[label] = result
                self._say(f"\n{label.replace('-', ' ').upper()}")
                told = [*result_lines(result, self._units), *draw_result(result.plot, units=self._units)]
                self._say("\n".join(told))

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

    def _say(self, text: str) -> None:
        if self._line_open:
            self._line_open = False
            self._console.print()
        self._console.print(in_order(without_controls(text), self._units), markup=False)


def _choices(prompt: Prompt) -> tuple[str, ...]:
    if isinstance(prompt, Ask):
        return prompt.choices
    if isinstance(prompt, Acknowledge):
        return (YES,)
    return (FINISH,) if isinstance(prompt, Sweeping) and prompt.may_finish else ()
