"""Values in words, in both unit systems; and texts that hold such values turned to the other order.

A text is stored with psi and inches first; whoever shows it asks `in_order` for the order wanted.
"""

from __future__ import annotations

import re
from typing import Literal

from rodtrue.model.units import MM_PER_INCH, kpa_to_psi, mm_to_inch

Units = Literal["inch", "metric"]
"""Which of the two systems comes first; the other follows in brackets."""


def length(value_mm: float, signed: bool = False, first: Units = "inch") -> str:
    """Return a length in inches and millimetres."""
    sign = "+" if signed else ""
    return both(f"{mm_to_inch(value_mm):{sign}z.3f} in", f"{value_mm:{sign}z.2f} mm", first)


def pressure(value_kpa: float, first: Units = "inch") -> str:
    """Return a pressure in psi and kPa."""
    return both(f"{kpa_to_psi(value_kpa):z.1f} psi", f"{value_kpa:z.0f} kPa", first)


def slope(value_kpa_per_mm: float, first: Units = "inch") -> str:
    """Return a pressure per travel in psi per inch and kPa per mm."""
    return both(f"{kpa_to_psi(value_kpa_per_mm) * MM_PER_INCH:z.0f} psi/in", f"{value_kpa_per_mm:z.1f} kPa/mm", first)


def speed(value_mm_per_s: float, first: Units = "inch") -> str:
    """Return a speed in inches and millimetres a second."""
    return both(f"{mm_to_inch(value_mm_per_s):z.1f} in/s", f"{value_mm_per_s:z.0f} mm/s", first)


def both(inches: str, metric: str, first: Units) -> str:
    """Return the two with their units, the first as it is and the other in brackets."""
    return f"{inches} ({metric})" if first == "inch" else f"{metric} ({inches})"


_NUMBER = r"[-+]?\d+(?:\.\d+)?"
_NUMBERS = rf"{_NUMBER}(?: (?:and|to|±|\+-) {_NUMBER})?"
_INCHES = "psi/in|in/s|psi|in|mph|degF"
_METRIC = "kPa/mm|mm/s|kPa|mm|km/h|degC"
_PAIR = re.compile(rf"({_NUMBERS} (?:{_INCHES}|{_METRIC})) \( *({_NUMBERS} (?:{_INCHES}|{_METRIC}))\)")


def in_order(text: str, first: Units) -> str:
    """Return a text of ours with every `value (same value in the other system)` in the order wanted."""

    def turned(pair: re.Match[str]) -> str:
        before, after = pair.groups()
        unit, other = before.split()[-1], after.split()[-1]
        if (unit in _INCHES.split("|")) == (other in _INCHES.split("|")):
            return pair[0]
        inches, metric = (before, after) if unit in _INCHES.split("|") else (after, before)
        return both(inches, metric, first)

    return _PAIR.sub(turned, text)
