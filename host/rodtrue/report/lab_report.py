"""Reports of the lab's statistics as PDF: a study, a chart. The same numbers give the same bytes."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

from rodtrue import __version__
from rodtrue.lab.quantity import Shown, f_ratio, kinds_told_apart, probability
from rodtrue.lab.repeatability import BOUNDS, GUIDELINE
from rodtrue.model.digits import percent
from rodtrue.model.errors import InputError
from rodtrue.report.lab_figures import as_svg, chart_figure, study_figure
from rodtrue.report.typesetting import typeset
from rodtrue.run.words import VIRTUAL_MARK
from rodtrue.whole_file import write_whole

if TYPE_CHECKING:
    from rodtrue.lab.charts import Chart
    from rodtrue.lab.repeatability import Repeatability
    from rodtrue.lab.study import Study


@dataclass(frozen=True)
class Section:
    """A part of a report: heading, a table (its first row is the heading row), remarks, a picture as SVG."""

    heading: str
    rows: list[list[str]] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    picture: str | None = None
    picture_says: str = ""


@dataclass(frozen=True)
class LabReport:
    """A report: its title, what was studied as pairs of name and text, its sections, and how numbers are shown."""

    title: str
    about: list[tuple[str, str]]
    sections: list[Section]
    shown: Shown


def lab_pdf(report: LabReport) -> bytes:
    """Return the report as PDF, on letter paper or A4 as its units go."""
    data = asdict(report) | {
        "number": _number(report),
        "paper": "us-letter" if report.shown.first == "inch" else "a4",
        "mark": VIRTUAL_MARK if report.shown.virtual else None,
        "made_with": f"Rodtrue {__version__}, typst {version('typst')}, matplotlib {version('matplotlib')}",
    }
    return typeset("lab.typ", data, timestamp_s=0)


def write_lab_report(path: Path, report: LabReport) -> Path:
    """Write the report and return its path. Raises: InputError where it cannot be written."""
    try:
        write_whole(path, lab_pdf(report))
    except OSError as error:
        raise InputError(f"{path}: cannot be written ({error.strerror})", "Name another file.") from error
    return path


def study_report(study: Study, found: Repeatability, about: Sequence[tuple[str, str]], shown: Shown) -> LabReport:
    """The report of a repeatability study."""
    parts, operators, trials = study.values.shape
    told = kinds_told_apart(found.distinct_categories)
    pairs = [
        *about,
        ("Design", f"{parts} parts, {operators} operators ({', '.join(study.operators)}), {trials} trials each"),
        ("Method", f"{found.method}, after {GUIDELINE}"),
        ("The gauge", f"takes {percent(found.percent_gauge_rr, BOUNDS)} % of the total spread: {found.judgement}"),
        ("In that guideline", "under 10 % is acceptable, up to 30 % for some uses, more is not"),
        ("Categories", f"{told} kinds of part told apart; five are the usual least"),
    ]
    components = [["standard deviation", "value", "% of total", _interval_head(found.confidence)]]
    for name, label in (
        ("repeatability", "repeatability"),
        ("reproducibility", "reproducibility"),
        ("gauge_rr", "gauge, both together"),
        ("part", "parts"),
        ("total", "total"),
    ):
        value = getattr(found, name)
        limits = "-" if found.interval is None else shown.spread(*found.interval[name]).stacked
        components.append([label, shown.spread(value).stacked, percent(100 * value / found.total), limits])
    sections = [Section("Components of spread", components, found.remarks)]
    if found.table:
        sections.append(Section("Analysis of variance", _table_of(found, shown)))
    says = "Each operator's mean and range of the trials, part by part"
    sections.append(Section("Readings", picture=as_svg(study_figure(study, shown)), picture_says=says))
    return LabReport("Repeatability study", pairs, sections, shown)


def _table_of(found: Repeatability, shown: Shown) -> list[list[str]]:
    """The table of the analysis; squares in the square of each unit, one above the other."""
    rows = [["source", "freedom", "sum of squares", "mean square", "F", "p"]]
    for line in found.table:
        rows.append(
            [
                line.name,
                str(line.degrees_of_freedom),
                shown.squares(line.sum_of_squares).stacked,
                "" if line.mean_square is None else shown.squares(line.mean_square).stacked,
                f_ratio(line.f_ratio),
                probability(line.p),
            ]
        )
    return rows


def chart_report(chart: Chart, about: Sequence[tuple[str, str]], shown: Shown) -> LabReport:
    """The report of a control chart."""
    state = "in control" if chart.in_control else "out of control"
    pairs = [
        *about,
        ("Chart", f"{chart.kind}; limits set from the first {chart.set_from} points"),
        ("State", state),
        *([("Mind", chart.remark)] if chart.remark else []),
    ]
    limits = [["track", "lower limit", "centre line", "upper limit"]]
    signals = [["point", "track", "what it breaks"]]
    for track in chart.tracks:
        values = (track.lower[0], track.centre, track.upper[0])
        limits.append([track.name, *(shown.value(value, spread=chart.sd).stacked for value in values)])
        first = 2 if track.name == "moving range" else 1
        signals += [[str(signal.point + first), track.name, signal.rule] for signal in track.signals]
    sections = [Section("Limits", limits)]
    if len(signals) > 1:
        sections.append(Section("Signals", signals))
    says = f"Control chart, {state}"
    sections.append(Section("Chart", picture=as_svg(chart_figure(chart, shown)), picture_says=says))
    return LabReport("Control chart", pairs, sections, shown)


def _interval_head(confidence: float | None) -> str:
    return "interval" if confidence is None else f"{100 * confidence:g} % interval"


def _number(report: LabReport) -> str:
    digest = hashlib.sha256(json.dumps([asdict(report), __version__]).encode()).hexdigest()[:12].upper()
    return "-".join(digest[k : k + 4] for k in (0, 4, 8))
