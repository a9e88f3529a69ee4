"""A result in words: the verdict, the error with its interval, what to turn. Both unit systems.

`first` says which of them comes first; the other follows in brackets.
"""

from __future__ import annotations

from rodtrue.analysis.judge import STRADDLES
from rodtrue.model.both_units import Units as Units
from rodtrue.model.both_units import both, in_order
from rodtrue.model.both_units import length as length
from rodtrue.model.both_units import pressure as pressure
from rodtrue.model.both_units import speed as speed
from rodtrue.model.counted import counted
from rodtrue.model.result import Correction, Result, RodError
from rodtrue.model.units import mm_to_inch

VIRTUAL_MARK = "virtual fixture, not a measurement"

_VERDICTS = {
    "long": "LONG: the pressure comes too early.",
    "short": "SHORT: the pressure comes too late.",
    "correct": "CORRECT: the rod's length is within its limits.",
    "undecided": "UNDECIDED: the measurement cannot tell on which side of a limit the rod lies.",
    "no result": "NO RESULT: these data cannot say.",
}
_HINDERED = "UNDECIDED: something stands in the way of a verdict on the rod."

BODY_WORDS = {
    "conforming": "conforming",
    "nonconforming": "nonconforming",
    "undecided": "undecided",
    None: "not judged",
}
"""The verdict on a valve body, in a word."""

_PUSHED = {
    "long": "LONG: the rod is too long, the pressure comes too early.",
    "short": "SHORT: the rod is too short, the pressure comes too late.",
}
_PULLED = {
    "long": "LONG: the pressure comes too early. This rod is pulled: by its own length it is too short.",
    "short": "SHORT: the pressure comes too late. This rod is pulled: by its own length it is too long.",
}


def verdict_sentence(result: Result, first: Units = "inch") -> str:
    """Return the verdict in one or two sentences.

    Long and short are meant as equivalents at the driving end: a pulled rod acts long where it is too short. So
    the rod's own length is told by which way it must be turned, and not at all where that is not known.
    """
    sentence = (_own_length(result) or _VERDICTS)[result.verdict]
    if result.verdict == "undecided" and result.reason != STRADDLES:
        sentence = _HINDERED
    return f"{sentence} {in_order(_as_sentence(result.reason), first)}" if result.reason else sentence


def _own_length(result: Result) -> dict[str, str] | None:
    way = None if result.correction is None else result.correction.direction
    if result.verdict not in ("long", "short") or way not in ("lengthen", "shorten"):
        return None
    return _PUSHED if (result.verdict == "long") == (way == "shorten") else _PULLED


def error_sentence(error: RodError, first: Units = "inch") -> str:
    """Return the rod's error with its interval, or the bound where only that is known."""
    if error.value_mm is None:
        if error.at_most_mm is None:
            return "Rod error: not determined."
        return f"Rod error: {length(error.at_most_mm, True, first)} or below."
    if error.interval_mm is None or error.expanded_uncertainty_mm is None:
        return f"Rod error: {length(error.value_mm, True, first)}."
    percent = f", {100 * error.coverage_probability:g} %" if error.coverage_probability else ""
    return (
        f"Rod error: {length(error.value_mm, True, first)}, give or take "
        f"{length(error.expanded_uncertainty_mm, False, first)}{percent}; between "
        f"{span(*error.interval_mm, first)}."
    )


def limits_sentence(error: RodError, first: Units = "inch") -> str:
    """Return the limits between which a rod is right."""
    return f"Right is between {span(*error.limits_mm, first)}; negative: pressure too late, positive: too early."


def span(low_mm: float, high_mm: float, first: Units = "inch") -> str:
    """Return two signed lengths, `-0.1 and +0.2 in (-2.5 and +5.1 mm)`."""
    inches = f"{mm_to_inch(low_mm):+z.3f} and {mm_to_inch(high_mm):+z.3f} in"
    return both(inches, f"{low_mm:+z.2f} and {high_mm:+z.2f} mm", first)


def correction_sentence(correction: Correction | None, first: Units = "inch") -> str:
    """Return what to do to the rod: what is set first, then direction, amount and where."""
    if correction is None:
        return "Correction: none can be given."
    if correction.direction == "none":
        return "Correction: none needed."
    verb = "Lengthen" if correction.direction == "lengthen" else "Shorten"
    where = f" at the {correction.where}" if correction.where else ""
    set_first = "".join(
        f"First set the {step['rod']} at the {step['where']} with {step['how']}; if that changes it, measure again. "
        for step in correction.steps
        if step["direction"] == "set"
    )
    if correction.amount_mm is None:
        least_mm = correction.at_least_mm
        least = f" by at least {length(least_mm, False, first)}" if least_mm else ""
        return f"{set_first}{verb} the rod{least}{where}, then measure again."
    turns = f", {correction.turns:.2g} turns" if correction.turns is not None else ""
    return f"{set_first}{verb} the rod by {length(correction.amount_mm, False, first)}{turns}{where}."


def advice_sentence(result: Result, first: Units = "inch") -> str | None:
    """Return the correction to act on, or why there is none; None where the data say nothing at all."""
    if result.verdict == "no result":
        return None
    if result.verdict == "undecided" and result.reason != STRADDLES:
        return "Correction: none to act on yet. First mend what stands in the way, then measure again."
    return correction_sentence(result.correction, first)


def settle_sentence(result: Result) -> str | None:
    """Return what would decide an undecided run; None for any other, and where something called for a stop."""
    settle = result.settle
    stopped = any(finding.severity == "stop" for finding in result.findings)
    if result.verdict != "undecided" or settle is None or stopped:
        return None
    if not settle.possible and result.reason == STRADDLES:
        return f"More sweeps cannot decide it: what limits is {settle.limiting_row}."
    if not settle.possible:
        return "More sweeps cannot mend that."
    if settle.sweeps:
        return f"About {counted(settle.sweeps, 'more sweep')} would decide it."
    return f"What limits is {settle.limiting_row}."


def _as_sentence(text: str) -> str:
    return text[0].upper() + text[1:] + ("" if text.endswith(".") else ".")
