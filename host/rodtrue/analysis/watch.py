"""What else the data show: each watcher compares one group of evidence with the profile's thresholds."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from rodtrue.analysis.budget import UNKNOWN_FRICTION_MM
from rodtrue.analysis.findings import Findings
from rodtrue.analysis.halfway import Halfway
from rodtrue.analysis.ramp import DIRECTIONS, Ramp
from rodtrue.analysis.reference import Baseline, Rests, response_kpa, shows_response
from rodtrue.analysis.refusals import LEAST_REAL_KPA
from rodtrue.analysis.strokes import Section
from rodtrue.model.conditions import Conditions, Reference
from rodtrue.model.profile import Profile
from rodtrue.model.result import Characteristic
from rodtrue.model.samples import BASELINE, SWEEP, Samples

NOISY_KPA = 0.2
LEAST_SHIFT_KPA = 3.0
"""A quarter of a millimetre of an ordinary ramp; oil and pump wander by less."""
STUCK_S = 0.3
STUCK_RATIO = 5.0
"""A reading that does not change for this long, and this many times longer than in the baseline, is stuck."""


def watch_samples(
    findings: Findings,
    samples: Samples,
    sections: list[Section],
    baseline: Baseline,
    profile: Profile,
    conditions: Conditions,
) -> None:
    """Baseline and its proof, pressure against limits and rails, missing samples."""
    if conditions.rod_unhooked is not True:
        findings.add("baseline_not_proven", rod_unhooked=conditions.rod_unhooked)
    elif conditions.baseline_assumed:
        findings.add("baseline_assumed_unhooked")
    low, high = profile.limits.baseline_kpa
    level = baseline.level_kpa
    if (low is not None and level < low) or (high is not None and level > high):
        findings.add("baseline_implausible", baseline_kpa=level, limits_kpa=[low, high])
    highest = float(samples.pressure_kpa.max())
    if highest > profile.thresholds.pressure_limit_kpa:
        findings.add("pressure_over_limit", pressure_kpa=highest, limit_kpa=profile.thresholds.pressure_limit_kpa)
    stuck_kpa, stuck_s = _longest_stuck(samples, SWEEP)
    allowed_s = max(STUCK_S, STUCK_RATIO * _longest_stuck(samples, BASELINE)[1])
    if baseline.noise_kpa > NOISY_KPA and stuck_s > allowed_s:
        findings.add("sensor_clipped", pressure_kpa=stuck_kpa, seconds=stuck_s, limit_s=allowed_s)
    gaps = [float(after.time_s[0] - before.time_s[-1]) for before, after in pairwise(sections) if after.broken_before]
    if gaps:
        findings.add("samples_lost", gaps=len(gaps), seconds=sum(gaps))


def _longest_stuck(samples: Samples, step: int) -> tuple[float, float]:
    """Return the pressure that stood unchanged for longest in the rows of a step, and for how long (s)."""
    rows = samples.step == step
    pressure, time_s = samples.pressure_kpa[rows], samples.time_s[rows]
    if len(pressure) < 2:
        return 0.0, 0.0
    starts = np.concatenate([[0], np.flatnonzero(np.diff(pressure) != 0) + 1, [len(pressure)]])
    durations = time_s[starts[1:] - 1] - time_s[starts[:-1]]
    longest = int(np.argmax(durations))
    return float(pressure[starts[longest]]), float(durations[longest])


def watch_fixture(findings: Findings, conditions: Conditions, profile: Profile) -> None:
    """What the fixture said of itself: supply of the sensors, fluid temperature, calibration."""
    limits = profile.thresholds
    if conditions.supply_v is not None and conditions.supply_v < limits.supply_low_v:
        findings.add("supply_low", supply_v=conditions.supply_v, limit_v=limits.supply_low_v)
    cold = conditions.fluid_degc
    if cold is not None and cold < limits.fluid_cold_degc:
        findings.add("fluid_cold", fluid_degc=cold, fluid_degf=cold * 1.8 + 32, limit_degc=limits.fluid_cold_degc)
    if profile.invented and conditions.kind != "virtual":
        findings.add("profile_invented", profile=profile.name)
    codes = {
        "missing": "calibration_missing",
        "overdue": "calibration_overdue",
        "of another fixture": "calibration_mismatched",
    }
    if conditions.calibration in codes:
        findings.add(codes[conditions.calibration])
    for beyond in conditions.beyond:
        findings.add(
            "calibration_exceeded",
            quantity=beyond.quantity,
            unit=beyond.unit,
            read_lowest=beyond.read[0],
            read_highest=beyond.read[1],
            calibrated_lowest=beyond.calibrated[0],
            calibrated_highest=beyond.calibrated[1],
        )


def watch_sensor(findings: Findings, samples: Samples, profile: Profile) -> None:
    """A pressure that no sensor in order reads."""
    pressure = samples.pressure_kpa[samples.step == SWEEP]
    if len(pressure) == 0:
        return
    middle = float(np.median(pressure))
    if middle < LEAST_REAL_KPA:
        findings.add("sensor_open", pressure_kpa=middle, limit_kpa=LEAST_REAL_KPA)
    if middle > profile.thresholds.sensor_highest_kpa:
        findings.add("sensor_shorted", pressure_kpa=middle, limit_kpa=profile.thresholds.sensor_highest_kpa)


def watch_response(
    findings: Findings, samples: Samples, sections: list[Section], baseline: Baseline, profile: Profile
) -> None:
    """Where the sweeps left the pressure flat: does the lever not move, or does the rod not move it?

    Without rows of the step `response` nobody can tell.
    """
    risen_kpa = response_kpa(samples, baseline)
    if risen_kpa is None:
        return
    travel_mm = max(float(np.ptp(section.smooth_mm)) for section in sections)
    shown = shows_response(samples, baseline, profile.thresholds.response_noise_ratio)
    findings.add("not_connected" if shown else "lever_stuck", travel_mm=travel_mm, risen_kpa=max(risen_kpa, 0.0))


def watch_rests(
    findings: Findings, rests: Rests, baseline: Baseline, profile: Profile, reference: Reference = "curb_idle"
) -> None:
    """The rest after hooking up, the rests between sweeps, and a pin, or a body's lever, that does not return."""
    limit = profile.thresholds.rest_shift_mm
    if reference == "lever_stop":
        # Nothing is hooked up: already the first rest shows whether the lever comes back to where zero was taken.
        if rests.first_mm is not None:
            rests = replace(rests, first_mm=None, later_mm=[rests.first_mm, *rests.later_mm])
    else:
        # A record that begins in motion has no rest before its first stroke; the first there is stands for it.
        hooked = rests.first_mm if rests.first_mm is not None else next(iter(rests.later_mm), None)
        if hooked is not None and abs(hooked) > limit:
            findings.add("rod_holds_throttle", shift_mm=hooked)
    if not rests.later_mm:
        return
    farthest = max(rests.later_mm, key=abs)
    # Where the rod holds the pin off its stop from the start, only what comes on top has not returned.
    short_of_mm = max(rests.later_mm) - max(rests.first_mm or 0.0, 0.0)
    if short_of_mm > profile.thresholds.not_returned_mm:
        findings.add("travel_not_returned", short_of_stop_mm=short_of_mm)
    if rests.first_kpa is not None:
        excess = max(rests.later_kpa) - rests.first_kpa
        if excess > profile.thresholds.not_returned_kpa:
            findings.add("pressure_not_returned", excess_kpa=excess, limit_kpa=profile.thresholds.not_returned_kpa)
    if abs(farthest) > limit:
        findings.add("idle_moved", shift_mm=farthest, limit_mm=limit)


def watch_binding(findings: Findings, halfway: Halfway | None, profile: Profile) -> None:
    """Opening and closing surely farther apart than a valve's friction, and the lag, can bring them."""
    if halfway is None:
        return
    limit = profile.thresholds.binding_mm
    if halfway.lag_s is None:
        limit += sum(halfway.lag_mm(direction, profile.thresholds.lag_max_s) for direction in DIRECTIONS)
    if halfway.apart_mm - halfway.reach_mm > limit:
        findings.add("linkage_binds", friction_mm=halfway.apart_mm, limit_mm=limit)


def watch_ramp(
    findings: Findings,
    ramp: Ramp,
    characteristics: list[Characteristic],
    rests: Rests,
    baseline: Baseline,
    profile: Profile,
    *,
    on_stop: bool,
) -> None:
    """Slope, full pressure, friction, idle pressure, and the lever start from stroke to stroke.

    on_stop: the opening begins with a flat, so that the lever is on its stop where the pin rests.
    """
    by_name = {c.name: c for c in characteristics}
    slope = by_name["slope"]
    if slope.decision in ("above", "below"):
        findings.add("slope_out_of_range", slope_kpa_per_mm=slope.value, limits=list(slope.limits))
    full = by_name["full_pressure"]
    if full.decision == "below":
        findings.add("full_pressure_low", full_pressure_kpa=full.value, limits_kpa=list(full.limits))
    friction = by_name["friction"].value
    held_mm = abs(friction or 0.0)
    if friction is not None and not ramp.lag_told:
        # Lag that was not told apart sits in it: only what is surely friction counts as too much of it.
        reach = by_name["friction"].expanded_uncertainty or 0.0
        held_mm = abs(friction) + reach
        friction = math.copysign(max(0.0, abs(friction) - reach), friction)
    tolerance = profile.limits.rod_short_mm + profile.limits.rod_long_mm
    if friction is None:
        findings.add("closings_missing", directions=list(ramp.directions))
    elif abs(friction) > tolerance / 2:
        findings.add("friction_high", friction_mm=friction, limit_mm=tolerance / 2)
    if on_stop:
        held_mm = UNKNOWN_FRICTION_MM if friction is None else held_mm
        _watch_level(findings, rests, baseline, ramp.slope_kpa_per_mm * held_mm / 2)
    elif rests.first_kpa is not None:
        excess = rests.first_kpa - baseline.level_kpa
        held = ramp.slope_kpa_per_mm * held_mm
        if excess > held + max(3.0, 3 * baseline.noise_kpa):
            findings.add("idle_pressure_high", excess_kpa=excess, friction_kpa=held)
    too_fast = sum((s.why_not or "").startswith("too fast") for s in ramp.strokes)
    if too_fast:
        findings.add("sweep_too_fast", strokes=too_fast, limit_mm_per_s=profile.thresholds.too_fast_mm_per_s)
    if not ramp.lag_told:
        findings.add("one_speed_only", speeds_mm_per_s=[ramp.speed_mm_per_s(d) for d in ramp.directions])
    elif ramp.lag_s > profile.thresholds.sluggish_s:
        findings.add("pressure_sluggish", lag_s=ramp.lag_s, limit_s=profile.thresholds.sluggish_s)
    ripple = float(np.sqrt(np.mean(np.concatenate(ramp.residual_kpa) ** 2)))
    if ripple > profile.thresholds.ripple_high_kpa:
        findings.add("ripple_high", ripple_kpa=ripple, limit_kpa=profile.thresholds.ripple_high_kpa)
    _watch_starts(findings, ramp, profile)


def _watch_level(findings: Findings, rests: Rests, baseline: Baseline, held_kpa: float) -> None:
    """With the lever on its stop only friction holds the pressure off the baseline: after a closing, above it."""
    if rests.later_kpa:
        shift_kpa, lowest_kpa = float(np.mean(rests.later_kpa)) - baseline.level_kpa, 0.0
    elif rests.first_kpa is not None:
        shift_kpa, lowest_kpa = rests.first_kpa - baseline.level_kpa, -held_kpa
    else:
        return
    margin_kpa = max(LEAST_SHIFT_KPA, 1.5 * baseline.noise_kpa)
    allowed = [lowest_kpa - margin_kpa, held_kpa + margin_kpa]
    if not allowed[0] <= shift_kpa <= allowed[1]:
        findings.add("baseline_changed", shift_kpa=shift_kpa, allowed_kpa=allowed)


def _watch_starts(findings: Findings, ramp: Ramp, profile: Profile) -> None:
    """A jump of the lever start between strokes, else its scatter; friction taken out by direction."""
    onsets = ramp.onsets()
    shifts = np.array(
        [s.onset_mm - onsets[s.span.direction] for s in ramp.strokes if s.used and s.onset_mm is not None]
    )
    if len(shifts) < 4:
        return
    jump, within = _largest_jump(shifts)
    if jump > profile.thresholds.start_jump_mm and jump > 4 * within:
        findings.add("start_jump", jump_mm=jump, scatter_mm=within)
    elif float(shifts.std(ddof=1)) > profile.thresholds.start_spread_mm:
        findings.add("start_scatter", spread_mm=float(shifts.std(ddof=1)))


def _largest_jump(shifts: np.ndarray) -> tuple[float, float]:
    """Return the step of the best split of the sequence in two levels, and the scatter about them."""
    best, best_cost = (0.0, np.inf), np.inf
    for i in range(1, len(shifts)):
        left, right = shifts[:i], shifts[i:]
        cost = float(((left - left.mean()) ** 2).sum() + ((right - right.mean()) ** 2).sum())
        if cost < best_cost:
            within = float(np.sqrt(cost / max(1, len(shifts) - 2)))
            best, best_cost = (abs(float(right.mean() - left.mean())), within), cost
    return best
