"""How the rod is set: how far and which way, then the layout's own steps with their drawings."""

from __future__ import annotations

from rodtrue.instructions import for_layout
from rodtrue.page.elements import box, drawing, say
from rodtrue.page.screen import Screen
from rodtrue.page.shown import RunShown
from rodtrue.run.prompts import Ask
from rodtrue.run.words import correction_sentence


def draw_adjusting(screen: Screen, run: RunShown, ask: Ask) -> None:
    """Draw the correction; while the rod is being set, the steps too."""
    result = run.results.get("as-found")
    if result is None:
        return
    say(correction_sentence(result.correction, screen.engine.shown.units), "rt-correction")
    if ask.code != "adjusted":
        return
    with box("rt-how", "ol", aria_label="How the rod is set"):
        for step in for_layout(run.profile.layout, run.profile.action):
            with box("rt-how-step", "li"):
                say(step.title, "rt-how-name", "h3")
                drawing(step.drawing_svg, "rt-how-drawing")
                say(step.text, "rt-how-text")
    say("Common practice; the unit's service information comes first.", "rt-soft")
