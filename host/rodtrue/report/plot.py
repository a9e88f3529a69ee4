"""The plot of one run: pressure against travel, the fitted lines, baseline, lever start and tolerance."""

from __future__ import annotations

import io
from functools import cache
from typing import Any

from rodtrue.model.result import Result
from rodtrue.model.units import KPA_PER_PSI, MM_PER_INCH
from rodtrue.report.reading import fit_lines
from rodtrue.run.words import Units

_MARKERS = {"opening": ("^", "black", "black"), "closing": ("v", "white", "dimgray")}
_LINES = {"opening": "-", "closing": (0, (5, 2))}


def plot_svg(result: Result, units: Units) -> str | None:
    """Return the plot as SVG, the same for the same result; None where there is nothing to show."""
    if not result.plot.travel_mm:
        return None
    from matplotlib.figure import Figure

    with plain_style():
        figure = Figure(figsize=(7.0, 2.9))
        draw_run(figure.add_subplot(), result, units)
        file = io.StringIO()
        figure.savefig(file, format="svg", metadata={"Date": None, "Creator": None})
    return file.getvalue()


def plain_style() -> Any:
    """Return a context in which a figure depends on nothing but what is drawn."""
    import matplotlib

    return matplotlib.rc_context(_settings())


@cache
def _settings() -> Any:
    """Return settings under which the SVG depends on nothing but what is drawn."""
    import matplotlib

    plain = {str(name): setting for name, setting in matplotlib.rcParamsDefault.items()}
    for name in list(plain):
        if name.startswith(("backend", "interactive", "toolbar", "webagg", "tk.", "macosx")):
            del plain[name]
    return plain | {
        "svg.hashsalt": "rodtrue",
        "svg.fonttype": "path",
        "font.family": "DejaVu Sans",
        "font.size": 8.5,
        "figure.constrained_layout.use": True,
    }


def draw_run(axes: Any, result: Result, units: Units) -> None:
    """Draw one run into `matplotlib.axes.Axes`: measured means, fitted lines, where the lever may start and does."""
    per_x, per_y = (MM_PER_INCH, KPA_PER_PSI) if units == "inch" else (1.0, 1.0)
    _limits_and_start(axes, result, per_x)
    plot = result.plot
    for direction, (marker, face, edge) in _MARKERS.items():
        rows = [i for i, way in enumerate(plot.direction) if way == direction]
        if rows:
            axes.plot(
                [plot.travel_mm[i] / per_x for i in rows], [plot.pressure_kpa[i] / per_y for i in rows], marker,
                markersize=3.2, markerfacecolor=face, markeredgecolor=edge, markeredgewidth=0.5,
                label=f"{direction}, means",
            )  # fmt: skip
    for line in fit_lines(result):
        axes.plot(
            [x / per_x for x in line.travel_mm], [y / per_y for y in line.pressure_kpa], color="black",
            linewidth=1.3, linestyle=_LINES.get(line.direction, ":"), label=f"{line.direction}, fitted",
        )  # fmt: skip
    _axes(axes, units)


def _limits_and_start(axes: Any, result: Result, per_x: float) -> None:
    """Mark where the lever may start, and where it does. Its start is the rod error with the other sign."""
    if result.rod_error is None:
        return
    low, high = result.rod_error.limits_mm
    axes.axvspan(-high / per_x, -low / per_x, facecolor="0.85", label="right: the lever may start here")
    if result.lever_start_mm is not None:
        axes.axvline(result.lever_start_mm / per_x, color="black", linewidth=1, linestyle=":", label="lever start")


def _axes(axes: Any, units: Units) -> None:
    names = [("travel / in", "throttle pressure / psi"), ("travel / mm", "throttle pressure / kPa")]
    into = (MM_PER_INCH, KPA_PER_PSI) if units == "inch" else (1 / MM_PER_INCH, 1 / KPA_PER_PSI)
    if units == "metric":
        names.reverse()
    axes.set_xlabel(names[0][0])
    axes.set_ylabel(names[0][1])
    above = axes.secondary_xaxis("top", functions=(lambda x: x * into[0], lambda x: x / into[0]))
    above.set_xlabel(names[1][0], fontsize=7.5)
    beside = axes.secondary_yaxis("right", functions=(lambda y: y * into[1], lambda y: y / into[1]))
    beside.set_ylabel(names[1][1], fontsize=7.5)
    for second in (above, beside):
        second.tick_params(labelsize=7)
    axes.grid(color="0.8", linewidth=0.4)
    axes.set_axisbelow(True)
    axes.legend(fontsize=7, loc="best", framealpha=0.9)
