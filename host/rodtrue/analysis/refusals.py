"""What the data cannot say, each with its reason: sensors, travel, and pressure that never rises."""

from __future__ import annotations

import numpy as np

from rodtrue.analysis.halfway import Halfway
from rodtrue.analysis.knots import RampPlace
from rodtrue.analysis.ramp import DIRECTIONS, Direction, pooled_bins
from rodtrue.analysis.reference import Baseline
from rodtrue.analysis.strokes import REVERSAL_MM, Section, Span
from rodtrue.model.both_units import length, pressure
from rodtrue.model.profile import Profile
from rodtrue.model.samples import BASELINE, STEPS, SWEEP, Samples

LEAST_REAL_KPA = -60.0
"""Below this no gauge pressure is real: a live-zero sensor that is unplugged reads far below zero."""
END_BINS = 0.06


def refuse_samples(samples: Samples, profile: Profile) -> str | None:
    """Return why the samples as a whole cannot be judged, None if they can."""
    sweep = samples.step == SWEEP
    if not sweep.any():
        return f"no sweep: no sample has the step {STEPS[SWEEP]!r}"
    pressure_kpa = samples.pressure_kpa[sweep]
    middle_kpa = float(np.median(pressure_kpa))
    reads = f"the pressure reads {pressure(middle_kpa)}"
    if middle_kpa < LEAST_REAL_KPA:
        return f"{reads}, which no gauge pressure can be: the sensor is unplugged or its wire is open"
    if middle_kpa > profile.thresholds.sensor_highest_kpa:
        return f"{reads}, above the sensor's range: it or its wire is shorted"
    if np.ptp(pressure_kpa) == 0 and (np.ptp(samples.pressure_kpa) == 0 or _is_noisy(samples)):
        return f"{reads} throughout the sweeps: the sensor or its wire is at a rail"
    if np.ptp(samples.travel_mm[sweep]) == 0:
        where = length(float(samples.travel_mm[sweep][0]))
        return f"the travel reads {where} throughout: the pin or the sensor did not move"
    return None


def refuse_travel(sections: list[Section], spans: list[Span]) -> str | None:
    """Return why the travel holds no strokes, None if it does."""
    if not sections:
        return "the sweeps hold too few samples in a row"
    span = max(float(np.ptp(section.smooth_mm)) for section in sections)
    if span < REVERSAL_MM:
        return f"the travel never moves by more than {length(span)}: the pin or the sensor did not move"
    return None if spans else "no opening or closing was found in the travel"


def rises(sections: list[Section], spans: list[Span], baseline: Baseline, profile: Profile) -> bool:
    """Whether pressure changes with travel by more than the noise can feign, up or down."""
    return abs(_change_kpa(sections, spans)) >= noticeable_kpa(baseline, profile)


def refuse_flat(sections: list[Section], spans: list[Span], baseline: Baseline, profile: Profile) -> str | None:
    """Return why a pressure that never rises does not mean a short rod, None if it may."""
    bins = pooled_bins(sections, spans, "opening") or pooled_bins(sections, spans, "closing")
    excess = 0.0 if bins is None else float(np.median(bins.pressure_kpa)) - baseline.level_kpa
    if excess >= noticeable_kpa(baseline, profile):
        return (
            f"the pressure stays {pressure(excess)} above the baseline whatever the travel: "
            "the lever or the valve does not move, or supply pressure has run out"
        )
    return None


def refuse_standing(
    places: dict[Direction, RampPlace], halfway: Halfway | None, baseline: Baseline, profile: Profile
) -> str | None:
    """Return why no ramp can be carried back to the baseline, None if it can. places: from `locate_ramps`.

    A rod that is long begins on the ramp, where pressure stands still for no longer than the valve's friction and
    the lag hold it. Where it stands longer above the baseline, the lever was held off its stop, the baseline is no
    longer the one that was taken, or the ramp already lies below the travel.
    """
    direction = next((d for d in DIRECTIONS if d in places), None)
    if direction is None:
        return None
    place = places[direction]
    lag_mm = 0.0 if halfway is None else halfway.lag_mm(direction, profile.thresholds.lag_max_s)
    if place.stands_mm - lag_mm <= profile.thresholds.binding_mm:
        return None
    excess = pressure(place.stands_kpa - baseline.level_kpa)
    return (
        f"the pressure stands still {excess} above the baseline over the first {length(place.stands_mm)} of travel: "
        "the lever was held off its stop, the baseline has changed, or the supply gives no more; see to these, then "
        "measure again from the baseline on"
    )


def falls_as_travel_rises(sections: list[Section], spans: list[Span], baseline: Baseline, profile: Profile) -> bool:
    """Whether pressure falls while travel rises: a sensor the other way round."""
    return _change_kpa(sections, spans) <= -noticeable_kpa(baseline, profile)


def noticeable_kpa(baseline: Baseline, profile: Profile) -> float:
    """Return a change of pressure in kPa that the noise of the baseline cannot feign."""
    return max(profile.thresholds.response_noise_ratio * baseline.noise_kpa, 0.5)


def _change_kpa(sections: list[Section], spans: list[Span]) -> float:
    """Return pressure at the far end of travel less that at the near end, the largest of the directions."""
    changes = []
    for direction in DIRECTIONS:
        bins = pooled_bins(sections, spans, direction)
        if bins is not None:
            count = max(2, int(END_BINS * len(bins.n)))
            changes.append(float(bins.pressure_kpa[-count:].mean() - bins.pressure_kpa[:count].mean()))
    return max(changes, key=abs) if changes else 0.0


def _is_noisy(samples: Samples) -> bool:
    """Whether the baseline shows a sensor's noise, so that a sweep without any is a sensor at a rail."""
    baseline = samples.pressure_kpa[samples.step == BASELINE]
    return len(baseline) > 2 and float(np.median(np.abs(np.diff(baseline)))) > 0
