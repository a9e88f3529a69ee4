"""Hands for a virtual fixture: they do at its handle what the run asks a person to do.

`demo` and `check --port virtual` use them; a person then only has to press Enter, or nobody at all.
"""

from __future__ import annotations

from rodtrue.model.result import Correction, Result
from rodtrue.run.guided import GuidedRun
from rodtrue.run.prompts import Ask, Prompt, Sweeping, Wait
from rodtrue.virtual.handle import Handle
from rodtrue.virtual.motion import Hand

HALVES_S = (3.0, 1.6)
"""Seconds for one way, from sweep to sweep: two speeds, so that lag and friction can be told apart."""

RETURN_HALF_S = 0.5
SENSE_HALF_S, SENSE_MM = 0.5, 15.0
SHARE_OF_LIMIT = 0.9
"""On the throttle itself the hand stays this far within the running travel limit."""


class VirtualHand:
    """Follows a run and acts whenever it asks for something new.

    hand: draws the motions. handle: of the virtual fixture. halves_s: seconds for one way, taken in turn.
    """

    def __init__(self, hand: Hand, handle: Handle, halves_s: tuple[float, ...] = HALVES_S) -> None:
        self._hand = hand
        self._handle = handle
        self._halves_s = halves_s
        self._seen: Prompt | None = None

    def follow(self, run: GuidedRun) -> None:
        """Do what the run's prompt asks for, once for each prompt."""
        if run.prompt is self._seen:
            return
        self._seen = prompt = run.prompt
        if isinstance(prompt, Sweeping):
            self._sweep(run, prompt)
        elif isinstance(prompt, Wait):
            if run.settings.body_alone:
                self._handle.holding_spring = False  # the hand that pressed the lever onto its stop lets go
            if prompt.code == "response":
                self._handle.show_response()
            elif prompt.code == "sense":
                self._handle.follow(self._hand.sweep(SENSE_HALF_S, SENSE_HALF_S, SENSE_MM, rest_s=0.1, hold_s=0.3))
        elif isinstance(prompt, Ask):
            self._do(run, prompt.code)

    def _do(self, run: GuidedRun, code: str) -> None:
        handle = self._handle
        if code in ("rod_unhooked", "unhook_again"):
            handle.rod_hooked, handle.holding_spring = False, True
        elif code == "tap":
            handle.tap_lever()
        elif code == "zero_ready" and run.settings.body_alone:
            handle.holding_spring = True
        elif code == "response_ready":
            handle.holding_spring = False
        elif code == "hook_up":
            handle.rod_hooked, handle.holding_spring = True, False
        elif code == "adjusted":
            handle.lengthen(_change_mm(run.results["as-found"]))
        elif code == "repaired":
            handle.fault = None

    def _sweep(self, run: GuidedRun, prompt: Sweeping) -> None:
        if run.stage == "return":
            sweep = self._hand.sweep(RETURN_HALF_S, RETURN_HALF_S, rest_s=0.1, hold_s=0.1)
        else:
            half_s = self._halves_s[prompt.done % len(self._halves_s)]
            limit_mm = run.live.running_limit_mm
            top_mm = None if limit_mm is None else SHARE_OF_LIMIT * limit_mm
            sweep = self._hand.sweep(half_s, half_s, top_mm, rest_s=0.3, hold_s=0.2)
        self._handle.follow(sweep)


def _change_mm(result: Result) -> float:
    """Return how much longer the advised correction makes the rod (negative: shorter)."""
    correction: Correction | None = result.correction
    if correction is None:
        return 0.0
    amount_mm = correction.amount_mm if correction.amount_mm is not None else (correction.at_least_mm or 0.0)
    return amount_mm if correction.direction == "lengthen" else -amount_mm
