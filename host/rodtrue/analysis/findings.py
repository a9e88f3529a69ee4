"""Findings: what else the data show. Codes, severities and wording come from one table, handed in."""

from __future__ import annotations

import string
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from rodtrue.model.both_units import length, pressure, slope
from rodtrue.model.conditions import Reference
from rodtrue.model.result import Finding, Severity


@dataclass(frozen=True)
class FindingKind:
    """One row of the table: how severe, what to say (with fields of the evidence), what to look at.

    casts_doubt: it puts the rod's length itself in doubt, so that people are told it before any correction.
    body_text, body_look_at: the same of a valve body alone, without rod and throttle; empty where the words fit both.
    """

    severity: Severity
    text: str
    look_at: str
    casts_doubt: bool = False
    body_text: str = ""
    body_look_at: str = ""

    def words(self, reference: Reference) -> tuple[str, str]:
        """Return what to say, fields of the evidence still to be filled in, and where to look."""
        if reference == "lever_stop":
            return self.body_text or self.text, self.body_look_at or self.look_at
        return self.text, self.look_at


FindingTable = Mapping[str, FindingKind]
"""By code, in the order in which findings are told."""


class _BothUnits(string.Formatter):
    """Format spec `length`, `pressure` or `slope`, or their SI unit, writes a value in both systems, inches first."""

    def format_field(self, value: Any, format_spec: str) -> str:
        write = _WRITTEN.get(format_spec)
        return str(super().format_field(value, format_spec)) if write is None else write(value)


_WRITTEN: dict[str, Callable[[float], str]] = {
    **dict.fromkeys(("length", "mm"), length),
    **dict.fromkeys(("pressure", "kPa"), pressure),
    **dict.fromkeys(("slope", "kPa/mm"), slope),
}


class Findings:
    """Collects findings; `stop` ones come first when listed. reference: of the run's travel."""

    def __init__(self, table: FindingTable, reference: Reference = "curb_idle") -> None:
        self._table = table
        self._reference = reference
        self._found: list[Finding] = []

    def add(self, code: str, **evidence: Any) -> None:
        """Add a finding with its evidence (SI numbers, units in the names). Raises: KeyError: unknown code."""
        kind = self._table[code]
        said, look_at = kind.words(self._reference)
        text = f"{_BothUnits().format(said, **evidence)} {look_at}".strip()
        self._found.append(Finding(code, kind.severity, text, evidence))

    def has(self, code: str) -> bool:
        return any(finding.code == code for finding in self._found)

    @property
    def stop(self) -> bool:
        """Whether any finding says stop."""
        return any(finding.severity == "stop" for finding in self._found)

    def listed(self) -> list[Finding]:
        """Return the findings as they are told: most severe first, then in the table's order."""
        rank = {"stop": 0, "warning": 1, "note": 2}
        place = {code: number for number, code in enumerate(self._table)}
        return sorted(self._found, key=lambda finding: (rank[finding.severity], place[finding.code]))
