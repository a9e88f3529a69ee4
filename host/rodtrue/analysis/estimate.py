"""The lever start from the pooled ramp, with its budget: what the decision and the body's check stand on."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from rodtrue.analysis.budget import (
    FREE_TRAVEL_ROW,
    UNKNOWN_FRICTION_MM,
    Combined,
    Measured,
    combine,
    expanded,
    rod_error_budget,
)
from rodtrue.analysis.decision import coverage_factor
from rodtrue.analysis.interval import Spread, start_spread
from rodtrue.analysis.linkage_bend import start_shift_mm
from rodtrue.analysis.ramp import Direction, Ramp
from rodtrue.analysis.reference import Baseline, Rests
from rodtrue.model.conditions import Conditions
from rodtrue.model.profile import Profile
from rodtrue.model.result import BudgetRow, RodError, Statistical


@dataclass(frozen=True)
class Estimate:
    """The lever start in mm (negative: the lever has left its stop already at the reference) and its budget.

    friction_mm: opening onset less closing onset, None with one direction. reach_mm: expanded uncertainty at
    `probability`.
    """

    start_mm: float
    onsets_mm: dict[Direction, float]
    friction_mm: float | None
    spread: Spread
    rows: list[BudgetRow]
    combined: Combined
    reach_mm: float
    factor: float
    probability: float

    def rod_error(self, limits_mm: tuple[float, float]) -> RodError:
        """Return the rod error, minus the lever start, as it stands in a result."""
        value = -self.start_mm
        u, freedom = self.spread.standard_uncertainty_mm, self.spread.degrees_of_freedom
        statistical = coverage_factor(self.probability, freedom) * u if freedom > 0 else math.inf
        return RodError(
            value_mm=value,
            limits_mm=limits_mm,
            expanded_uncertainty_mm=self.reach_mm,
            standard_uncertainty_mm=self.combined.standard_uncertainty_mm,
            coverage_factor=self.factor,
            coverage_probability=self.probability,
            degrees_of_freedom=self.combined.degrees_of_freedom,
            interval_mm=(value - self.reach_mm, value + self.reach_mm),
            statistical=Statistical(u, freedom, (value - statistical, value + statistical)),
        )

    def free_travel_mm(self, profile: Profile) -> tuple[float, float]:
        """Return the lever's free travel and its expanded uncertainty, for a run against the lever's own stop.

        Travel is then counted from that stop, so the middle of the onsets is the free travel itself; the
        profile's own value and its row have no part in it.
        """
        rows = [row for row in self.rows if row.name != FREE_TRAVEL_ROW]
        return self.start_mm + profile.lever.free_mm, expanded(combine(rows), self.probability)[0]


def estimate(
    ramp: Ramp,
    period_s: float,
    travel_step_mm: float,
    baseline: Baseline,
    rests: Rests,
    profile: Profile,
    conditions: Conditions,
    probability: float,
) -> Estimate:
    """Return the lever start with its budget, for this coverage probability."""
    onsets = ramp.onsets()
    friction = onsets["opening"] - onsets["closing"] if len(onsets) == 2 else None
    start = ramp.middle() - profile.lever.free_mm
    if friction is None:
        start += -UNKNOWN_FRICTION_MM / 4 if "opening" in onsets else UNKNOWN_FRICTION_MM / 4
    # Against the lever's own stop no rod of the profile moves it.
    shift = start_shift_mm(profile, ramp, start) if conditions.reference == "curb_idle" else 0.0
    start, onsets = start - shift, {direction: onset - shift for direction, onset in onsets.items()}
    spread = start_spread(ramp, period_s, travel_step_mm)
    rows = rod_error_budget(_measured(ramp, start, friction, shift), spread, baseline, rests, profile, conditions)
    combined = combine(rows)
    if spread.degrees_of_freedom < 1:
        # Nothing was seen of the scatter: the interval must not look as if it were known.
        combined = replace(combined, degrees_of_freedom=1.0)
    reach, factor = expanded(combined, probability)
    return Estimate(start, onsets, friction, spread, rows, combined, reach, factor, probability)


def _measured(ramp: Ramp, start: float, friction: float | None, linkage_shift: float) -> Measured:
    """Return what the budget needs of the fit."""
    windows = [ramp.windows[d] for d in ramp.directions]
    lower = float(np.mean([w.lower_mm for w in windows]))
    speeds: dict[Direction, float] = {d: ramp.speed_mm_per_s(d) or 0.0 for d in ramp.directions}
    unequal = speeds["opening"] - speeds["closing"] if len(speeds) == 2 else None
    return Measured(
        lever_start_mm=start,
        slope_kpa_per_mm=ramp.slope_kpa_per_mm,
        friction_mm=friction,
        extrapolated_mm=max(0.0, lower - ramp.middle()),
        window_mm=float(np.mean([w.upper_mm - w.lower_mm for w in windows])),
        bend_shift_mm=ramp.bend_shift_mm,
        linkage_shift_mm=linkage_shift,
        lag_told=ramp.lag_told,
        unequal_speed_mm_per_s=unequal,
        speed_mm_per_s=max(speeds.values()),
    )
