"""Shift speeds against throttle opening as a picture; exact and wrong rods differ by mark, not colour alone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from rodtrue.cli.predicted import Predicted
from rodtrue.model.units import KMH_PER_MPH, MM_PER_INCH, mm_to_inch
from rodtrue.report.picture_file import write_picture
from rodtrue.run.words import VIRTUAL_MARK
from rodtrue.shifts.points import ShiftPoint
from rodtrue.shifts.predict import Opening, predict_shifts

_STEPS = 300
_OPENINGS = tuple(step / _STEPS for step in range(_STEPS + 1))
_MARKERS = ("^", "o")


def write_shift_plot(path: Path, runs: Sequence[Predicted]) -> None:
    """Write upshift (full line) and downshift (broken line) speeds of an exact rod and of each run's.

    Raises: InputError where the picture cannot be written there.
    """
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(figsize=(8, 5.5))
    _draw(axes, runs)
    try:
        figure.tight_layout()
        write_picture(path, figure)
    finally:
        pyplot.close(figure)


def _draw(axes: Any, runs: Sequence[Predicted]) -> None:
    """Draw all curves into `matplotlib.axes.Axes`."""
    for marker, run in zip(_MARKERS, runs, strict=False):
        rows = predict_shifts(run.profile, run.prediction.rod_error, _OPENINGS).openings
        if marker == _MARKERS[0]:
            _draw_rod(axes, "exact rod", [(row.opening, row.exact) for row in rows], color="0.35", linewidth=1.2)
        error = run.prediction.rod_error
        if error is None:
            continue
        least = "at most " if error.at_most else ""
        label = f"{run.run or 'this rod'}: {least}{mm_to_inch(error.value_mm):+.3f} in ({error.value_mm:+.2f} mm)"
        points = [(row.opening, row.rod) for row in rows if row.rod is not None]
        colour = _draw_rod(axes, label, points, marker=marker, markevery=_STEPS // 10, markersize=5, linewidth=1.6)
        _draw_band(axes, rows, colour)
    _label(axes, runs)


def _draw_rod(axes: Any, label: str, points: Sequence[tuple[float, ShiftPoint]], **style: Any) -> Any:
    """Draw one rod's upshift and downshift; return the colour used."""
    percent = [100 * opening for opening, _ in points]
    up = [_or_gap(point.upshift.mph) for _, point in points]
    down = [_or_gap(point.downshift.mph) for _, point in points]
    (line,) = axes.plot(percent, up, "-", label=f"upshift, {label}", **style)
    axes.plot(percent, down, "--", label=f"downshift, {label}", **{**style, "color": line.get_color()})
    return line.get_color()


def _draw_band(axes: Any, rows: Sequence[Opening], colour: Any) -> None:
    ends = [(row.opening, row.intervals.upshift.mph) for row in rows if row.intervals is not None]
    if ends:
        percent = [100 * opening for opening, _ in ends]
        low, high = ([_or_gap(mph[end]) for _, mph in ends] for end in (0, 1))
        axes.fill_between(percent, low, high, color=colour, alpha=0.2, linewidth=0)


def _label(axes: Any, runs: Sequence[Predicted]) -> None:
    first = runs[0]
    title = f"predicted shift points, 2-3 shift valve, profile {first.prediction.profile}"
    if first.prediction.invented:
        title += " (invented)"
    if first.fixture_kind == "virtual":
        title += f"\n{VIRTUAL_MARK}"
    axes.set_title(title, fontsize=9)
    axes.set_xlabel("throttle opening / %")
    axes.set_ylabel("road speed / mph")
    axes.set_ylim(bottom=0)
    shifts = first.profile.shifts
    assert shifts is not None  # a prediction was made, so the profile has its section
    inch_per_percent = shifts.throttle.wide_open_mm / MM_PER_INCH / 100
    above = axes.secondary_xaxis("top", functions=(lambda x: x * inch_per_percent, lambda x: x / inch_per_percent))
    above.set_xlabel(f"pin travel / in (wide open: {shifts.throttle.wide_open_mm:g} mm)", fontsize=7)
    beside = axes.secondary_yaxis("right", functions=(lambda y: y * KMH_PER_MPH, lambda y: y / KMH_PER_MPH))
    beside.set_ylabel("km/h", fontsize=7)
    for axis in (above, beside):
        axis.tick_params(labelsize=7)
    axes.grid(alpha=0.3)
    axes.legend(fontsize=7)


def _or_gap(value: float | None) -> float:
    return math.nan if value is None else value
