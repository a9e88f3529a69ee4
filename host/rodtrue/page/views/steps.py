"""The steps of the job, with where it stands said in words and shape."""

from __future__ import annotations

from rodtrue.page.elements import box, say
from rodtrue.page.screen import Screen, View
from rodtrue.page.shown import Shown

_LABELS = {"as-found": "As found", "as-left": "As left"}


def _seen(shown: Shown) -> object:
    run = shown.run
    return shown.phase, None if run is None else (run.stage, run.label, tuple(run.stages))


def _draw(screen: Screen, shown: Shown) -> None:
    run = shown.run
    if run is None:
        say("Steps", "rt-part-name", "h2")
        say("Choose a fixture and a profile, then begin. The steps then show here.", "rt-soft")
        return
    codes = list(run.stages)
    now = len(codes) if shown.phase == "over" else codes.index(run.stage)
    label = _LABELS[run.label]
    place = "done" if shown.phase == "over" else f"step {now + 1} of {len(codes)}"
    say(f"{label}: {place}", "rt-part-name", "h2")
    with box("rt-step-list", "ol"):
        for number, code in enumerate(codes):
            state = "done" if number < now else "now" if number == now else "to come"
            with box(f"rt-step rt-step-{state.replace(' ', '-')}", "li") as item:
                if state == "now":
                    item.props["aria-current"] = "step"
                say({"done": "✓", "now": "▶", "to come": "○"}[state], "rt-step-sign", "span", aria_hidden="true")
                say(run.stages[code], "rt-step-name", "span")
                say(f", {state}", "rt-heard", "span")


STEPS = View(_seen, _draw)
