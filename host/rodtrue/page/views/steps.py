"""The steps of the job, with where it stands said in words and shape."""

from __future__ import annotations

from rodtrue.page.elements import box, say
from rodtrue.page.screen import Screen, View
from rodtrue.page.shown import RunShown, Shown

_LABELS = {"as-found": "As found", "as-left": "As left"}
_SIGNS = {"done": "✓", "now": "▶", "to come": "○", "ended here": "■", "not done": "–"}


def _seen(shown: Shown) -> object:
    run = shown.run
    return shown.phase, None if run is None else (run.stage, run.label, run.done, tuple(run.stages))


def _draw(screen: Screen, shown: Shown) -> None:
    run = shown.run
    if run is None:
        say("Steps", "rt-part-name", "h2")
        say("Choose a fixture and a profile, then begin. The steps then show here.", "rt-soft")
        return
    codes = list(run.stages)
    over = shown.phase == "over"
    place = f"step {codes.index(run.stage) + 1} of {len(codes)}"
    if over:
        place = "ended early" if run.stopped else "done"
    say(f"{_LABELS[run.label]}: {place}", "rt-part-name", "h2")
    with box("rt-step-list", "ol"):
        for code in codes:
            state = _state(run, code, over=over)
            with box(f"rt-step rt-step-{state.replace(' ', '-')}", "li") as item:
                if state == "now":
                    item.props["aria-current"] = "step"
                say(_SIGNS[state], "rt-step-sign", "span", aria_hidden="true")
                say(run.stages[code], "rt-step-name", "span")
                say(f", {state}", "rt-heard", "span")


def _state(run: RunShown, code: str, *, over: bool) -> str:
    if code in run.done:
        return "done"
    if not over:
        return "now" if code == run.stage else "to come"
    return "ended here" if run.stopped and code == run.stage else "not done"


STEPS = View(_seen, _draw)
