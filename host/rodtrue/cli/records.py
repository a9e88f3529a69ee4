"""`rodtrue records`: what was kept, found again; exports, backups."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rodtrue.cli.new_file import write_new
from rodtrue.cli.options import FirstUnitsOption, UnitsOption, UnitsWord
from rodtrue.cli.records_options import (
    EVERY_FILTER,
    Job,
    Json,
    Place,
    filtered,
)

if TYPE_CHECKING:
    from rodtrue.model.result import Job as StoredJob
    from rodtrue.records import Kept, RunFilter

DELETING_WORD = "delete"


def register(app: typer.Typer) -> None:
    """Add the commands to the command line."""
    records = typer.Typer(
        help="Jobs that were kept: find them again, compare, export, back up.",
        no_args_is_help=True,
        rich_markup_mode=None,
    )
    records.command("list", epilog="Example: rodtrue records list --since 2026-10-01 --unit 12")(list_runs)
    records.command("show", epilog="Example: rodtrue records show 3 --out job.json")(show)
    records.command("report", epilog="Example: rodtrue records report 3 --out october-truck.pdf")(report)
    records.command("compare", epilog="Example: rodtrue records compare 3")(compare)
    records.command("add", epilog="Example: rodtrue records add job.json --tag 'check standard'")(add)
    records.command("export", epilog="Example: rodtrue records export runs.csv --since 2026-10-01")(export)
    records.command("samples", epilog="Example: rodtrue records samples 3 job-3.parquet")(samples)
    records.command("backup", epilog="Example: rodtrue records backup october.backup")(backup)
    records.command("restore", epilog="Example: rodtrue records restore october.backup")(restore)
    records.command("delete", epilog="Example: rodtrue records delete 3")(delete)
    app.add_typer(records, name="records")


@filtered(*EVERY_FILTER, "limit")
def list_runs(wanted: RunFilter, place: Place = None, as_json: Json = False) -> None:
    """List runs, the newest first. Times are this machine's."""
    from rodtrue.cli.records_show import run_lines
    from rodtrue.judging import encode
    from rodtrue.records import open_records

    with open_records(place) as records:
        rows = records.runs(wanted)
        every = len(rows) if len(rows) < (wanted.limit or 0) else records.count(wanted)
        empty = not rows and records.count() == 0
    if as_json:
        for row in rows:
            typer.echo(encode(row))
        return
    for line in run_lines(rows):
        typer.echo(line)
    if every > len(rows):
        typer.echo(f"The newest {len(rows)} of {every} runs; --limit shows more, --until older ones.")
    if empty:
        typer.echo("What `rodtrue check` and the page finish is kept by itself. A demo's job:")
        typer.echo("  rodtrue records add rodtrue-out/...-demo/job.json")


def show(
    job: Job,
    out: Annotated[Path | None, typer.Option(metavar="FILE.json", help="Write the job for `rodtrue report`.")] = None,
    units: FirstUnitsOption = UnitsWord.inch,
    place: Place = None,
    as_json: Json = False,
) -> None:
    """Show a job as it was kept, or write it to a file again."""
    from rodtrue.cli.show import show_result
    from rodtrue.judging import encode
    from rodtrue.records import open_records
    from rodtrue.records.rows import runs_of
    from rodtrue.records.store import job_of

    with open_records(place) as records:
        kept = records.kept_job(job)
    stored = job_of(kept)
    if out is not None:
        write_new(out, encode(stored).decode() + "\n")
        typer.echo(f"Written: {out}", err=as_json)
    if as_json:
        typer.echo(encode(stored))
    elif out is None:
        for line in _heading(job, kept):
            typer.echo(line)
        for role, result in runs_of(stored):
            typer.echo(f"\n{role.replace('_', ' ').upper()}")
            show_result(result, units.value, with_budget=False)


def report(
    job: Job,
    out: Annotated[Path | None, typer.Option(metavar="FILE.pdf", help="The PDF; default: job-JOB.pdf here.")] = None,
    units: UnitsOption = UnitsWord.inch,
    place: Place = None,
) -> None:
    """Make the PDF report of a job that was kept."""
    from rodtrue.records import open_records
    from rodtrue.records.store import job_of
    from rodtrue.report import write_report

    with open_records(place) as records:
        kept = records.kept_job(job)
    path = out or Path(f"job-{job}.pdf")
    write_report(path, job_of(kept), units.value, valve_body_serial=kept.valve_body_serial)
    typer.echo(f"Written: {path}")


def compare(
    job: Job,
    other: Annotated[
        int | None, typer.Argument(metavar="JOB", help="Another job; default: the same job as left.")
    ] = None,
    units: FirstUnitsOption = UnitsWord.inch,
    place: Place = None,
    as_json: Json = False,
) -> None:
    """Set two runs side by side: a job's as-found and as-left, or the last runs of two jobs."""
    from rodtrue.cli.records_show import comparison, comparison_lines
    from rodtrue.judging import encode
    from rodtrue.model.errors import InputError

    one = _job(place, job)
    if other is None:
        if one.as_left is None:
            raise InputError(f"job {job} has no as-left run to compare with", "Name a second job.")
        sides = [(f"{job} as found", one.as_found), (f"{job} as left", one.as_left)]
    else:
        two = _job(place, other)
        sides = [(str(job), one.as_left or one.as_found), (str(other), two.as_left or two.as_found)]
    rows = comparison(sides[0][1], sides[1][1])
    if as_json:
        typer.echo(encode({"runs": [name for name, _ in sides], "rows": rows}))
        return
    for line in comparison_lines([name for name, _ in sides], rows, units.value):
        typer.echo(line)


def add(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="Stored jobs or results.")],
    tag: Annotated[str | None, typer.Option(help="What for: `check standard` for the drift watch.")] = None,
    serial: Annotated[str | None, typer.Option(help="The valve body's serial number.")] = None,
    place: Place = None,
) -> None:
    """Keep stored jobs or results. What is there already is not doubled; a bad file stops none of the others."""
    from rodtrue.model.errors import InputError
    from rodtrue.records import open_records
    from rodtrue.records.keeping import captures_folder
    from rodtrue.report.reading import read_job

    refused = False
    with open_records(place) as records:
        for file in files:
            try:
                job = read_job(file)
                saved = records.save(job, tag=tag, valve_body_serial=serial, folder=captures_folder(file, job))
            except InputError as error:
                refused = True
                typer.echo(f"rodtrue: {error.message}\n{error.next_step}", err=True)
                continue
            typer.echo(f"{file}: {'was there already as' if saved.was_there else 'kept as'} job {saved.job}")
    if refused:
        raise typer.Exit(2)


@filtered(*EVERY_FILTER)
def export(
    wanted: RunFilter,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A new file, .csv or .parquet.")],
    place: Place = None,
) -> None:
    """Write runs with their characteristics as a table, in SI units."""
    from rodtrue.records import open_records
    from rodtrue.records.export import export_runs

    with open_records(place) as records:
        count = export_runs(records, wanted, file)
    typer.echo(f"{file}: {count} runs")


def samples(
    job: Job,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A new file, .csv or .parquet.")],
    as_left: Annotated[bool, typer.Option("--as-left", help="Of the as-left run, not of the as-found one.")] = False,
    place: Place = None,
) -> None:
    """Write the samples of a kept run's capture as a table: time, travel, pressure and step, in SI units."""
    from rodtrue.data_folder import data_folder
    from rodtrue.records import open_records
    from rodtrue.records.samples import export_samples

    with open_records(place) as records:
        count = export_samples(records, job, "as_left" if as_left else "as_found", file, data_folder() / "captures")
    typer.echo(f"{file}: {count} samples")


def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A new file.")],
    place: Place = None,
) -> None:
    """Write all jobs and their captures into one file, each with its SHA-256."""
    from rodtrue.data_folder import data_folder
    from rodtrue.records import open_records
    from rodtrue.records.backup import back_up

    with open_records(place) as records:
        copied = back_up(records, file, data_folder() / "captures")
    typer.echo(f"{file}: {copied.jobs} jobs, {copied.captures} captures")
    for path in copied.missing:
        typer.echo(f"not in it, for it is gone or no longer what its run says: {path}", err=True)


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A backup.")],
    captures: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Where captures go; default: in the data folder.")
    ] = None,
    place: Place = None,
) -> None:
    """Check a backup and put its jobs and captures back. What is there already stays as it is."""
    from rodtrue.data_folder import data_folder
    from rodtrue.records import open_records
    from rodtrue.records.backup import restore as put_back

    with open_records(place) as records:
        copied = put_back(records, file, captures or data_folder() / "captures")
    typer.echo(f"{copied.jobs} jobs put back, {copied.already_there} were there; {copied.captures} captures verified")
    for path in copied.missing:
        typer.echo(f"neither here nor in the backup: {path}", err=True)


def delete(
    job: Job,
    confirm: Annotated[str | None, typer.Option(metavar="WORD", help=f"The word `{DELETING_WORD}`.")] = None,
    place: Place = None,
) -> None:
    """Delete a job and its runs from the records; its files stay where they are."""
    from rodtrue.model.errors import InputError
    from rodtrue.records import open_records

    with open_records(place) as records:
        kept = records.kept_job(job)
        if confirm is None:
            for line in _heading(job, kept):
                typer.echo(line)
            confirm = typer.prompt(f"Type {DELETING_WORD} to delete it", default="", show_default=False)
        if confirm != DELETING_WORD:
            raise InputError(f"job {job} was not deleted", f"To delete it, the word is `{DELETING_WORD}`.")
        records.delete(job)
    typer.echo(f"job {job} deleted")


def _job(place: str | None, number: int) -> StoredJob:
    from rodtrue.records import open_records

    with open_records(place) as records:
        return records.job(number)


def _heading(number: int, kept: Kept) -> list[str]:
    from rodtrue.cli.records_show import when
    from rodtrue.plain_text import on_one_line
    from rodtrue.records.store import job_of
    from rodtrue.run.words import VIRTUAL_MARK

    job = job_of(kept)
    fields = (
        ("customer", job.customer),
        ("order", job.reference),
        ("unit", job.as_found.unit),
        ("serial number", kept.valve_body_serial),
        ("kept for", kept.tag),
        ("notes", job.notes),
    )
    lines = [f"job {number}, taken {when(job.as_found.taken_at)}"]
    lines += [f"{name}: {on_one_line(text)}" for name, text in fields if text]
    return lines + ([VIRTUAL_MARK] if job.as_found.fixture.kind == "virtual" else [])
