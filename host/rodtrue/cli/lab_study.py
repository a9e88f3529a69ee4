"""`rodtrue lab plan` and `repeatability`: a study laid out, and what it says."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from rodtrue.cli.lab_options import Name, Telling, ValuesIn, told
from rodtrue.cli.records_options import Place, filtered
from rodtrue.lab.quantity import Shown

if TYPE_CHECKING:
    from rodtrue.records import RunFilter

STUDY_FILTERS = ("since", "until", "profile", "reference", "fixture", "tag", "virtual")
Without = Annotated[list[int] | None, typer.Option("--without", metavar="JOB", help="A kept job not to count.")]


class Method(StrEnum):
    anova = "anova"
    range = "range"


def plan(
    parts: Annotated[str, typer.Option(metavar="N|A,B,C", help="How many parts, or their names.")] = "10",
    operators: Annotated[str, typer.Option(metavar="A,B,C", help="Who measures, with commas between.")] = "A,B,C",
    trials: Annotated[int, typer.Option(min=2, help="How often each measures each part.")] = 3,
    seed: Annotated[int, typer.Option(help="Another seed, another order.")] = 1,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE.csv", help="Write here; default: on the terminal.")
    ] = None,
) -> None:
    """Lay out a study: who measures which part in which order, shuffled.

    Give each part its name as the run's unit, and the operator's name as planned: `lab next` then says what is due,
    and `lab repeatability` takes the values from the kept runs. Or fill in the column `value` by hand.
    """
    from rodtrue.cli.new_file import write_new
    from rodtrue.lab.plan import plan_study

    named = [str(i) for i in range(1, int(parts) + 1)] if parts.isdecimal() else _names(parts)
    people = _two_or_more(_names(operators), "operators", operators)
    readings = plan_study(_two_or_more(named, "parts", parts), people, trials, seed)
    lines = ["order,operator,part,trial,value"]
    lines += [f"{r.order},{r.operator},{r.part},{r.trial}," for r in readings]
    text = "\n".join(lines) + "\n"
    if out is None:
        typer.echo(text, nl=False)
        return
    write_new(out, text)
    typer.echo(f"Written: {out}: {len(readings)} readings to take, in this order. What is due:")
    typer.echo(f"  rodtrue lab next {quote(str(out))} --tag 'study 1'")
    typer.echo("With values filled in by hand instead:")
    typer.echo(f"  rodtrue lab repeatability {quote(str(out))}")


@told("plot", "report")
@filtered(*STUDY_FILTERS)
def repeatability(
    wanted: RunFilter,
    telling: Telling,
    file: Annotated[
        Path | None,
        typer.Argument(metavar="FILE.csv", help="Columns: part, operator, trial, value; or a plan, with kept runs."),
    ] = None,
    characteristic: Name = None,
    without: Without = None,
    method: Annotated[Method, typer.Option(help="Analysis of variance, or average and range.")] = Method.anova,
    pool: Annotated[bool, typer.Option("--pool", help="Drop the interaction when its p is above 0.25.")] = False,
    confidence: Annotated[float, typer.Option(min=0.5, max=0.999, help="Of the intervals.")] = 0.95,
    values_in: ValuesIn = None,
    place: Place = None,
) -> None:
    """How much of the spread is the gauge: repeatability, reproducibility, parts, of a crossed study.

    Values stand in the file, or come from kept runs (--characteristic), as found: the unit is the part, and trials
    are counted as they were taken; with a plan as the file, its readings alone.
    """
    from rodtrue.cli.lab_kept import KeptRuns, kept_for_study, kept_study, study_values, unit_of
    from rodtrue.cli.lab_values import GIVE_ONE, read_plan, read_study
    from rodtrue.cli.lab_words import kept_lines, order_lines, order_words, repeatability_lines
    from rodtrue.lab.kept_study import out_of_order
    from rodtrue.lab.repeatability import by_analysis_of_variance, by_ranges
    from rodtrue.model.errors import InputError
    from rodtrue.report.lab_figures import study_figure
    from rodtrue.report.lab_report import study_report
    from rodtrue.report.shown import own_words

    kept = jumps = None
    if characteristic is not None:
        unit: str | None = unit_of(characteristic)
        planned = None if file is None else read_plan(file)
        values = kept_for_study(characteristic, wanted, place, without or (), planned)
        study = kept_study(values, planned, str(file or "the kept runs"))
        source = f"{characteristic.replace('_', ' ')} of {study.values.size} kept runs"
        kept = KeptRuns.of(values, wanted)
        jumps = None if planned is None else out_of_order(study_values(values), planned)
    elif file is not None:
        unit, study, source = values_in, read_study(file), file.name
    else:
        raise InputError("no readings", GIVE_ONE)
    if method is Method.range:
        found = by_ranges(study)
    else:
        found = by_analysis_of_variance(study, pool=pool, confidence=confidence)
    shown = Shown(unit, telling.first, virtual=characteristic is not None and wanted.virtual is True)
    about = [("Readings", source), *shown.unit_row, *([] if kept is None else kept.about)]
    about += [] if jumps is None else [("Order", own_words(order_words(jumps)))]
    telling.tell(
        {**msgspec.to_builtins(found), "unit": unit, "kept_runs": kept, "out_of_order": jumps},
        lambda: kept_lines(kept) + order_lines(jumps or []) + repeatability_lines(found, study, shown),
        lambda: study_figure(study, shown),
        lambda: study_report(study, found, about, shown),
    )


def _names(text: str) -> list[str]:
    return [name.strip() for name in text.split(",") if name.strip()]


def _two_or_more(names: list[str], what: str, given: str) -> list[str]:
    from rodtrue.model.errors import InputError
    from rodtrue.records.export import defused

    if len(set(names)) < 2 or len(set(names)) != len(names):
        raise InputError(
            f"--{what} {given}: a study needs two different {what} or more", f"Give, say, --{what} A,B,C."
        )
    for name in names:
        if defused(name) != name or any(sign in name for sign in '"\r\n'):
            raise InputError(
                f"--{what} {given}: a spreadsheet would not take {name!r} for a name",
                "Begin it with a letter or a digit, and leave quotes out.",
            )
    return names
