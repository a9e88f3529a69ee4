"""The many-files side of `rodtrue judge`: workers, cluster, progress, a file to go on with, what changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec
import typer

if TYPE_CHECKING:
    from rodtrue.archive.work import Outcome, Request

_FILE_WIDTH = 30


def outcomes(files: list[str], request: Request, workers: int, cluster: str | None) -> Iterator[Outcome]:
    """Judge every file in the order given, here, in worker processes, or on a cluster.

    Raises: FixtureError for a cluster that does not answer or fit.
    """
    if cluster is not None:
        from rodtrue.archive.cluster import judge_on_cluster

        return judge_on_cluster(files, request, cluster)
    from rodtrue.archive.workers import judge_in_processes

    return judge_in_processes(files, request, min(workers, len(files)) or 1)


def judge_to_file(
    files: list[str], request: Request, workers: int, cluster: str | None, out: Path, *, resume: bool
) -> bool:
    """Judge what is not in `out` yet and add it there line by line; say how it went. Returns whether all were judged.

    Raises: InputError, FixtureError; what was written before stands.
    """
    from rodtrue.archive.journal import Journal

    counted: Counter[str] = Counter()
    with Journal(out, request, resume=resume) as journal, ExitStack() as stack:
        left = journal.unfinished(files)
        if len(left) < len(files):
            typer.echo(f"{out}: {len(files) - len(left)} of {len(files)} were judged before", err=True)
        step = stack.enter_context(_Progress(len(left)))
        for outcome in outcomes(left, request, workers, cluster):
            journal.write(outcome)
            counted[outcome.result.verdict if outcome.result is not None else "refused"] += 1
            if outcome.refusal is not None:
                typer.echo(f"rodtrue: {outcome.refusal.message}\n{outcome.refusal.next_step}", err=True)
            step()
    said = ", ".join(f"{count} {word}" for word, count in counted.most_common()) or "nothing left to judge"
    typer.echo(f"{out}: {said}", err=True)
    return not counted["refused"]


def show_changes(before: Path, now: list[dict[str, Any]], *, as_json: bool) -> None:
    """Show what differs from an older judging. Raises: InputError where its file cannot be read."""
    from rodtrue.archive.changes import changes
    from rodtrue.archive.journal import read_journal

    found = list(changes(read_journal(before), now))
    if as_json:
        for change in found:
            typer.echo(msgspec.json.encode(change))
        return
    for change in found:
        name = change.file if len(change.file) <= _FILE_WIDTH else f"…{change.file[1 - _FILE_WIDTH :]}"
        typer.echo(f"{name:<{_FILE_WIDTH}} {change.what}: {change.before} -> {change.now}")
    same = len(now) - len({change.file for change in found})
    typer.echo(f"{same} of {len(now)} as before")


class _Progress:
    """A line of progress on a terminal, nothing elsewhere; entering it gives the function that counts one on."""

    def __init__(self, total: int) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn

        console = Console(stderr=True)
        columns = (BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
        self._progress = Progress(*columns, console=console, disable=not console.is_terminal)
        self._task = self._progress.add_task("judged", total=total)

    def __enter__(self) -> Any:
        self._progress.start()
        return lambda: self._progress.advance(self._task)

    def __exit__(self, *_: object) -> None:
        self._progress.stop()
