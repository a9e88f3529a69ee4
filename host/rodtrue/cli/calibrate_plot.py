"""Residual plots of fits and calibrations."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rodtrue.calibration.channel import residuals
from rodtrue.calibration.document import CalibrationDocument
from rodtrue.report.picture_file import write_picture

Array = NDArray[np.float64]


def plot_residuals(x: Array, left: Array, path: Path, x_label: str, y_label: str) -> None:
    """Draw residuals against x into a file. Raises: InputError where it cannot be written."""
    figure, (panel,) = _panels(1)
    panel.axhline(0.0, color="black", linewidth=0.8)
    panel.plot(x, left, "o", fillstyle="none")
    panel.set_xlabel(x_label)
    panel.set_ylabel(y_label)
    _save(figure, path)


def plot_document(document: CalibrationDocument, path: Path) -> None:
    """Draw both channels' residuals, rising and falling apart. Raises: InputError where it cannot be written."""
    figure, panels = _panels(2)
    if document.fixture.kind == "virtual":
        figure.suptitle("virtual fixture, not a measurement")
    for panel, channel in zip(panels, document.channels, strict=True):
        reference = np.array([point.reference for point in channel.points])
        left = residuals(channel)
        panel.axhline(0.0, color="black", linewidth=0.8)
        for word, mark in (("up", "^"), ("down", "v")):
            way = np.array([point.direction == word for point in channel.points])
            panel.plot(reference[way], left[way], mark, fillstyle="none", label=word)
        panel.set_xlabel(f"{channel.quantity} reference / {channel.unit}")
        panel.set_ylabel(f"calibrated less reference / {channel.unit}")
        panel.legend()
    _save(figure, path)


def _panels(count: int) -> tuple[Any, list[Any]]:
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, panels = pyplot.subplots(1, count, figsize=(6.5 * count, 4.5), squeeze=False)
    return figure, list(panels[0])


def _save(figure: Any, path: Path) -> None:
    from matplotlib import pyplot

    try:
        figure.tight_layout()
        write_picture(path, figure)
    finally:
        pyplot.close(figure)
