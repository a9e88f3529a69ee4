"""What the customer's page says: verdicts in words and shapes, how far and which way, and what stands out."""

from __future__ import annotations

import itertools
from typing import Any

from rodtrue.model.both_units import in_order
from rodtrue.model.result import RESULT_SCHEMA, Job, Result
from rodtrue.report.body import BODY_WORDS, body_reason, body_sentence
from rodtrue.report.pictures import Scale, body_picture, ruler, scale_for, verdict_picture
from rodtrue.report.shown import characteristic_texts, length_pm, moment, own_words
from rodtrue.run.words import (
    Units,
    advice_sentence,
    length,
    limits_sentence,
    settle_sentence,
    span,
    verdict_sentence,
)

MOST_OF_A_TEXT = 140
MOST_OF_A_FINDING, MOST_OF_STOPS, MOST_OF_WARNINGS = 400, 800, 560
"""Characters for which the page has room; what is left out is said, and stands on the lab's pages."""

Run = tuple[str, Result]


def runs_of(job: Job) -> list[Run]:
    """Return the runs with their titles; a result stored alone is neither as found nor as left."""
    if job.schema == RESULT_SCHEMA:
        return [("Measured", job.as_found)]
    return [("As found", job.as_found), *([("As left", job.as_left)] if job.as_left else [])]


def first_page(job: Job, runs: list[Run], units: Units, valve_body_serial: str | None) -> dict[str, Any]:
    """Return what the template shows on the first page."""
    last = runs[-1][1]
    scale = scale_for([result for _, result in runs])
    stops, stops_more = _listed(runs, "stop", MOST_OF_STOPS, units)
    warnings, warnings_more = _listed(runs, "warning", MOST_OF_WARNINGS, units)
    facts = {
        "Customer": job.customer,
        "Unit": last.unit,
        "Valve body, serial number": valve_body_serial,
        "Order": job.reference,
        "Measured by": last.operator,
    }
    return {
        "facts": [[name, own_words(text, MOST_OF_A_TEXT)] for name, text in facts.items() if text],
        "stops": stops,
        "stops_more": stops_more,
        "cards": [_card(title, result, scale, units) for title, result in runs],
        "unmeasured": _unmeasured(job, runs),
        "warnings": warnings,
        "warnings_more": warnings_more,
        "limits": _limits(runs, units),
    }


def _card(title: str, result: Result, scale: Scale | None, units: Units) -> dict[str, Any]:
    body_only = result.reference == "lever_stop"
    word, sentence = verdict_sentence(result, units).split(": ", 1)
    picture = verdict_picture(result.verdict)
    if body_only:
        word = BODY_WORDS[result.body_verdict].upper()
        sentence = "Measured at the lever's own stop: the valve body is judged, and no rod. "
        sentence += body_reason(result, units)
        picture = body_picture(result.body_verdict)
    advice = [advice_sentence(result, units), settle_sentence(result)]
    return {
        "title": title,
        "when": moment(result.taken_at),
        "word": ("Valve body: " if body_only else "") + word,
        "sentence": sentence[0].upper() + sentence[1:],
        "picture": picture.svg(),
        "picture_says": picture.title,
        "picture_wide": picture.width,
        "amount": _amount(result, units),
        "ruler": None if result.rod_error is None or scale is None else ruler(result.rod_error, scale, units).svg(),
        "ruler_says": "" if result.rod_error is None else f"Ruler: {_ruler_words(result, units)}",
        "advice": [sentence for sentence in advice if sentence],
        "effect": None if result.expected_effect is None else in_order(result.expected_effect.sentence, units),
        "characteristics": [characteristic_texts(c, units) for c in result.characteristics] if body_only else [],
        "body": None if body_only else body_sentence(result, units),
    }


def _amount(result: Result, units: Units) -> list[str]:
    """Return how far and which way: two lines, one a unit system; none where nothing is known."""
    error = result.rod_error
    if error is None:
        return []
    if error.value_mm is not None:
        return list(length_pm(error.value_mm, error.expanded_uncertainty_mm, units))
    if error.at_most_mm is None:
        return []
    return [f"short by at least {length(-error.at_most_mm, False, units)}"]


def _ruler_words(result: Result, units: Units) -> str:
    error = result.rod_error
    assert error is not None
    if error.interval_mm is None:
        return "; ".join(_amount(result, units)) or "no value"
    return f"between {span(*error.interval_mm, units)}"


def _limits(runs: list[Run], units: Units) -> str:
    error = next((result.rod_error for _, result in runs if result.rod_error is not None), None)
    if error is None:
        return ""
    bar = "The bar on the ruler is the interval in which the rod's error lies; the shaded zone is what is right."
    return f"{limits_sentence(error, units)} {bar}"


def _unmeasured(job: Job, runs: list[Run]) -> str | None:
    found = job.as_found
    if job.as_left is not None or runs[0][0] != "As found":
        return None
    what = "rod" if found.verdict in ("long", "short") else ""
    if found.reference == "lever_stop" and found.body_verdict == "nonconforming":
        what = "valve body"
    if not what:
        return None
    return f"There is no run after this one: the {what} is left as it was found, or was not measured again."


def _listed(runs: list[Run], severity: str, room: int, units: Units) -> tuple[list[dict[str, str]], int]:
    """Return the findings of one severity for which there is room, and how many more there are.

    One that several runs say in the same words is said once.
    """
    said: dict[str, list[str]] = {}
    for title, result in runs:
        for finding in result.findings:
            titles = said.setdefault(finding.text, []) if finding.severity == severity else [title]
            if title not in titles:
                titles.append(title)
    texts = {
        own_words(in_order(text, units), MOST_OF_A_FINDING): " and ".join(titles).capitalize()
        for text, titles in said.items()
    }
    ends = itertools.accumulate(map(len, texts))
    shown = [
        {"text": text, "runs": titles}
        for (text, titles), end in zip(texts.items(), ends, strict=True)
        if end <= room
    ]
    return shown, len(texts) - len(shown)
