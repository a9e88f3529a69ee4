"""The lab's pictures, good in grey: points are told apart by shape."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import numpy as np

from rodtrue.report.plot import plain_style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from rodtrue.lab.capability import Capability
    from rodtrue.lab.charts import Chart
    from rodtrue.lab.study import Study

MARKERS = "osD^v<>P*X"
GREYS = ("black", "0.35", "0.6")


def study_figure(study: Study) -> Figure:
    """A study: each operator's mean of each part, and the range of the trials."""
    figure, (means, ranges) = _figure(2)
    places = range(len(study.parts))
    for i, operator in enumerate(study.operators):
        marker = MARKERS[i % len(MARKERS)]
        means.plot(
            places, study.values[:, i].mean(axis=1), marker=marker, label=operator, linewidth=1, color=GREYS[i % 3]
        )
        ranges.plot(
            places, np.ptp(study.values[:, i], axis=1), marker=marker, label=operator, linewidth=1, color=GREYS[i % 3]
        )
    means.set_ylabel("mean of the trials")
    ranges.set_ylabel("range of the trials")
    ranges.set_xlabel("part")
    for panel in (means, ranges):
        panel.set_xticks(list(places), study.parts)
        panel.legend(title="operator", fontsize=8)
    return figure


def chart_figure(chart: Chart) -> Figure:
    """A chart's tracks one above the other, signals as larger squares."""
    figure, panels = _figure(len(chart.tracks))
    for panel, track in zip(panels, chart.tracks, strict=True):
        first = 2 if track.name == "moving range" else 1
        x = range(first, first + len(track.points))
        panel.plot(x, track.points, marker="o", markersize=4, linewidth=1, color="black")
        panel.axhline(track.centre, linewidth=1, color="black")
        for limit in (track.lower, track.upper):
            panel.step(x, limit, where="mid", linestyle="--", linewidth=1, color="black")
        marked = sorted({signal.point for signal in track.signals})
        panel.plot(
            [x[i] for i in marked],
            [track.points[i] for i in marked],
            linestyle="none",
            marker="s",
            markersize=10,
            markerfacecolor="none",
            markeredgewidth=1.5,
            color="black",
            label="breaks a run rule",
        )
        panel.set_ylabel(track.name)
        if marked:
            panel.legend(fontsize=8)
    panels[-1].set_xlabel("point")
    return figure


def capability_figure(values: NDArray[np.float64], found: Capability) -> Figure:
    """The values' histogram with the limits, and the same against a normal distribution."""
    from scipy.stats import probplot

    figure, (histogram, normal) = _figure(2)
    histogram.hist(values, bins="auto", color="0.7", edgecolor="black")
    for limit, word in ((found.lower, "lower limit"), (found.upper, "upper limit")):
        if limit is not None:
            histogram.axvline(limit, linestyle="--", color="black")
            histogram.annotate(word, (limit, 1), xycoords=("data", "axes fraction"), fontsize=8, ha="center")
    histogram.set_xlabel("value")
    histogram.set_ylabel("count")
    (quantiles, ordered), (slope, intercept, _) = probplot(values)
    normal.plot(quantiles, ordered, "o", markersize=4, color="black")
    normal.plot(quantiles, slope * quantiles + intercept, linewidth=1, color="black")
    normal.set_xlabel("quantile of a normal distribution")
    normal.set_ylabel("value")
    return figure


def as_svg(figure: Figure) -> str:
    """A figure as SVG, the same for the same figure."""
    file = io.StringIO()
    with plain_style():
        figure.savefig(file, format="svg", metadata={"Date": None, "Creator": None})
    return file.getvalue()


def _figure(panels: int) -> tuple[Figure, list[Axes]]:
    from matplotlib.figure import Figure

    with plain_style():
        figure = Figure(figsize=(7, 2.9 * panels))
        axes = [figure.add_subplot(panels, 1, i + 1) for i in range(panels)]
    for panel in axes:
        panel.grid(alpha=0.3)
    return figure, axes
