"""What a run shows while it goes on: travel, pressure, sweeps counted, and things said at once.

An indication only. It never uses the words of a verdict: looking often would spoil the verdict's
95 %, and the verdict is formed elsewhere, after the planned sweeps.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rodtrue.model.conditions import Reference
from rodtrue.model.profile import Thresholds
from rodtrue.run.pace import Sweep
from rodtrue.run.ramp_so_far import ramp_so_far
from rodtrue.run.words import length, pressure

_Array = NDArray[np.float64]

SMOOTH_SAMPLES = 10
"""Samples averaged to one point of what follows: 20 ms at 500 samples/s."""

ENDED = 0.9
"""Below this share of a limit its breach is over."""

REPEAT_S = 2.0
"""A breach of a limit that goes on is said again after this device time."""

LEAVING_MM = 0.6

SPEED_OVER_S = 0.2
"""The speed that is shown is the mean over this device time: under a tremor's period it would flicker."""

USUAL_TOP_MM = 30.0
"""How far an opening goes, for the pace mark, before one has been seen."""

REST_TIME_S = 0.7
REST_RANGE_MM = 0.08

RETURN_RISE_KPA = 25.0
"""A rise of the rest pressure from sweep to sweep that friction at rest (common practice: up to
1 mm of linkage) hardly explains."""


@dataclass(frozen=True)
class Notice:
    """Something to say at once. `code` is unique a run: one thing is said once."""

    code: str
    severity: Literal["note", "warning", "stop"]
    text: str


@dataclass
class _Excursion:
    """The sweep under way."""

    left_at_s: float
    top_mm: float
    top_at_s: float


class LiveSignal:
    """Follows the samples of a run.

    thresholds: the profile's. least_sweep_mm: a shorter opening is not counted. reference: from where travel counts.

    `zero_mm` and `baseline_kpa` are None until the run has measured them and sets them here;
    `running_limit_mm` is set while the engine runs on the throttle that is moved, else None. `trace`:
    (travel above zero in mm, pressure in kPa) of every point since the sweeps were last forgotten. `ramp`: the
    corner points of the level and ramp read from it so far, likewise. `newest_s`: time of the newest sample shown.
    """

    def __init__(self, thresholds: Thresholds, least_sweep_mm: float, reference: Reference = "curb_idle") -> None:
        self._body_alone = reference == "lever_stop"
        self._thresholds = thresholds
        self._least_sweep_mm = least_sweep_mm
        self.running_limit_mm: float | None = None
        self.zero_mm: float | None = None
        self.baseline_kpa: float | None = None
        self.travel_mm: float | None = None
        self.pressure_kpa: float | None = None
        self.sweeps: list[Sweep] = []
        self.notices: list[Notice] = []
        self._standing: set[str] = set()
        self._breach_said_s: dict[str, float] = {}
        self.onset_mm: float | None = None
        self.ramp: list[tuple[float, float]] = []
        self.newest_s: float | None = None
        self.trace: list[tuple[float, float]] = []
        self._excursion: _Excursion | None = None
        self._recent: deque[tuple[float, float, float]] = deque()
        self._resting_kpa: float | None = None
        self._widest_mm = 0.0
        self._rest = np.empty((0, 3))

    def feed(self, time_s: _Array, travel_mm: _Array, pressure_kpa: _Array) -> None:
        """Take the next samples, arrays of shape (n,) in time order; travel from the sensor's own origin."""
        rows = np.vstack([self._rest, np.column_stack([time_s, travel_mm, pressure_kpa])])
        whole = len(rows) // SMOOTH_SAMPLES * SMOOTH_SAMPLES
        self._rest = rows[whole:]
        if whole:
            self.newest_s = float(rows[whole - 1, 0])
        for point in rows[:whole].reshape(-1, SMOOTH_SAMPLES, 3).mean(axis=1):
            self._follow(*(float(value) for value in point))

    def say(self, code: str, severity: Literal["note", "warning", "stop"], text: str) -> None:
        """Add a notice, once while what it says goes on."""
        if code not in self._standing:
            self._standing.add(code)
            self.notices.append(Notice(code, severity, text))

    def over(self, code: str) -> None:
        """What that code said has ended: when it comes again it is said again."""
        self._standing.discard(code)

    @property
    def standing(self) -> list[Notice]:
        """The newest notice of each code that still holds, in the order in which they were said."""
        newest = {notice.code: notice for notice in self.notices if notice.code in self._standing}
        return list(newest.values())

    def _say_again(self, code: str, time_s: float) -> None:
        """Let a breach that has gone on for `REPEAT_S` be said once more."""
        if time_s - self._breach_said_s.setdefault(code, time_s) >= REPEAT_S:
            self._breach_said_s[code] = time_s
            self.over(code)

    def begin_capture(self) -> None:
        """Whatever was said before is said again where it still holds."""
        self._standing.clear()
        self._breach_said_s.clear()

    def forget_sweeps(self) -> None:
        """Start counting afresh, in a new stream of samples perhaps."""
        self.sweeps.clear()
        self._excursion = None
        self._resting_kpa = None
        self.onset_mm = None
        self.ramp = []
        self.over("pressure_not_returned")
        self.trace.clear()
        self._recent.clear()
        self._rest = np.empty((0, 3))

    @property
    def speed_mm_per_s(self) -> float:
        """The pin's speed of late, positive opening; 0 before there are samples for it."""
        if not self._recent:
            return 0.0
        newest_s, newest_mm, _ = self._recent[-1]
        since = next(point for point in self._recent if newest_s - point[0] <= SPEED_OVER_S)
        return (newest_mm - since[1]) / (newest_s - since[0]) if newest_s > since[0] else 0.0

    @property
    def opened_for_s(self) -> float | None:
        """Device time since the pin left its stop; None where it has not."""
        if self._excursion is None or not self._recent:
            return None
        return self._recent[-1][0] - self._excursion.left_at_s

    @property
    def usual_top_mm(self) -> float:
        """How far an opening is to go: as far as the last one, never near the running limit."""
        top_mm = self.sweeps[-1].top_mm if self.sweeps else self._widest_mm or USUAL_TOP_MM
        return top_mm if self.running_limit_mm is None else min(top_mm, ENDED * self.running_limit_mm)

    @property
    def at_rest(self) -> bool:
        """Whether the pin has kept still for `REST_TIME_S`."""
        if len(self._recent) < 2 or self._recent[-1][0] - self._recent[0][0] < 0.9 * REST_TIME_S:
            return False
        return self.rest_range_mm < REST_RANGE_MM

    @property
    def rest_range_mm(self) -> float:
        """How far the pin has moved in the last `REST_TIME_S`."""
        travel = [point[1] for point in self._recent]
        return max(travel) - min(travel) if travel else 0.0

    @property
    def rest_travel_mm(self) -> float:
        """Mean travel of the last `REST_TIME_S`; only meaningful at rest."""
        return float(np.mean([point[1] for point in self._recent]))

    def _follow(self, time_s: float, travel_mm: float, pressure_kpa: float) -> None:
        self.travel_mm, self.pressure_kpa = travel_mm, pressure_kpa
        self._recent.append((time_s, travel_mm, pressure_kpa))
        while time_s - self._recent[0][0] > REST_TIME_S:
            self._recent.popleft()
        self._watch_pressure_limit(time_s, pressure_kpa)
        if self.zero_mm is None:
            return
        above_mm = travel_mm - self.zero_mm
        self.trace.append((above_mm, pressure_kpa))
        self._watch_running_limit(time_s, above_mm)
        if self._excursion is None:
            self._begin_excursion(time_s, above_mm, pressure_kpa)
        else:
            self._continue_excursion(self._excursion, time_s, above_mm)

    def _begin_excursion(self, time_s: float, above_mm: float, pressure_kpa: float) -> None:
        if above_mm <= self._thresholds.rest_shift_mm:
            self.over("travel_not_returned")
        if above_mm > LEAVING_MM:
            self._excursion = _Excursion(time_s, above_mm, time_s)
        elif self.at_rest:
            self._watch_return_pressure(pressure_kpa)

    def _continue_excursion(self, sweep: _Excursion, time_s: float, above_mm: float) -> None:
        if above_mm > sweep.top_mm:
            sweep.top_mm, sweep.top_at_s = above_mm, time_s
        if above_mm <= self._thresholds.rest_shift_mm:
            self.over("travel_not_returned")
        stuck = self.at_rest and sweep.top_mm - above_mm > 0.5 * sweep.top_mm
        if stuck and above_mm > self._thresholds.rest_shift_mm:
            self.say(
                "travel_not_returned",
                "stop",
                f"The travel stays {length(above_mm)} off its stop. If nobody holds it there, "
                + (
                    "the lever or the valve binds: shut the supply and find what binds."
                    if self._body_alone
                    else "the linkage binds and can hold a throttle open: stop the engine, do not drive."
                ),
            )
        if above_mm <= 0.5 * LEAVING_MM or stuck:
            self._end_excursion(sweep, time_s, above_mm)

    def _end_excursion(self, sweep: _Excursion, time_s: float, above_mm: float) -> None:
        self._excursion = None
        if sweep.top_mm < self._least_sweep_mm:
            return
        self._widest_mm = max(self._widest_mm, sweep.top_mm)
        self.sweeps.append(
            Sweep(
                sweep.top_mm,
                sweep.top_mm / max(sweep.top_at_s - sweep.left_at_s, 1e-3),
                (sweep.top_mm - above_mm) / max(time_s - sweep.top_at_s, 1e-3),
            )
        )
        self.onset_mm, self.ramp = ramp_so_far(self.trace, self.baseline_kpa or 0.0)

    def _watch_pressure_limit(self, time_s: float, pressure_kpa: float) -> None:
        if pressure_kpa < ENDED * self._thresholds.pressure_limit_kpa:
            self.over("pressure_over_limit")
        if pressure_kpa > self._thresholds.pressure_limit_kpa:
            self._say_again("pressure_over_limit", time_s)
            self.say(
                "pressure_over_limit",
                "stop",
                f"Pressure {pressure(pressure_kpa)} is over the limit of "
                f"{pressure(self._thresholds.pressure_limit_kpa)}: stop the pump, keep away from the hose.",
            )

    def _watch_running_limit(self, time_s: float, above_mm: float) -> None:
        if self.running_limit_mm is None or above_mm < ENDED * self.running_limit_mm:
            self.over("running_limit")
        if self.running_limit_mm is not None and above_mm > self.running_limit_mm:
            self._say_again("running_limit", time_s)
            self.say(
                "running_limit",
                "stop",
                f"Stop opening: the running travel limit is {length(self.running_limit_mm)}. Never open further "
                "with the engine running; use the hand slide instead.",
            )

    def _watch_return_pressure(self, pressure_kpa: float) -> None:
        if self._resting_kpa is None:
            self._resting_kpa = pressure_kpa
        elif self.sweeps and pressure_kpa <= self._resting_kpa + ENDED * RETURN_RISE_KPA:
            self.over("pressure_not_returned")
        elif self.sweeps and pressure_kpa > self._resting_kpa + RETURN_RISE_KPA:
            turn_off = "Shut the supply" if self._body_alone else "Stop the engine"
            self.say(
                "pressure_not_returned",
                "stop",
                f"At rest the pressure stays {pressure(pressure_kpa - self._resting_kpa)} higher than before the "
                f"sweeps: the lever does not come back. {turn_off} and find what binds.",
            )


def indication(live: LiveSignal) -> str:
    """Return what the sweeps hint at so far, in one sentence without a verdict's words; "" for nothing."""
    if not live.sweeps or live.baseline_kpa is None:
        return ""
    if live.onset_mm is None:
        return "The pressure has shown no clear ramp in these sweeps."
    return f"The ramp so far, carried back, begins at about {length(live.onset_mm, signed=True)}."
