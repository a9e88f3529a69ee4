"""The order of a guided job, top to bottom: as found, adjust, as left. Nothing here reads or prints."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from rodtrue.analysis.judge import STRADDLES
from rodtrue.model.result import Result
from rodtrue.run.measuring import measure
from rodtrue.run.preparation import prepare
from rodtrue.run.prompts import NO, YES, Ask, Wait
from rodtrue.run.safety import (
    TO_FIT,
    TO_LEAVE,
    TO_OPEN_BODY,
    TO_TURN_RODS,
    Script,
    acknowledge,
    check_return,
    power_off,
)
from rodtrue.run.under_way import Label, RunUnderWay
from rodtrue.run.words import BODY_WORDS

UNTIL_PLUGGED_IN_S = 1e9

_STAYS_OFF = {
    "slide": "The engine stays off.",
    "throttle": "The engine stays off.",
    "bench": "The supply stays off.",
}


class FixtureBack(Exception):
    """The fixture was lost and is there again: its samples begin anew, so zero and baseline must too."""


def whole_job(run: RunUnderWay) -> Script[None]:
    """The as-found run, the adjustment or repair if one is wanted, and the as-left run."""
    run.open_capture("as-found")
    yield from acknowledge(run, "before")
    yield from power_off(run, TO_FIT)
    as_found = yield from _measured(run, "as-found", _as_found)
    body_alone = run.settings.body_alone
    to_work = TO_OPEN_BODY if body_alone else TO_TURN_RODS
    worth_it = worth_repairing(as_found) if body_alone else _worth_adjusting(as_found)
    yield from power_off(run, to_work if worth_it else TO_LEAVE)
    moved = None
    if worth_it:
        moved = yield from _repair(run, as_found) if body_alone else _adjust(run, as_found)
    if moved is not None:
        run.open_capture("as-left")
        yield from _measured(run, "as-left", partial(_as_left, moved=moved, advised_mm=_advised_mm(as_found)))
        yield from power_off(run, TO_LEAVE)
    elif as_found.verdict in ("long", "short"):
        run.live.say("left_as_found", "warning", f"The rod is left as it was found: {as_found.verdict}.")
    elif as_found.body_verdict == "nonconforming" and body_alone:
        run.live.say("left_as_found", "warning", "The valve body is left as it was found: nonconforming.")
    run.enter("finish")
    yield from acknowledge(run, "after")
    run.close_capture()


def _as_found(run: RunUnderWay) -> Script[Result]:
    rested_mm = yield from prepare(run)
    yield from check_return(run, rested_mm=rested_mm)
    return (yield from measure(run))


def _as_left(run: RunUnderWay, moved: str, advised_mm: float | None) -> Script[Result]:
    run.note("adjusted", moved=moved, advised_mm=advised_mm)
    return (yield from measure(run))


def _measured(run: RunUnderWay, label: Label, steps: Callable[[RunUnderWay], Script[Result]]) -> Script[Result]:
    """Do the steps that need samples; from the first one on, in a new capture, each time the fixture comes back."""
    while True:
        run.needs_fixture = True
        try:
            if run.fixture_lost:
                yield Wait("fixture_back", "Plug the fixture in: then the run goes on.", UNTIL_PLUGGED_IN_S)
            if run.fixture_is_back:
                raise FixtureBack
            return (yield from steps(run))
        except FixtureBack:
            run.open_capture(label)
            yield from power_off(run, run.wording.start_again_off)
        finally:
            run.needs_fixture = False


def _worth_adjusting(result: Result) -> bool:
    """Whether there is a correction to act on: nobody turns a rod where something unproven stands in the way."""
    if result.correction is None or result.correction.direction == "none":
        return False
    return result.verdict != "undecided" or result.reason == STRADDLES


def _advised_mm(result: Result) -> float | None:
    return result.correction.amount_mm if result.correction else None


def _adjust(run: RunUnderWay, result: Result) -> Script[str | None]:
    """Offer the correction; return what the operator says was done, or None where nothing was."""
    run.enter("adjust")
    answer = yield Ask("adjust", "Adjust the rod now and measure again?", (YES, NO))
    if answer != YES:
        return None
    yield from acknowledge(run, "adjust")
    advised = _advised_mm(result)
    return (
        yield Ask(
            "adjusted",
            f"{_STAYS_OFF[run.settings.drive]} Adjust, tighten the lock, and say what was done (for instance: slid "
            "2.5 mm longer).",
            (),
            default="as advised" if advised is not None else "adjusted",
            in_words=True,
        )
    ) or None


def worth_repairing(result: Result) -> bool:
    """Whether there is something at a valve body to put right, or to see to before it can be judged."""
    return result.body_verdict != "conforming"


def _repair(run: RunUnderWay, result: Result) -> Script[str | None]:
    """Offer to put the valve body right; return what the operator says was done, or None where nothing was.

    One that is undecided may want a closer measurement and no repair: there Enter leaves it as it is.
    """
    run.enter("adjust")
    choices = (NO, YES) if result.body_verdict == "undecided" else (YES, NO)
    found = f"Valve body: {BODY_WORDS[result.body_verdict]}."
    answer = yield Ask("repair", f"{found} Put right what is wrong and measure again?", choices)
    if answer != YES:
        return None
    yield from acknowledge(run, "adjust")
    return (
        yield Ask(
            "repaired",
            f"{_STAYS_OFF[run.settings.drive]} Put it right, and say what was done (for instance: bore cleaned, new "
            "spring).",
            (),
            default="put right",
            in_words=True,
        )
    ) or None
