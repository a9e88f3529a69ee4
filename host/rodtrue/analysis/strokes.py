"""Cutting a run into strokes, from the travel itself.

A stroke is one opening or one closing. Turning points are those of a zigzag with a threshold: a
reversal counts once the pin has come back by more than hand tremor and valve friction together, so
neither cuts a stroke in two.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.signal import savgol_filter

from rodtrue.model.samples import SWEEP, Samples

_Array = NDArray[np.float64]

SMOOTHING_S = 0.060
"""Window of the travel smoothing: wide enough for a hand's motion, and it takes noise out of the
travel, which would round the knee exactly as lag does."""

REVERSAL_MM = 1.5
MOVING_MM = 0.3
GAP_PERIODS = 3.5


@dataclass(frozen=True)
class Section:
    """One unbroken stretch of the run: no missing samples, one step. Arrays of shape (n,).

    travel_mm is as measured less the zero; smooth_mm the same smoothed, for everything that
    depends on where the pin was. period_s is the median sample period.
    """

    time_s: _Array
    travel_mm: _Array
    smooth_mm: _Array
    pressure_kpa: _Array
    period_s: float
    broken_before: bool


@dataclass(frozen=True)
class Span:
    """One stroke's place: samples [start, stop) of section number `section`."""

    section: int
    start: int
    stop: int
    direction: Literal["opening", "closing"]


def smooth(travel_mm: _Array, period_s: float) -> _Array:
    """Return travel smoothed by a quadratic Savitzky-Golay filter of `SMOOTHING_S`, same shape."""
    window = round(SMOOTHING_S / period_s) | 1
    window = max(5, window)
    if len(travel_mm) < window:
        return travel_mm.copy()
    return np.asarray(savgol_filter(travel_mm, window, 2, mode="interp"))


def cut_sections(samples: Samples, zero_mm: float) -> list[Section]:
    """Return the sweep samples as unbroken sections, travel counted from `zero_mm`.

    A break is a change of step or a time gap of more than `GAP_PERIODS` sample periods. Sections
    shorter than five samples are dropped.
    """
    index = np.flatnonzero(samples.step == SWEEP)
    if len(index) < 5:
        return []
    intervals = np.diff(samples.time_s)
    period_s = float(np.median(intervals[index[:-1]]))
    lost = np.concatenate([[0], np.cumsum(intervals > GAP_PERIODS * period_s)])
    gap = np.diff(lost[index]) > 0
    edges = np.flatnonzero(gap | (np.diff(index) > 1)) + 1
    sections = []
    for start, stop in zip([0, *edges], [*edges, len(index)], strict=True):
        if stop - start < 5:
            continue
        rows = index[start:stop]
        travel = samples.travel_mm[rows] - zero_mm
        sections.append(
            Section(
                time_s=samples.time_s[rows],
                travel_mm=travel,
                smooth_mm=smooth(travel, period_s),
                pressure_kpa=samples.pressure_kpa[rows],
                period_s=period_s,
                broken_before=bool(start > 0 and gap[start - 1]),
            )
        )
    return sections


def find_strokes(sections: list[Section]) -> list[Span]:
    """Return all strokes of the sections in time order, rests cut off at both ends."""
    spans: list[Span] = []
    for number, section in enumerate(sections):
        turns = _turning_points(section.smooth_mm)
        for start, stop in pairwise(turns):
            span = _trim_rests(section.smooth_mm, start, stop)
            if span is not None:
                opens = section.smooth_mm[stop] > section.smooth_mm[start]
                spans.append(Span(number, span[0], span[1], "opening" if opens else "closing"))
    return spans


def _turning_points(travel_mm: _Array) -> list[int]:
    """Return the indices of the zigzag's ends and turns, first and last sample included.

    Works on the samples at which a new extreme can arise (local extremes), so its loop is as long
    as the motion is rich, not as the record is long.
    """
    sign = np.sign(np.diff(travel_mm))
    local = np.flatnonzero(sign[1:] != sign[:-1]) + 1
    candidates = [0, *local.tolist(), len(travel_mm) - 1]
    turns = [0]
    low = high = 0
    direction = 0
    for i in candidates:
        value = travel_mm[i]
        if value > travel_mm[high]:
            high = i
        if value < travel_mm[low]:
            low = i
        if direction >= 0 and travel_mm[high] - value > REVERSAL_MM and high > turns[-1]:
            turns.append(high)
            low, direction = i, -1
        elif direction <= 0 and value - travel_mm[low] > REVERSAL_MM and low >= turns[-1]:
            if low > turns[-1]:
                turns.append(low)
            high, direction = i, 1
    last = high if direction > 0 else low
    if last > turns[-1] and direction != 0:
        turns.append(last)
    return turns


def _trim_rests(travel_mm: _Array, start: int, stop: int) -> tuple[int, int] | None:
    """Cut the parts within `MOVING_MM` of either end's position; None where nothing is left."""
    piece = travel_mm[start : stop + 1]
    rise = abs(piece[-1] - piece[0])
    if rise <= REVERSAL_MM:
        return None
    progress = np.abs(piece - piece[0])
    left = int(np.flatnonzero(progress <= MOVING_MM)[-1])
    reached = np.flatnonzero(progress >= rise - MOVING_MM)
    right = int(reached[0]) if len(reached) else len(piece) - 1
    if right - left < 3:
        return None
    return start + left, start + right + 1
