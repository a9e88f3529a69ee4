"""What the run stands on: zero, baseline, response and rests, each with its spread.

The zero is where the pin rests on the reference stop with the rod unhooked; the baseline is the
pressure with the lever tapped to its stop; the response shows that the valve answers the lever; rests
between sweeps show whether the reference stayed where it was.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rodtrue.analysis.strokes import Section, Span
from rodtrue.model.samples import ADJUSTED, BASELINE, NO_STEP, RESPONSE, SWEEP, ZERO, Samples

_Array = NDArray[np.float64]

AVERAGE_S = 0.1
"""Averaging that takes ripple out of a rest without hiding a tap."""
REST_S = 0.2
SETTLE_S = 0.3
NEAR_REST_MM = 0.15


@dataclass(frozen=True)
class Baseline:
    """The baseline: its level, what it stands on, and how noisy one sample is.

    approaches_kpa: level after each tap of the lever to its stop (one entry where no tap shows).
    noise_kpa: standard deviation of a single sample at rest, ripple included.
    """

    level_kpa: float
    approaches_kpa: list[float]
    noise_kpa: float

    @property
    def standard_error_kpa(self) -> float:
        """Standard error of the level from the scatter of the approaches; 0 with fewer than two."""
        n = len(self.approaches_kpa)
        return float(np.std(self.approaches_kpa, ddof=1) / math.sqrt(n)) if n > 1 else 0.0


@dataclass(frozen=True)
class Rests:
    """Travel at the rests of the run, counted from zero, in time order.

    first_mm: before the first stroke (None where the record starts in motion). later_mm: at each
    rest between sweeps and after the last. first_kpa, later_kpa: pressure there.
    """

    first_mm: float | None
    first_kpa: float | None
    later_mm: list[float]
    later_kpa: list[float]


def with_sweeps(samples: Samples) -> Samples:
    """Return the samples with the sweeps labelled.

    Where no row says `sweep`, the rows without a step after the last of zero, baseline and response are
    taken as the sweeps: strokes come from the travel, marks only help.
    """
    if (samples.step == SWEEP).any():
        return samples
    prepared = np.flatnonzero((samples.step != NO_STEP) & (samples.step != ADJUSTED))
    after = prepared[-1] + 1 if len(prepared) else 0
    step = samples.step.copy()
    step[after:][step[after:] == NO_STEP] = SWEEP
    return replace(samples, step=step)


def after_adjustment(samples: Samples) -> Samples:
    """Return the samples that count.

    Only sweeps after the last `adjusted` row count. Zero and baseline taken after it count alone
    where there are any, else those from before still stand.
    """
    marks = np.flatnonzero(samples.step == ADJUSTED)
    if len(marks) == 0:
        return samples
    keep = np.arange(len(samples)) > marks[-1]
    for step in (ZERO, BASELINE, RESPONSE):
        mask = samples.step == step
        if not (mask & keep).any():
            keep |= mask
    return samples.where(keep)


def find_zero(samples: Samples) -> float | None:
    """Return the mean travel of the zero rows in mm, None where there are none.

    Rows far from their median are left out: a hand may still have been on the pin. The mean, because the
    median of a converter's codes sticks to one of them.
    """
    rows = samples.step == ZERO
    return _centre(samples.travel_mm[rows]) if rows.any() else None


def find_baseline(samples: Samples) -> Baseline | None:
    """Return the baseline from its rows, None where there are none.

    Taps show as pressure that rises and returns; the quiet stretches between them are the
    approaches. Where none shows, the whole step is one approach.
    """
    rows = samples.step == BASELINE
    if not rows.any():
        return None
    pressure = samples.pressure_kpa[rows]
    time_s = samples.time_s[rows]
    if len(pressure) < 5:
        return Baseline(float(np.median(pressure)), [float(np.median(pressure))], float(np.std(pressure)))
    period = float(np.median(np.diff(time_s)))
    noise = _sample_noise(pressure)
    average = _moving_mean(pressure, max(1, round(AVERAGE_S / period)))
    low = float(np.quantile(average, 0.25))
    tapped = average > low + max(1.5 * noise, 2.0)
    quiet = ~_widen(tapped, round(SETTLE_S / period))
    if not quiet.any():
        quiet = ~tapped
    shortest = max(3, round(REST_S / period))
    approaches = [float(pressure[a:b].mean()) for a, b in _runs(quiet) if b - a >= shortest]
    if not approaches:
        approaches = [float(np.median(pressure[quiet]))]
    level = float(np.mean(approaches))
    deviation = pressure[quiet] - level
    return Baseline(level, approaches, float(np.sqrt(np.mean(deviation**2))))


def response_kpa(samples: Samples, baseline: Baseline) -> float | None:
    """Return how far pressure rose above the baseline in the response rows, None where there are too few."""
    rows = samples.step == RESPONSE
    if np.count_nonzero(rows) < 5:
        return None
    period = float(np.median(np.diff(samples.time_s[rows])))
    average = _moving_mean(samples.pressure_kpa[rows], max(1, round(AVERAGE_S / max(period, 1e-6))))
    return float(average.max()) - baseline.level_kpa


def shows_response(samples: Samples, baseline: Baseline, ratio: float) -> bool:
    """Whether the valve answered: pressure in the response rows up by `ratio` times the noise."""
    risen_kpa = response_kpa(samples, baseline)
    return risen_kpa is not None and risen_kpa >= ratio * max(baseline.noise_kpa, 1e-9)


def find_rests(sections: list[Section], spans: list[Span]) -> Rests:
    """Return the rests before, between and after the sweeps' strokes."""
    first_mm = first_kpa = None
    later_mm: list[float] = []
    later_kpa: list[float] = []
    for number, section in enumerate(sections):
        mine = [s for s in spans if s.section == number]
        bounds = [(0, mine[0].start)] if mine else [(0, len(section.time_s))]
        following: list[Span | None] = [*mine[1:], None]
        for before, after in zip(mine, following, strict=False):
            if before.direction == "closing":
                bounds.append((before.stop, len(section.time_s) if after is None else after.start))
        for order, (start, stop) in enumerate(bounds):
            rest = _quiet_part(section, start, stop)
            if rest is None or (mine and order == 0 and mine[0].direction == "closing"):
                continue
            travel = _centre(section.travel_mm[rest[0] : rest[1]])
            pressure = float(np.mean(section.pressure_kpa[rest[0] : rest[1]]))
            if number == 0 and order == 0:
                first_mm, first_kpa = travel, pressure
            else:
                later_mm.append(travel)
                later_kpa.append(pressure)
    return Rests(first_mm, first_kpa, later_mm, later_kpa)


def _quiet_part(section: Section, start: int, stop: int) -> tuple[int, int] | None:
    """Return the longest stretch of [start, stop) in which the pin stands still, if long enough."""
    if (stop - start) * section.period_s < REST_S:
        return None
    travel = section.smooth_mm[start:stop]
    level = float(np.median(travel))
    still = np.abs(travel - level) < 0.1
    runs = _runs(still)
    if not runs:
        return None
    a, b = max(runs, key=lambda run: run[1] - run[0])
    if (b - a) * section.period_s < REST_S:
        return None
    return start + a, start + b


def _centre(travel_mm: _Array) -> float:
    """Return the mean of the travel near its median."""
    near = np.abs(travel_mm - np.median(travel_mm)) <= NEAR_REST_MM
    return float(travel_mm[near].mean())


def _sample_noise(values: _Array) -> float:
    """Robust standard deviation of a sample about its neighbours' slow course."""
    course = _moving_mean(values, max(3, len(values) // 50))
    return float(1.4826 * np.median(np.abs(values - course))) if len(values) > 3 else float(np.std(values))


def _moving_mean(values: _Array, width: int) -> _Array:
    width = min(width, len(values))
    if width <= 1:
        return values.copy()
    sums = np.concatenate([[0.0], np.cumsum(values - values[0])])
    half = width // 2
    index = np.arange(len(values))
    low, high = np.maximum(index - half, 0), np.minimum(index + width - half, len(values))
    return np.asarray(values[0] + (sums[high] - sums[low]) / (high - low))


def _widen(mask: NDArray[np.bool_], reach: int) -> NDArray[np.bool_]:
    """Return the mask with every true stretch longer by `reach` samples at both ends."""
    if 2 * reach + 1 > len(mask):
        return np.full(len(mask), mask.any())
    counts = np.concatenate([[0], np.cumsum(mask)])
    index = np.arange(len(mask))
    low, high = np.maximum(index - reach, 0), np.minimum(index + reach + 1, len(mask))
    return np.asarray(counts[high] > counts[low])


def _runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return [start, stop) of each stretch of true."""
    edges = np.diff(np.concatenate([[0], mask.astype(np.int8), [0]]))
    return list(zip(np.flatnonzero(edges == 1).tolist(), np.flatnonzero(edges == -1).tolist(), strict=True))
