"""Options that the lab's commands share, and what they write beside their words."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rodtrue.report.lab_report import LabReport

Json = Annotated[bool, typer.Option("--json", help="One JSON document.")]
Plot = Annotated[Path | None, typer.Option("--plot", metavar="FILE.png", help="Write a picture too.")]
Report = Annotated[Path | None, typer.Option("--report", metavar="FILE.pdf", help="Write a report too.")]
Values = Annotated[
    Path | None, typer.Argument(metavar="FILE.csv", help="Columns: value, and subgroup if any; or take kept runs:")
]
Name = Annotated[
    str | None,
    typer.Option("--characteristic", metavar="NAME", help="Of kept runs: rod_error, slope, baseline..."),
]
ValuesIn = Annotated[str | None, typer.Option("--values-in", metavar="UNIT", help="Of a file's values: mm, kPa...")]


def show(
    found: Any,
    words: Callable[[], list[str]],
    *,
    as_json: bool,
    plot: Path | None = None,
    figure: Callable[[], Figure] | None = None,
    report: Path | None = None,
    pages: Callable[[], LabReport] | None = None,
) -> None:
    """Write picture and report where asked for, say what was found, and what was written. Raises: InputError."""
    written = []
    if plot is not None and figure is not None:
        from rodtrue.report.picture_file import write_picture

        write_picture(plot, figure())
        written.append(plot)
    if report is not None and pages is not None:
        from rodtrue.report.lab_report import write_lab_report

        written.append(write_lab_report(report, pages()))
    if as_json:
        from rodtrue.judging import encode

        typer.echo(encode(found))
    else:
        typer.echo("\n".join(words()))
    for place, path in enumerate(written):
        head = "Written: " if place == 0 else "         "
        typer.echo(f"{'' if as_json or place else chr(10)}{head}{path}", err=as_json)
