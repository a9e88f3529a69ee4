"""The page itself: where its parts stand. Everything it loads comes from this program."""

from __future__ import annotations

from importlib.resources import files

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles
from nicegui import ui

from rodtrue.page.access import Gate
from rodtrue.page.elements import box, drawing, say
from rodtrue.page.engine import Engine
from rodtrue.page.screen import Screen
from rodtrue.page.trainer_view import TRAINER
from rodtrue.page.views.adjusting import HOW
from rodtrue.page.views.kept import DRIFT, KEPT
from rodtrue.page.views.network import draw_network
from rodtrue.page.views.now import ENOUGH, HELP, NOW
from rodtrue.page.views.results import RESULTS
from rodtrue.page.views.said import SAID
from rodtrue.page.views.scale import SCALE
from rodtrue.page.views.steps import STEPS
from rodtrue.page.views.top import ALARMS, HEAD
from rodtrue.page.views.unit import THROTTLE, THROTTLE_AT_HAND, UNIT, UNIT_AT_HAND

_HEAD = (
    '<meta name="color-scheme" content="light dark">'
    '<link rel="stylesheet" href="/static/style.css">'
    '<link rel="stylesheet" href="/static/trainer.css">'
    '<link rel="stylesheet" href="/static/history.css">'
    '<script src="/static/page.js"></script>'
    '<script src="/static/plot.js" defer></script>'
    '<script src="/static/pace.js" defer></script>'
    '<script src="/static/live.js" defer></script>'
)
_LIVE = """
<div class="rt-numbers">
  <div class="rt-number"><span class="rt-number-name" id="rt-travel-name">Travel</span>
    <span class="rt-number-main" id="rt-travel">–</span><span class="rt-number-too" id="rt-travel-too"></span></div>
  <div class="rt-number"><span class="rt-number-name">Throttle pressure</span>
    <span class="rt-number-main" id="rt-pressure">–</span>
    <span class="rt-number-too" id="rt-pressure-too"></span></div>
</div>
<canvas id="rt-plot" class="rt-plot" role="img"
  aria-label="Throttle pressure against travel, live; hatched: the band in which the ramp should begin"></canvas>
<p id="rt-hint" class="rt-hint" aria-live="polite"></p>
<p id="rt-band" class="rt-soft"></p>
"""
_PACE = """
<div id="rt-pace" class="rt-pace" hidden>
  <p id="rt-pace-word" class="rt-pace-word"></p>
  <div class="rt-pace-lanes" aria-hidden="true">
    <span class="rt-pace-name">pace</span><span class="rt-pace-lane rt-pace-guides"><i id="rt-pace-guide"></i></span>
    <span class="rt-pace-name">pin</span><span class="rt-pace-lane"><i id="rt-pace-pin"></i></span>
  </div>
  <p id="rt-pace-plan" class="rt-more"></p>
</div>
"""
TITLE = "Rodtrue"


def lay_out(app: FastAPI, engine: Engine, gate: Gate) -> None:
    """Define the page and what it loads."""
    app.mount("/static", StaticFiles(directory=str(files("rodtrue.page") / "static")))

    @ui.page("/", title=TITLE, viewport="width=device-width, initial-scale=1")
    def bench_page() -> None:
        ui.add_head_html(_HEAD)
        with box("rt-page"):
            _fill(Screen(engine, ui.context.client), gate)


def _fill(screen: Screen, gate: Gate) -> None:
    screen.region(HEAD, "rt-head", "header")
    screen.region(ALARMS, "rt-alarms", "div", role="alert", aria_live="assertive")
    screen.region(DRIFT, "rt-drift", "div", role="status")
    with box("rt-body", "main") as screen.frame:
        screen.region(STEPS, "rt-steps", "nav", aria_label="Steps of the run")
        with box("rt-middle"):
            with box("rt-now-box", "section", aria_label="What to do now") as now_box:
                screen.region(NOW, "rt-now", "div", aria_live="polite")
                drawing(_PACE)
                screen.region(ENOUGH, "rt-enough", "div")
                screen.region(HELP, "rt-help", "div")
            screen.place_complaint(now_box)
            with box("rt-unit-box", "section", aria_label="Virtual unit, at hand"):
                screen.region(UNIT_AT_HAND, "rt-unit", "div")
                screen.region(THROTTLE_AT_HAND, "rt-throttle", "div")
            screen.region(HOW, "rt-how-box", aria_label="How the rod is set")
            screen.region(TRAINER, "rt-trainer", aria_label="Trainer")
            screen.region(KEPT, "rt-kept", "div", role="status")
            screen.region(RESULTS, "rt-results", aria_label="Verdict")
            screen.region(SAID, "rt-said", aria_label="Said in this run")
        with box("rt-side"):
            with box("rt-live", "section", aria_label="Live measurement"):
                drawing(_LIVE)
            screen.region(SCALE, "rt-scale", aria_label="Rod scale")
            with box("rt-unit-box", "section", aria_label="Virtual unit"):
                screen.region(UNIT, "rt-unit", "div")
                screen.region(THROTTLE, "rt-throttle", "div")
    draw_network(screen, gate)
    say(
        "Rodtrue advises a qualified person and replaces none. The unit's service information, local codes and "
        "licensed practice come first.",
        "rt-foot",
        "footer",
    )
    screen.watch()
