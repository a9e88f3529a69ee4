"""Reports of the lab's statistics as PDF: a study, a chart, a batch. The same numbers give the same bytes."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from rodtrue import __version__
from rodtrue.lab.quantity import quantity, span
from rodtrue.lab.repeatability import GUIDELINE
from rodtrue.report.document import bundled_fonts
from rodtrue.report.lab_figures import as_svg, capability_figure, chart_figure, study_figure
from rodtrue.run.job import cannot_write
from rodtrue.run.words import VIRTUAL_MARK, Units
from rodtrue.whole_file import write_whole

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from rodtrue.lab.capability import Capability
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
    """A report: its title, what was studied as pairs of name and text, and its sections."""

    title: str
    about: list[tuple[str, str]]
    sections: list[Section]
    virtual: bool = False


def lab_pdf(report: LabReport, units: Units = "inch") -> bytes:
    """Return the report as PDF, on letter paper or A4 as the units go."""
    import typst

    data = asdict(report) | {
        "number": _number(report),
        "paper": "us-letter" if units == "inch" else "a4",
        "mark": VIRTUAL_MARK if report.virtual else None,
        "made_with": f"Rodtrue {__version__}, typst {version('typst')}, matplotlib {version('matplotlib')}",
    }
    template = (files("rodtrue.report") / "lab.typ").read_bytes()
    return typst.compile(
        template, format="pdf", sys_inputs={"data": json.dumps(data)}, font_paths=bundled_fonts(), timestamp=0
    )


def write_lab_report(path: Path, report: LabReport, units: Units = "inch") -> Path:
    """Write the report and return its path. Raises: InputError where it cannot be written."""
    try:
        write_whole(path, lab_pdf(report, units))
    except OSError as error:
        raise cannot_write(path, error) from error
    return path


def study_report(
    study: Study,
    found: Repeatability,
    about: Sequence[tuple[str, str]],
    *,
    unit: str | None = None,
    virtual: bool = False,
) -> LabReport:
    """The report of a repeatability study; unit: of the values, if known; `virtual` marks it as no measurement."""
    parts, operators, trials = study.values.shape
    pairs = [
        *about,
        ("Design", f"{parts} parts, {operators} operators ({', '.join(study.operators)}), {trials} trials each"),
        ("Method", f"{found.method}, after {GUIDELINE}"),
        ("The gauge", f"takes {found.percent_gauge_rr:.1f} % of the total spread: {found.judgement}"),
        ("In that guideline", "under 10 % is acceptable, up to 30 % for some uses, more is not"),
        ("Categories", f"{min(found.distinct_categories, 1000)} kinds of part told apart; five are the usual least"),
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
        limits = "-" if found.interval is None else span(*found.interval[name], unit)
        components.append([label, quantity(value, unit), f"{100 * value / found.total:.1f}", limits])
    sections = [Section("Components of spread", components, found.remarks)]
    if found.table:
        squared = f" / ({unit})²" if unit else ""
        rows = [["source", "freedom", f"sum of squares{squared}", f"mean square{squared}", "F", "p"]]
        for line in found.table:
            rows.append(
                [
                    line.name,
                    str(line.degrees_of_freedom),
                    f"{line.sum_of_squares:.6g}",
                    "" if line.mean_square is None else f"{line.mean_square:.6g}",
                    "" if line.f_ratio is None else f"{line.f_ratio:.2f}",
                    "" if line.p is None else "< 0.001" if line.p < 0.0005 else f"{line.p:.3f}",
                ]
            )
        sections.append(Section("Analysis of variance", rows))
    says = "Each operator's mean and range of the trials, part by part"
    sections.append(Section("Readings", picture=as_svg(study_figure(study)), picture_says=says))
    return LabReport("Repeatability study", pairs, sections, virtual)


def chart_report(
    chart: Chart, about: Sequence[tuple[str, str]], *, unit: str | None = None, virtual: bool = False
) -> LabReport:
    """The report of a control chart; unit: of the values, if known; `virtual` marks it as no measurement."""
    state = "in control" if chart.in_control else "out of control"
    pairs = [
        *about,
        ("Chart", f"{chart.kind}; limits set from the first {chart.set_from} points"),
        ("State", state),
    ]
    limits = [["track", "lower limit", "centre line", "upper limit"]]
    signals = [["point", "track", "what it breaks"]]
    for track in chart.tracks:
        shown = (quantity(value, unit, 6) for value in (track.lower[0], track.centre, track.upper[0]))
        limits.append([track.name, *shown])
        first = 2 if track.name == "moving range" else 1
        signals += [[str(signal.point + first), track.name, signal.rule] for signal in track.signals]
    sections = [Section("Limits", limits)]
    if len(signals) > 1:
        sections.append(Section("Signals", signals))
    says = f"Control chart, {state}"
    sections.append(Section("Chart", picture=as_svg(chart_figure(chart)), picture_says=says))
    return LabReport("Control chart", pairs, sections, virtual)


def batch_report(
    batch: Sequence[tuple[str, NDArray[np.float64], Capability]], about: Sequence[tuple[str, str]], *, virtual: bool
) -> LabReport:
    """The report of a batch: (name with unit, values, capability) of each characteristic."""
    sections = [Section("Summary", _summary(batch))]
    for name, values, found in batch:
        rows = [["index", "value", f"{100 * found.confidence:g} % interval"]]
        for label, index, limits in (
            ("Cp, spread within", found.cp, found.cp_interval),
            ("Cpk", found.cpk, found.cpk_interval),
            ("Pp, spread overall", found.pp, found.pp_interval),
            ("Ppk", found.ppk, found.ppk_interval),
        ):
            if index is not None and limits is not None:
                rows.append([label, f"{index:.3f}", f"{limits[0]:.3f} to {limits[1]:.3f}"])
        picture = as_svg(capability_figure(values, found))
        sections.append(Section(name, rows, found.remarks, picture, f"Histogram and normal plot of {name}"))
    return LabReport("Batch of valve bodies", list(about), sections, virtual)


def _summary(batch: Sequence[tuple[str, NDArray[np.float64], Capability]]) -> list[list[str]]:
    rows = [["characteristic", "n", "mean", "sd overall", "limits", "outside", "Ppk", "normal?"]]
    for name, _, found in batch:
        low = "-" if found.lower is None else f"{found.lower:g}"
        high = "-" if found.upper is None else f"{found.upper:g}"
        doubt = found.normality_p is not None and found.normality_p < 0.05
        rows.append(
            [
                name,
                str(found.n),
                f"{found.mean:.5g}",
                f"{found.overall_sd:.3g}",
                f"{low} to {high}",
                str(found.outside),
                f"{found.ppk:.2f}",
                f"doubtful, p = {found.normality_p:.3g}" if doubt else "no doubt",
            ]
        )
    return rows


def _interval_head(confidence: float | None) -> str:
    return "interval" if confidence is None else f"{100 * confidence:g} % interval"


def _number(report: LabReport) -> str:
    digest = hashlib.sha256(json.dumps([asdict(report), __version__]).encode()).hexdigest()[:12].upper()
    return "-".join(digest[k : k + 4] for k in (0, 4, 8))
