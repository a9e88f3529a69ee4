"""Reading the findings' one table: codes, severities and wording."""

from __future__ import annotations

from functools import cache

import msgspec

from rodtrue.analysis.findings import FindingKind, FindingTable
from rodtrue.resources import room


@cache
def load_findings_table() -> FindingTable:
    """Return the table that comes with the program, by code."""
    raw = msgspec.json.decode((room("shared") / "findings.json").read_bytes())
    return {code: msgspec.convert(kind, FindingKind) for code, kind in raw["findings"].items()}
