"""Numbers of the lab with their unit: in both unit systems where it is one of ours, else in the unit as given."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from rodtrue.model.both_units import Units
from rodtrue.model.digits import to_last_digit, two_digits
from rodtrue.model.units import KPA_PER_PSI, MM_PER_INCH

_PAIRS = (("in", "mm", MM_PER_INCH), ("psi", "kPa", KPA_PER_PSI), ("psi/in", "kPa/mm", KPA_PER_PSI / MM_PER_INCH))
"""The two units of a quantity, and how many of the second the first is."""


@dataclass(frozen=True)
class Shown:
    """How values are shown. unit: theirs, None where nobody has said it; virtual: they are no measurement."""

    unit: str | None = None
    first: Units = "inch"
    virtual: bool = False

    @property
    def scales(self) -> list[tuple[str | None, float]]:
        """The one unit or two in which a value is shown, the first in front, each with its factor from `unit`."""
        for inches, metric, ratio in _PAIRS:
            if self.unit in (inches, metric):
                of_inches = (inches, 1.0 if self.unit == inches else 1 / ratio)
                of_metric = (metric, 1.0 if self.unit == metric else ratio)
                return [of_inches, of_metric] if self.first == "inch" else [of_metric, of_inches]
        return [(self.unit, 1.0)]

    @property
    def unit_row(self) -> list[tuple[str, str]]:
        """What a report says of the unit where the values themselves do not say it twice."""
        return [] if len(self.scales) > 1 else [("Unit", self.unit or "not said")]

    def spread(self, *values: float) -> Each:
        """A spread or an uncertainty, or one to another, to two digits."""
        return self._each(lambda factor: " to ".join(two_digits(value * factor) for value in values))

    def value(self, *values: float, spread: float) -> Each:
        """A value, or one to another, to the last digit of the spread it comes from, the standard deviation."""
        return self._each(
            lambda factor: " to ".join(to_last_digit(value * factor, spread * factor) for value in values)
        )

    def given(self, value: float) -> Each:
        """A limit that somebody gave, which is no measurement: as given, and in the other unit to four digits."""
        return self._each(lambda factor: f"{value:.6g}" if factor == 1.0 else f"{value * factor:.4g}")

    def squares(self, value: float) -> Each:
        """A square of values to three digits, its unit squared."""
        return Each([f"{value * f**2:.3g}" + (f" ({name})²" if name else "") for name, f in self.scales])

    def _each(self, written: Callable[[float], str]) -> Each:
        return Each([written(factor) + (f" {name}" if name else "") for name, factor in self.scales])


class Each(list[str]):
    """One quantity as text in each unit it is shown in, the first in front."""

    @property
    def line(self) -> str:
        """On one line, the second unit in brackets."""
        return f"{self[0]} ({self[1]})" if len(self) > 1 else self[0]

    @property
    def stacked(self) -> str:
        """One above the other."""
        return "\n".join(self)


def f_ratio(ratio: float | None) -> str:
    """Return a ratio of mean squares to three digits; nothing for none."""
    return "" if ratio is None else "> 1000" if ratio > 1000 else f"{ratio:.3g}"


def probability(p: float | None) -> str:
    """Return a p-value to three decimals; nothing for none."""
    return "" if p is None else "< 0.001" if p < 0.0005 else f"{p:.3f}"


def kinds_told_apart(categories: int) -> str:
    """Return how many kinds of part a gauge tells apart, as a number that somebody can make use of."""
    return f"{categories}" if categories <= 1000 else "more than 1000"
