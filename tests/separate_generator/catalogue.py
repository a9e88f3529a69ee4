"""The named cases, and a large random draw over all axes. Seeds are fixed and none is ever replaced."""

from __future__ import annotations

from typing import Any

import numpy as np

from separate_generator.case import WORDS, Case, draw_case

UNDECIDED = frozenset({"undecided"})
NO_RESULT = frozenset({"no result"})


def _plain() -> dict[str, dict[str, Any]]:
    """Rod errors over the whole range, everything else as drawn."""
    errors = (-15.0, -12.7, -10.0, -7.5, -5.0, -3.0, -2.0, -1.2, -0.9, -0.7, -0.55, -0.45, -0.3, -0.1)
    errors += (0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 0.97, 1.03, 1.15, 1.4, 2.0, 3.0, 4.5, 6.0, 8.0, 10.0, 12.0)
    return {f"rod {error:+.2f} mm": {"rod_error_mm": error} for error in errors}


def _limits_with_slide() -> dict[str, dict[str, Any]]:
    errors = (-3.0, -0.8, -0.4, 0.2, 0.8, 1.3, 3.0)
    return {f"slide, rod {e:+.1f} mm": {"rod_error_mm": e, "drive": "slide"} for e in errors}


def _disturbed() -> dict[str, dict[str, Any]]:
    return {
        "noise 2 kPa": {"rod_error_mm": -1.5, "noise_kpa": 2.0, "travel_noise_mm": 0.03},
        "noise 2 kPa, exact": {"rod_error_mm": 0.0, "noise_kpa": 2.0, "travel_noise_mm": 0.03},
        "very quiet": {
            "rod_error_mm": 0.2,
            "noise_kpa": 0.02,
            "travel_noise_mm": 0.0,
            "ripple_kpa": 0.0,
            "wander_kpa": 0.0,
            "scatter_mm": 0.0,
            "tremor_mm": 0.0,
        },
        "ripple 3 kPa at 90 Hz": {"rod_error_mm": 2.5, "ripple_kpa": 3.0, "ripple_hz": 90.0},
        "ripple folds to 2 Hz at 250 Hz": {
            "rod_error_mm": -0.9,
            "rate_hz": 250,
            "ripple_kpa": 3.0,
            "ripple_hz": 248.0,
        },
        "ripple folds to nothing at 200 Hz, exact": {
            "rod_error_mm": 0.1,
            "rate_hz": 200,
            "ripple_kpa": 3.0,
            "ripple_hz": 200.5,
        },
        "200 Hz": {"rod_error_mm": -4.0, "rate_hz": 200},
        "1000 Hz": {"rod_error_mm": 1.6, "rate_hz": 1000},
        "wander 1 kPa": {"rod_error_mm": 0.4, "wander_kpa": 1.0},
        "wander 1 kPa, long": {"rod_error_mm": 5.0, "wander_kpa": 1.0},
        "scatter 0.1 mm": {"rod_error_mm": -0.8, "scatter_mm": 0.1},
        "lag 30 ms second order": {"rod_error_mm": -0.6, "lag_s": 0.03, "lag_order": 2},
        "lag 30 ms first order, long": {"rod_error_mm": 1.5, "lag_s": 0.03, "lag_order": 1},
        "no lag": {"rod_error_mm": 0.6, "lag_s": 0.0},
        "no friction": {"rod_error_mm": 0.0, "friction_mm": 0.0},
        "friction 0.6 mm": {"rod_error_mm": -1.4, "friction_mm": 0.6},
        "soft friction": {"rod_error_mm": 0.3, "friction_mm": 0.5, "friction_stiffness": 3.0},
        "friction falls with speed": {"rod_error_mm": -2.2, "friction_mm": 0.5, "friction_drop": 0.4},
        "pressure held 1.5 kPa at rest": {"rod_error_mm": -1.6, "friction_mm": 0.5, "return_hold_kpa": 1.5},
        "knee rounded over 0.5 mm": {"rod_error_mm": -2.0, "knee_round_mm": 0.5},
        "strong bend upwards, long": {"rod_error_mm": 7.0, "bend_per_mm": 0.012, "bend_from_mm": 3.0},
        "strong bend downwards, long": {"rod_error_mm": 9.0, "bend_per_mm": -0.012, "bend_from_mm": 3.0},
        "strong bend, short": {"rod_error_mm": -6.0, "bend_per_mm": -0.012, "bend_from_mm": 3.0},
        "early plateau that sags": {"rod_error_mm": -3.5, "supply_kpa": 230.0, "supply_droop": 0.06},
        "early plateau, long": {"rod_error_mm": 4.0, "supply_kpa": 230.0, "slope_kpa_per_mm": 15.0},
        "detent ramp": {"rod_error_mm": -1.1, "detent": "ramp"},
        "detent step": {"rod_error_mm": 2.2, "detent": "step"},
        "detent and plateau, half an inch short": {
            "rod_error_mm": -12.7,
            "detent": "step",
            "supply_kpa": 300.0,
            "slope_kpa_per_mm": 14.0,
            "amplitude_mm": 45.0,
        },
        "one constant speed": {"rod_error_mm": -0.7, "motion": "constant", "stroke_s": (3.0,)},
        "one constant speed, exact": {"rod_error_mm": 0.2, "motion": "constant", "stroke_s": (3.0,)},
        "opening fast, closing slow": {
            "rod_error_mm": 0.7,
            "motion": "constant",
            "stroke_s": (1.2, 4.0),
            "lag_s": 0.03,
        },
        "fast strokes": {"rod_error_mm": -2.0, "stroke_s": (0.9, 1.4, 1.1)},
        "shaky hand": {"rod_error_mm": 1.8, "tremor_mm": 0.4, "hesitation": 0.45, "pauses": 0.8},
        "ramp seen only at its end": {"rod_error_mm": -14.0, "amplitude_mm": 16.5},
        "throttle, 6 mm of travel": {"rod_error_mm": 2.0, "drive": "throttle", "amplitude_mm": 5.9},
        "throttle, 6 mm of travel, short": {"rod_error_mm": -1.5, "drive": "throttle", "amplitude_mm": 5.9},
        "twelve sweeps": {"rod_error_mm": 1.2, "sweeps": 12},
    }


def _recorded_badly() -> dict[str, dict[str, Any]]:
    return {
        "three sweeps": {"rod_error_mm": -3.0, "sweeps": 3},
        "two sweeps": {"rod_error_mm": -3.0, "sweeps": 2, "forbidden": WORDS},
        "one sweep": {"rod_error_mm": 3.0, "sweeps": 1, "forbidden": WORDS},
        "closings missing twice": {"rod_error_mm": -1.3, "missing_strokes": (3, 7)},
        "an opening missing": {"rod_error_mm": 0.3, "missing_strokes": (2,)},
        "gaps over the knee": {"rod_error_mm": -4.0, "gaps_mm": ((0, 3.0, 5.0), (3, 2.0, 6.0))},
        "every knee lost": {
            "rod_error_mm": -4.0,
            "gaps_mm": tuple((stroke, 2.5, 6.0) for stroke in range(12)),
        },
        "knee not reached": {"rod_error_mm": -14.0, "amplitude_mm": 10.0, "expected": frozenset({"short"})},
        "knee not reached, no response shown": {
            "rod_error_mm": -14.0,
            "amplitude_mm": 10.0,
            "response_rows": False,
            "forbidden": WORDS,
            "expected": NO_RESULT,
        },
        "opened by a hair": {"rod_error_mm": 0.0, "amplitude_mm": 0.35},
        "no zero rows": {"rod_error_mm": -2.0, "zero_rows": False, "zero_reading_mm": 0.0},
        "sweeps without a label": {"rod_error_mm": 1.7, "sweeps_labelled": False},
        "no baseline rows": {
            "rod_error_mm": -2.0,
            "baseline_rows": False,
            "forbidden": WORDS,
            "expected": NO_RESULT,
        },
        "sensor the other way round": {
            "rod_error_mm": -2.0,
            "reversed_travel": True,
            "forbidden": WORDS,
            "expected": NO_RESULT,
        },
        "travel never moves": {
            "rod_error_mm": -2.0,
            "dead_travel": True,
            "forbidden": WORDS,
            "expected": NO_RESULT,
        },
        "adjusted half way": {"rod_error_mm": 0.2, "adjusted_from_mm": -4.0},
        "adjusted half way, still long": {"rod_error_mm": 2.6, "adjusted_from_mm": 0.1},
    }


def _untrue() -> dict[str, dict[str, Any]]:
    """What was done or answered forbids words, whatever the numbers say."""
    unproven = frozenset({"correct", "long"})
    not_proven = frozenset({"baseline_not_proven"})
    connected: dict[str, Any] = {"rod_on_pin_at_baseline": True, "forbidden": unproven}
    connected["findings"] = not_proven
    return {
        "long 4 mm, baseline connected": {"rod_error_mm": 4.0, "baseline": "connected", **connected},
        "long 1.5 mm, baseline unknown": {"rod_error_mm": 1.5, "baseline": "unknown", **connected},
        "exact, baseline connected": {"rod_error_mm": 0.0, "baseline": "connected", **connected},
        "short 3 mm, baseline unknown": {
            "rod_error_mm": -3.0,
            "baseline": "unknown",
            "forbidden": unproven,
            "findings": not_proven,
        },
        "long 6 mm, connected, implausible, not said": {
            "rod_error_mm": 6.0,
            "slope_kpa_per_mm": 12.0,
            "rod_on_pin_at_baseline": True,
            "findings": frozenset({"baseline_implausible"}),
        },
        "baseline 3 kPa": {
            "rod_error_mm": 0.2,
            "baseline_kpa": 3.0,
            "pressure_offset_kpa": 0.0,
            "forbidden": frozenset({"correct"}),
            "findings": frozenset({"baseline_implausible"}),
        },
        "baseline 75 kPa": {
            "rod_error_mm": 0.2,
            "baseline_kpa": 75.0,
            "forbidden": frozenset({"correct"}),
            "findings": frozenset({"baseline_implausible"}),
        },
        "rod holds throttle": {
            "rod_error_mm": 3.0,
            "rest_offset_mm": 0.6,
            "findings": frozenset({"rod_holds_throttle"}),
        },
        "idle moved": {
            "rod_error_mm": -3.0,
            "rest_shift_mm": 0.45,
            "forbidden": WORDS,
            "findings": frozenset({"idle_moved"}),
        },
        "idle moved, exact": {
            "rod_error_mm": 0.2,
            "rest_shift_mm": -0.35,
            "forbidden": WORDS,
            "findings": frozenset({"idle_moved"}),
        },
        "travel does not return": {"rod_error_mm": -3.0, "stays_open_mm": 1.5},
        "rod slips by 1 mm, unmarked": {"rod_error_mm": 0.3, "jump_mm": -1.2, "forbidden": WORDS - {"short"}},
        "friction 0.9 mm, exact": {
            "rod_error_mm": 0.2,
            "friction_mm": 0.9,
            "forbidden": frozenset({"correct"}),
            "findings": frozenset({"friction_high"}),
        },
        "friction 1 mm, short": {
            "rod_error_mm": -3.0,
            "friction_mm": 1.0,
            "findings": frozenset({"friction_high"}),
        },
        "bench, against the lever's own stop": {
            "rod_error_mm": 0.0,
            "drive": "bench",
            "reference": "lever_stop",
            "forbidden": WORDS,
            "expected": NO_RESULT,
        },
    }


def _later() -> dict[str, dict[str, Any]]:
    """Thought of later; kept last so that no earlier case changes its seed."""
    motor: dict[str, Any] = {"motion": "constant", "tremor_mm": 0.0, "findings": frozenset({"one_speed_only"})}
    unproven = {"forbidden": frozenset({"correct", "long"}), "findings": frozenset({"baseline_not_proven"})}
    return {
        "motor, one speed, short": {"rod_error_mm": -0.7, "stroke_s": (3.0,), **motor},
        "motor, one speed, exact": {"rod_error_mm": 0.2, "stroke_s": (3.0,), **motor},
        "motor, one speed, at the long limit": {"rod_error_mm": 1.05, "stroke_s": (2.0,), **motor},
        "motor, opening fast, closing slow": {
            "rod_error_mm": 0.85,
            "stroke_s": (1.4, 4.0),
            "lag_s": 0.03,
            **motor,
        },
        "motor, opening slow, closing fast": {
            "rod_error_mm": -0.6,
            "stroke_s": (4.0, 1.4),
            "lag_s": 0.03,
            **motor,
        },
        "hand shakes back and forth within the friction": {
            "rod_error_mm": 1.3,
            "tremor_mm": 0.5,
            "friction_mm": 0.6,
            "slope_kpa_per_mm": 10.0,
        },
        "short 2 mm, baseline connected": {"rod_error_mm": -2.0, "baseline": "connected", **unproven},
        "long 0.3 mm, baseline unknown": {
            "rod_error_mm": 0.3,
            "baseline": "unknown",
            "rod_on_pin_at_baseline": True,
            **unproven,
        },
        "slow strokes": {"rod_error_mm": -0.2, "stroke_s": (7.0, 9.0, 8.0), "sweeps": 4},
        "three sweeps with the lag at its worst": {"rod_error_mm": 0.95, "sweeps": 3, "lag_s": 0.03},
    }


def standard_cases() -> list[Case]:
    """Return the named cases; the n-th is drawn from seed n."""
    groups = (_plain(), _limits_with_slide(), _disturbed(), _recorded_badly(), _untrue(), _later())
    described = [item for group in groups for item in group.items()]
    return [draw_case(seed, name=name, **given) for seed, (name, given) in enumerate(described)]


def large_cases(n: int, first_seed: int = 10_000) -> list[Case]:
    """Return `n` random cases over all axes, every other one near the tolerance."""
    return [_random_case(seed) for seed in range(first_seed, first_seed + n)]


def _random_case(seed: int) -> Case:
    rng = np.random.default_rng((seed, 911))
    near = seed % 2 == 0
    given: dict[str, Any] = {
        "name": f"random {seed}",
        "rod_error_mm": float(rng.uniform(-1.3, 1.8) if near else rng.uniform(-15.0, 12.0)),
        "drive": (None, "slide", "bench")[rng.integers(3)],
        "rate_hz": int(rng.choice((200, 250, 400, 500, 1000))),
        "sweeps": int(rng.integers(4, 10)),
        "friction_mm": float(rng.uniform(0.0, 0.7)),
        "knee_round_mm": float(rng.uniform(0.0, 0.5)),
        "detent": (None, None, "ramp", "step")[rng.integers(4)],
        "motion": "constant" if rng.random() < 0.1 else "hand",
        "stroke_s": tuple(float(s) for s in rng.uniform(1.6, 5.0, 6)),
        "scatter_mm": float(rng.uniform(0.0, 0.04)),
        "hesitation": float(rng.uniform(0.05, 0.4)),
        "pauses": float(rng.uniform(0.0, 0.5)),
        "wander_kpa": float(rng.uniform(0.0, 0.5)),
    }
    if rng.random() < 0.15:
        given["missing_strokes"] = (int(rng.integers(2, 6)),)
    return draw_case(seed, **given)
