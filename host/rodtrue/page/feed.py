"""The live picture for those who look on: one writer, any number of readers, none of whom it waits for."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from rodtrue.run.guided import GuidedRun
from rodtrue.run.live import indication
from rodtrue.run.pace import wanted_half_s
from rodtrue.run.prompts import Sweeping

MOST_POINTS = 12_000
"""Four minutes of sweeping; the oldest half gives way then."""

MOST_IN_ONE_MESSAGE = 2_000


@dataclass
class Cursor:
    """How far one reader has got."""

    series: int = -1
    index: int = 0


@dataclass(frozen=True)
class _Picture:
    """What there is to see: `series` changes when the points begin anew. Replaced whole, never changed.

    points: travel above zero in mm, pressure in kPa, only ever added to within one series.
    """

    series: int = 0
    points: list[tuple[float, float]] = field(default_factory=list)
    now: dict[str, Any] = field(default_factory=dict)


class Feed:
    """Written by the engine's thread, read by the page's."""

    def __init__(self) -> None:
        self._picture = _Picture()
        self._taken = 0

    def take(self, run: GuidedRun) -> bool:
        """Take what is new in a run; false where nothing is."""
        live, picture = run.live, self._picture
        if live.newest_s == picture.now.get("t") and len(live.trace) == self._taken:
            return False
        series, points = picture.series, picture.points
        if len(live.trace) < self._taken or len(points) > MOST_POINTS:
            series, self._taken, points = series + 1, max(0, len(live.trace) - MOST_POINTS // 2), []
        points.extend((round(x, 3), round(y, 2)) for x, y in live.trace[self._taken :])
        self._taken = len(live.trace)
        self._picture = _Picture(series, points, _numbers(run))
        return True

    def clear(self) -> None:
        """Begin anew: another run."""
        self._taken = 0
        self._picture = _Picture(self._picture.series + 1)

    def since(self, cursor: Cursor) -> dict[str, Any]:
        """Return what this reader has not seen yet, and move its cursor."""
        picture = self._picture
        if cursor.series != picture.series:
            cursor.series, cursor.index = picture.series, 0
        start = cursor.index
        stop = min(len(picture.points), start + MOST_IN_ONE_MESSAGE)
        cursor.index = stop
        flat = [value for point in picture.points[start:stop] for value in point]
        return {"series": picture.series, "from": start, "xy": flat, **picture.now}


def _numbers(run: GuidedRun) -> dict[str, Any]:
    """Return the numbers of the moment, as short as they go; the sensor's own travel before there is a zero."""
    live, prompt = run.live, run.prompt
    travel_mm, has_zero = live.travel_mm, False
    if travel_mm is not None and live.zero_mm is not None:
        travel_mm, has_zero = travel_mm - live.zero_mm, True
    return {
        "t": live.newest_s,
        "mm": None if travel_mm is None else round(travel_mm, 3),
        "kpa": None if live.pressure_kpa is None else round(live.pressure_kpa, 2),
        "zero": has_zero,
        "base": live.baseline_kpa,
        "ramp": live.ramp if run.indicates else [],
        "onset": live.onset_mm if run.indicates else None,
        "hint": indication(live) if run.indicates else "",
        "done": len(live.sweeps),
        "of": prompt.target if isinstance(prompt, Sweeping) else run.settings.profile.plan.sweeps,
        "limit": live.running_limit_mm,
        "pace": _pace(run),
    }


def _pace(run: GuidedRun) -> dict[str, float | None] | None:
    """Return what the pace mark is drawn from, in mm and s of device time; None where nobody sweeps.

    out: since the pin left its stop, None at rest. half: seconds each way. top: how far. most: the fastest allowed.
    """
    live = run.live
    if run.stage != "sweeps" or not isinstance(run.prompt, Sweeping):
        return None
    return {
        "speed": round(live.speed_mm_per_s, 2),
        "out": None if live.opened_for_s is None else round(live.opened_for_s, 3),
        "half": wanted_half_s(live.sweeps),
        "top": round(live.usual_top_mm, 2),
        "most": run.settings.profile.thresholds.too_fast_mm_per_s,
    }
