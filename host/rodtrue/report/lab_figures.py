"""The lab's pictures, good in grey: points are told apart by shape."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from rodtrue.report.plot import plain_style
from rodtrue.run.words import VIRTUAL_MARK

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from rodtrue.lab.capability import Capability
    from rodtrue.lab.charts import Chart
    from rodtrue.lab.quantity import Shown
    from rodtrue.lab.study import Study

MARKERS = "osD^v<>P*X"
GREYS = ("black", "0.35", "0.6")


@dataclass(frozen=True)
class BatchRow:
    """One characteristic of a batch: values of shape (n,), what was found of them, and how they are shown."""

    name: str
    values: NDArray[np.float64]
    found: Capability
    shown: Shown


def study_figure(study: Study, shown: Shown) -> Figure:
    """A study: each operator's mean of each part, and the range of the trials."""
    figure, (means, ranges) = _figure(2, shown)
    values = study.values * shown.scales[0][1]
    places = range(len(study.parts))
    for i, operator in enumerate(study.operators):
        style: dict[str, Any] = {"marker": MARKERS[i % len(MARKERS)], "color": GREYS[i % 3], "linewidth": 1}
        means.plot(places, values[:, i].mean(axis=1), label=operator, **style)
        ranges.plot(places, np.ptp(values[:, i], axis=1), label=operator, **style)
    _scale(means, "y", "mean of the trials", shown)
    _scale(ranges, "y", "range of the trials", shown)
    ranges.set_xlabel("part")
    for panel in (means, ranges):
        panel.set_xticks(list(places), study.parts)
        panel.legend(title="operator", fontsize=8)
    return figure


def chart_figure(chart: Chart, shown: Shown) -> Figure:
    """A chart's tracks one above the other, signals as larger squares."""
    from matplotlib.ticker import MaxNLocator

    figure, panels = _figure(len(chart.tracks), shown)
    factor = shown.scales[0][1]
    last = len(chart.tracks[0].points)
    for panel, track in zip(panels, chart.tracks, strict=True):
        first = 2 if track.name == "moving range" else 1
        x = range(first, first + len(track.points))
        points = np.array(track.points) * factor
        panel.plot(x, points, marker="o", markersize=4, linewidth=1, color="black")
        panel.axhline(track.centre * factor, linewidth=1, color="black")
        for limit in (track.lower, track.upper):
            panel.step(x, np.array(limit) * factor, where="mid", linestyle="--", linewidth=1, color="black")
        marked = sorted({signal.point for signal in track.signals})
        panel.plot(
            [x[i] for i in marked],
            points[marked],
            linestyle="none",
            marker="s",
            markersize=10,
            markerfacecolor="none",
            markeredgewidth=1.5,
            color="black",
            label="breaks a run rule",
        )
        panel.set_xlim(0, last + 1)
        panel.xaxis.set_major_locator(MaxNLocator(integer=True))
        _scale(panel, "y", track.name, shown)
        if marked:
            panel.legend(fontsize=8)
    panels[-1].set_xlabel("point")
    return figure


def capability_figure(row: BatchRow) -> Figure:
    """The values' histogram with the limits, and the same against a normal distribution."""
    from scipy.stats import probplot

    figure, (histogram, normal) = _figure(2, row.shown)
    factor = row.shown.scales[0][1]
    histogram.hist(row.values * factor, bins="auto", color="0.7", edgecolor="black")
    for limit, word in ((row.found.lower, "lower limit"), (row.found.upper, "upper limit")):
        if limit is not None:
            histogram.axvline(limit * factor, linestyle="--", color="black")
            histogram.annotate(
                word, (limit * factor, 0.97), xycoords=("data", "axes fraction"), fontsize=8, rotation=90,
                xytext=(3, 0), textcoords="offset points", va="top",
            )  # fmt: skip
    _scale(histogram, "x", row.name, row.shown)
    histogram.set_ylabel("count")
    (quantiles, ordered), (slope, intercept, _) = probplot(row.values * factor)
    normal.plot(quantiles, ordered, "o", markersize=4, color="black")
    normal.plot(quantiles, slope * quantiles + intercept, linewidth=1, color="black")
    normal.set_xlabel("quantile of a normal distribution")
    _scale(normal, "y", row.name, row.shown)
    return figure


def _scale(panel: Axes, side: Literal["x", "y"], what: str, shown: Shown) -> None:
    """Name an axis with its unit, and give it a second scale where there is a second unit."""
    (unit, factor), *other = shown.scales
    panel.set(**{f"{side}label": what + _in(unit)})
    if not other:
        return
    name, ratio = other[0][0], other[0][1] / factor
    there_and_back: Any = (lambda value: value * ratio, lambda value: value / ratio)
    if side == "x":
        second = panel.secondary_xaxis("top", functions=there_and_back)
    else:
        second = panel.secondary_yaxis("right", functions=there_and_back)
    getattr(second, f"set_{side}label")(what + _in(name), fontsize=7.5)
    second.tick_params(labelsize=7)


def _in(unit: str | None) -> str:
    return "" if unit is None else f" / ({unit})" if "/" in unit else f" / {unit}"


def as_svg(figure: Figure) -> str:
    """A figure as SVG, the same for the same figure."""
    file = io.StringIO()
    with plain_style():
        figure.savefig(file, format="svg", metadata={"Date": None, "Creator": None})
    return file.getvalue()


def _figure(panels: int, shown: Shown) -> tuple[Figure, list[Axes]]:
    from matplotlib.figure import Figure

    with plain_style():
        figure = Figure(figsize=(7, 2.4 * panels))
        if shown.virtual:
            figure.suptitle(VIRTUAL_MARK, fontsize=9, fontweight="bold")
        axes = [figure.add_subplot(panels, 1, i + 1) for i in range(panels)]
    for panel in axes:
        panel.grid(alpha=0.3)
    return figure, axes
