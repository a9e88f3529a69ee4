"""What a front end draws: binned means of each direction and the corner points of the fit."""

from __future__ import annotations

import numpy as np

from rodtrue.analysis.ramp import DIRECTIONS, Direction, Ramp, pooled_bins
from rodtrue.analysis.strokes import Section, Span
from rodtrue.model.result import Plot

POINTS = 160


def plot_of(sections: list[Section], spans: list[Span], ramp: Ramp | None) -> Plot:
    """Return at most `POINTS` means for each direction and, where there is a ramp, its polyline.

    fit: one entry a direction: {"direction", "travel_mm": [...], "pressure_kpa": [...]}, from the least
    travel along the baseline to the onset and up the ramp to the end of the window.
    """
    travel: list[float] = []
    pressure: list[float] = []
    direction: list[str] = []
    fit: list[dict[str, object]] = []
    for way in DIRECTIONS:
        bins = pooled_bins(sections, spans, way)
        if bins is None:
            continue
        keep = np.unique(np.linspace(0, len(bins.n) - 1, POINTS).astype(int))
        travel += np.round(bins.travel_mm[keep], 4).tolist()
        pressure += np.round(bins.pressure_kpa[keep], 3).tolist()
        direction += [way] * len(keep)
        if ramp is not None and way in ramp.directions:
            fit.append(_polyline(ramp, way, float(bins.travel_mm[0])))
    return Plot(travel, pressure, direction, fit)


def _polyline(ramp: Ramp, way: Direction, least_mm: float) -> dict[str, object]:
    onset = ramp.onsets()[way]
    end = ramp.windows[way].upper_mm
    along = np.linspace(onset, end, 9)
    n = len(ramp.directions)
    u = along - ramp.centre_mm - (ramp.play_mm if way == "opening" else -ramp.play_mm)
    beta = ramp.coefficients
    curve = beta[ramp.directions.index(way)] + beta[n] * u + (beta[n + 1] * u**2 if ramp.bends else 0.0)
    start = min(least_mm, onset - 1.0)
    return {
        "direction": way,
        "travel_mm": [start, *np.round(along, 4).tolist()],
        "pressure_kpa": [ramp.baseline_kpa, *np.round(curve, 3).tolist()],
    }
