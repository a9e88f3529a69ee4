"""`rodtrue judge`: captures and CSV files to verdicts."""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rodtrue.cli.options import DriveWord, ReferenceWord

if TYPE_CHECKING:
    from rodtrue.judging import CsvAnswers
    from rodtrue.model.errors import RodtrueError
    from rodtrue.model.profile import Profile
    from rodtrue.model.result import Result


FILES_HELP = "Captures, or CSV files with the columns time_s,travel_mm,pressure_kpa,step."
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
    budget: Annotated[bool, typer.Option("--budget", help="Show the uncertainty budget too.")] = False,
) -> None:
    """Judge captures: verdict, rod error with its interval, correction, findings.

    Ends with 0 whatever the verdict, with 2 if a file was refused (the others are still judged).
    """  # fmt: skip
    from rodtrue.judging import CsvAnswers, encode, encode_refusal
    from rodtrue.profiles import load_profile

    loaded = None if profile is None else load_profile(profile)
    answers = CsvAnswers(
        baseline=None if baseline is None else baseline.value,
        reference=None if reference is None else reference.value,
        drive=None if drive is None else drive.value,
    )
    refused = False
    for file, outcome in _judge_all(files, loaded, answers, workers):
        if isinstance(outcome, Exception):
            refused = True
            if as_json:
                typer.echo(encode_refusal(str(file), outcome))
            typer.echo(f"rodtrue: {outcome.message}\n{outcome.next_step}", err=True)
        elif as_json:
            typer.echo(encode(outcome))
        else:
            from rodtrue.cli.show import show_result

            show_result(outcome, with_budget=budget)
    if refused:
        raise typer.Exit(2)


def _judge_all(
    files: list[Path], profile: Profile | None, answers: CsvAnswers, workers: int
) -> Iterator[tuple[Path, Result | RodtrueError]]:
    """Judge every file in the order given, in this process or in several; each is given as it is done."""
    if workers == 1 or len(files) == 1:
        for file in files:
            yield file, _judge_one(file, profile, answers)
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        futures = [pool.submit(_judge_one, file, profile, answers) for file in files]
        for file, future in zip(files, futures, strict=True):
            yield file, future.result()


def _judge_one(file: Path, profile: Profile | None, answers: CsvAnswers) -> Result | RodtrueError:
    from rodtrue.judging import judge_file
    from rodtrue.model.errors import RodtrueError

    try:
        return judge_file(file, profile, answers)
    except RodtrueError as error:
        return error
