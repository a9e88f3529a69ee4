"""A result on the terminal: 80 columns, both unit systems, the worst news first."""

from __future__ import annotations

import typer

from rodtrue.cli.wrapped import hanging
from rodtrue.findings_table import load_findings_table
from rodtrue.model.both_units import Units, both, in_order
from rodtrue.model.result import BudgetRow, Characteristic, Finding, Result
from rodtrue.model.units import mm_to_inch
from rodtrue.run.words import (
    VIRTUAL_MARK,
    advice_sentence,
    error_sentence,
    limits_sentence,
    settle_sentence,
)

_SIGNS = {"stop": "[STOP]", "warning": "[!]", "note": "[i]"}
_DRIVE_NOT_TOLD = (
    "How the pin was driven is not told: if by a hand slide, setting its stop adds its own uncertainty, which "
    "--drive slide counts."
)


def show_result(result: Result, first: Units = "inch", *, with_budget: bool = False) -> None:
    """Print one result for a person."""
    for line in result_lines(result, first, with_budget=with_budget):
        typer.echo(line)


def result_lines(result: Result, first: Units = "inch", *, with_budget: bool = False) -> list[str]:
    """Return the lines that tell a person one result. first: the unit system that comes first."""
    from rodtrue.report.body import body_sentence, headline

    lines = [result.file or "run"]
    mark = f": {VIRTUAL_MARK}" if result.fixture.kind == "virtual" else ""
    lines += _paragraph(f"profile {result.profile}, {result.fixture.kind}{mark}")
    lines += _paragraph(in_order(calibration_sentence(result), first))
    for finding in result.findings:
        if finding.severity == "stop":
            lines += _finding(finding, first)
    lines += _paragraph(": ".join(headline(result, first)).replace("±", "+-"))
    if result.rod_error is not None:
        lines += _paragraph(error_sentence(result.rod_error, first))
        lines += _paragraph(limits_sentence(result.rod_error, first))
        if result.drive is None:
            lines += _paragraph(_DRIVE_NOT_TOLD)
    doubts = [finding for finding in result.findings if _casts_doubt(finding)]
    for finding in doubts:
        lines += _finding(finding, first)
    effect = None if result.expected_effect is None else in_order(result.expected_effect.sentence, first)
    for sentence in (advice_sentence(result, first), effect, settle_sentence(result)):
        lines += _paragraph(sentence or "")
    for finding in result.findings:
        if finding.severity != "stop" and finding not in doubts:
            lines += _finding(finding, first)
    if result.characteristics and result.reference != "lever_stop":  # there it stands first
        lines += _paragraph(body_sentence(result, first).replace("±", "+-"))
    for characteristic in result.characteristics:
        if characteristic.value is not None:
            lines.append("    " + _characteristic_line(characteristic, first))
    if with_budget and result.budget:
        lines += budget_lines(result.budget, first)
    return lines


def calibration_sentence(result: Result) -> str:
    """Return by which calibration the codes were read; empty where none was, which a finding then says."""
    from rodtrue.calibration.certificate import between

    used = result.fixture.calibration
    if used is None:
        return ""
    due = f", due {used['due']}" if used.get("due") else ""
    where = f"from the file {used['file']}, instead of the fixture's own" if "file" in used else "held by the fixture"
    covers = used.get("range")
    if covers is None:
        told = "its range is not known here: no copy of it is kept on this computer"
    else:
        told = "; ".join(
            f"{name} from {between(covers[name]['lowest'], covers[name]['highest'], unit)}"
            for name, unit in (("travel", "mm"), ("pressure", "kPa"))
        )
        told = f"{told}, by {covers['from']}"
    number = f"number {used['generation']} " if used.get("generation") else ""
    return f"calibration {number}of {used.get('done') or 'an unknown date'}{due}, {where}; {told}"


def _casts_doubt(finding: Finding) -> bool:
    """Whether it puts the rod's length itself in doubt: to be read before anybody turns the rod."""
    kind = load_findings_table().get(finding.code)
    return finding.severity != "stop" and kind is not None and kind.casts_doubt


def budget_lines(rows: list[BudgetRow], first: Units = "inch") -> list[str]:
    """Return the uncertainty budget, one row a line; standard uncertainties at the driving end."""
    from rodtrue.report.shown import freedom_text, half_width_texts, ordered

    units = ("u / in", "u / mm") if first == "inch" else ("u / mm", "u / in")
    lines = [f"  {'what':27} {'half-width':24} {units[0]:>8} {units[1]:>8} {'freedom':>7}"]
    for row in rows:
        half, *other = half_width_texts(row, first)
        half += f" ({other[0]})" if other else ""
        u_mm = row.standard_uncertainty_mm
        u, in_other = ordered(f"{mm_to_inch(u_mm):.5f}", f"{u_mm:.4f}", first)
        lines.append(f"  {row.name:27} {half:24} {u:>8} {in_other:>8} {freedom_text(row.degrees_of_freedom, '-'):>7}")
    return lines


def _finding(finding: Finding, first: Units) -> list[str]:
    return hanging(in_order(finding.text, first), f"  {_SIGNS[finding.severity]} ")


def _paragraph(text: str) -> list[str]:
    return hanging(text, "  ")


def _characteristic_line(characteristic: Characteristic, first: Units) -> str:
    from rodtrue.report.shown import characteristic_texts

    texts = characteristic_texts(characteristic, "inch")
    shown = both(texts["first"], texts["other"], first).replace("±", "+-")
    judged = "" if characteristic.decision == "not judged" else f"  {characteristic.decision}"
    return f"{texts['name']:18} {shown}{judged}"
