"""How the rod is set: how far and which way, then the layout's own steps with their drawings."""

from __future__ import annotations

from rodtrue.instructions import for_layout
from rodtrue.page.elements import box, drawing, say
from rodtrue.page.screen import Screen, View
from rodtrue.page.shown import RunShown, Shown
from rodtrue.run.prompts import Ask
from rodtrue.run.words import correction_sentence


def draw_correction(screen: Screen, run: RunShown) -> None:
    """Draw how far and which way."""
    result = run.results.get("as-found")
    if result is not None:
        say(correction_sentence(result.correction, screen.engine.shown.units), "rt-correction")


def _is_being_set(run: RunShown | None) -> bool:
    return run is not None and isinstance(run.prompt, Ask) and run.prompt.code == "adjusted"


def _seen(shown: Shown) -> object:
    run = shown.run
    return None if run is None or not _is_being_set(run) else (run.profile.layout, run.profile.action)


def _draw(screen: Screen, shown: Shown) -> None:
    """Draw the steps under the keys, so that these stay in view while the rod is being set."""
    run = shown.run
    if run is None or not _is_being_set(run):
        return
    say("How the rod is set", "rt-part-name", "h2")
    with box("rt-how", "ol", aria_label="How the rod is set"):
        for step in for_layout(run.profile.layout, run.profile.action):
            with box("rt-how-step", "li"):
                say(step.title, "rt-how-name", "h3")
                drawing(step.drawing_svg, "rt-how-drawing")
                say(step.text, "rt-how-text")
    say("Common practice; the unit's service information comes first.", "rt-soft")


HOW = View(_seen, _draw)
