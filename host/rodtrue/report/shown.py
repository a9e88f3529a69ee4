"""Values as a report shows them: numbers in both unit systems, times, and people's own words made safe to set."""

from __future__ import annotations

import math
import re
from datetime import datetime
from functools import cache
from typing import Any

from rodtrue.model.both_units import Units, length, pressure, slope, speed
from rodtrue.model.digits import decimals_of, two_digits
from rodtrue.model.result import BudgetRow, Characteristic
from rodtrue.model.units import MM_PER_INCH, kpa_to_psi, mm_to_inch

NONE = "–"
LONGEST_WORD = 28
_UNSEEN = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff]")


def own_words(text: str | None, most: int | None = None) -> str:
    """Return a person's text as it is shown: as data, never as markup.

    Control and direction signs, which could hide or turn words round, become spaces; letters that the font lacks
    are given by their number, as [U+4E2D]; very long words may break anywhere. most: characters kept, with an
    ellipsis after them.
    """
    if text is None or not text.strip():
        return NONE
    kept = _UNSEEN.sub(" ", text.replace("\r\n", "\n")).strip()
    if most is not None:
        kept = " ".join(kept.split())
        if len(kept) > most:
            kept = kept[: most - 1].rstrip() + "…"
    kept = "".join(sign if sign == "\n" or ord(sign) in _letters() else f"[U+{ord(sign):04X}]" for sign in kept)
    return re.sub(rf"\S{{{LONGEST_WORD}}}(?=\S)", "\\g<0>\u200b", kept)


@cache
def _letters() -> frozenset[int]:
    """Return the code points that the report's font can show."""
    import matplotlib
    from matplotlib.ft2font import FT2Font

    return frozenset(FT2Font(f"{matplotlib.get_data_path()}/fonts/ttf/DejaVuSans.ttf").get_charmap())


def moment(taken_at: str | None) -> str:
    """Return an ISO 8601 time as date, time and zone; another text as it is."""
    if taken_at is None:
        return "not recorded"
    try:
        time = datetime.fromisoformat(taken_at)
    except ValueError:
        return own_words(taken_at, 40)
    zone = {None: "no zone given", "UTC+00:00": "UTC", "UTC": "UTC"}.get(time.tzname(), time.tzname())
    return f"{time:%Y-%m-%d %H:%M} {zone}"


def length_pm(value_mm: float, reach_mm: float | None, units: Units) -> tuple[str, str]:
    """Return a length with its expanded uncertainty in the first and in the other system."""
    reach_in = None if reach_mm is None else mm_to_inch(reach_mm)
    inches = f"{mm_to_inch(value_mm):+z.3f}{_pm(reach_in, '.3f')} in"
    return ordered(inches, f"{value_mm:+z.2f}{_pm(reach_mm, '.2f')} mm", units)


def ordered(inches: str, metric: str, units: Units) -> tuple[str, str]:
    """Return the two, the one to come first in front."""
    return (inches, metric) if units == "inch" else (metric, inches)


def signed(value_mm: float | None, units: Units) -> str:
    """Return a signed length in both systems."""
    return NONE if value_mm is None else length(value_mm, True, units)


def characteristic_texts(shown: Characteristic, units: Units) -> dict[str, str]:
    """Return name, value in either system, limits and decision of a characteristic."""
    us = _CONVERSIONS.get(shown.unit, (1.0, shown.unit, 3, 3))[1]

    def written(number: float | None, reach: float | None) -> tuple[str, str]:
        return (NONE, NONE) if number is None else _numbers(number, shown.unit, reach, units)

    give = shown.expanded_uncertainty
    value, reach = written(shown.value, give), written(give, give)
    names = ordered(us, shown.unit, units)
    first, other = (
        f"{v} ± {r} {n}" if r != NONE else f"{v} {n}" if v != NONE else NONE
        for v, r, n in zip(value, reach, names, strict=True)
    )
    low, high = written(shown.limits[0], None), written(shown.limits[1], None)
    limits = [
        NONE if a == b == NONE else f"at most {b} {n}" if a == NONE else f"at least {a} {n}" if b == NONE
        else f"{a} to {b} {n}"
        for a, b, n in zip(low, high, names, strict=True)
    ]  # fmt: skip
    return {
        "name": shown.name.replace("_", " "),
        "first": first,
        "other": other,
        "limits": limits[0],
        "limits_other": limits[1],
        "decision": shown.decision,
        "sign": {"within": "✓", "above": "✗", "below": "✗", "undecided": "?"}.get(shown.decision, ""),
    }


def value_texts(value: float, unit: str, reach: float | None, units: Units) -> tuple[str, str]:
    """Return a value in the first and in the other system, to the digits that its expanded uncertainty warrants."""
    names = ordered(_CONVERSIONS.get(unit, (1.0, unit, 3, 3))[1], unit, units)
    first, other = (f"{n} {name}" for n, name in zip(_numbers(value, unit, reach, units), names, strict=True))
    return first, other


def _numbers(number: float, unit: str, reach: float | None, units: Units) -> tuple[str, str]:
    """Write a number in either unit, with as many decimals as its uncertainty has need of."""
    factor, _, us_digits, digits = _CONVERSIONS.get(unit, (1.0, unit, 3, 3))
    places = (_decimals(us_digits, reach, factor), _decimals(digits, reach, 1.0))
    return ordered(f"{number * factor:z.{places[0]}f}", f"{number:z.{places[1]}f}", units)


_PSI = kpa_to_psi(1.0)
_CONVERSIONS = {
    "mm": (1 / MM_PER_INCH, "in", 4, 2),
    "kPa": (_PSI, "psi", 1, 1),
    "kPa/mm": (_PSI * MM_PER_INCH, "psi/in", 1, 2),
}
"""By SI unit: factor to the other one, its name, and the decimals of either."""


def _decimals(least: int, reach: float | None, factor: float) -> int:
    """Return decimals that show the uncertainty's first digit, and no more than two digits of it.

    Not fewer than `least`, unless that were more than two (JCGM 100:2008, 7.2.6).
    """
    size = abs(reach or 0.0) * factor
    if not size:
        return least
    return min(decimals_of(size), max(least, min(6, math.ceil(-math.log10(size)))))


def _two_digits(size: float) -> str:
    """Return a half-width to two digits, within a column of the budget however small."""
    return f"{size:.1e}" if 0.0 < size < 1e-5 else two_digits(size)


def half_width_texts(row: BudgetRow, units: Units) -> tuple[str, ...]:
    """Return a budget row's half-width in the first and in the other system; one text where it has no unit."""
    if row.unit == "mm/mm":
        return (f"{_two_digits(100 * row.half_width)} %",)
    if row.unit not in _CONVERSIONS:
        return (f"{_two_digits(row.half_width)} {row.unit}",)
    factor, us, _, _ = _CONVERSIONS[row.unit]
    return ordered(f"{_two_digits(row.half_width * factor)} {us}", f"{_two_digits(row.half_width)} {row.unit}", units)


def sensitivity_texts(row: BudgetRow, units: Units) -> tuple[str, ...]:
    """Return what a budget row's half-width is multiplied by, in the first and in the other system."""
    if row.unit == "mm/mm":
        return ordered(f"{mm_to_inch(row.sensitivity):.3g} in", f"{row.sensitivity:.3g} mm", units)
    if row.unit == "kPa":
        return ordered(f"{mm_to_inch(row.sensitivity) / _PSI:.3g} in/psi", f"{row.sensitivity:.3g} mm/kPa", units)
    return (f"{row.sensitivity:.3g}",)


def freedom_text(degrees_of_freedom: float | None, none: str) -> str:
    """Return degrees of freedom; beyond 1000 their number says nothing more. none: what stands for no number."""
    if degrees_of_freedom is None:
        return none
    return "> 1000" if degrees_of_freedom > 1000 else f"{degrees_of_freedom:.0f}"


def chance_text(chance: float) -> str:
    """Return a probability as a percentage; never as certain, nor as nothing."""
    if chance < 0.001:
        return "under 0.1 %"
    return "over 99.9 %" if chance > 0.999 else f"{100 * chance:.1f} %"


def evidence_text(evidence: dict[str, Any], units: Units) -> str:
    """Return a finding's evidence as one line; lengths and pressures in both systems."""
    return "; ".join(f"{_named(name)} {_evidence(name, value, units)}" for name, value in evidence.items())


_UNIT = re.compile(r"_(kpa_per_mm|mm_per_s|mm|kpa|s|v|hz|degc|degf)$")
_IN_BOTH = {"kpa_per_mm": slope, "mm_per_s": speed, "kpa": pressure}


def _named(name: str) -> str:
    return own_words(_UNIT.sub("", name).replace("_", " "), 60)


def _evidence(name: str, value: Any, units: Units) -> str:
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return " and ".join(_evidence(name, item, units) for item in value) or "none"
    if not isinstance(value, int | float):
        return own_words(str(value), 120)
    found = _UNIT.search(name)
    unit = "" if found is None else found[1]
    if unit == "mm":
        return length(value, False, units)
    if unit in _IN_BOTH:
        return _IN_BOTH[unit](value, units)
    return f"{value:.4g} {_OTHERS.get(unit, unit)}".strip()


_OTHERS = {"v": "V", "hz": "Hz", "degc": "°C", "degf": "°F"}


def _pm(reach: float | None, form: str) -> str:
    return "" if reach is None else f" ± {reach:{form}}"
