"""What a job leaves behind beside its job file and its report: a plot as a picture."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from rodtrue.model.result import Result
from rodtrue.report.picture_file import write_picture
from rodtrue.run.words import VIRTUAL_MARK, error_sentence


def write_plot(folder: Path, as_found: Result, as_left: Result | None) -> Path:
    """Write `plot.png`, pressure against travel with the fit, one panel a run; return its path.

    Raises: InputError where it cannot be written.
    """
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    results = [("as found", as_found), *([("as left", as_left)] if as_left else [])]
    figure, panels = pyplot.subplots(1, len(results), figsize=(6.5 * len(results), 5), squeeze=False, sharey=True)
    for panel, (label, result) in zip(panels[0], results, strict=True):
        _draw_panel(panel, label, result)
    path = folder / "plot.png"
    try:
        figure.tight_layout()
        write_picture(path, figure)
    finally:
        pyplot.close(figure)
    return path


def _draw_panel(panel: Any, label: str, result: Result) -> None:
    """Draw one result into a panel, `matplotlib.axes.Axes`."""
    from rodtrue.model.units import KPA_PER_PSI, MM_PER_INCH
    from rodtrue.report.body import headline

    for direction, marker in (("opening", "^"), ("closing", "v")):
        rows = [i for i, d in enumerate(result.plot.direction) if d == direction]
        panel.plot(
            [result.plot.travel_mm[i] / MM_PER_INCH for i in rows],
            [result.plot.pressure_kpa[i] / KPA_PER_PSI for i in rows],
            marker,
            markersize=3,
            label=direction,
        )
    for line in result.plot.fit:
        panel.plot(
            [x / MM_PER_INCH for x in line["travel_mm"]],
            [y / KPA_PER_PSI for y in line["pressure_kpa"]],
            linewidth=2,
            label=f"fit, {line['direction']}",
        )
    title = f"{label}: {headline(result)[0]}"
    if result.rod_error is not None:
        title += f"\n{error_sentence(result.rod_error).split(';')[0]}"
    if result.fixture.kind == "virtual":
        title += f"\n{VIRTUAL_MARK}"
    panel.set_title(title, fontsize=9)
    panel.set_xlabel("travel / in")
    panel.set_ylabel("throttle pressure / psi")
    above_mm = panel.secondary_xaxis("top", functions=(lambda x: x * MM_PER_INCH, lambda x: x / MM_PER_INCH))
    above_mm.tick_params(labelsize=7)
    above_mm.set_xlabel("mm", fontsize=7)
    beside_kpa = panel.secondary_yaxis("right", functions=(lambda y: y * KPA_PER_PSI, lambda y: y / KPA_PER_PSI))
    beside_kpa.tick_params(labelsize=7)
    beside_kpa.set_ylabel("kPa", fontsize=7)
    panel.grid(alpha=0.3)
    panel.legend(fontsize=8)
