"""Numbers of the lab with their unit: inches and psi first where the unit is ours, else the unit as given."""

from __future__ import annotations

from rodtrue.model.units import kpa_to_psi, mm_to_inch

_FIRST = {
    "mm": ("in", mm_to_inch(1.0)),
    "kPa": ("psi", kpa_to_psi(1.0)),
    "kPa/mm": ("psi/in", kpa_to_psi(1.0) / mm_to_inch(1.0)),
}


def quantity(value: float, unit: str | None, digits: int = 4) -> str:
    """A value in both systems, in its own unit alone, or bare where nobody has said the unit."""
    if unit not in _FIRST:
        return _plain(value, digits) + (f" {unit}" if unit else "")
    first, factor = _FIRST[unit]
    return f"{_plain(value * factor, digits)} {first} ({_plain(value, digits)} {unit})"


def span(low: float, high: float, unit: str | None, digits: int = 4) -> str:
    """From one value to another, likewise."""
    if unit not in _FIRST:
        return f"{_plain(low, digits)} to {_plain(high, digits)}" + (f" {unit}" if unit else "")
    first, factor = _FIRST[unit]
    in_first = f"{_plain(low * factor, digits)} to {_plain(high * factor, digits)} {first}"
    return f"{in_first} ({_plain(low, digits)} to {_plain(high, digits)} {unit})"


def _plain(value: float, digits: int) -> str:
    return f"{value:.{digits}g}"
