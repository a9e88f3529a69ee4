"""Numbers of the lab with their unit: in both unit systems where it is one of ours, else in the unit as given."""

from __future__ import annotations

from dataclasses import dataclass

from rodtrue.model.both_units import Units
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

    def each(self, *values: float, digits: int = 4) -> list[str]:
        """A value, or one to another, in each unit."""
        return [
            " to ".join(f"{value * factor:.{digits}g}" for value in values) + (f" {name}" if name else "")
            for name, factor in self.scales
        ]

    def text(self, *values: float, digits: int = 4) -> str:
        """A value, or one to another, on one line: the second unit in brackets."""
        one, *other = self.each(*values, digits=digits)
        return f"{one} ({other[0]})" if other else one
