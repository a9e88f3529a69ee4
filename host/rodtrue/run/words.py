"""A result in words: the verdict, the error with its interval, what to turn. Both unit systems."""

from __future__ import annotations

from rodtrue.model.result import Correction, Result, RodError
from rodtrue.model.units import kpa_to_psi, mm_to_inch

VIRTUAL_MARK = "virtual fixture, not a measurement"

_VERDICTS = {
    "long": "LONG: the rod is too long, the pressure comes too early.",
    "short": "SHORT: the rod is too short, the pressure comes too late.",
    "correct": "CORRECT: the rod's length is within its limits.",
    "undecided": "UNDECIDED: the measurement cannot tell on which side of a limit the rod lies.",
    "no result": "NO RESULT: these data cannot say.",
}


def length(value_mm: float, signed: bool = False) -> str:
    """Return a length in inches and millimetres."""
    sign = "+" if signed else ""
    return f"{mm_to_inch(value_mm):{sign}.3f} in ({value_mm:{sign}.2f} mm)"


def pressure(value_kpa: float) -> str:
    """Return a pressure in psi and kPa."""
    return f"{kpa_to_psi(value_kpa):.1f} psi ({value_kpa:.0f} kPa)"


def speed(value_mm_per_s: float) -> str:
    """Return a speed in inches and millimetres a second."""
    return f"{mm_to_inch(value_mm_per_s):.1f} in/s ({value_mm_per_s:.0f} mm/s)"


def verdict_sentence(result: Result) -> str:
    """Return the verdict in one or two sentences."""
    sentence = _VERDICTS[result.verdict]
    return f"{sentence} {_as_sentence(result.reason)}" if result.reason else sentence


def error_sentence(error: RodError) -> str:
    """Return the rod's error with its interval, or the bound where only that is known."""
    if error.value_mm is None:
        if error.at_most_mm is None:
            return "Rod error: not determined."
        return f"Rod error: {length(error.at_most_mm, signed=True)} or shorter still."
    if error.interval_mm is None or error.expanded_uncertainty_mm is None:
        return f"Rod error: {length(error.value_mm, signed=True)}."
    low, high = error.interval_mm
    percent = f", {100 * error.coverage_probability:g} %" if error.coverage_probability else ""
    return (
        f"Rod error: {length(error.value_mm, signed=True)}, give or take "
        f"{length(error.expanded_uncertainty_mm)}{percent}; between {mm_to_inch(low):+.3f} and "
        f"{mm_to_inch(high):+.3f} in ({low:+.2f} and {high:+.2f} mm)."
    )


def limits_sentence(error: RodError) -> str:
    """Return the limits between which a rod is right."""
    low, high = error.limits_mm
    return (
        f"Right is between {mm_to_inch(low):+.3f} and {mm_to_inch(high):+.3f} in "
        f"({low:+.2f} and {high:+.2f} mm); short is negative, long is positive."
    )


def correction_sentence(correction: Correction | None) -> str:
    """Return what to do to the rod: what is set first, then direction, amount and where."""
    if correction is None:
        return "Correction: none can be given."
    if correction.direction == "none":
        return "Correction: none needed."
    verb = "Lengthen" if correction.direction == "lengthen" else "Shorten"
    where = f" at the {correction.where}" if correction.where else ""
    first = "".join(
        f"First set the {step['rod']} at the {step['where']} with {step['how']}; if that changes it, measure again. "
        for step in correction.steps
        if step["direction"] == "set"
    )
    if correction.amount_mm is None:
        least = f" by at least {length(correction.at_least_mm)}" if correction.at_least_mm else ""
        return f"{first}{verb} the rod{least}{where}, then measure again."
    turns = f", {correction.turns:.2g} turns" if correction.turns is not None else ""
    return f"{first}{verb} the rod by {length(correction.amount_mm)}{turns}{where}."


def _as_sentence(text: str) -> str:
    return text[0].upper() + text[1:] + ("" if text.endswith(".") else ".")
