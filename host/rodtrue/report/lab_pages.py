"""What the lab's pages say: everything that another lab would need to follow the result.

Their contents are what ISO/IEC 17025:2017, clause 7.8, asks of a report (7.8.2 in general, 7.8.3 for tests,
7.8.6 for statements of conformity, 7.8.7 for advice); the clause is given from memory of the standard.
"""

from __future__ import annotations

from typing import Any

from rodtrue.instructions import for_layout
from rodtrue.model.both_units import in_order, length, speed
from rodtrue.model.result import BudgetRow, Job, Result
from rodtrue.model.units import mm_to_inch
from rodtrue.report.body import body_sentence
from rodtrue.report.first_page import Run
from rodtrue.report.not_stated import not_stated
from rodtrue.report.plot import plot_svg
from rodtrue.report.shown import (
    NONE,
    chance_text,
    characteristic_texts,
    evidence_text,
    freedom_text,
    half_width_texts,
    length_pm,
    moment,
    ordered,
    own_words,
    sensitivity_texts,
    signed,
)
from rodtrue.report.traceability import calibration_words
from rodtrue.run.cautions import all_cautions
from rodtrue.run.words import BODY_WORDS, Units, span

_DRIVES = {
    "slide": "hand slide, its stop set to the throttle pin's place at curb idle",
    "throttle": "the throttle itself",
    "bench": "bench with its own supply",
    None: "not recorded",
}
_REFERENCES = {"curb_idle": "throttle's curb-idle stop", "lever_stop": "the lever's own stop"}
_ROD_METHOD = (
    "Method: pressure at the throttle-pressure port against the travel of the throttle's pin, over several openings "
    "and closings; the rod error is minus the travel at which the lever leaves its stop. Positive is long, negative "
    "short."
)
_BODY_METHOD = (
    "Method: pressure at the throttle-pressure port against the travel of the lever from its own stop, over several "
    "openings and closings; the lever's free travel ends where the ramp meets the baseline. No rod was measured."
)
_UNHOOKED = {
    True: "rod off the pin, as the operator said",
    False: "rod on the pin: baseline not proven",
    None: "not known: baseline not proven",
}
_KINDS = {
    "board": "board",
    "virtual": "virtual fixture, not a measurement",
    "csv": "a CSV file; what delivered the samples is not recorded",
}


def lab_pages(job: Job, runs: list[Run], units: Units) -> dict[str, Any]:
    """Return what the template shows on the pages after the first."""
    return {
        "titles": [title for title, _ in runs],
        "method": _BODY_METHOD if job.as_found.reference == "lever_stop" else _ROD_METHOD,
        "budget_of": "lever's free travel" if job.as_found.reference == "lever_stop" else "rod error",
        "people": [
            ["Customer", own_words(job.customer)],
            ["Order", own_words(job.reference)],
            ["Laboratory or shop", own_words(job.laboratory)],
            ["Notes", own_words(job.notes)],
        ],
        "particulars": _rows(lambda result: _particulars(result, units), runs),
        "not_stated": not_stated(job, [result for _, result in runs]),
        "captures": [
            {"title": title, "path": own_words(result.capture.path), "sha256": result.capture.sha256 or NONE}
            for title, result in runs
        ],
        "numbers": [row for row in _rows(lambda result: _numbers(result, units), runs) if set(row[1:]) != {NONE}],
        "decision_rule": _decision_rule(runs, units),
        "runs": [_run(title, result, units) for title, result in runs],
        "checked": _checked(runs, units),
        "cautions": _acknowledged(runs, closing=False),
        "closing": _acknowledged(runs, closing=True),
        "instructions": _instructions(runs),
    }


def _rows(of: Any, runs: list[Run]) -> list[list[str]]:
    """Return rows of a name and a value for each run."""
    columns = [of(result) for _, result in runs]
    return [[name, *(column[name] for column in columns)] for name in columns[0]]


def _particulars(result: Result, units: Units) -> dict[str, str]:
    identity = result.fixture.identity or {}
    profile, details = result.profile, result.profile_details
    if details is not None:
        profile = f"{details.title} ({result.profile})" + (", invented example" if details.invented else "")
    fixture = [_KINDS[result.fixture.kind]]
    fixture += [f"{label} {identity[key]}" for key, label in _IDENTITY.items() if identity.get(key)]
    return {
        "Unit": own_words(result.unit),
        "Operator": own_words(result.operator),
        "Taken at": moment(result.taken_at),
        "Fixture": own_words(", ".join(fixture)),
        "Calibration": calibration_words(result, units),
        "Profile": own_words(profile),
        "Layout": NONE if details is None else details.layout.replace("-", " "),
        "Pin moved by": _DRIVES.get(result.drive, str(result.drive)),
        "Reference": _REFERENCES.get(result.reference, result.reference),
        "Zero and baseline": _zero_and_baseline(result),
        "Adjusted before": _adjusted(result, units),
        "Judged with": ", ".join(f"{name} {version}" for name, version in result.versions.items()) or NONE,
    }


def _zero_and_baseline(result: Result) -> str:
    if result.reference == "lever_stop" and result.rod_unhooked:
        return "no rod fitted, the lever on its stop, as the operator said"
    return _UNHOOKED[result.rod_unhooked]


_IDENTITY = {"unique_id": "number", "firmware_version": "firmware", "micropython_version": "MicroPython"}


def _adjusted(result: Result, units: Units) -> str:
    """Return what the operator said was done to the rod before this run, and what had been advised."""
    if result.adjusted is None:
        return NONE
    advised = result.adjusted.get("advised_mm")
    said = own_words(str(result.adjusted.get("moved") or ""), 200)
    return said + ("" if advised is None else f"; advised: {length(advised, False, units)}")


def _numbers(result: Result, units: Units) -> dict[str, str]:
    error, chances = result.rod_error, result.probability
    return {
        "Verdict on the rod": result.verdict
        + (f" ({own_words(in_order(result.reason, units))})" if result.reason else ""),
        "Valve body": BODY_WORDS[result.body_verdict],
        **_error_numbers(result, units),
        "Chances": NONE
        if chances is None
        else ", ".join(f"{word} {chance_text(getattr(chances, word))}" for word in ("long", "short", "correct")),
        "Lever start": signed(result.lever_start_mm, units),
        "Onset opening": signed(result.opening_onset_mm, units),
        "Onset closing": signed(result.closing_onset_mm, units),
        "Friction": NONE if result.friction_mm is None else length(result.friction_mm, False, units),
        "Lag": NONE if result.lag_s is None else f"{1000 * result.lag_s:.1f} ms",
        "Limits": NONE if error is None else span(*error.limits_mm, units),
    }


def _error_numbers(result: Result, units: Units) -> dict[str, str]:
    error = result.rod_error
    names = ("Rod error", "Interval", "Coverage", "Degrees of freedom", "By statistics alone")
    if error is None:
        return dict.fromkeys(names, NONE)
    if error.value_mm is None:
        least = NONE if error.at_most_mm is None else f"{signed(error.at_most_mm, units)} or shorter"
        return dict.fromkeys(names, NONE) | {"Rod error": least}
    first, other = length_pm(error.value_mm, error.expanded_uncertainty_mm, units)
    factor, probability = error.coverage_factor, error.coverage_probability
    freedom, statistical = error.degrees_of_freedom, error.statistical
    return {
        "Rod error": f"{first} ({other})",
        "Interval": NONE if error.interval_mm is None else span(*error.interval_mm, units),
        "Coverage": NONE if factor is None or probability is None else f"{100 * probability:g} %, k = {factor:.2f}",
        "Degrees of freedom": freedom_text(freedom, NONE),
        "By statistics alone": NONE if statistical is None else span(*statistical.interval_mm, units),
    }


def _decision_rule(runs: list[Run], units: Units) -> list[str]:
    """Return the rule by which verdicts and decisions were come to, a paragraph each for rod and valve body."""
    of_body = (
        "Characteristics of the valve body: the same rule, the guard band the expanded uncertainty U (95 %) in the "
        "table. Conforming where all that have limits are within, nonconforming where one is beyond, else undecided."
    )
    errors = [result.rod_error for _, result in runs if result.rod_error is not None]
    if not errors:
        return ["No rod error was determined, so no rule was applied to the rod.", of_body]
    of_rod = (
        f"Limits {span(*errors[0].limits_mm, units)}. The guard band is the expanded uncertainty U = k u"
        + _factors(runs)
        + ", as in JCGM 106:2012: correct where the whole interval, value ± U, lies within the limits; long or "
        "short where it lies wholly beyond one; else undecided. A value on a limit counts as within. "
        "Chances inform and decide nothing. Where something unproven stands in the way, or data cannot say, the "
        "verdict is undecided or no result whatever the interval."
    )
    return [of_rod, of_body]


def _factors(runs: list[Run]) -> str:
    """Return the runs' guard bands, each with its coverage factor and probability, as far as there are any."""
    said: dict[str, list[str]] = {}
    for title, result in runs:
        error = result.rod_error
        if error is not None and error.coverage_factor is not None and error.coverage_probability is not None:
            twice = ", above 95 % as a live run may be looked at twice" if error.coverage_probability > 0.95 else ""
            factor = f"k = {error.coverage_factor:.2f} for {100 * error.coverage_probability:g} %{twice}"
            said.setdefault(factor, []).append(title.lower())
    told = "; ".join(f"{' and '.join(titles)} {factor}" for factor, titles in said.items())
    return f" ({told})" if told else ""


def _run(title: str, result: Result, units: Units) -> dict[str, Any]:
    names = ordered("in", "mm", units)
    return {
        "title": title,
        "plot": plot_svg(result, units),
        "characteristics": [characteristic_texts(c, units) for c in result.characteristics],
        "body": body_sentence(result, units),
        "budget_units": list(names),
        "budget": [_budget_row(row, result.budget, units) for row in result.budget],
        "budget_sum": _budget_sum(result, units),
        "strokes": [
            [
                str(number),
                stroke.direction,
                speed(stroke.speed_mm_per_s, units),
                signed(stroke.onset_mm, units),
                "used" if stroke.used else f"not used: {own_words(in_order(stroke.why_not or '', units))}",
            ]
            for number, stroke in enumerate(result.strokes, 1)
        ],
        "findings": [
            {
                "severity": finding.severity,
                "code": own_words(finding.code.replace("_", " ")),
                "text": own_words(in_order(finding.text, units)),
                "evidence": evidence_text(finding.evidence, units),
            }
            for finding in result.findings
        ],
    }


def _budget_row(row: BudgetRow, rows: list[BudgetRow], units: Units) -> list[str]:
    u_mm = row.standard_uncertainty_mm
    total = sum(r.standard_uncertainty_mm**2 for r in rows)
    return [
        row.name + (f" ({row.note})" if row.note else ""),
        "\n".join(half_width_texts(row, units)),
        row.distribution,
        f"{row.divisor:.3f}",
        "\n".join(sensitivity_texts(row, units)),
        *_small(u_mm, units),
        freedom_text(row.degrees_of_freedom, "∞"),
        _share(u_mm**2 / total) if total else NONE,
    ]


def _budget_sum(result: Result, units: Units) -> list[str] | None:
    error = result.rod_error
    if error is None or error.standard_uncertainty_mm is None:
        return None
    freedom = freedom_text(error.degrees_of_freedom, NONE)
    return ["combined", "", "", "", "", *_small(error.standard_uncertainty_mm, units), freedom, ""]


def _small(value_mm: float, units: Units) -> tuple[str, str]:
    return ordered(f"{mm_to_inch(value_mm):.5f}", f"{value_mm:.4f}", units)


def _share(part: float) -> str:
    return "< 1 %" if part < 0.005 else f"{100 * part:.0f} %"


def _acknowledged(runs: list[Run], *, closing: bool) -> list[list[str]]:
    """Return cautions, or closing steps, with the time of their acknowledgement; each time once."""
    after = {caution.code for caution in all_cautions() if caution.when == "after"}
    rows: dict[tuple[str, str], list[str]] = {}
    for _, result in runs:
        for caution in result.cautions:
            if (caution["code"] in after) == closing:
                at = caution.get("acknowledged_at")
                rows.setdefault((caution["code"], at or ""), [own_words(caution["text"]), moment(at)])
    return list(rows.values())


def _checked(runs: list[Run], units: Units) -> list[list[str]]:
    """Return what was answered before the run, each answer once: both runs of a job hold the same ones."""
    rows: dict[tuple[str, str, str], list[str]] = {}
    for _, result in runs:
        for item in result.checked:
            at = item.get("answered_at", "")
            words = [own_words(in_order(item["text"], units)), own_words(item["answer"], 400), moment(at or None)]
            rows.setdefault((item["item"], item["answer"], at), words)
    return list(rows.values())


def _instructions(runs: list[Run]) -> dict[str, Any] | None:
    """Return how the length is set, where a correction was advised and the layout is known."""
    for _, result in runs:
        details, correction = result.profile_details, result.correction
        if details is not None and correction is not None and correction.direction != "none":
            steps = for_layout(details.layout, details.action)
            return {
                "layout": details.layout.replace("-", " "),
                "steps": [
                    {"title": step.title, "text": step.text, "drawing": step.drawing_svg, "says": step.drawing_title}
                    for step in steps
                ],
                "basis": steps[0].basis,
            }
    return None
