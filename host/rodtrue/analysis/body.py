"""The characteristics of the valve body, each with an expanded uncertainty and its decision.

Pressures carry the sensor's gain and offset; where they cancel (return error, ripple) only the gain counts.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from rodtrue.analysis.decision import coverage_factor, decide_characteristic
from rodtrue.analysis.interval import jackknife
from rodtrue.analysis.ramp import Ramp
from rodtrue.analysis.reference import Baseline, Rests
from rodtrue.model.profile import Profile, Range
from rodtrue.model.result import Characteristic

_SQRT3 = math.sqrt(3)
BodyVerdict = Literal["conforming", "nonconforming", "undecided"]


def characteristics(
    profile: Profile,
    baseline: Baseline,
    ramp: Ramp | None,
    full: float | None,
    rests: Rests,
    measured_free: tuple[float, float] | None,
) -> list[Characteristic]:
    """Return the seven characteristics in their fixed order; values None where the data do not tell.

    full: pressure of the plateau in kPa, None where none was reached. measured_free: lever free travel and
    its expanded uncertainty in mm where the run measured it, else None: then it is the profile's.
    """
    limits = profile.limits
    gain = profile.instrument.pressure_gain / _SQRT3
    offset = profile.instrument.pressure_offset_kpa / _SQRT3
    two = coverage_factor(0.95, 1e9)

    def pressure(
        name: str, value: float | None, spread: float, range_: Range, *, offset_counts: bool
    ) -> Characteristic:
        guard = None
        if value is not None:
            guard = two * math.sqrt(spread**2 + (gain * value) ** 2 + (offset**2 if offset_counts else 0.0))
        return Characteristic(name, value, "kPa", guard, range_, decide_characteristic(value, guard, range_))

    returned, returned_u = return_error_kpa(rests)
    slope = slope_u = friction = friction_u = None
    if ramp is not None:
        slope = ramp.slope_kpa_per_mm
        scale = profile.instrument.travel_scale / _SQRT3
        at = len(ramp.directions)
        freedom = max(1, sum(s.used for s in ramp.strokes) - 1 - at)
        factor = coverage_factor(0.95, freedom)
        slope_u = factor * math.hypot(jackknife(ramp, lambda beta: float(beta[at])), slope * math.hypot(gain, scale))
        friction, friction_u = friction_mm(ramp, profile.thresholds.lag_max_s)
    slope_decision = decide_characteristic(slope, slope_u, limits.slope_kpa_per_mm)
    free, free_u = measured_free or _free_of_profile(profile, two)
    free_range = limits.lever_free_travel_mm
    return [
        Characteristic(
            "lever_free_travel", free, "mm", free_u, free_range, decide_characteristic(free, free_u, free_range)
        ),
        pressure(
            "baseline", baseline.level_kpa, baseline.standard_error_kpa, limits.baseline_kpa, offset_counts=True
        ),
        pressure("full_pressure", full, 0.0, limits.full_pressure_kpa, offset_counts=True),
        pressure("ripple", baseline.noise_kpa, 0.1 * baseline.noise_kpa, limits.ripple_kpa, offset_counts=False),
        pressure("return_error", returned, returned_u, limits.return_error_kpa, offset_counts=False),
        Characteristic("slope", slope, "kPa/mm", slope_u, limits.slope_kpa_per_mm, slope_decision),
        Characteristic(
            "friction", friction, "mm", friction_u, limits.friction_mm,
            decide_characteristic(friction, friction_u, limits.friction_mm),
        ),
    ]  # fmt: skip


def _free_of_profile(profile: Profile, factor: float) -> tuple[float | None, float | None]:
    """Return the profile's free travel with its expanded uncertainty, None where it says nothing of it."""
    lever = profile.lever
    if lever.free_mm == 0 and lever.free_half_width_mm == 0:
        return None, None
    return lever.free_mm, factor * lever.free_half_width_mm / _SQRT3


def return_error_kpa(rests: Rests) -> tuple[float | None, float]:
    """Return how far pressure at rest after the sweeps stands above that before, with its standard error."""
    if rests.first_kpa is None or not rests.later_kpa:
        return None, 0.0
    later = np.asarray(rests.later_kpa)
    spread = float(later.std(ddof=1) / math.sqrt(len(later))) if len(later) > 1 else 0.0
    return float(later.mean() - rests.first_kpa), spread


def friction_mm(ramp: Ramp, lag_max_s: float) -> tuple[float | None, float | None]:
    """Return opening onset less closing onset with its expanded uncertainty; None with one direction.

    Where lag was not told apart it sits in the difference: the interval is widened by what it could be.
    """
    if len(ramp.directions) < 2:
        return None, None

    def difference(beta: np.ndarray) -> float:
        onsets = ramp.onsets(beta)
        return onsets["opening"] - onsets["closing"]

    freedom = max(1, sum(s.used for s in ramp.strokes) - 3)
    random = jackknife(ramp, difference)
    lag = 0.0
    if not ramp.lag_told:
        lag = lag_max_s * sum(ramp.speed_mm_per_s(d) or 0.0 for d in ramp.directions) / _SQRT3
    return difference(ramp.coefficients), coverage_factor(0.95, freedom) * math.hypot(random, lag)


def body_verdict(found: list[Characteristic]) -> BodyVerdict | None:
    """Return the verdict on the valve body from its characteristics; None where none could be judged.

    Conforming is a body of which everything that has limits was found within them: what has limits and was not
    determined leaves it undecided.
    """
    decisions = {c.decision for c in found if c.limits != (None, None)}
    if decisions <= {"not judged"}:
        return None
    if decisions & {"above", "below"}:
        return "nonconforming"
    return "conforming" if decisions == {"within"} else "undecided"
