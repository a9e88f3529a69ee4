"""Numbers typed with their unit, as in '3 mm' or '260 psi'."""

from __future__ import annotations

import math

from rodtrue.model.errors import InputError
from rodtrue.model.units import KPA_PER_PSI, MM_PER_INCH

LENGTH_HELP = "As '3 mm' or '0.12 in'; a number alone is in mm."


def length_mm(option: str, text: str) -> float:
    """Return a length in mm; a number alone is in mm. Raises: InputError for anything else."""
    number = _number(text, {"": 1.0, "mm": 1.0, "in": MM_PER_INCH})
    if number is None:
        raise InputError(f"{option} {text!r}: no length", "Give it as '3 mm' or '0.12 in'; a number alone is in mm.")
    return number


def rod_error_mm(given: str | float) -> float:
    """Return what --rod-error of a virtual unit says, in mm; its default is in mm already. Raises: InputError."""
    return length_mm("--rod-error", given) if isinstance(given, str) else given


def reach_mm(option: str, text: str) -> float:
    """Return a length that is no less than nothing, in mm. Raises: InputError."""
    reach = length_mm(option, text)
    if reach < 0 or math.isnan(reach):
        raise InputError(f"{option} {text!r}: less than nothing", "Give how far it may be off either way, 0 or more.")
    return reach


def pressure_kpa(option: str, text: str) -> float:
    """Return a pressure in kPa; a number alone is in kPa. Raises: InputError for anything else."""
    number = _number(text, {"": 1.0, "kPa": 1.0, "psi": KPA_PER_PSI})
    if number is None:
        raise InputError(f"{option} {text!r}: no pressure", "Give it as '260 psi' or '1800 kPa'.")
    return number


def _number(text: str, factors: dict[str, float]) -> float | None:
    """Return the number in the unit whose factor is 1; None where it is none, or of another unit."""
    value, _, unit = text.strip().partition(" ")
    try:
        return float(value) * factors[unit.strip()]
    except (ValueError, KeyError):
        return None
