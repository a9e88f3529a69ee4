"""A ramp written down instead of fitted: round numbers, so that what stands on it can be worked out by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from rodtrue.analysis.ramp import Ramp, StrokeData, Window
from rodtrue.analysis.strokes import Span

SLOPE = 10.0
BASELINE_KPA = 25.0
TRAVEL_MM = np.array([10.0, 12.0, 16.0])
"""Where every stroke has its samples: alike for all, so that what one shifts leaves the slope alone."""


def columns_of(direction: str) -> np.ndarray:
    """Return a stroke's design: level of its direction, and travel."""
    return np.column_stack([np.full(3, direction == "opening"), np.full(3, direction == "closing"), TRAVEL_MM])


def stroke(direction: str, onset_mm: float, *, speed: float = 20.0, why_not: str | None = None) -> StrokeData:
    """Return a stroke whose own line of slope `SLOPE` meets the baseline at `onset_mm`: three samples on the ramp."""
    column = columns_of(direction)
    pressure = BASELINE_KPA + SLOPE * (TRAVEL_MM - onset_mm)
    data = StrokeData(Span(0, 0, 3, direction), speed, why_not, np.arange(3), onset_mm)  # type: ignore[arg-type]
    data.gram, data.moment = column.T @ column, column.T @ pressure
    return data


def ramp_of(strokes: Sequence[StrokeData], **changes: object) -> Ramp:
    """Return the ramp whose onsets are the means of the strokes' own; opening and closing, no bend, lag told."""
    used = [s for s in strokes if s.used]
    mean = {d: np.mean([s.onset_mm for s in used if s.span.direction == d]) for d in ("opening", "closing")}
    levels = [BASELINE_KPA - SLOPE * float(mean[d]) for d in ("opening", "closing")]
    made = Ramp(
        coefficients=np.array([*levels, SLOPE]),
        centre_mm=0.0,
        directions=("opening", "closing"),
        bends=False,
        bend_shift_mm=0.0,
        lag_told=True,
        lag_s=0.01,
        play_mm=0.0,
        baseline_kpa=BASELINE_KPA,
        strokes=list(strokes),
        windows={d: Window(float(mean[d]) + 1.0, float(mean[d]) + 7.0, float(mean[d])) for d in mean},  # type: ignore
        residual_kpa=[np.zeros(3) for _ in used],
        columns=[],
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def pairs(openings: Sequence[float], closings: Sequence[float], **kind: float) -> list[StrokeData]:
    """Return strokes in turn, an opening and the closing after it, with these onsets."""
    both = zip(openings, closings, strict=True)
    return [s for o, c in both for s in (stroke("opening", o, **kind), stroke("closing", c, **kind))]  # type: ignore
