"""A result on the terminal: 80 columns, both unit systems, the worst news first."""

from __future__ import annotations

import textwrap

import typer

from rodtrue.findings_table import load_findings_table
from rodtrue.model.result import BudgetRow, Characteristic, Finding, Result
from rodtrue.model.units import kpa_to_psi, mm_to_inch
from rodtrue.run.words import (
    VIRTUAL_MARK,
    advice_sentence,
    error_sentence,
    limits_sentence,
    settle_sentence,
    verdict_sentence,
)

WIDTH = 80
_SIGNS = {"stop": "[STOP]", "warning": "[!]", "note": "[i]"}


def show_result(result: Result, *, with_budget: bool = False) -> None:
    """Print one result for a person."""
    for line in result_lines(result, with_budget=with_budget):
        typer.echo(line)


def result_lines(result: Result, *, with_budget: bool = False) -> list[str]:
    """Return the lines that tell a person one result."""
    lines = [result.file or "run"]
    mark = f": {VIRTUAL_MARK}" if result.fixture.kind == "virtual" else ""
    lines += _paragraph(f"profile {result.profile}, {result.fixture.kind}{mark}")
    lines += _paragraph(calibration_sentence(result))
    for finding in result.findings:
        if finding.severity == "stop":
            lines += _paragraph(f"{_SIGNS['stop']} {finding.text}")
    lines += _paragraph(verdict_sentence(result))
    if result.rod_error is not None:
        lines += _paragraph(error_sentence(result.rod_error))
        lines += _paragraph(limits_sentence(result.rod_error))
    doubts = [finding for finding in result.findings if _casts_doubt(finding)]
    for finding in doubts:
        lines += _paragraph(f"{_SIGNS[finding.severity]} {finding.text}")
    effect = None if result.expected_effect is None else result.expected_effect.sentence
    for sentence in (advice_sentence(result), effect, settle_sentence(result)):
        lines += _paragraph(sentence or "")
    for finding in result.findings:
        if finding.severity != "stop" and finding not in doubts:
            lines += _paragraph(f"{_SIGNS[finding.severity]} {finding.text}")
    for characteristic in result.characteristics:
        if characteristic.value is not None:
            lines.append("  " + _characteristic_line(characteristic))
    if with_budget and result.budget:
        lines += budget_lines(result.budget)
    return lines


def calibration_sentence(result: Result) -> str:
    """Return by which calibration the codes were read; empty where none was, which a finding then says."""
    used = result.fixture.calibration
    if used is None:
        return ""
    due = f", due {used['due']}" if used.get("due") else ""
    where = f"from the file {used['file']}, instead of the fixture's own" if "file" in used else "held by the fixture"
    return f"calibration of {used.get('done') or 'an unknown date'}{due}, {where}"


def _casts_doubt(finding: Finding) -> bool:
    """Whether it puts the rod's length itself in doubt: to be read before anybody turns the rod."""
    kind = load_findings_table().get(finding.code)
    return finding.severity != "stop" and kind is not None and kind.casts_doubt


def budget_lines(rows: list[BudgetRow]) -> list[str]:
    """Return the uncertainty budget, one row a line, in mm at the driving end."""
    lines = ["  what                        half-width          u / mm   freedom"]
    for row in rows:
        freedom = "-" if row.degrees_of_freedom is None else f"{row.degrees_of_freedom:.0f}"
        width = f"{row.half_width:.4g} {row.unit}"
        lines.append(f"  {row.name:27} {width:18} {row.standard_uncertainty_mm:8.4f} {freedom:>8}")
    return lines


def _paragraph(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="  ")


def _characteristic_line(characteristic: Characteristic) -> str:
    value, unit, reach = characteristic.value, characteristic.unit, characteristic.expanded_uncertainty
    assert value is not None
    name = characteristic.name.replace("_", " ")
    give = f" +- {reach:.3g}" if reach is not None else ""
    if unit == "kPa":
        shown = f"{kpa_to_psi(value):.1f} psi ({value:.1f}{give} kPa)"
    elif unit == "mm":
        shown = f"{mm_to_inch(value):.3f} in ({value:.2f}{give} mm)"
    else:
        shown = f"{kpa_to_psi(value) * 25.4:.0f} psi/in ({value:.2f}{give} kPa/mm)"
    judged = "" if characteristic.decision == "not judged" else f"  {characteristic.decision}"
    return f"{name:18} {shown}{judged}"
