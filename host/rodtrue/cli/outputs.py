"""What a job leaves behind beside its job file and its report: a plot as a picture."""

from __future__ import annotations

from pathlib import Path

from rodtrue.model.result import Result
from rodtrue.report.picture_file import write_picture
from rodtrue.run.words import VIRTUAL_MARK, error_sentence

_PANEL_WIDTH_IN, _HEIGHT_IN = 6.5, 5.0


def write_plot(folder: Path, as_found: Result, as_left: Result | None) -> Path:
    """Write `plot.png`, the report's plot as a picture of its own, one panel a run; return its path.

    Raises: InputError where it cannot be written.
    """
    from matplotlib.figure import Figure

    from rodtrue.report.plot import draw_run, plain_style

    results = [("as found", as_found), *([("as left", as_left)] if as_left else [])]
    path = folder / "plot.png"
    with plain_style():
        figure = Figure(figsize=(_PANEL_WIDTH_IN * len(results), _HEIGHT_IN))
        panels = figure.subplots(1, len(results), squeeze=False, sharey=True)
        for panel, (label, result) in zip(panels[0], results, strict=True):
            draw_run(panel, result, "inch")
            panel.set_title(_title(label, result), fontsize=9)
        write_picture(path, figure)
    return path


def _title(label: str, result: Result) -> str:
    """Return what stands above a run: which it is, its verdict, its rod error, and whether it is none at all."""
    from rodtrue.report.body import headline

    lines = [f"{label}: {headline(result)[0]}"]
    if result.rod_error is not None:
        lines.append(error_sentence(result.rod_error).split(";")[0])
    if result.fixture.kind == "virtual":
        lines.append(VIRTUAL_MARK)
    return "\n".join(lines)
