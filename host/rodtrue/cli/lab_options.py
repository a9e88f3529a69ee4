"""Options that the lab's commands share: where values come from, and how what was found is told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rodtrue.cli.gathered import gathered
from rodtrue.cli.options import FirstUnitsOption, UnitsWord
from rodtrue.cli.records_options import Place
from rodtrue.model.both_units import Units

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rodtrue.report.lab_report import LabReport

FILE_HELP = "Columns: value, and subgroup if any; or take kept runs:"
Values = Annotated[Path | None, typer.Argument(metavar="FILE.csv", help=FILE_HELP)]
Name = Annotated[
    str | None,
    typer.Option("--characteristic", metavar="NAME", help="Of kept runs: rod_error, slope, baseline..."),
]
ValuesIn = Annotated[str | None, typer.Option("--values-in", metavar="UNIT", help="Of a file's values: mm, kPa...")]
Plot = Annotated[Path | None, typer.Option("--plot", metavar="FILE.png", help="Write a picture too.")]
Report = Annotated[Path | None, typer.Option("--report", metavar="FILE.pdf", help="Write a report too.")]
Json = Annotated[bool, typer.Option("--json", help="One JSON document, in SI units or those of the file.")]


@dataclass(frozen=True)
class Source:
    """Where values come from: a file whose unit only the user knows, or kept runs in the records at `place`."""

    file: Path | None
    characteristic: str | None
    values_in: str | None
    place: str | None


@dataclass(frozen=True)
class Telling:
    """How what was found is told."""

    plot: Path | None
    report: Path | None
    units_word: UnitsWord
    as_json: bool

    @property
    def first(self) -> Units:
        """The unit system that comes first."""
        return self.units_word.value

    def tell(
        self,
        document: Any,
        words: Callable[[], list[str]],
        figure: Callable[[], Figure] | None = None,
        pages: Callable[[], LabReport] | None = None,
    ) -> None:
        """Write picture and report where asked for, say what was found, and what was written. Raises: InputError."""
        written = []
        if self.plot is not None and figure is not None:
            from rodtrue.report.picture_file import write_picture

            write_picture(self.plot, figure())
            written.append(self.plot)
        if self.report is not None and pages is not None:
            from rodtrue.report.lab_report import write_lab_report

            written.append(write_lab_report(self.report, pages()))
        if self.as_json:
            from rodtrue.judging import encode

            typer.echo(encode(document))
        else:
            typer.echo("\n".join(words()))
        for place, path in enumerate(written):
            head = "Written: " if place == 0 else "         "
            typer.echo(f"{'' if self.as_json or place else chr(10)}{head}{path}", err=self.as_json)


sourced = gathered(
    "source",
    {"file": (Values, None), "characteristic": (Name, None), "values_in": (ValuesIn, None), "place": (Place, None)},
    Source,
)
"""Gives a command the options of a `Source`."""

_TOLD: dict[str, tuple[Any, Any]] = {
    "plot": (Plot, None),
    "report": (Report, None),
    "units_word": (FirstUnitsOption, UnitsWord.inch),
    "as_json": (Json, False),
}


def told(*files: str) -> Callable[..., Callable[..., None]]:
    """Give a command the options of its `telling: Telling`: --units, --json, and of plot and report those named."""
    options = {name: option for name, option in _TOLD.items() if name in (*files, "units_word", "as_json")}
    return gathered("telling", options, lambda **said: Telling(**{"plot": None, "report": None} | said))
