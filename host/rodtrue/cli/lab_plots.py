"""The lab's pictures. Points are told apart by shape, not by colour alone."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from rodtrue.model.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from rodtrue.lab.capability import Capability
    from rodtrue.lab.charts import Chart
    from rodtrue.lab.study import Study

MARKERS = "osD^v<>P*X"


def write_study_plot(path: Path, study: Study) -> None:
    """Draw a study: each operator's mean of each part, and the range of the trials. Raises: InputError."""
    figure, (means, ranges) = _figure(2)
    places = range(len(study.parts))
    for i, operator in enumerate(study.operators):
        marker = MARKERS[i % len(MARKERS)]
        means.plot(places, study.values[:, i].mean(axis=1), marker=marker, label=operator, linewidth=1)
        ranges.plot(places, np.ptp(study.values[:, i], axis=1), marker=marker, label=operator, linewidth=1)
    means.set_ylabel("mean of the trials")
    ranges.set_ylabel("range of the trials")
    ranges.set_xlabel("part")
    for panel in (means, ranges):
        panel.set_xticks(list(places), study.parts)
        panel.legend(title="operator", fontsize=8)
    _save(figure, path)


def write_chart_plot(path: Path, chart: Chart) -> None:
    """Draw a chart's tracks one above the other, signals as larger squares. Raises: InputError."""
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
    _save(figure, path)


def write_capability_plot(path: Path, values: NDArray[np.float64], found: Capability) -> None:
    """Draw the values' histogram with the limits, and the same against a normal distribution. Raises: InputError."""
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
    _save(figure, path)


def _figure(panels: int) -> tuple[Any, Any]:
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(panels, 1, figsize=(8, 3.4 * panels), squeeze=False)
    for panel in axes[:, 0]:
        panel.grid(alpha=0.3)
    return figure, axes[:, 0]


def _save(figure: Any, path: Path) -> None:
    from matplotlib import pyplot

    try:
        figure.tight_layout()
        figure.savefig(path, dpi=120)
    except (OSError, ValueError) as error:
        raise InputError(f"{path}: cannot be written ({error})", "Name another file, ending in .png.") from error
    finally:
        pyplot.close(figure)
