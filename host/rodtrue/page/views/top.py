"""The head of the page: name, fixture, units, theme; and alarms, large."""

from __future__ import annotations

from nicegui import ui

from rodtrue.model.both_units import in_order
from rodtrue.page.elements import box, key, say
from rodtrue.page.screen import Screen, View
from rodtrue.page.shown import Shown
from rodtrue.run.words import VIRTUAL_MARK, Units


def _head_seen(shown: Shown) -> object:
    run = shown.run
    fixture = None if run is None else (run.kind, run.port, run.calibrated, run.fixture_lost)
    return shown.phase, shown.units, fixture


def _draw_head(screen: Screen, shown: Shown) -> None:
    say("Rodtrue", "rt-name", "h1")
    say(_fixture_words(shown), "rt-fixture")
    if shown.run is not None and shown.run.kind == "virtual":
        say(VIRTUAL_MARK[0].upper() + VIRTUAL_MARK[1:], "rt-virtual-mark")
    with box("rt-head-keys"):
        if screen.engine.desk is not None:
            say("History", "rt-key rt-quiet", "a", href="/history")
        other: Units = "metric" if shown.units == "inch" else "inch"
        words = "Show mm, kPa first" if shown.units == "inch" else "Show in, psi first"
        key(words, lambda: screen.do(lambda: screen.engine.set_units(other)), "rt-quiet")
        key("Light or dark", lambda: ui.run_javascript("rodtruePage.turnTheme()"), "rt-quiet")


def _fixture_words(shown: Shown) -> str:
    run = shown.run
    if run is None:
        return "No fixture open"
    name = "Virtual fixture" if run.kind == "virtual" else f"Fixture at {run.port}"
    if shown.phase == "over":
        return f"{name}: run is over"
    if run.fixture_lost:
        return f"✕ {name}: unplugged"
    return f"● {name}: connected" + ("" if run.calibrated else ", not calibrated")


def _alarms_seen(shown: Shown) -> object:
    return shown.units, () if shown.run is None else shown.run.alarms


def _draw_alarms(screen: Screen, shown: Shown) -> None:
    for notice in shown.run.alarms if shown.run else ():
        with box(f"rt-alarm rt-alarm-{notice.severity}"):
            say("STOP" if notice.severity == "stop" else "LOOK HERE", "rt-alarm-word", "strong")
            say(in_order(notice.text, shown.units), "rt-alarm-text")


HEAD = View(_head_seen, _draw_head)
ALARMS = View(_alarms_seen, _draw_alarms)
