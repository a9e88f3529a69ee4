"""`rodtrue lab`: repeatability studies, control charts, capability, proposed limits."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rodtrue.cli.lab_options import Json, Name, Plot, Report, Values, ValuesIn, show
from rodtrue.cli.lab_study import next_reading, plan, repeatability
from rodtrue.cli.lab_values import read_values
from rodtrue.cli.records_options import Place, filtered

if TYPE_CHECKING:
    from rodtrue.records import RunFilter

BODY_FILTERS = ("since", "until", "profile", "tag", "virtual")


class Kind(StrEnum):
    individuals = "individuals"
    ranges = "ranges"
    deviations = "deviations"
    weighted = "weighted"


class Side(StrEnum):
    BOTH = "both"
    LOWER = "lower"
    UPPER = "upper"


def register(app: typer.Typer) -> None:
    lab = typer.Typer(
        help="Statistics for a quality lab: is the gauge good enough, does it drift, are the bodies good enough.",
        no_args_is_help=True,
        rich_markup_mode=None,
    )
    lab.command("plan", epilog="Example: rodtrue lab plan --parts 10 --operators A,B,C --out study.csv")(plan)
    lab.command("next", epilog="Example: rodtrue lab next study.csv --tag 'study 1'")(next_reading)
    lab.command("repeatability", epilog="Example: rodtrue lab repeatability study.csv --report s.pdf")(repeatability)
    lab.command("chart", epilog="Example: rodtrue lab chart check-standard.csv --set-from 25")(chart)
    lab.command("capability", epilog="Example: rodtrue lab capability slopes.csv --lower 8 --upper 14")(capability)
    lab.command("batch", epilog="Example: rodtrue lab batch --since 2026-10-01 --report october.pdf")(batch)
    lab.command("limits", epilog="Example: rodtrue lab limits good-bodies.csv --coverage 0.95")(limits)
    app.add_typer(lab, name="lab")


@filtered("since", "until", "profile", "fixture", "tag", "virtual")
def chart(
    wanted: RunFilter,
    file: Values = None,
    kind: Annotated[
        Kind | None, typer.Option(help="Default: individuals, or ranges where there are subgroups.")
    ] = None,
    set_from: Annotated[
        int | None, typer.Option("--set-from", metavar="N", min=2, help="The first N set the limits; default all.")
    ] = None,
    weight: Annotated[float, typer.Option(help="Weighted average: weight of the newest value.")] = 0.3,
    characteristic: Name = None,
    values_in: ValuesIn = None,
    place: Place = None,
    plot: Plot = None,
    report: Report = None,
    as_json: Json = False,
) -> None:
    """Does it drift: a control chart of check-standard values in the order they were taken, with run rules."""
    from rodtrue.cli.lab_words import chart_lines
    from rodtrue.lab import charts
    from rodtrue.report.lab_figures import chart_figure
    from rodtrue.report.lab_report import chart_report

    read = read_values(file, characteristic, wanted, place, values_in)
    if kind is None:
        kind = Kind.individuals if read.subgroups is None else Kind.ranges
    if kind is Kind.individuals:
        drawn = charts.individuals(read.values, set_from)
    elif kind is Kind.weighted:
        drawn = charts.weighted(read.values, weight, set_from=set_from)
    else:
        groups = _equal_groups(read.source, read.values, read.subgroups)
        drawn = charts.means(groups, "range" if kind is Kind.ranges else "sd", set_from)
    show(
        drawn,
        lambda: chart_lines(drawn, read.unit),
        as_json=as_json,
        plot=plot,
        figure=lambda: chart_figure(drawn),
        report=report,
        pages=lambda: chart_report(drawn, read.about, unit=read.unit, virtual=wanted.virtual is True),
    )


@filtered(*BODY_FILTERS)
def capability(
    wanted: RunFilter,
    file: Values = None,
    lower: Annotated[float | None, typer.Option(help="Lower limit, in the unit of the values.")] = None,
    upper: Annotated[float | None, typer.Option(help="Upper limit, in the unit of the values.")] = None,
    characteristic: Name = None,
    values_in: ValuesIn = None,
    place: Place = None,
    plot: Plot = None,
    report: Report = None,
    as_json: Json = False,
) -> None:
    """Are the bodies good enough: Cp, Cpk, Pp, Ppk of one characteristic, with intervals and a normality check."""
    from rodtrue.cli.lab_words import capability_lines
    from rodtrue.lab.capability import capability as judge_capability
    from rodtrue.report.lab_figures import capability_figure
    from rodtrue.report.lab_report import batch_report

    read = read_values(file, characteristic, wanted, place, values_in)
    found = judge_capability(read.values, lower, upper, read.subgroups)
    batch = [(characteristic or "value", read.values, found)]
    show(
        found,
        lambda: capability_lines(found, read.unit),
        as_json=as_json,
        plot=plot,
        figure=lambda: capability_figure(read.values, found),
        report=report,
        pages=lambda: batch_report(batch, read.about, virtual=wanted.virtual is True),
    )


@filtered(*BODY_FILTERS)
def batch(
    wanted: RunFilter,
    report: Annotated[Path, typer.Option("--report", metavar="FILE.pdf", help="The report to write.")],
    place: Place = None,
) -> None:
    """Report a batch of rebuilt valve bodies from the kept runs: each characteristic that has limits."""
    from rodtrue.cli.lab_values import batch_values
    from rodtrue.lab.capability import capability as judge_capability
    from rodtrue.model.errors import InputError
    from rodtrue.report.lab_report import batch_report, write_lab_report

    about, measured = batch_values(wanted, place)
    judged, refused = [], []
    for name, values, lower, upper in measured:
        try:
            judged.append((name, values, judge_capability(values, lower, upper)))
        except InputError as error:  # one characteristic that never moves must not cost the others their report
            refused.append((name, error))
    if not judged:
        raise refused[0][1]
    about += [("Not judged", f"{name}: {why.message}") for name, why in refused]
    write_lab_report(report, batch_report(judged, about, virtual=wanted.virtual is True))
    for name, _, found in judged:
        typer.echo(f"{name:<28} {found.n} values, {found.outside} outside, Ppk {found.ppk:.2f}")
    for name, why in refused:
        typer.echo(f"{name:<28} not judged: {why.message}")
    typer.echo(f"Written: {report}")


@filtered(*BODY_FILTERS)
def limits(
    wanted: RunFilter,
    file: Values = None,
    side: Annotated[Side, typer.Option(help="Limits on both sides or on one.")] = Side.BOTH,
    coverage: Annotated[float, typer.Option(help="Share of good parts that the limits hold.")] = 0.95,
    confidence: Annotated[float, typer.Option(help="How sure that they do.")] = 0.95,
    characteristic: Name = None,
    values_in: ValuesIn = None,
    place: Place = None,
    as_json: Json = False,
) -> None:
    """Propose a profile's limits for one characteristic from known-good parts: a tolerance interval."""
    from rodtrue.cli.lab_words import limits_lines
    from rodtrue.lab.tolerance import tolerance_limits

    read = read_values(file, characteristic, wanted, place, values_in)
    found = tolerance_limits(read.values, side.value, coverage=coverage, confidence=confidence)
    show(found, lambda: limits_lines(found, read.unit), as_json=as_json)


def _equal_groups(file: str, values: Any, subgroups: Any) -> Any:
    import numpy as np

    from rodtrue.model.errors import InputError

    if subgroups is None:
        raise InputError(f"{file}: no column subgroup", "Give one, or ask for --kind individuals.")
    groups = [values[subgroups == label] for label in dict.fromkeys(subgroups.tolist())]
    sizes = {len(group) for group in groups}
    if len(sizes) != 1 or sizes == {1}:
        raise InputError(
            f"{file}: subgroups of {', '.join(str(size) for size in sorted(sizes))} values",
            "This chart needs subgroups of one size, two values or more.",
        )
    return np.array(groups)
