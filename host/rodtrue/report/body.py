"""The valve body's verdict in a sentence or two: which characteristic decided it, and against which limit."""

from __future__ import annotations

from rodtrue.model.both_units import Units, both, in_order
from rodtrue.model.result import Characteristic, Result
from rodtrue.report.shown import NONE, characteristic_texts
from rodtrue.run.words import BODY_WORDS, verdict_sentence


def headline(result: Result, first: Units = "inch") -> tuple[str, str]:
    """Return the main word and what follows it: of the rod, or of a valve body alone, where no rod was measured.

    What follows goes on after a colon; on a line of its own it takes a capital.
    """
    if result.reference != "lever_stop":
        word, _, more = verdict_sentence(result, first).partition(": ")
        return word, more
    why = f": {in_order(result.reason, first)}" if result.reason else ""
    return (
        f"VALVE BODY {BODY_WORDS[result.body_verdict].upper()}",
        f"{body_reason(result, first)} Measured at the lever's own stop. Rod: {result.verdict}{why}.",
    )


def body_sentence(result: Result, first: Units = "inch") -> str:
    """Return the verdict on the valve body with its reason, in words for whoever owns the unit."""
    return f"Valve body: {BODY_WORDS[result.body_verdict]}. {body_reason(result, first)}"


def body_reason(result: Result, first: Units = "inch") -> str:
    """Return why the valve body is judged as it is, or why it is not."""
    found = result.characteristics
    if result.body_verdict is None:
        limited = any(limit is not None for each in found for limit in each.limits)
        if not found or limited:
            return "These data hold no value of it that could be held against a limit."
        return "The profile gives no limits for it."
    beyond = [each for each in found if each.decision in ("above", "below")]
    if beyond:
        return " ".join(_beyond(each, first) for each in beyond)
    open_ones = [_undecided(each, first) for each in found if each.decision == "undecided"]
    if open_ones and any(finding.code.startswith("calibration_") for finding in result.findings):
        open_ones.append("A calibrated fixture tells it more closely.")
    missing = [_name(each) for each in found if each.decision == "not judged" and each.limits != (None, None)]
    untold = [f"Not determined: {', '.join(missing)}."] if missing else []
    if open_ones:
        return " ".join(open_ones + untold)
    within = f"Within limits: {', '.join(_name(each) for each in found if each.decision == 'within')}."
    if result.body_verdict == "undecided" and not untold:
        untold = ["But something stands in the way of calling it conforming: the findings say what."]
    return " ".join([within, *untold])


def _name(each: Characteristic) -> str:
    return each.name.replace("_", " ")


def _measured(each: Characteristic, first: Units) -> str:
    texts = characteristic_texts(each, "inch")
    return f"the {_name(each)} of {both(texts['first'], texts['other'], first)}"


def _limits(each: Characteristic, first: Units) -> str:
    texts = characteristic_texts(each, "inch")
    return both(texts["limits"], texts["limits_other"], first) if texts["limits"] != NONE else "its limits"


def _beyond(each: Characteristic, first: Units) -> str:
    return f"{_capital(_measured(each, first))} is {each.decision} what is allowed: {_limits(each, first)}."


def _undecided(each: Characteristic, first: Units) -> str:
    """Say which limit the interval straddles; both where both."""
    low, high = each.limits
    value, reach = each.value or 0.0, each.expanded_uncertainty or 0.0
    under, over = low is not None and value - reach < low, high is not None and value + reach > high
    side = "below or above it" if under and over else "below it" if under else "above it"
    return (
        f"{_capital(_measured(each, first))} may lie within what is allowed, {_limits(each, first)}, or {side}: "
        "it is not known closely enough."
    )


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]
