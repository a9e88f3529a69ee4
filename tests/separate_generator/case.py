"""One case: every parameter of a synthetic capture, its truth, and which verdicts would be wrong."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

ROD_SHORT_MM, ROD_LONG_MM = 0.5, 1.0
"""Limits of the example profile (invented); a rod on a limit is inside."""

WORDS = frozenset({"long", "short", "correct"})


@dataclass(frozen=True)
class Case:
    """A synthetic capture. Millimetres at the driving end, kPa at the port, seconds.

    Truth: the lever leaves its stop at travel `-rod_error_mm` from the curb-idle reference;
    `friction_mm` is opening onset less closing onset at zero speed. `centre_error_mm` moves the middle
    of the two onsets off the lever start (valve friction that differs by direction).
    """

    name: str = "case"
    seed: int = 0
    rod_error_mm: float = 0.0

    # How the run is driven and what the judging is told.
    drive: Literal["slide", "throttle", "bench"] | None = None
    baseline: Literal["unhooked", "connected", "unknown"] | None = None
    reference: Literal["curb_idle", "lever_stop"] | None = None

    # Valve body.
    baseline_kpa: float = 25.0
    slope_kpa_per_mm: float = 12.0
    friction_mm: float = 0.2
    friction_stiffness: float = 10.0  # Dahl: how sharply the friction turns round; infinite is dry friction
    friction_drop: float = 0.0  # share by which friction falls with speed
    return_hold_kpa: float = 0.0  # pressure left at rest after a closing stroke
    knee_round_mm: float = 0.0
    bend_per_mm: float = 0.0  # relative change of slope per mm of lever travel past bend_from_mm
    bend_from_mm: float = 4.0
    supply_kpa: float = 420.0
    supply_droop: float = 0.0  # share by which the plateau sags over a second or so
    detent: Literal["ramp", "step"] | None = None
    lag_s: float = 0.012
    lag_order: Literal[1, 2] = 1

    # Hand.
    rate_hz: int = 500
    sweeps: int = 6
    amplitude_mm: float = 26.0
    stroke_s: tuple[float, ...] = (2.4, 4.2, 3.1, 2.2, 4.6, 3.4)  # opening, closing, opening, ... repeated
    motion: Literal["hand", "constant"] = "hand"
    hesitation: float = 0.2
    pauses: float = 0.25
    tremor_mm: float = 0.08

    # Pump and noise.
    ripple_kpa: float = 1.5
    ripple_hz: float = 140.0
    ripple_drift_hz: float = 3.0
    wander_kpa: float = 0.15
    noise_kpa: float = 0.8
    travel_noise_mm: float = 0.015
    scatter_mm: float = 0.01  # standard deviation of the lever start from stroke to stroke
    bits: int | None = 12

    # Errors nobody can see in the data; draw_case takes them from the budget's distributions.
    transfer_mm: float = 0.0  # the hand slide's stop lies here on the curb-idle scale
    rest_jitter_mm: float = 0.02  # half-width of where the pin comes to rest, every time anew
    travel_scale: float = 0.0
    axis_scale: float = 0.0
    nonlinearity_mm: float = 0.0
    baseline_error_kpa: float = 0.0  # pressure during zero, baseline and response reads this much high
    centre_error_mm: float = 0.0
    pressure_gain: float = 0.0
    pressure_offset_kpa: float = 0.0
    zero_reading_mm: float = 0.0  # what the travel channel reads on the stop

    # What goes wrong in the run.
    zero_rows: bool = True
    baseline_rows: bool = True
    response_rows: bool = True
    sweeps_labelled: bool = True
    taps: int = 3
    rod_on_pin_at_baseline: bool = False
    rest_offset_mm: float = 0.0  # after hooking up the pin rests this far off its stop
    rest_shift_mm: float = 0.0  # the stop itself moves by this half way through the sweeps
    stays_open_mm: float = 0.0  # one closing ends this far short of the stop
    jump_mm: float = 0.0  # rod error changes by this half way, with no mark
    adjusted_from_mm: float | None = None  # earlier rod error, before a mark `adjusted`
    reversed_travel: bool = False
    dead_travel: bool = False
    missing_strokes: tuple[int, ...] = ()
    gaps_mm: tuple[tuple[int, float, float], ...] = ()  # stroke, from, to: rows lost

    # What the judging must do beyond not contradicting the truth.
    forbidden: frozenset[str] = frozenset()
    expected: frozenset[str] | None = None
    findings: frozenset[str] = frozenset()

    @property
    def lever_start_mm(self) -> float:
        """Travel at which the lever leaves its stop, from the curb-idle reference."""
        return -self.rod_error_mm

    @property
    def state(self) -> str:
        """The truth in a verdict's word."""
        if self.rod_error_mm < -ROD_SHORT_MM:
            return "short"
        return "long" if self.rod_error_mm > ROD_LONG_MM else "correct"

    @property
    def wrong_verdicts(self) -> frozenset[str]:
        """Verdicts that contradict the truth, or that what was answered forbids."""
        return (WORDS - {self.state}) | self.forbidden

    @property
    def is_scored(self) -> bool:
        """Whether the interval must cover the truth: nothing was done that moves what is measured."""
        moved = self.rest_offset_mm or self.rest_shift_mm or self.stays_open_mm or self.jump_mm
        return not (moved or self.rod_on_pin_at_baseline or self.reversed_travel or self.dead_travel)

    @property
    def judge_options(self) -> dict[str, str]:
        """The options a person would give with this file; only those given."""
        named = {"baseline": self.baseline, "reference": self.reference, "drive": self.drive}
        return {name: value for name, value in named.items() if value is not None}


def nonlinearity_half_width_mm(distance_mm: float) -> float:
    """Return the travel sensor's error between zero and a knee that far off (0.05 mm, then 1 %)."""
    return 0.05 if abs(distance_mm) <= 5.0 else 0.01 * abs(distance_mm)


def draw_case(seed: int, **overrides: Any) -> Case:
    """Draw every parameter and every hidden error of a case from `seed`; `overrides` replace draws.

    Hidden errors come from the rectangular half-widths that hold without a calibration: scale 0.5 %,
    axis and arc 0.2 %, nonlinearity 0.05 mm or 1 %, baseline 0.5 kPa, rests 0.02 mm, friction's centre a
    quarter of the friction, the transfer of a hand slide's stop 0.15 mm where the case is driven by one.
    An override never changes what the other parameters draw.
    """
    rng = np.random.default_rng((seed, 20771))

    def around(half_width: float) -> float:
        return float(rng.uniform(-half_width, half_width))

    unit = {name: around(1.0) for name in ("transfer", "scale", "axis", "nonlinearity", "baseline", "centre")}
    drawn: dict[str, Any] = {
        "seed": seed,
        "rod_error_mm": float(rng.uniform(-15.0, 12.0)),
        "baseline_kpa": float(rng.uniform(14.0, 42.0)),
        "slope_kpa_per_mm": float(rng.uniform(8.0, 16.0)),
        "friction_mm": float(rng.uniform(0.05, 0.45)),
        "friction_stiffness": float(rng.uniform(5.0, 25.0)),
        "friction_drop": float(rng.uniform(0.0, 0.15)),
        "knee_round_mm": float(rng.uniform(0.0, 0.3)),
        "bend_per_mm": around(0.006),
        "bend_from_mm": float(rng.uniform(3.0, 8.0)),
        "supply_kpa": float(rng.uniform(340.0, 520.0)),
        "supply_droop": float(rng.uniform(0.0, 0.03)),
        "lag_s": float(rng.uniform(0.005, 0.03)),
        "lag_order": int(rng.integers(1, 3)),
        "stroke_s": tuple(float(s) for s in rng.uniform(0.85, 1.15, 6) * (2.4, 4.2, 4.4, 2.2, 3.0, 3.2)),
        "tremor_mm": float(rng.uniform(0.03, 0.15)),
        "ripple_kpa": float(rng.uniform(1.0, 3.0)),
        "ripple_hz": float(rng.uniform(60.0, 300.0)),
        "ripple_drift_hz": float(rng.uniform(1.0, 5.0)),
        "wander_kpa": float(rng.uniform(0.05, 0.3)),
        "noise_kpa": float(rng.uniform(0.5, 2.0)),
        "travel_noise_mm": float(rng.uniform(0.01, 0.025)),
        "scatter_mm": float(rng.uniform(0.0, 0.02)),
        "pressure_gain": around(0.01),
        "pressure_offset_kpa": around(2.0),
        "zero_reading_mm": float(rng.uniform(-0.5, 6.0)),
    }
    drawn["amplitude_mm"] = float(rng.uniform(18.0, 30.0))
    drawn |= overrides
    if "amplitude_mm" not in overrides:  # a run that means to see the ramp opens far enough past the knee
        drawn["amplitude_mm"] = max(drawn["amplitude_mm"], 12.0 - drawn["rod_error_mm"])
    case = replace(Case(), **drawn)
    hidden = {
        "transfer_mm": unit["transfer"] * 0.15 if case.drive == "slide" else 0.0,
        "travel_scale": unit["scale"] * 0.005,
        "axis_scale": unit["axis"] * 0.002,
        "nonlinearity_mm": unit["nonlinearity"] * nonlinearity_half_width_mm(case.rod_error_mm),
        "baseline_error_kpa": unit["baseline"] * 0.5,
        "centre_error_mm": unit["centre"] * case.friction_mm / 4.0,
    }
    return replace(case, **{name: value for name, value in hidden.items() if name not in overrides})
