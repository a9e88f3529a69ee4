"""`rodtrue judge`: captures and CSV files to verdicts."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from rodtrue.cli.options import DriveWord, FirstUnitsOption, ReferenceWord, UnitsWord

FILES_HELP = "Captures, CSV files with the columns time_s,travel_mm,pressure_kpa,step, or folders of them."
PROFILE_HELP = "A shipped profile or a TOML file; default: the capture's own, for a CSV example-direct."


class Baseline(StrEnum):
    """Where the rod was while the baseline was taken."""

    unhooked = "unhooked"
    connected = "connected"
    unknown = "unknown"


def register(app: typer.Typer) -> None:
    app.command("judge", epilog="Example: rodtrue judge as-found.csv --profile example-direct --json")(judge)


def judge(
    files: Annotated[
        list[Path],
        typer.Argument(metavar="FILE...", help=FILES_HELP),
    ],
    profile: Annotated[
        str | None,
        typer.Option(help=PROFILE_HELP),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document a line, one a file.")] = False,
    workers: Annotated[int, typer.Option(min=1, help="Processes that judge in parallel.")] = 1,
    baseline: Annotated[Baseline | None, typer.Option(help="CSV: was the rod off the pin for the baseline?")] = None,
    reference: Annotated[ReferenceWord | None, typer.Option(help="CSV: what travel 0 stands for.")] = None,
    drive: Annotated[DriveWord | None, typer.Option(help="CSV: how the pin was moved.")] = None,
    calibration: Annotated[
        Path | None, typer.Option(metavar="FILE", help="A calibration to use instead of the fixture's own.")
    ] = None,
    budget: Annotated[bool, typer.Option("--budget", help="Show the uncertainty budget too.")] = False,
    units: FirstUnitsOption = UnitsWord.inch,
    cluster: Annotated[
        str | None, typer.Option(metavar="ADDRESS", help="Judge on the dask cluster whose scheduler is there.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE.jsonl", help="Write results here, line by line, as they come.")
    ] = None,
    resume: Annotated[bool, typer.Option("--resume", help="Go on with --out where it was stopped.")] = False,
    compare: Annotated[
        Path | None, typer.Option(metavar="OLD.jsonl", help="Show what changed since these results.")
    ] = None,
) -> None:
    """Judge captures: verdict, rod error with its interval, correction, findings.

    Ends with 0 whatever the verdict, with 2 if a file was refused (the others are still judged).
    """  # fmt: skip
    import msgspec

    from rodtrue.archive.files import files_in
    from rodtrue.archive.journal import read_journal
    from rodtrue.archive.work import Request
    from rodtrue.cli.judge_archive import judge_to_file, outcomes, show_changes
    from rodtrue.judging import CsvAnswers, read_stored_calibration
    from rodtrue.model.errors import InputError
    from rodtrue.profiles import load_profile

    loaded = None if profile is None else load_profile(profile)
    answers = CsvAnswers(
        baseline=None if baseline is None else baseline.value,
        reference=None if reference is None else reference.value,
        drive=None if drive is None else drive.value,
    )
    instead = None if calibration is None else read_stored_calibration(calibration)
    request = Request(loaded, answers, instead)
    named = files_in(files)
    if out is not None:
        whole = judge_to_file(named, request, workers, cluster, out, resume=resume)
        if compare is not None:
            show_changes(compare, read_journal(out), as_json=as_json)
        if not whole:
            raise typer.Exit(2)
        return
    if resume:
        raise InputError("--resume without --out", "Name the file to go on with: --out FILE.jsonl --resume.")
    refused, lines = False, []
    for outcome in outcomes(named, request, workers, cluster):
        refused |= outcome.refusal is not None
        if outcome.refusal is not None:
            typer.echo(f"rodtrue: {outcome.refusal.message}\n{outcome.refusal.next_step}", err=True)
        if compare is not None:
            lines.append(msgspec.json.decode(outcome.line()))
        elif as_json:
            typer.echo(outcome.line())
        elif outcome.result is not None:
            from rodtrue.cli.show import show_result

            show_result(outcome.result, units.value, with_budget=budget)
    if compare is not None:
        show_changes(compare, lines, as_json=as_json)
    if refused:
        raise typer.Exit(2)
