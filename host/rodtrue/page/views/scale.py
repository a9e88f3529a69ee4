"""The rod scale of the page: what has been judged, and until then what the sweeps hint at."""

from __future__ import annotations

from rodtrue.model.result import Result
from rodtrue.page.elements import drawing, say
from rodtrue.page.ruler import Mark, Shape, in_units, ruler_svg
from rodtrue.page.screen import Screen, View
from rodtrue.page.shown import RunShown, Shown
from rodtrue.run.prompts import Sweeping
from rodtrue.run.words import Units

_SHAPES: dict[str, Shape] = {"as-found": "diamond", "as-left": "circle"}


def _seen(shown: Shown) -> object:
    run = shown.run
    if run is None:
        return shown.units
    return shown.units, run.profile.name, run.onset_mm, isinstance(run.prompt, Sweeping), _key(run)


def _key(run: RunShown) -> object:
    return tuple((label, id(result)) for label, result in run.results.items())


def _draw(screen: Screen, shown: Shown) -> None:
    run = shown.run
    if run is None or run.choice.measured_from == "lever_stop":
        return
    say("Rod scale", "rt-part-name", "h2")
    marks = [mark for label, result in run.results.items() if (mark := _judged(label, result))]
    if run.onset_mm is not None and (run.label not in run.results or isinstance(run.prompt, Sweeping)):
        marks.append(Mark("indication", "hollow", run.profile.lever.free_mm - run.onset_mm))
    limits = run.profile.limits
    drawing(ruler_svg((-limits.rod_short_mm, limits.rod_long_mm), marks, shown.units, _words(marks, shown.units)))
    if marks:
        say("The plot runs the other way: a ramp that begins late, on its right, is a short rod.", "rt-soft")


def _judged(label: str, result: Result) -> Mark | None:
    error = result.rod_error
    name = label.replace("-", " ")
    if error is None:
        return None
    if error.value_mm is not None:
        return Mark(name, _SHAPES[label], error.value_mm, error.interval_mm)
    if error.at_most_mm is not None:
        return Mark(f"{name}, or shorter", _SHAPES[label], error.at_most_mm, only_below=True)
    return None


def _words(marks: list[Mark], units: Units) -> str:
    if not marks:
        return "Ruler with the zone in which the rod is right; nothing measured yet."
    return "; ".join(f"{mark.name} {in_units(mark.value_mm, units)}" for mark in marks)


SCALE = View(_seen, _draw)
