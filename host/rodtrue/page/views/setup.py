"""Before a run: which fixture, which profile, how the pin is moved, whose unit it is."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from rodtrue.link.port import find_ports
from rodtrue.model.both_units import Units, in_order, length
from rodtrue.model.units import MM_PER_INCH
from rodtrue.page.choice import VIRTUAL_PORT, Choice
from rodtrue.page.elements import box, choice, key, pick, say, text_field
from rodtrue.page.history import CHECK_STANDARD
from rodtrue.page.screen import Screen
from rodtrue.page.shown import Shown
from rodtrue.profiles import load_profile, shipped_profiles

_DRIVES = (
    ("slide", "Hand slide", "The normal way at a vehicle: rod hung on a slide whose stop stands for curb idle."),
    ("throttle", "The throttle itself", "In park, never past the running travel limit; engine off for hooking up."),
    ("bench", "Bench", "On a bench with its own supply."),
)
WITH_RODS, BODY_ALONE = "with rods", "body alone"
_ON_BENCH = (
    (WITH_RODS, "Unit with its rods", "The sensor follows the driving end's pin; the rod's length is judged too."),
    (BODY_ALONE, "Valve body alone", "No rod: the sensor sits on the lever, and the body alone is judged."),
)
_PURPOSES = {"": "a customer's unit", CHECK_STANDARD: "the check standard, which shows whether the fixture drifts"}
_SPEEDS = {"1": "as on the clock", "4": "4 times as fast", "12": "12 times as fast"}
FAULTS = {
    "": "none",
    "binding": "linkage binds",
    "stuck-lever": "lever stuck",
    "loose-clamp": "sensor clamp loose",
    "unplugged-sensor": "pressure sensor unplugged",
    "low-supply": "low supply",
    "air": "air in the line",
    "wrong-intermediate-rod": "intermediate rod wrong",
    "baseline-connected": "rod stays on its pin",
}


def draw(screen: Screen, shown: Shown) -> None:
    """Draw the form; it is this browser's own until the run begins, and stays filled in when it is drawn anew."""
    form = _Form(screen)
    say("New run", "rt-stage-name")
    say("What is measured, and with what?", "rt-asked", "h2", id="rt-asked", tabindex="-1")
    if shown.trouble is not None:
        with box("rt-trouble", role="alert"):
            say(in_order(shown.trouble.message, shown.units), "rt-trouble-text")
            say(in_order(shown.trouble.next_step, shown.units), "rt-trouble-text")
    with box("rt-form"):
        virtual = _draw_fixture(screen, form)
        profiles = {name: load_profile(name).title for name in shipped_profiles()}
        if form.choice.profile not in profiles:
            profiles[form.choice.profile] = form.choice.profile
        pick("Profile of the unit", profiles, form.choice.profile, lambda value: form.set(profile=value))
        _draw_drive(form)
        if screen.engine.desk is not None:
            pick("Kept as", _PURPOSES, form.choice.tag or "", lambda value: form.set(tag=value or None))
        with box("rt-form-pair"):
            text_field("Operator", form.choice.operator or "", lambda value: form.set(operator=value))
            text_field("Unit", form.choice.unit or "", lambda value: form.set(unit=value), hint="its number or name")
            text_field("Valve body's serial number", form.choice.serial or "", lambda value: form.set(serial=value))
            text_field("Customer", form.choice.customer or "", lambda value: form.set(customer=value))
            text_field("Order number", form.choice.reference or "", lambda value: form.set(reference=value))
        text_field("Notes", form.choice.notes or "", lambda value: form.set(notes=value))
        _draw_unit(virtual, form, shown.units)
    with box("rt-answers"):
        key("Begin", form.begin, "rt-main-key")


def _draw_drive(form: _Form) -> None:
    """Draw how the pin is moved, and for a bench what stands on it."""

    def take(drive: str) -> None:
        form.set(drive=drive)
        on_bench.set_visibility(drive == "bench")

    choice("How the pin is moved", _DRIVES, form.choice.drive, take)
    on_bench = choice(
        "What is on the bench",
        _ON_BENCH,
        BODY_ALONE if form.choice.body_alone else WITH_RODS,
        lambda value: form.set(body_alone=value == BODY_ALONE),
    )
    on_bench.set_visibility(form.choice.drive == "bench")


class _Form:
    """What has been filled in so far. port: the one that `auto` stands for."""

    def __init__(self, screen: Screen) -> None:
        self._screen = screen
        self.port = self.choice.port

    @property
    def choice(self) -> Choice:
        return self._screen.draft or self._screen.engine.offered

    def set(self, **changes: Any) -> None:
        self._screen.draft = replace(self.choice, **changes)

    def set_unit(self, **changes: Any) -> None:
        self.set(virtual=replace(self.choice.virtual, **changes))

    def made(self) -> Choice:
        """Return the choice, with nothing where nothing was written."""
        texts: dict[str, Any] = {
            name: (getattr(self.choice, name) or "").strip() or None
            for name in ("operator", "unit", "serial", "customer", "reference", "notes")
        }
        return replace(self.choice, port=self.port, **texts)

    async def begin(self) -> None:
        """Begin the run; what hinders it is said, and the form is left as it is."""
        made = self.made()
        if await self._screen.do(lambda: self._screen.engine.begin(made)):
            self._screen.draft = None


def _draw_fixture(screen: Screen, form: _Form) -> Any:
    """Draw what is plugged in, and the virtual fixture by its name; return the box for the latter's settings."""
    boards = find_ports()
    options = [(board.device, board.description, board.device) for board in boards]
    named = form.port
    if named not in (VIRTUAL_PORT, "auto") and named not in [board.device for board in boards]:
        options.append((named, f"Fixture at {named}", "named when the page was started"))
    options.append((VIRTUAL_PORT, "Virtual fixture", "No hardware; what it finds is no measurement, and it says so."))
    if named == "auto":
        form.port = options[0][0]
    if not boards:
        say("No fixture board is plugged in.", "rt-more")

    def choose(port: str) -> None:
        form.port = port
        form.set(port=port)
        unit.set_visibility(port == VIRTUAL_PORT)

    choice("Fixture", options, form.port, choose)
    key("Look again for fixtures", screen.redraw, "rt-quiet rt-small")
    unit = box("rt-form-unit")
    unit.set_visibility(form.port == VIRTUAL_PORT)
    return unit


def _draw_unit(unit: Any, form: _Form, units: Units) -> None:
    virtual = form.choice.virtual
    with unit, box("rt-unit-set", "fieldset"):
        say("Its invented unit", "rt-field-name", "legend")
        _draw_error(form, units)
        pick("Fault", FAULTS, virtual.fault or "", lambda value: form.set_unit(fault=value or None))
        pick("Time passes", _SPEEDS, f"{virtual.speed:g}", lambda value: form.set_unit(speed=float(value)))


def _draw_error(form: _Form, units: Units) -> None:
    """Ask for the rod error in the units that come first, and say in both what counts by now."""
    name, unit_mm = ("in", MM_PER_INCH) if units == "inch" else ("mm", 1.0)

    def take(text: str) -> None:
        try:
            form.set_unit(rod_error_mm=unit_mm * float(text.replace(",", ".")))
            counts.text = told()
        except ValueError:
            counts.text = f"That is no number yet; what counts is {told()}"

    def told() -> str:
        return length(form.choice.virtual.rod_error_mm, signed=True, first=units)

    typed = f"{form.choice.virtual.rod_error_mm / unit_mm:.4g}"
    text_field(f"Rod error, {name} (short: negative)", typed, take)
    counts = say(told(), "rt-soft")
