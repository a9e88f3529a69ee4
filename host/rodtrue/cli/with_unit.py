"""Numbers typed with their unit, as in '3 mm' or '0.12 in'."""

from __future__ import annotations

import math

from rodtrue.model.errors import InputError
from rodtrue.model.units import MM_PER_INCH


def length_mm(option: str, text: str) -> float:
    """Return a length in mm; a number alone is in mm. Raises: InputError for anything else."""
    value, _, unit = text.strip().partition(" ")
    factor = {"": 1.0, "mm": 1.0, "in": MM_PER_INCH}.get(unit.strip())
    try:
        number = float(value)
    except ValueError:
        factor = None
    if factor is None:
        raise InputError(f"{option} {text!r}: no length", "Give it as '3 mm' or '0.12 in'; a number alone is in mm.")
    return number * factor


def reach_mm(option: str, text: str) -> float:
    """Return a length that is no less than nothing, in mm. Raises: InputError."""
    reach = length_mm(option, text)
    if reach < 0 or math.isnan(reach):
        raise InputError(f"{option} {text!r}: less than nothing", "Give how far it may be off either way, 0 or more.")
    return reach
