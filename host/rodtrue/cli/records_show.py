"""Kept runs as lines for a terminal 80 columns wide."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from rodtrue.model.units import kpa_to_psi, mm_to_inch
from rodtrue.run.words import BODY_WORDS

if TYPE_CHECKING:
    from rodtrue.model.result import Result
    from rodtrue.records import RunRow


_UNIT = 22


def run_lines(rows: Sequence[RunRow]) -> Iterator[str]:
    """A heading and a line a run; `*` marks a virtual one."""
    if not rows:
        yield "No runs are kept that match."
        return
    yield f"{'job':>5}  {'taken':<16} {'as':<5} {'unit':<{_UNIT}} {'verdict':<9} {'error/in':>8} {'/mm':>7}"
    for row in rows:
        mark = "*" if row.fixture_kind == "virtual" else " "
        verdict = row.verdict
        if row.reference == "lever_stop":
            verdict = f"valve body {BODY_WORDS[row.body_verdict]}"
        error = row.rod_error_mm
        bound = "" if row.at_most_mm is None else "<"
        shown = error if error is not None else row.at_most_mm
        inches = "" if shown is None else f"{bound}{mm_to_inch(shown):+.3f}"
        millimetres = "" if shown is None else f"{bound}{shown:+.2f}"
        yield (
            f"{row.job:>5}{mark} {when(row.taken_at):<16} {row.role.removeprefix('as_'):<5} "
            f"{_short(row.unit, _UNIT):<{_UNIT}} {verdict:<9} {inches:>8} {millimetres:>7}".rstrip()
        )
    if any(row.fixture_kind == "virtual" for row in rows):
        yield "* virtual fixture, not a measurement"


def comparison(one: Result, other: Result) -> list[dict[str, object]]:
    """Rows of name, unit and both values, of what two results say."""
    rows: list[dict[str, object]] = [
        {"name": "verdict", "unit": "", "values": [one.verdict, other.verdict]},
        {"name": "body_verdict", "unit": "", "values": [one.body_verdict, other.body_verdict]},
        {
            "name": "rod_error",
            "unit": "mm",
            "values": [None if r.rod_error is None else r.rod_error.value_mm for r in (one, other)],
        },
    ]
    theirs = {c.name: c for c in other.characteristics}
    for mine in one.characteristics:
        if mine.name in theirs:
            rows.append({"name": mine.name, "unit": mine.unit, "values": [mine.value, theirs[mine.name].value]})
    rows.append({"name": "findings", "unit": "", "values": [[f.code for f in r.findings] for r in (one, other)]})
    return rows


def comparison_lines(names: Sequence[str], rows: Sequence[dict[str, object]]) -> Iterator[str]:
    """A table of both runs, inches and psi before millimetres and kPa."""
    yield f"{'':<24}{names[0]:>26}{names[1]:>26}"
    for row in rows:
        values = row["values"]
        assert isinstance(values, list)
        if row["name"] == "findings":
            for name, codes in zip(names, values, strict=True):
                yield f"findings, {name}: {', '.join(codes) or 'none'}"
            continue
        sign = "+" if row["name"] == "rod_error" else "z"
        cells = [_cell(value, str(row["unit"]), sign) for value in values]
        yield f"{str(row['name']).replace('_', ' '):<24}{cells[0]:>26}{cells[1]:>26}"


def _cell(value: object, unit: str, sign: str) -> str:
    if value is None:
        return "not determined"
    if not isinstance(value, float):
        return str(value)
    if unit == "mm":
        return f"{mm_to_inch(value):{sign}.3f} in ({value:{sign}.2f} mm)"
    if unit == "kPa":
        return f"{kpa_to_psi(value):z.1f} psi ({value:z.1f} kPa)"
    if unit == "kPa/mm":
        return f"{kpa_to_psi(value) * 25.4:.0f} psi/in ({value:.1f} kPa/mm)"
    return f"{value:.4g} {unit}"


def when(taken_at: str | None) -> str:
    """A result's time as this machine's clock shows it; `-` for none."""
    return "-" if taken_at is None else f"{datetime.fromisoformat(taken_at).astimezone():%Y-%m-%d %H:%M}"


def _short(text: str | None, width: int) -> str:
    plain = " ".join((text or "-").split())
    return plain if len(plain) <= width else plain[: width - 1] + "…"
