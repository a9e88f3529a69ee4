"""One run: rod unhooked, zero, baseline, response, rod hooked up, rest, sweeps, verdict."""

from __future__ import annotations

import numpy as np

from rodtrue.model.result import Result
from rodtrue.model.samples import BASELINE, NO_STEP, RESPONSE, SWEEP, ZERO
from rodtrue.run.preparation import check_preconditions
from rodtrue.run.prompts import AGAIN, FINISH, GO_ON, NO, STOP, UNKNOWN, YES, Ask, Sweeping, Wait
from rodtrue.run.safety import TO_HOOK_UP, RunStopped, Script, check_return, confirm, power_off, power_on
from rodtrue.run.under_way import RunUnderWay
from rodtrue.run.words import length, pressure

TAPS = 4
"""One to begin with, and three whose approaches show how well the lever comes back."""
ZERO_S, BASELINE_S, RESPONSE_S, REST_S, LAST_REST_S = 1.5, 1.0, 8.0, 1.0, 0.8
STILL_MM = 0.2

_UNHOOK = {
    "slide": "Set the hand slide's stop to the place of the throttle's pin at curb idle. Lift the slotted end "
    "of the rod off its pin (never loosen the adjuster for it), holding spring on the lever. "
    "Is the rod off the pin?",
    "throttle": "Lift the slotted end of the rod off the throttle's pin (never loosen the adjuster for it), "
    "holding spring on the lever. Is the rod off the pin?",
    "bench": "Lift the slotted end of the rod off the pin (never loosen the adjuster for it), holding spring "
    "on the lever. Is the rod off the pin?",
}
_HOOK_UP = {
    "slide": "Holding spring off, from above; where it cannot be reached from above, stop the engine for it. Hang "
    "the rod on the pin of the hand slide; the pin stays on its stop.",
    "throttle": "Engine still off. Holding spring off. Hook the rod up on the throttle's pin.",
    "bench": "Holding spring off. Hook the rod up on the pin; the pin stays on its stop.",
}
_NO_ROD = (
    "Valve body alone: is the lever free, with no rod, cable or other spring on it than its own, so that nothing "
    "can hold it off its stop?"
)


def measure(run: RunUnderWay) -> Script[Result]:
    """One run: rod unhooked, zero, baseline, response, rod hooked up, sweeps, verdict.

    With a body alone there is nothing to unhook or to hook up: the lever itself is moved throughout.
    """
    run.live.forget_sweeps()
    yield from _no_rod(run) if run.settings.body_alone else _unhook(run)
    if run.settings.drive == "throttle":
        # The rod has been turned or unhooked with the engine off: full return is shown before it is started.
        yield from check_return(run, rod_on_pin=False)
    yield from power_on(run)
    yield from check_preconditions(run)
    yield from _zero(run)
    yield from _baseline(run)
    yield from _response(run)
    if not run.settings.body_alone:
        yield from _hook_up(run)
    yield from _check_rest(run)
    return (yield from _sweep_and_judge(run))


def _unhook(run: RunUnderWay) -> Script[None]:
    run.enter("unhook")
    run.live.over("rod_holds_throttle")
    answer = yield Ask("rod_unhooked", _UNHOOK[run.settings.drive], (YES, NO, UNKNOWN), in_words=True)
    if answer != YES:
        run.live.say(
            "baseline_not_proven",
            "warning",
            "The rod is not proven off its pin: this run can then call it neither correct nor long.",
        )
        again = yield Ask(
            "unhook_again",
            "A long rod left on its pin reads exact, and no data can show it. Lift it off the pin now, holding "
            "spring on the lever; zero and baseline are taken after that. Is it off?",
            (YES, GO_ON, STOP),
            in_words=True,
        )
        run.answered("unhook_again", again)
        if again == STOP:
            raise RunStopped
        answer = YES if again == YES else answer
    run.note("rod_unhooked", answer={YES: True, NO: False}.get(answer or ""))


def _no_rod(run: RunUnderWay) -> Script[None]:
    """Have it said that no rod is fitted: then none can hold the lever off its stop, and the baseline is proven."""
    run.enter("no_rod")
    yield from confirm(run, "no_rod", _NO_ROD)
    run.note("rod_unhooked", answer=True)


def _zero(run: RunUnderWay) -> Script[None]:
    run.enter("zero")
    while True:
        yield Ask("zero_ready", run.wording.zero_ready)
        first = run.begin_collecting()
        yield Wait("zero", "Keep still: travel zero is being taken.", ZERO_S)
        travel_mm, _pressure_kpa = run.collected()
        if np.ptp(travel_mm) <= STILL_MM:
            break
        run.live.say("zero_moved", "note", f"The {run.wording.part} moved while zero was taken; once more.")
    run.step(ZERO, first)
    run.step(NO_STEP)
    run.zero_mm = run.live.zero_mm = float(np.mean(travel_mm))


def _baseline(run: RunUnderWay) -> Script[None]:
    """The lever tapped to its stop; the step begins after the first tap and shows the others as blips."""
    run.enter("baseline")
    pressures = []
    for tap in range(1, TAPS + 1):
        yield Ask("tap", run.wording.tap.format(number=tap, taps=TAPS))
        run.note("tap", number=tap)
        first = run.begin_collecting()
        if tap == 1:
            run.step(BASELINE, first)
        yield Wait("baseline", "Hands off: the baseline is being taken.", BASELINE_S)
        pressures.append(run.collected()[1])
    run.step(NO_STEP)
    every = np.concatenate(pressures)
    run.live.baseline_kpa = float(np.median(every))
    run.baseline_noise_kpa = float(np.std(every))


def _response(run: RunUnderWay) -> Script[None]:
    """Show that the valve answers: push the unhooked rod, or the lever itself; pressure rises; let go."""
    run.enter("response")
    needed_kpa = max(run.settings.profile.thresholds.response_noise_ratio * run.baseline_noise_kpa, 1.0)
    while True:
        yield Ask("response_ready", run.wording.response_ready)
        first = run.begin_collecting()
        yield Wait(
            "response",
            run.wording.response,
            RESPONSE_S,
            lambda: run.risen_kpa() > needed_kpa and run.fallen_back(),
        )
        risen_kpa = run.risen_kpa()
        run.note("response", risen_kpa=risen_kpa, needed_kpa=needed_kpa, shown=risen_kpa > needed_kpa)
        if risen_kpa > needed_kpa:
            _mark_response(run, first)
            return
        answer = yield Ask(
            "no_response",
            f"The pressure rose by {pressure(risen_kpa)} only; {pressure(needed_kpa)} would show that the valve "
            "answers. Push again?",
            (AGAIN, GO_ON, STOP),
        )
        if answer == STOP:
            raise RunStopped
        if answer == GO_ON:
            _mark_response(run, first)
            return


def _mark_response(run: RunUnderWay, first: int) -> None:
    """Mark the push by hand, answered or not: a valve that does not answer is a finding too."""
    run.step(RESPONSE, first)
    run.step(NO_STEP)


def _hook_up(run: RunUnderWay) -> Script[None]:
    run.enter("hook_up")
    with_engine_off = run.settings.drive == "throttle"
    if with_engine_off:
        yield from power_off(run, TO_HOOK_UP)
    yield Ask("hook_up", _HOOK_UP[run.settings.drive], in_words=with_engine_off)
    if with_engine_off:
        yield from check_return(run)
        # Engine still off: a rod that holds the throttle open must show before the engine is started.
        yield from _rest_on_stop(run)
        yield from power_on(run)
        run.enter("hook_up")


def _check_rest(run: RunUnderWay) -> Script[None]:
    """Check the rest once more, with pressure; the sweeps begin with it."""
    first = yield from _rest_on_stop(run)
    run.step(SWEEP, first)


def _rest_on_stop(run: RunUnderWay) -> Script[int]:
    """After hooking up the pin must rest where it was at zero, or the rod holds the throttle; so must a lever.

    Returns the first sample of the rest that was accepted. Only a virtual unit, which cannot hurt anybody,
    may go on off its stop.
    """
    run.enter("rest")
    wording = run.wording
    zero_mm = run.live.zero_mm = run.zero_mm
    limit_mm = run.settings.profile.thresholds.rest_shift_mm
    while True:
        first = run.begin_collecting()
        yield Wait("rest", wording.rest, REST_S)
        shift_mm = float(np.mean(run.collected()[0])) - zero_mm
        run.note("rest_check", shift_mm=shift_mm)
        if abs(shift_mm) <= limit_mm:
            run.live.over(wording.off_stop)
            break
        run.live.say(wording.off_stop, "stop", wording.rests_off.format(shift=length(shift_mm, signed=True)))
        answer = yield Ask(
            "rest_failed",
            "Let it settle and check again?",
            (AGAIN, *([GO_ON] if run.is_virtual else []), STOP),
        )
        run.answered("rest_failed", answer)
        if answer == STOP:
            raise RunStopped
        if answer == GO_ON:
            break
    return first


def _sweep_and_judge(run: RunUnderWay) -> Script[Result]:
    plan = run.settings.profile.plan
    run.enter("sweeps")
    run.live.forget_sweeps()
    for target in (plan.sweeps, plan.extended_sweeps):
        run.step(SWEEP)
        ended = yield from _count_sweeps(run, target)
        yield Wait("last_rest", run.wording.last_rest, LAST_REST_S)
        run.step(NO_STEP)
        result = run.look()
        worth_more = result.verdict == "undecided" and result.settle is not None and result.settle.possible
        if ended or not worth_more:
            break
        run.live.say("extension", "note", f"Not decided yet: the run goes on to {plan.extended_sweeps} sweeps, once.")
    return result


def _count_sweeps(run: RunUnderWay, target: int) -> Script[bool]:
    """Wait for sweeps until `target` are done; true where the operator ended it before."""
    while len(run.live.sweeps) < target:
        least = run.settings.profile.plan.least_sweeps
        answer = yield Sweeping(len(run.live.sweeps), target, run.pace_advice(), finish_from=least)
        if answer == FINISH:
            return True
    return False
