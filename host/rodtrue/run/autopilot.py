"""A run without a person: every question answered as a careful operator at a virtual fixture would."""

from __future__ import annotations

import time
from collections.abc import Callable

from rodtrue.run.guided import GuidedRun
from rodtrue.run.hand import VirtualHand
from rodtrue.run.prompts import DONE, GO_ON, NO, YES, Acknowledge, Ask, Checklist, Prompt
from rodtrue.virtual.faults import BASELINE_CONNECTED

POLL_S = 0.04
ANSWER_AFTER_S = 0.8
"""Device time between a question and its answer: a tap of the lever has died away by then."""

ACKNOWLEDGE_AFTER_S = 0.3


class Autopilot:
    """Plays a whole job on a virtual fixture at manual pace.

    clock: device time in s. adjust: whether to adjust and measure again where the verdict is long or
    short. fault: the word of the virtual fixture's fault, or None.
    """

    def __init__(
        self, run: GuidedRun, hand: VirtualHand, clock: Callable[[], float], *, adjust: bool, fault: str | None
    ) -> None:
        self._run = run
        self._hand = hand
        self._clock = clock
        self._adjust = adjust
        self._fault = fault
        self._seen: Prompt | None = None
        self._since_s = 0.0

    def play(self, each: Callable[[], None]) -> None:
        """Play to the end; `each` is called after every few hundredths of a second of device time."""
        while not self._run.finished:
            self.step()
            each()

    def step(self) -> None:
        """Take in what has come, do what is asked for, answer where it is time."""
        prompt = self._run.prompt
        if prompt is not self._seen:
            self._seen, self._since_s = prompt, self._clock()
            self._hand.follow(self._run)
        self._run.update(POLL_S)
        if self._run.prompt is prompt and self._clock() - self._since_s >= _patience_s(prompt):
            self._answer(prompt)

    def _answer(self, prompt: Prompt) -> None:
        if isinstance(prompt, Acknowledge):
            self._run.answer(YES)
        elif isinstance(prompt, Checklist):
            for item in prompt.items:
                self._run.tick(item.code, item.words[0] if item.words else "virtual fixture")
            self._run.answer(DONE)
        elif isinstance(prompt, Ask):
            self._run.answer(self._word(prompt))

    def _word(self, ask: Ask) -> str:
        if ask.code == "rod_unhooked" and self._fault == BASELINE_CONNECTED:
            return NO
        if ask.code == "adjust":
            wanted = self._adjust and self._run.results["as-found"].verdict in ("long", "short")
            return YES if wanted else NO
        if ask.code == "repair":
            wanted = self._adjust and self._run.results["as-found"].body_verdict == "nonconforming"
            return YES if wanted else NO
        if GO_ON in ask.choices:
            return GO_ON
        return ask.choices[0] if ask.choices else ask.default


def _patience_s(prompt: Prompt) -> float:
    return ACKNOWLEDGE_AFTER_S if isinstance(prompt, Acknowledge) else ANSWER_AFTER_S


class Pacer:
    """Holds device time to the clock on the wall: `speed` seconds of device time each second.

    speed: None for as fast as it goes.
    """

    def __init__(self, device_clock: Callable[[], float], speed: float | None) -> None:
        self._device_clock = device_clock
        self.speed = speed
        self._device_s = device_clock()
        self._wall_s = time.monotonic()

    def keep(self) -> None:
        """Wait until the wall has caught up with the device time that has passed since the last call."""
        now_s = self._device_clock()
        passed_s, self._device_s = now_s - self._device_s, now_s
        if self.speed is None:
            return
        self._wall_s += passed_s / self.speed
        ahead_s = self._wall_s - time.monotonic()
        if ahead_s > 0:
            time.sleep(ahead_s)
        else:
            self._wall_s -= ahead_s
