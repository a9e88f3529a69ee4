"""Where the ramp of the sweeps so far begins: an indication, and no verdict."""

from __future__ import annotations

import numpy as np

from rodtrue.analysis.stream import RunningBins

LEAST_TRAVEL_MM = 0.6
RAMP_RISE_KPA = 120.0
"""Rise over the lowest pressure up to which the ramp is read for the indication: below plateau and detent. The
lowest, because a sweep that begins on the ramp may begin far above the baseline."""

LEAST_RISE_KPA = 15.0


def ramp_so_far(
    trace: list[tuple[float, float]], baseline_kpa: float
) -> tuple[float | None, list[tuple[float, float]]]:
    """Return where the ramp, carried back, meets the baseline, in mm above zero, and its corner points.

    trace: (travel above zero in mm, pressure in kPa); the corners likewise. Openings and closings count alike, so
    that friction and lag nearly cancel. None and no corners: there is no ramp yet.
    """
    travel_mm, pressure_kpa = np.array(trace).T
    near = pressure_kpa < pressure_kpa.min() + RAMP_RISE_KPA
    if np.ptp(travel_mm[near]) < LEAST_TRAVEL_MM or np.ptp(pressure_kpa[near]) < LEAST_RISE_KPA:
        return None, []
    span = float(travel_mm[near].min()), float(np.nextafter(travel_mm[near].max(), np.inf))
    bins = RunningBins(*span, reference=baseline_kpa)
    bins.add(travel_mm[near], pressure_kpa[near])
    fit = bins.fit()
    if fit is None:
        return None, []
    onset_mm = fit.meets(baseline_kpa)
    top_mm = fit.upper if fit.upper is not None else span[1]
    foot = [(span[0], baseline_kpa)] if onset_mm > span[0] else []
    return onset_mm, [*foot, (onset_mm, baseline_kpa), (top_mm, baseline_kpa + fit.slope * (top_mm - onset_mm))]
