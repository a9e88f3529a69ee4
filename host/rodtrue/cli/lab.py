"""`rodtrue lab`: repeatability studies, control charts, capability, proposed limits."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from rodtrue.cli.lab_values import read_values
from rodtrue.cli.records_options import Fixture, Place, Profile, Since, Tag, Until, Virtual, filter_of

Json = Annotated[bool, typer.Option("--json", help="One JSON document.")]
Plot = Annotated[Path | None, typer.Option("--plot", metavar="FILE.png", help="Write a picture too.")]
Report = Annotated[Path | None, typer.Option("--report", metavar="FILE.pdf", help="Write a report too.")]
Values = Annotated[
    Path | None, typer.Argument(metavar="FILE.csv", help="Columns: value, and subgroup if any; or take kept runs:")
]
Name = Annotated[
    str | None,
    typer.Option("--characteristic", metavar="NAME", help="Of kept runs: slope, baseline, full_pressure..."),
]


class Method(StrEnum):
    anova = "anova"
    range = "range"


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
    lab.command("repeatability", epilog="Example: rodtrue lab repeatability study.csv --pool")(repeatability)
    lab.command("chart", epilog="Example: rodtrue lab chart check-standard.csv --set-from 25")(chart)
    lab.command("capability", epilog="Example: rodtrue lab capability slopes.csv --lower 8 --upper 14")(capability)
    lab.command("batch", epilog="Example: rodtrue lab batch --since 2026-10-01 --report october.pdf")(batch)
    lab.command("limits", epilog="Example: rodtrue lab limits good-bodies.csv --coverage 0.95")(limits)
    app.add_typer(lab, name="lab")


def plan(
    parts: Annotated[int, typer.Option(min=2, help="How many parts.")] = 10,
    operators: Annotated[str, typer.Option(metavar="A,B,C", help="Who measures, with commas between.")] = "A,B,C",
    trials: Annotated[int, typer.Option(min=2, help="How often each measures each part.")] = 3,
    seed: Annotated[int, typer.Option(help="Another seed, another order.")] = 1,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE.csv", help="Write here; default: on the terminal.")
    ] = None,
) -> None:
    """Lay out a study: who measures which part in which order, shuffled; fill in the column `value`."""
    from rodtrue.lab.plan import plan_study
    from rodtrue.model.errors import InputError

    names = [name.strip() for name in operators.split(",") if name.strip()]
    if len(set(names)) < 2 or len(set(names)) != len(names):
        raise InputError(
            f"--operators {operators}: a study needs two different operators or more", "Give, say, --operators A,B,C."
        )
    readings = plan_study([str(i) for i in range(1, parts + 1)], names, trials, seed)
    lines = ["order,operator,part,trial,value"]
    lines += [f"{r.order},{r.operator},{r.part},{r.trial}," for r in readings]
    text = "\n".join(lines) + "\n"
    if out is None:
        typer.echo(text, nl=False)
        return
    _write_new(out, text)
    typer.echo(f"{out}: {len(readings)} readings to take, in this order. Fill in `value`, then:")
    typer.echo(f"  rodtrue lab repeatability {out}")


def repeatability(
    file: Annotated[Path, typer.Argument(metavar="FILE.csv", help="Columns: part, operator, trial, value.")],
    method: Annotated[Method, typer.Option(help="Analysis of variance, or average and range.")] = Method.anova,
    pool: Annotated[bool, typer.Option("--pool", help="Drop the interaction when its p is above 0.25.")] = False,
    confidence: Annotated[float, typer.Option(min=0.5, max=0.999, help="Of the intervals.")] = 0.95,
    plot: Plot = None,
    report: Report = None,
    as_json: Json = False,
) -> None:
    """How much of the spread is the gauge: repeatability, reproducibility, parts, of a crossed study."""
    from rodtrue.lab.repeatability import by_analysis_of_variance, by_ranges

    study = _read_study(file)
    if method is Method.range:
        found = by_ranges(study)
    else:
        found = by_analysis_of_variance(study, pool=pool, confidence=confidence)
    if plot is not None:
        from rodtrue.report.lab_figures import study_figure, write_picture

        write_picture(plot, study_figure(study))
    if report is not None:
        from rodtrue.report.lab_report import study_report, write_lab_report

        write_lab_report(report, study_report(study, found, [("Readings", file.name)]))
    if as_json:
        _print_json(found)
        return
    from rodtrue.cli.lab_words import repeatability_lines

    typer.echo("\n".join(repeatability_lines(found, study)))


def chart(
    file: Values = None,
    kind: Annotated[
        Kind | None, typer.Option(help="Default: individuals, or ranges where there are subgroups.")
    ] = None,
    set_from: Annotated[
        int | None, typer.Option("--set-from", metavar="N", min=2, help="The first N set the limits; default all.")
    ] = None,
    weight: Annotated[float, typer.Option(help="Weighted average: weight of the newest value.")] = 0.3,
    characteristic: Name = None,
    tag: Tag = None,
    since: Since = None,
    fixture: Fixture = None,
    virtual: Virtual = None,
    place: Place = None,
    plot: Plot = None,
    report: Report = None,
    as_json: Json = False,
) -> None:
    """Does it drift: a control chart of check-standard values in the order they were taken, with run rules."""
    from rodtrue.lab import charts

    wanted = filter_of(since, None, None, None, None, None, fixture, tag, virtual, None)
    values, subgroups, source = read_values(file, characteristic, wanted, place)
    if kind is None:
        kind = Kind.individuals if subgroups is None else Kind.ranges
    if kind is Kind.individuals:
        drawn = charts.individuals(values, set_from)
    elif kind is Kind.weighted:
        drawn = charts.weighted(values, weight, set_from=set_from)
    else:
        drawn = charts.means(
            _equal_groups(source, values, subgroups), "range" if kind is Kind.ranges else "sd", set_from
        )
    if plot is not None:
        from rodtrue.report.lab_figures import chart_figure, write_picture

        write_picture(plot, chart_figure(drawn))
    if report is not None:
        from rodtrue.report.lab_report import chart_report, write_lab_report

        write_lab_report(report, chart_report(drawn, [("Values", source)], virtual=virtual is True))
    if as_json:
        _print_json(drawn)
        return
    from rodtrue.cli.lab_words import chart_lines

    typer.echo("\n".join(chart_lines(drawn)))


def capability(
    file: Values = None,
    lower: Annotated[float | None, typer.Option(help="Lower limit, in the unit of the values.")] = None,
    upper: Annotated[float | None, typer.Option(help="Upper limit, in the unit of the values.")] = None,
    characteristic: Name = None,
    tag: Tag = None,
    since: Since = None,
    until: Until = None,
    profile: Profile = None,
    virtual: Virtual = None,
    place: Place = None,
    plot: Plot = None,
    report: Report = None,
    as_json: Json = False,
) -> None:
    """Are the bodies good enough: Cp, Cpk, Pp, Ppk of one characteristic, with intervals and a normality check."""
    from rodtrue.lab.capability import capability as judge_capability

    wanted = filter_of(since, until, None, None, profile, None, None, tag, virtual, None)
    values, subgroups, source = read_values(file, characteristic, wanted, place)
    found = judge_capability(values, lower, upper, subgroups)
    if plot is not None:
        from rodtrue.report.lab_figures import capability_figure, write_picture

        write_picture(plot, capability_figure(values, found))
    if report is not None:
        from rodtrue.report.lab_report import batch_report, write_lab_report

        name = characteristic or "value"
        write_lab_report(report, batch_report([(name, values, found)], [("Values", source)], virtual=virtual is True))
    if as_json:
        _print_json(found)
        return
    from rodtrue.cli.lab_words import capability_lines

    typer.echo("\n".join(capability_lines(found)))


def batch(
    report: Annotated[Path, typer.Option("--report", metavar="FILE.pdf", help="The report to write.")],
    tag: Tag = None,
    since: Since = None,
    until: Until = None,
    profile: Profile = None,
    virtual: Virtual = None,
    place: Place = None,
) -> None:
    """Report a batch of rebuilt valve bodies from the kept runs: each characteristic that has limits."""
    from rodtrue.cli.lab_values import batch_values
    from rodtrue.lab.capability import capability as judge_capability
    from rodtrue.report.lab_report import batch_report, write_lab_report

    wanted = filter_of(since, until, None, None, profile, None, None, tag, virtual, None)
    about, measured = batch_values(wanted, place)
    judged = [(name, values, judge_capability(values, lower, upper)) for name, values, lower, upper in measured]
    write_lab_report(report, batch_report(judged, about, virtual=virtual is True))
    for name, _, found in judged:
        typer.echo(f"{name:<28} {found.n} values, {found.outside} outside, Ppk {found.ppk:.2f}")
    typer.echo(f"Written: {report}")


def limits(
    file: Values = None,
    side: Annotated[Side, typer.Option(help="Limits on both sides or on one.")] = Side.BOTH,
    coverage: Annotated[float, typer.Option(help="Share of good parts that the limits hold.")] = 0.95,
    confidence: Annotated[float, typer.Option(help="How sure that they do.")] = 0.95,
    characteristic: Name = None,
    tag: Tag = None,
    since: Since = None,
    profile: Profile = None,
    virtual: Virtual = None,
    place: Place = None,
    as_json: Json = False,
) -> None:
    """Propose a profile's limits for one characteristic from known-good parts: a tolerance interval."""
    from rodtrue.lab.tolerance import tolerance_limits

    wanted = filter_of(since, None, None, None, profile, None, None, tag, virtual, None)
    values, _, _ = read_values(file, characteristic, wanted, place)
    found = tolerance_limits(values, side.value, coverage=coverage, confidence=confidence)
    if as_json:
        _print_json(found)
        return
    low = "none" if found.lower is None else f"{found.lower:.5g}"
    high = "none" if found.upper is None else f"{found.upper:.5g}"
    typer.echo(f"proposed limits  {low} to {high}")
    typer.echo(f"they hold at least {100 * coverage:g} % of such parts, with {100 * confidence:g} % confidence")
    typer.echo(f"from {found.n} values, mean {found.mean:.5g}, sd {found.sd:.3g}, factor {found.factor:.3f}")
    typer.echo("This takes them to be normally distributed; `rodtrue lab capability` checks it.")


def _read_study(file: Path) -> Any:
    from rodtrue.capture.csv_file import heading, read_table
    from rodtrue.lab.study import Reading, arrange

    operator = "appraiser" if "operator" not in heading(file) and "appraiser" in heading(file) else "operator"
    (values,), (parts, operators, trials), lines = read_table(file, ["value"], ["part", operator, "trial"])
    rows = zip(parts, operators, trials, values.tolist(), lines, strict=True)
    return arrange([Reading(*row) for row in rows], str(file))


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


def _write_new(path: Path, text: str) -> None:
    from rodtrue.model.errors import InputError

    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError as error:
        raise InputError(f"{path}: is there already, and may hold values", "Name another file with --out.") from error
    except OSError as error:
        raise InputError(f"{path}: cannot be written ({error.strerror})", "Name another file with --out.") from error


def _print_json(found: Any) -> None:
    from rodtrue.judging import encode

    typer.echo(encode(found))
