"""`rodtrue report`: the PDF of a stored result or job, at any later time."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from rodtrue.cli.options import (
    CustomerOption,
    LaboratoryOption,
    NotesOption,
    OrderOption,
    UnitsOption,
    UnitsWord,
)


def register(app: typer.Typer) -> None:
    """Add the command to the command line."""
    app.command("report", epilog="Example: rodtrue report rodtrue-out/*/job.json --units metric")(report)


def report(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="A stored job, or a result of `rodtrue judge --json`.")
    ],
    out: Annotated[
        Path | None, typer.Option(metavar="FILE", help="The PDF to write; default: FILE with the ending .pdf.")
    ] = None,
    units: UnitsOption = UnitsWord.inch,
    customer: CustomerOption = None,
    laboratory: LaboratoryOption = None,
    order: OrderOption = None,
    notes: NotesOption = None,
    serial: Annotated[str | None, typer.Option(help="The valve body's; the job does not hold it.")] = None,
) -> None:
    """Make the PDF report of a stored result or job: a page for the customer, then pages for the lab.

    The same file, options and versions give the same bytes. What these options say stands in the report
    instead of what the job says, and not in the job.
    """
    from dataclasses import replace

    from rodtrue.report import read_job, write_report

    job = read_job(file)
    said = {"customer": customer, "laboratory": laboratory, "reference": order, "notes": notes}
    given: dict[str, Any] = {name: text for name, text in said.items() if text is not None}
    path = out or file.with_suffix(".pdf")
    write_report(path, replace(job, **given), units.value, valve_body_serial=serial)
    typer.echo(f"Written: {path}")
