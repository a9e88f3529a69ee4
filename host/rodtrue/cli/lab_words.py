"""The lab's statistics as lines for a terminal 80 columns wide."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from rodtrue.lab.quantity import Shown, f_ratio, kinds_told_apart, probability
from rodtrue.model.digits import percent
from rodtrue.plain_text import on_one_line

if TYPE_CHECKING:
    from rodtrue.cli.lab_kept import KeptRuns
    from rodtrue.lab.capability import Capability
    from rodtrue.lab.charts import Chart
    from rodtrue.lab.kept_study import OutOfOrder
    from rodtrue.lab.repeatability import Repeatability, Source
    from rodtrue.lab.study import Study
    from rodtrue.lab.tolerance import ToleranceLimits
    from rodtrue.model.both_units import Units
    from rodtrue.report.lab_batch import BatchBody
    from rodtrue.report.lab_figures import BatchRow

_WIDTH = 80
MOST_JUMPS_NAMED = 6


_COMPONENTS = (
    ("repeatability", "repeatability"),
    ("reproducibility", "reproducibility"),
    ("gauge_rr", "gauge, both together"),
    ("part", "parts"),
    ("total", "total"),
)


def repeatability_lines(found: Repeatability, study: Study, shown: Shown) -> list[str]:
    """A study's components of spread, their share of the total, their intervals, and what to make of them."""
    parts, operators, trials = study.values.shape
    lines = [f"{parts} parts, {operators} operators, {trials} trials; {found.method}", *_unit_lines(shown), ""]
    if found.table:
        lines += [*_table_lines(found.table, shown), ""]
    lines.append(f"{'':<23}{'% of total':>10}   standard deviation")
    for name, label in _COMPONENTS:
        value = getattr(found, name)
        lines.append(f"{label:<23}{percent(100 * value / found.total):>10}   {shown.spread(value).line}")
    if found.interval is not None:
        lines += ["", f"{100 * (found.confidence or 0):g} % intervals"]
        lines += [f"{label:<23} {shown.spread(*found.interval[name]).line}" for name, label in _COMPONENTS]
    lines += ["", *_wrapped(_judgement(found))]
    return lines + _remarks(found.remarks)


def order_words(jumps: Sequence[OutOfOrder]) -> str:
    """Which readings of a planned study were taken out of its order; the first few by name."""
    if not jumps:
        return "as planned"
    named = [
        f"number {jump.taken.order} (operator {on_one_line(jump.taken.operator)}, part "
        f"{on_one_line(jump.taken.part)}, job {jump.job}) when number {jump.due.order} was due"
        for jump in jumps[:MOST_JUMPS_NAMED]
    ]
    more = len(jumps) - len(named)
    return "; ".join(named) + (f"; and {more} more" if more else "")


def order_lines(jumps: Sequence[OutOfOrder]) -> list[str]:
    """The same for the terminal; nothing where all came as planned."""
    return _wrapped(f"Taken out of the planned order: {order_words(jumps)}.") if jumps else []


def _judgement(found: Repeatability) -> str:
    from rodtrue.lab.repeatability import BOUNDS, GUIDELINE

    categories = found.distinct_categories
    return (
        f"The gauge takes {percent(found.percent_gauge_rr, BOUNDS)} % of the total spread: "
        f"{found.judgement.upper()}; under 10 % is acceptable, up to 30 % for some uses. "
        f"It tells {kinds_told_apart(categories)} kind{'s' * (categories != 1)} of part apart; "
        f"five are the usual least. After {GUIDELINE}."
    )


def _table_lines(table: list[Source], shown: Shown) -> list[str]:
    """The table of the analysis, its squares in the unit that comes first."""
    unit, factor = shown.scales[0]
    in_first = Shown(unit=None)
    lines = [f"{'source':<17}{'df':>5}{'sum of squares':>17}{'mean square':>14}{'F':>10}{'p':>9}"]
    lines += [f"{'':<17}{'':>5}{f'({unit})^2':>17}{f'({unit})^2':>14}"] if unit else []
    for row in table:
        squares = in_first.squares(row.sum_of_squares * factor**2).line
        mean = "" if row.mean_square is None else in_first.squares(row.mean_square * factor**2).line
        ratio, p = f_ratio(row.f_ratio), probability(row.p)
        lines.append(f"{row.name:<17}{row.degrees_of_freedom:>5}{squares:>17}{mean:>14}{ratio:>10}{p:>9}".rstrip())
    return lines


def chart_lines(chart: Chart, shown: Shown) -> list[str]:
    """A chart's limits, and every signal with the number of its point (the first is 1)."""
    lines = [f"chart of {chart.kind}; limits set from the first {chart.set_from} points", *_unit_lines(shown), ""]
    for track in chart.tracks:
        lines.append(f"{track.name:<20} centre {shown.value(track.centre, spread=chart.sd).line}")
        limits = shown.value(track.lower[0], track.upper[0], spread=chart.sd)
        lines.append(f"{'':<20} limits {limits.line}")
    lines += [chart.remark] if chart.remark else []
    if chart.in_control:
        return [*lines, "", "In control: no run rule is broken."]
    lines += ["", "Out of control:"]
    for track in chart.tracks:
        for signal in track.signals:
            shift = 2 if track.name == "moving range" else 1
            lines.append(f"  point {signal.point + shift} ({track.name}): {signal.rule}")
    return lines


def capability_lines(found: Capability, shown: Shown) -> list[str]:
    """Indices with their intervals, and what to think of them."""
    low = "none" if found.lower is None else shown.given(found.lower).line
    high = "none" if found.upper is None else shown.given(found.upper).line
    lines = [
        f"{found.n} values, {found.outside} outside the limits",
        *_unit_lines(shown),
        f"{'limits':<16} {low} to",
        f"{'':<16} {high}",
        f"{'mean':<16} {shown.value(found.mean, spread=found.overall_sd).line}",
        f"{'spread within':<16} {shown.spread(found.sd).line}",
        f"{'spread overall':<16} {shown.spread(found.overall_sd).line}",
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
            lines.append(f"{name:<6}{index:>8.2f}   {limits[0]:.2f} to {limits[1]:.2f}")
    return lines + _remarks(found.remarks)


def kept_lines(kept: KeptRuns | None, remarks: Sequence[str] = ()) -> list[str]:
    """Which kept runs a statistic stands on, and what to mind of them; nothing of a file's values."""
    if kept is None:
        return []
    lines = []
    for name, text in kept.about:
        lines += textwrap.wrap(f"{name:<9} {text}", _WIDTH, subsequent_indent=" " * 10)
    return [*lines, *_remarks(remarks), ""]


def batch_lines(
    kept: KeptRuns,
    bodies: Sequence[BatchBody],
    judged: Sequence[BatchRow],
    not_judged: Sequence[tuple[str, str]],
    remarks: Sequence[str],
    first: Units,
) -> list[str]:
    """A batch: the runs, the limits, each body, then each characteristic and how it sits in its limits."""
    lines = [*kept_lines(kept), *_limits_of_bodies(bodies, first)]
    for number, body in enumerate(bodies, start=1):
        lines += ["", *_body_lines(number, body, first)]
    if judged:
        lines += ["", f"{'':<18} {'mean':<31} {'n':>4} {'outside':>7} {'Ppk':>7}"]
    for row in judged:
        found = row.found
        mean = row.shown.value(found.mean, spread=found.overall_sd).line
        lines.append(f"{row.name:<18} {mean:<31} {found.n:>4} {found.outside:>7} {found.ppk:>7.2f}")
    for name, why in not_judged:
        lines += _wrapped(f"{name}: not judged: {why}")
    return lines + _remarks(remarks)


def _limits_of_bodies(bodies: Sequence[BatchBody], first: Units) -> list[str]:
    """The limits of the batch, a characteristic a line."""
    from rodtrue.report.shown import NONE, characteristic_texts

    lines: dict[str, str] = {}
    for each in (each for body in bodies for each in body.characteristics):
        texts = characteristic_texts(each, first)
        if texts["limits"] != NONE:
            lines[texts["name"]] = f"  {texts['name']:<17} {texts['limits']} ({texts['limits_other']})"
    return ["limits", *lines.values()] if lines else []


def _body_lines(number: int, body: BatchBody, first: Units) -> list[str]:
    """A body: which one, its verdict, and each characteristic that was determined, in both systems."""
    from rodtrue.report.shown import NONE, characteristic_texts
    from rodtrue.run.words import BODY_WORDS

    lines = _wrapped(f"{number}. {on_one_line(body.named)}: {BODY_WORDS[body.body_verdict].upper()}")
    for each in body.characteristics:
        texts = characteristic_texts(each, first)
        measured = "not determined" if texts["first"] == NONE else f"{texts['first']} ({texts['other']})"
        decision = "" if each.limits == (None, None) else each.decision
        lines.append(f"  {texts['name']:<17} {measured:<49} {decision}".rstrip())
    return lines


def limits_lines(found: ToleranceLimits, shown: Shown) -> list[str]:
    """Proposed limits, what they promise, and what they rest on."""
    low = "none" if found.lower is None else shown.value(found.lower, spread=found.sd).line
    high = "none" if found.upper is None else shown.value(found.upper, spread=found.sd).line
    return [
        f"proposed limits  {low} to",
        f"                 {high}",
        *_unit_lines(shown),
        f"they hold at least {100 * found.coverage:g} % of such parts, with {100 * found.confidence:g} % confidence",
        f"from {found.n} values, factor {found.factor:.3g}",
        f"mean             {shown.value(found.mean, spread=found.sd).line}",
        f"sd               {shown.spread(found.sd).line}",
        "This takes them to be normally distributed; `rodtrue lab capability` checks it.",
    ]


def _unit_lines(shown: Shown) -> list[str]:
    return [] if shown.unit else ["in the unit of the values; --values-in names it"]


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH)


def _remarks(remarks: Sequence[str]) -> list[str]:
    wrapped = [textwrap.fill(remark, _WIDTH, initial_indent="- ", subsequent_indent="  ") for remark in remarks]
    return ["", *wrapped] if wrapped else []
