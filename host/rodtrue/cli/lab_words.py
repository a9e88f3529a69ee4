"""The lab's statistics as lines for a terminal 80 columns wide."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rodtrue.lab.capability import Capability
    from rodtrue.lab.charts import Chart
    from rodtrue.lab.repeatability import Repeatability
    from rodtrue.lab.study import Study

_WIDTH = 80


def repeatability_lines(found: Repeatability, study: Study) -> list[str]:
    """A study's components of spread, their share of the total, their intervals, and what to make of them."""
    parts, operators, trials = study.values.shape
    lines = [f"{parts} parts, {operators} operators, {trials} trials; {found.method}", ""]
    if found.table:
        lines.append(f"{'source':<17}{'df':>5}{'sum of squares':>17}{'mean square':>14}{'F':>10}{'p':>9}")
        for row in found.table:
            mean = "" if row.mean_square is None else f"{row.mean_square:.6g}"
            ratio = "" if row.f_ratio is None else f"{row.f_ratio:.2f}"
            p = "" if row.p is None else f"{row.p:.3f}"
            lines.append(
                f"{row.name:<17}{row.degrees_of_freedom:>5}{row.sum_of_squares:>17.6g}{mean:>14}{ratio:>10}{p:>9}"
            )
        lines.append("")
    interval = "" if found.interval is None else f"{round(100 * (found.confidence or 0), 1):g} % interval"
    lines.append(f"{'standard deviation':<27}{'':>10}{'% of total':>13}   {interval}".rstrip())
    for name, label in (
        ("repeatability", "repeatability"),
        ("reproducibility", "reproducibility"),
        ("gauge_rr", "gauge (both together)"),
        ("part", "parts"),
        ("total", "total"),
    ):
        value = getattr(found, name)
        limits = ""
        if found.interval is not None:
            low, high = found.interval[name]
            limits = f"   {low:.4g} to {high:.4g}"
        lines.append(f"{label:<25}{value:>12.5g}{100 * value / found.total:>13.1f}{limits}")
    lines += ["", f"The gauge takes {found.percent_gauge_rr:.1f} % of the total spread."]
    return lines + _remarks(found.remarks)


def chart_lines(chart: Chart) -> list[str]:
    """A chart's limits, and every signal with the number of its point (the first is 1)."""
    lines = [f"chart of {chart.kind}; limits set from the first {chart.set_from} points"]
    for track in chart.tracks:
        lines.append(f"{track.name:<20} centre {track.centre:.6g}, {track.lower[0]:.6g} to {track.upper[0]:.6g}")
    if chart.in_control:
        return [*lines, "", "In control: no run rule is broken."]
    lines += ["", "Out of control:"]
    for track in chart.tracks:
        for signal in track.signals:
            shift = 2 if track.name == "moving range" else 1
            lines.append(f"  point {signal.point + shift} ({track.name}): {signal.rule}")
    return lines


def capability_lines(found: Capability) -> list[str]:
    """Indices with their intervals, and what to think of them."""
    low = "none" if found.lower is None else f"{found.lower:.6g}"
    high = "none" if found.upper is None else f"{found.upper:.6g}"
    lines = [
        f"{found.n} values, limits {low} to {high}; {found.outside} outside",
        f"mean {found.mean:.6g}; spread within {found.sd:.4g}, overall {found.overall_sd:.4g}",
        "",
        f"{'':<6}{'index':>8}   {100 * found.confidence:g} % interval",
    ]
    for name, index, limits in (
        ("Cp", found.cp, found.cp_interval),
        ("Cpk", found.cpk, found.cpk_interval),
        ("Pp", found.pp, found.pp_interval),
        ("Ppk", found.ppk, found.ppk_interval),
    ):
        if index is None or limits is None:
            lines.append(f"{name:<6}{'-':>8}   one limit only")
        else:
            lines.append(f"{name:<6}{index:>8.3f}   {limits[0]:.3f} to {limits[1]:.3f}")
    return lines + _remarks(found.remarks)


def _remarks(remarks: list[str]) -> list[str]:
    wrapped = [textwrap.fill(remark, _WIDTH, initial_indent="- ", subsequent_indent="  ") for remark in remarks]
    return ["", *wrapped] if wrapped else []
