"""The verdicts, as found and as left side by side: in words, in shape, with what follows from them."""

from __future__ import annotations

from rodtrue.model.both_units import in_order, slope
from rodtrue.model.result import Characteristic, Result
from rodtrue.page.elements import box, drawing, say
from rodtrue.page.screen import Screen, View
from rodtrue.page.shown import Shown
from rodtrue.report.body import body_sentence, headline
from rodtrue.run.prompts import Sweeping
from rodtrue.run.words import (
    Units,
    advice_sentence,
    error_sentence,
    length,
    limits_sentence,
    pressure,
    settle_sentence,
)

_LABELS = {"as-found": "As found", "as-left": "As left"}
_SIGNS = {"stop": "STOP", "warning": "Warning", "note": "Note"}
_ROD = '<path d="M8 32H72" stroke="currentColor" stroke-width="7" stroke-linecap="round"/>'
_SHAPES = {
    "short": '<path d="M26 32H54" stroke="currentColor" stroke-width="7" stroke-linecap="round"/>'
    '<path d="M2 32H18M11 24l8 8-8 8M78 32H62M69 24l-8 8 8 8" fill="none" stroke="currentColor" stroke-width="4"/>',
    "long": '<path d="M22 32H58" stroke="currentColor" stroke-width="7" stroke-linecap="round"/>'
    '<path d="M18 32H3M10 24l-8 8 8 8M62 32H77M70 24l8 8-8 8" fill="none" stroke="currentColor" stroke-width="4"/>',
    "correct": _ROD
    + '<path d="M30 30l8 9 15-22" fill="none" stroke="var(--sheet)" stroke-width="11"/>'
    + '<path d="M30 28l8 9 15-22" fill="none" stroke="currentColor" stroke-width="5"/>',
    "undecided": '<path d="M8 32H30M50 32H72" stroke="currentColor" stroke-width="7" stroke-linecap="round"/>'
    '<text x="40" y="42" text-anchor="middle" font-size="30" font-weight="700" fill="currentColor">?</text>',
    "conforming": '<circle cx="40" cy="32" r="26" fill="none" stroke="currentColor" stroke-width="4"/>'
    '<path d="M28 32l9 10 16-22" fill="none" stroke="currentColor" stroke-width="5"/>',
    "nonconforming": '<circle cx="40" cy="32" r="26" fill="none" stroke="currentColor" stroke-width="4"/>'
    '<path d="M29 21l22 22M51 21L29 43" stroke="currentColor" stroke-width="5"/>',
    "no result": '<path d="M8 32H72" stroke="currentColor" stroke-width="4" stroke-dasharray="8 8"/>',
}


def _seen(shown: Shown) -> object:
    run = shown.run
    if run is None:
        return shown.units
    return shown.units, tuple((k, id(v)) for k, v in run.results.items()), isinstance(run.prompt, Sweeping)


def _draw(screen: Screen, shown: Shown) -> None:
    run = shown.run
    if run is None or not run.results:
        return
    judged = {k: v for k, v in run.results.items() if k != run.label or not isinstance(run.prompt, Sweeping)}
    if not judged:
        return
    say("Verdict", "rt-part-name", "h2")
    with box("rt-verdicts"):
        for label, result in judged.items():
            draw_result(_LABELS[label], result, shown.units)


def main_verdict(reference: str | None, verdict: str, body_verdict: str | None) -> str:
    """Return the word that decides which sign is drawn."""
    return body_verdict or "no result" if reference == "lever_stop" else verdict


def draw_shape(verdict: str, classes: str) -> None:
    """Draw a verdict's sign; the word stands beside it."""
    drawing(f'<svg viewBox="0 0 80 64" aria-hidden="true">{_SHAPES[verdict]}</svg>', classes)


def draw_result(label: str, result: Result, units: Units) -> None:
    """Draw one result whole: verdict, error, findings, what follows, and the valve body's quantities.

    Of a valve body alone its own verdict is the main word.
    """
    word, more = headline(result, units)
    with box("rt-verdict", "article", aria_label=f"{label}: {word.lower()}"):
        say(label, "rt-verdict-label", "h3")
        for finding in result.findings:
            if finding.severity == "stop":
                say(f"STOP: {in_order(finding.text, units)}", "rt-finding rt-finding-stop")
        with box("rt-verdict-word"):
            draw_shape(main_verdict(result.reference, result.verdict, result.body_verdict), "rt-verdict-shape")
            say(word, "rt-verdict-name")
        say(f"{more[:1].upper()}{more[1:]}", "rt-verdict-more")
        _draw_error(result, units)
        for finding in result.findings:
            if finding.severity != "stop":
                words = f"{_SIGNS[finding.severity]}: {in_order(finding.text, units)}"
                say(words, f"rt-finding rt-finding-{finding.severity}")
        _draw_characteristics(result, units)


def _draw_error(result: Result, units: Units) -> None:
    if result.rod_error is not None:
        say(error_sentence(result.rod_error, units), "rt-verdict-error")
        say(limits_sentence(result.rod_error, units), "rt-soft")
    for words in (advice_sentence(result, units), settle_sentence(result)):
        if words:
            say(words, "rt-correction")
    if result.expected_effect is not None:
        say(in_order(result.expected_effect.sentence, units), "rt-soft")


def _draw_characteristics(result: Result, units: Units) -> None:
    known = [each for each in result.characteristics if each.value is not None]
    if not known:
        return
    of_body = result.reference == "lever_stop"
    if not of_body:
        say(body_sentence(result, units), "rt-soft")
    with box("rt-details", "details", **({"open": True} if of_body else {})):
        say("Valve body, quantity by quantity", "", "summary")
        with box("rt-table", "table"), box("", "tbody"):
            for each in known:
                _draw_row(each, units)


def _draw_row(each: Characteristic, units: Units) -> None:
    with box("", "tr"):
        say(each.name.replace("_", " "), "", "th", scope="row")
        say(_value(each, units), "", "td")
        say("" if each.decision == "not judged" else each.decision, "", "td")


def _value(each: Characteristic, units: Units) -> str:
    assert each.value is not None
    if each.unit == "mm":
        return length(each.value, first=units)
    if each.unit == "kPa":
        return pressure(each.value, first=units)
    return slope(each.value, units)


RESULTS = View(_seen, _draw)
