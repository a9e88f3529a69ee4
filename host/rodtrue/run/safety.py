"""What keeps people whole in a run: cautions acknowledged, power confirmed off or on, full return shown."""

from __future__ import annotations

from collections.abc import Generator
from typing import TypeVar

from rodtrue.run.cautions import When, cautions_for
from rodtrue.run.prompts import (
    AGAIN,
    FINISH,
    GO_ON,
    NO,
    REMOUNTED,
    STOP,
    YES,
    Acknowledge,
    Ask,
    Prompt,
    Sweeping,
    Wait,
)
from rodtrue.run.under_way import RunUnderWay
from rodtrue.run.words import length

T = TypeVar("T")
Script = Generator[Prompt, str | None, T]
"""Yields what it waits for and is sent the answer: a word for a question, None after a wait for samples."""

RETURNS = 3
SETTLE_S = 3.0

_POWER_OFF = {
    "slide": "Stop the engine",
    "throttle": "Stop the engine",
    "bench": "Shut the supply and relieve the pressure",
}
TO_FIT, TO_HOOK_UP, TO_TURN_RODS, TO_OPEN_BODY, TO_LEAVE = (
    "the fixture is fitted and full return is shown with it off",
    "the rod is hooked up with it off",
    "a rod is turned or slid only with it off",
    "nothing of the valve body is loosened before it is off",
    "the sweeps are done",
)
"""What each stop of the engine, or of a bench's supply, is for: said with the question."""

_POWER_ON = {
    "slide": "Start the engine and let it idle in park until the fluid is warm. Never race it; "
    "stop it if its idle speed rises. Is it idling?",
    "throttle": "Check that the throttle has come back fully. Start the engine, idle in park, fluid warm. "
    "Stop it if its speed rises by itself. Is it idling?",
    "bench": "Open the supply and set it to the unit's working pressure. Is it steady?",
}


class RunStopped(Exception):
    """The operator ended the run before there was something to judge."""


def acknowledge(run: RunUnderWay, when: When) -> Script[None]:
    """Show the cautions of one moment, each until it is acknowledged."""
    run.enter("finish" if when == "after" else "cautions" if when == "before" else "adjust")
    for caution in cautions_for(when, run.settings.drive, run.settings.reference):
        answer = ""
        while answer != YES:
            answer = (yield Acknowledge(caution)) or ""
        run.acknowledged(caution)


def confirm(run: RunUnderWay, code: str, text: str) -> Script[None]:
    """Ask until the answer is yes; `stop` ends the run."""
    while True:
        answer = yield Ask(code, text, (YES, NO, STOP), in_words=True)
        run.answered(code, answer)
        if answer == YES:
            return
        if answer == STOP:
            raise RunStopped


def power_off(run: RunUnderWay, what_for: str) -> Script[None]:
    """Have it confirmed that the engine, or a bench's supply, is off; asked once wherever it has been on."""
    yield from confirm(run, "power_off", f"{_POWER_OFF[run.settings.drive]}: {what_for}. Is it off?")
    run.live.running_limit_mm = None


def power_on(run: RunUnderWay) -> Script[None]:
    """Have it confirmed that there is pressure; on the throttle itself the running limit holds from now on."""
    run.enter("power")
    if run.settings.drive == "throttle":
        # Armed before the engine is started: it may run by the time the answer comes.
        run.live.running_limit_mm = run.settings.profile.thresholds.running_travel_limit_mm
    yield from confirm(run, "power_on", _POWER_ON[run.settings.drive])
    if run.settings.drive == "throttle":
        yield from _idle_speed(run)


def _idle_speed(run: RunUnderWay) -> Script[None]:
    """Have the engine's speed read: the fixture has no sensor for it, so its limit is kept by eye."""
    limit_rpm = run.settings.profile.thresholds.idle_speed_limit_rpm
    run.note("idle_speed_limit", limit_rpm=limit_rpm)
    yield from confirm(
        run,
        "idle_speed",
        f"Nothing here measures the engine's speed: read it on a tachometer and keep watching it. The profile's "
        f"limit is {limit_rpm:g} rpm; the service information's comes first. If it is ever above, let the throttle "
        "go and stop the engine. Is it below now?",
    )


def check_return(run: RunUnderWay, *, rod_on_pin: bool = True, rested_mm: float | None = None) -> Script[None]:
    """Engine off: full opening and release bring the pin back to one place, three times.

    rested_mm: where it rested before it was moved at all, where that is known. It counts, and so do the places
    before where the check is done again: a linkage that binds comes back to one wrong place. Only a virtual unit,
    which cannot hurt anybody, may go on without.
    """
    run.enter("return")
    limit_mm = run.settings.profile.thresholds.rest_shift_mm
    rests = [] if rested_mm is None else [rested_mm]
    while True:
        shown = yield from _three_returns(run, rests, rod_on_pin)
        spread_mm = max(rests) - min(rests) if rests else 0.0
        passed = shown and spread_mm <= limit_mm
        run.note("return_check", rests_mm=rests, spread_mm=spread_mm, passed=passed)
        if passed:
            return
        text = (
            run.wording.return_scatter.format(spread=length(spread_mm), limit=length(limit_mm))
            if shown
            else "The return was not shown three times."
        )
        answer = yield Ask(
            "return_failed",
            text + " Mend it and check again; say remounted where the sensor has been mounted afresh.",
            (AGAIN, REMOUNTED, STOP, *([GO_ON] if run.is_virtual else [])),
        )
        run.answered("return_failed", answer)
        if answer == STOP:
            raise RunStopped
        if answer == GO_ON:
            return
        if answer == REMOUNTED:
            rests.clear()


def _three_returns(run: RunUnderWay, rests: list[float], rod_on_pin: bool) -> Script[bool]:
    """Add the rest before and after each of three openings to `rests`, in mm; false where they ended early."""
    ready = run.wording.return_ready.format(rod="on" if rod_on_pin else "off", times=RETURNS)
    # Wide open with the engine running would race it: that it is off is said in words here too.
    yield Ask("return_ready", ready, in_words=True)
    if not (yield from _add_rest(run, rests)):
        return False
    run.live.zero_mm = min(rests)
    run.live.forget_sweeps()
    for number in range(RETURNS):
        answer = yield Sweeping(number, RETURNS, "Open fully, let go.")
        if answer == FINISH:
            return False
        if not (yield from _add_rest(run, rests)):
            return False
    return True


def _add_rest(run: RunUnderWay, rests: list[float]) -> Script[bool]:
    """Add where the pin has come to rest; false, and nothing added, where it goes on moving."""
    rest_mm = yield from resting_place(run)
    if rest_mm is None:
        return False
    rests.append(rest_mm)
    return True


def resting_place(run: RunUnderWay) -> Script[float | None]:
    """Return where the pin has come to rest, in mm from the sensor's own origin; None where it goes on moving."""
    yield Wait("return_rest", "Keep still.", SETTLE_S, lambda: run.live.at_rest)
    still = run.live.rest_range_mm <= run.settings.profile.thresholds.rest_shift_mm
    return run.live.rest_travel_mm if still else None
