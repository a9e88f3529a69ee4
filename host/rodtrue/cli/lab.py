"""`rodtrue lab`: repeatability studies, control charts, capability, proposed limits."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rodtrue.cli.lab_batch import BODY_FILTERS, batch
from rodtrue.cli.lab_kept import of_bodies
from rodtrue.cli.lab_next import next_reading
from rodtrue.cli.lab_options import Source, Telling, sourced, told
from rodtrue.cli.lab_study import plan, repeatability
from rodtrue.cli.lab_values import read_values
from rodtrue.cli.records_options import filtered
from rodtrue.lab.quantity import Shown

if TYPE_CHECKING:
    from rodtrue.records import RunFilter


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


@told("plot", "report")
@filtered("since", "until", "profile", "reference", "fixture", "tag", "virtual")
@sourced
def chart(
    source: Source,
    wanted: RunFilter,
    telling: Telling,
    kind: Annotated[
        Kind | None, typer.Option(help="Default: individuals, or ranges where there are subgroups.")
    ] = None,
    set_from: Annotated[
        int | None, typer.Option("--set-from", metavar="N", min=2, help="The first N set the limits; default all.")
    ] = None,
    weight: Annotated[float, typer.Option(help="Weighted average: weight of the newest value.")] = 0.3,
) -> None:
    """Does it drift: a control chart of check-standard values in the order they were taken, with run rules.

    Of kept runs, those as found.
    """
    from rodtrue.cli.lab_words import chart_lines, kept_lines
    from rodtrue.lab import charts
    from rodtrue.report.lab_figures import chart_figure
    from rodtrue.report.lab_report import chart_report

    read = read_values(source, wanted)
    if kind is None:
        kind = Kind.individuals if read.subgroups is None else Kind.ranges
    if kind is Kind.individuals:
        drawn = charts.individuals(read.values, set_from)
    elif kind is Kind.weighted:
        drawn = charts.weighted(read.values, weight, set_from=set_from)
    else:
        groups = _equal_groups(read.source, read.values, read.subgroups)
        drawn = charts.means(groups, "range" if kind is Kind.ranges else "sd", set_from)
    shown = Shown(read.unit, telling.first, virtual=wanted.virtual is True)
    telling.tell(
        read.document(drawn),
        lambda: kept_lines(read.kept) + chart_lines(drawn, shown),
        lambda: chart_figure(drawn, shown),
        lambda: chart_report(drawn, read.about, shown),
    )


@told("plot", "report")
@filtered(*BODY_FILTERS)
@sourced
def capability(
    source: Source,
    wanted: RunFilter,
    telling: Telling,
    lower: Annotated[float | None, typer.Option(help="Lower limit, in the unit of the values.")] = None,
    upper: Annotated[float | None, typer.Option(help="Upper limit, in the unit of the values.")] = None,
) -> None:
    """Are the bodies good enough: Cp, Cpk, Pp, Ppk of one characteristic, with intervals and a normality check.

    Of kept runs, one a job, without the check standard's unless --tag asks for them.
    """
    from rodtrue.cli.lab_words import capability_lines, kept_lines
    from rodtrue.lab.capability import capability as judge_capability
    from rodtrue.report.lab_batch import batch_report
    from rodtrue.report.lab_figures import BatchRow, capability_figure

    read = read_values(source, of_bodies(wanted))
    found = judge_capability(read.values, lower, upper, read.subgroups)
    shown = Shown(read.unit, telling.first, virtual=wanted.virtual is True)
    row = BatchRow(read.named, read.values, found, shown)
    remarks = [] if read.kept is None else read.kept.remarks
    telling.tell(
        read.document(found),
        lambda: kept_lines(read.kept, remarks) + capability_lines(found, shown),
        lambda: capability_figure(row),
        lambda: batch_report("Capability", [row], read.about, remarks, shown),
    )


@told()
@filtered(*BODY_FILTERS)
@sourced
def limits(
    source: Source,
    wanted: RunFilter,
    telling: Telling,
    side: Annotated[Side, typer.Option(help="Limits on both sides or on one.")] = Side.BOTH,
    coverage: Annotated[float, typer.Option(help="Share of good parts that the limits hold.")] = 0.95,
    confidence: Annotated[float, typer.Option(help="How sure that they do.")] = 0.95,
) -> None:
    """Propose a profile's limits for one characteristic from known-good parts: a tolerance interval.

    Of kept runs, one a job, without the check standard's unless --tag asks for them.
    """
    from rodtrue.cli.lab_words import kept_lines, limits_lines
    from rodtrue.lab.tolerance import tolerance_limits

    read = read_values(source, of_bodies(wanted))
    found = tolerance_limits(read.values, side.value, coverage=coverage, confidence=confidence)
    shown = Shown(read.unit, telling.first, virtual=wanted.virtual is True)
    remarks = [] if read.kept is None else read.kept.remarks
    telling.tell(read.document(found), lambda: kept_lines(read.kept, remarks) + limits_lines(found, shown))


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
