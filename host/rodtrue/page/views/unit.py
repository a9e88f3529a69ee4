"""The virtual unit's handle: what hands would do at a real one."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from functools import partial

from nicegui.element import Element

from rodtrue.model.errors import InputError
from rodtrue.page.choice import Hands
from rodtrue.page.elements import box, key, pick, say, switch
from rodtrue.page.fixture import BenchFixture
from rodtrue.page.screen import Screen, View
from rodtrue.page.shown import RunShown, Shown, UnitShown
from rodtrue.page.views.setup import FAULTS
from rodtrue.run.prompts import Sweeping
from rodtrue.virtual.faults import OF_RODS
from rodtrue.virtual.handle import Handle

_HANDS: dict[Hands, str] = {
    "helper": "virtual hands do the steps, I answer",
    "mine": "my own, with these controls",
    "autopilot": "show me: everything is done and answered",
}
SLOW_S, QUICK_S = 3.0, 1.6
MOST_TRAVEL_MM = 50
PRESSED_S = 0.15

_ROD_OFF = ("rod", "spring")
_NEEDED: dict[str, tuple[str, ...]] = {
    "rod_unhooked": _ROD_OFF,
    "unhook_again": _ROD_OFF,
    "hook_up": _ROD_OFF,
    "tap": ("tap",),
    "response_ready": ("push",),
    "response": ("push",),
    "no_response": ("push",),
    "sense_ready": ("quick",),
    "sense": ("quick",),
    "adjusted": ("shorter", "longer"),
}
"""What a step takes, by its question."""

_ONLY_WITH_RODS = ("rod", "spring", "shorter", "longer")


def _handled(shown: Shown, *, at_hand: bool) -> RunShown | None:
    """Return the run whose unit is worked here: at hand, under the question, where a person's own hands do it."""
    run = shown.run
    if run is None or run.unit is None or shown.phase != "run" or (run.unit.hands == "mine") != at_hand:
        return None
    return run


def _unit_view(*, at_hand: bool) -> View:
    def seen(shown: Shown) -> object:
        run = _handled(shown, at_hand=at_hand)
        return None if run is None else (run.unit, run.choice.virtual.hidden, needed(run))

    def draw(screen: Screen, shown: Shown) -> None:
        run = _handled(shown, at_hand=at_hand)
        if run is not None and run.unit is not None:
            _draw(screen, run, run.unit)

    return View(seen, draw)


def _throttle_view(*, at_hand: bool) -> View:
    def seen(shown: Shown) -> object:
        return _handled(shown, at_hand=at_hand) is not None

    def draw(screen: Screen, shown: Shown) -> None:
        run = _handled(shown, at_hand=at_hand)
        if run is not None:
            _draw_throttle(screen, "Lever" if _body_alone(run) else "Throttle pin")

    return View(seen, draw)


def needed(run: RunShown) -> tuple[str, ...]:
    """Return what the step takes of a person's own hands at a virtual unit: those controls stand in the step."""
    if run.unit is None or run.unit.hands != "mine":
        return ()
    if isinstance(run.prompt, Sweeping):
        return ("slow", "quick")
    return _NEEDED.get(getattr(run.prompt, "code", ""), ())


def _body_alone(run: RunShown) -> bool:
    return run.choice.measured_from == "lever_stop"


def draw_needed(screen: Screen, run: RunShown) -> None:
    """Draw what the step takes, if anything."""
    names = needed(run)
    if not names or run.unit is None:
        return
    controls = _controls(screen, run.unit)
    with box("rt-unit-keys", "div", role="group", aria_label="Virtual unit, for this step"):
        for name in names:
            controls[name]().classes("rt-needed")
        if "longer" in names and not run.choice.virtual.hidden:
            turns = say("", "rt-unit-turns")
            screen.follow(lambda shown: setattr(turns, "text", _turns_words(shown)))


def _turns_words(shown: Shown) -> str:
    unit = None if shown.run is None else shown.run.unit
    return "" if unit is None else f"Adjuster: {unit.rod_turns:+g} turns"


def _controls(screen: Screen, unit: UnitShown) -> dict[str, Callable[[], Element]]:
    """Return what draws each control, by its name."""

    def steer(act: Callable[[Handle, BenchFixture], None]) -> Callable[[], object]:
        return lambda: screen.do(lambda: screen.engine.steer(act))

    hooked, spring = not unit.rod_hooked, not unit.holding_spring
    return {
        "rod": lambda: switch(
            "Rod on its pin", unit.rod_hooked, steer(lambda h, _: setattr(h, "rod_hooked", hooked))
        ),
        "spring": lambda: switch(
            "Holding spring", unit.holding_spring, steer(lambda h, _: setattr(h, "holding_spring", spring))
        ),
        "tap": lambda: key("Tap the lever", steer(lambda h, _: h.tap_lever())),
        "push": lambda: key("Push the lever", steer(lambda h, _: h.show_response())),
        "slow": lambda: key("One slow sweep", steer(lambda _, fixture: _sweep(fixture, SLOW_S))),
        "quick": lambda: key("One quick sweep", steer(lambda _, fixture: _sweep(fixture, QUICK_S))),
        "shorter": lambda: key("Half a turn shorter", steer(lambda h, _: _turn(h, -0.5))),
        "longer": lambda: key("Half a turn longer", steer(lambda h, _: _turn(h, 0.5))),
        "foot": lambda: key("Press the foot switch", lambda: _press(screen)),
    }


def _draw(screen: Screen, run: RunShown, unit: UnitShown) -> None:
    engine, in_the_step = screen.engine, needed(run)
    say("Virtual unit", "rt-part-name", "h2")
    with box("rt-unit-keys"):
        for name, control in _controls(screen, unit).items():
            if name not in in_the_step and not (_body_alone(run) and name in _ONLY_WITH_RODS):
                control()
        if not run.choice.virtual.hidden and not _body_alone(run):
            say(f"Adjuster: {unit.rod_turns:+g} turns", "rt-unit-turns")
        if unit.cable_in:
            key("Pull the cable", lambda: screen.do(engine.pull_cable))
        else:
            key("Plug the cable in", lambda: screen.do(engine.plug_in), "rt-main-key")
    here = screen.may("answer_safety_questions")

    def give_to(value: str) -> object:
        return screen.do(lambda: engine.set_hands(_hands(value), from_here=here))

    names = {str(hands): words for hands, words in _HANDS.items() if here or hands in ("helper", "mine", unit.hands)}
    pick("Whose hands", names, unit.hands, give_to)
    if not run.choice.virtual.hidden:
        faults = {word: words for word, words in FAULTS.items() if not (_body_alone(run) and word in OF_RODS)}
        pick("Fault", faults, unit.fault or "", lambda value: _choose_fault(screen, value))


def _choose_fault(screen: Screen, fault: str) -> object:
    return screen.do(lambda: screen.engine.steer(lambda h, _: _set_fault(h, fault)))


def _draw_throttle(screen: Screen, what: str) -> None:
    with box("rt-field") as whole:
        field = box("rt-slider", "input", type="range", min="0", max=str(MOST_TRAVEL_MM), step="0.5")
        field.props["defaultValue"] = "0"  # as `value` it would jump back whenever anything on the page changes
        field.on(
            "input",
            lambda event: screen.do(lambda: screen.engine.steer(lambda h, _: _move(h, event.args))),
            js_handler="(e) => emit(Number(e.target.value))",
            throttle=0.05,
        )
        say(f"{what}, by hand", "rt-field-name", "label", **{"for": f"c{field.id}"}).move(whole, 0)


def _move(handle: Handle, travel_mm: float) -> None:
    handle.throttle_mm = travel_mm


def _turn(handle: Handle, turns: float) -> None:
    handle.rod_turns += turns


async def _press(screen: Screen) -> None:
    """Press the foot switch and let it go."""
    for pressed in (True, False):
        await screen.do(partial(screen.engine.steer, partial(_hold_foot_switch, pressed)))
        await asyncio.sleep(PRESSED_S)


def _hold_foot_switch(pressed: bool, handle: Handle, _fixture: BenchFixture) -> None:
    handle.foot_switch = pressed


def _hands(word: str) -> Hands:
    return next(hands for hands in _HANDS if hands == word)


def _sweep(fixture: BenchFixture, half_s: float) -> None:
    if fixture.plant is None:
        raise InputError("there is no virtual unit", "Choose the virtual fixture.")
    fixture.plant.handle.follow(fixture.plant.hand.sweep(half_s, half_s, rest_s=0.3, hold_s=0.2))


def _set_fault(handle: Handle, fault: str) -> None:
    handle.fault = fault or None


UNIT, UNIT_AT_HAND = _unit_view(at_hand=False), _unit_view(at_hand=True)
THROTTLE, THROTTLE_AT_HAND = _throttle_view(at_hand=False), _throttle_view(at_hand=True)
