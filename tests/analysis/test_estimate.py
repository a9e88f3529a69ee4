"""From a ramp to the lever start, the rod error and its intervals, worked out by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest

from analysis.made_up_ramp import BASELINE_KPA, SLOPE, columns_of, pairs, ramp_of
from rodtrue.analysis.estimate import Estimate, estimate
from rodtrue.analysis.interval import jackknife, start_spread
from rodtrue.analysis.ramp import Ramp, Window
from rodtrue.analysis.reference import Baseline, Rests
from rodtrue.model.conditions import Conditions
from rodtrue.profiles import load_profile

PROFILE = load_profile("example-direct")
STILL = Rests(0.0, 25.0, [0.0], [25.0])
QUIET = Baseline(BASELINE_KPA, [BASELINE_KPA], 0.5)
OPENINGS, CLOSINGS = [3.1, 3.3, 3.2], [2.9, 2.7, 2.8]


def measured(**changes: object) -> Ramp:
    """Return a ramp whose residuals are its strokes' shifts, so that each estimate has something to see."""
    strokes = pairs(OPENINGS, CLOSINGS)
    mean = {"opening": 3.2, "closing": 2.8}
    columns = [columns_of(s.span.direction) for s in strokes]
    residual = [np.full(3, SLOPE * (mean[s.span.direction] - s.onset_mm)) for s in strokes]
    return ramp_of(strokes, columns=columns, residual_kpa=residual, **changes)


def estimated(ramp: Ramp | None = None, profile=PROFILE, probability: float = 0.95, **conditions) -> Estimate:
    ramp = ramp or measured()
    return estimate(ramp, 0.002, 0.024, QUIET, STILL, profile, Conditions(**conditions), probability)


def test_the_lever_start_is_the_middle_of_the_onsets_less_the_free_travel_and_the_rod_error_its_negative():
    found = estimated()
    assert found.onsets_mm == pytest.approx({"opening": 3.2, "closing": 2.8})
    assert (found.start_mm, found.friction_mm) == (pytest.approx(3.0), pytest.approx(0.4))
    free = replace(PROFILE, lever=replace(PROFILE.lever, free_mm=0.8, free_half_width_mm=0.3))
    less = estimated(profile=free)
    assert less.start_mm == pytest.approx(2.2)
    error = less.rod_error((-0.5, 1.0))
    assert error.value_mm == pytest.approx(-2.2)
    assert error.interval_mm == pytest.approx((-2.2 - less.reach_mm, -2.2 + less.reach_mm))
    assert error.expanded_uncertainty_mm == pytest.approx(error.coverage_factor * error.standard_uncertainty_mm)
    # Against the lever's own stop the middle of the onsets is the free travel; the profile's width has no part in it.
    travel, reach = less.free_travel_mm(free)
    assert travel == pytest.approx(3.0)
    assert reach < less.reach_mm


def test_the_statistical_interval_is_students_with_the_strokes_own_degrees_of_freedom():
    found = estimated()
    statistical = found.rod_error((-0.5, 1.0)).statistical
    assert statistical is not None
    assert statistical.degrees_of_freedom == found.spread.degrees_of_freedom == 3
    half = 3.182446 * found.spread.standard_uncertainty_mm  # t(0.975, 3), NIST/SEMATECH e-Handbook
    assert statistical.interval_mm == pytest.approx((-3.0 - half, -3.0 + half), rel=1e-5)


@pytest.mark.parametrize(("freedom", "factor"), [(1, 12.7062), (0, math.inf)])
def test_one_degree_of_freedom_gives_a_wide_statistical_interval_and_none_an_endless_one(freedom, factor):
    found = estimated()
    few = replace(found, spread=replace(found.spread, degrees_of_freedom=freedom))
    statistical = few.rod_error((-0.5, 1.0)).statistical
    assert statistical is not None
    half = factor * found.spread.standard_uncertainty_mm  # t(0.975, 1), NIST/SEMATECH e-Handbook
    assert statistical.interval_mm == pytest.approx((-3.0 - half, -3.0 + half), rel=1e-5)


def test_with_one_direction_the_start_lies_a_quarter_of_the_unknown_friction_inside_and_says_so():
    base = measured()
    for direction, start in (("opening", 3.2 - 0.25), ("closing", 2.8 + 0.25)):
        strokes = [s for s in base.strokes if s.span.direction == direction]
        at = 0 if direction == "opening" else 1
        keep = [at, 2]
        ramp = replace(
            base, directions=(direction,), strokes=strokes, coefficients=base.coefficients[keep],
            windows={direction: base.windows[direction]}, residual_kpa=base.residual_kpa[at::2],
            columns=[columns[:, keep] for columns in base.columns[at::2]],
        )  # fmt: skip
        for one in strokes:
            one.gram, one.moment = one.gram[np.ix_(keep, keep)], one.moment[keep]
        found = estimated(ramp)
        assert found.friction_mm is None
        assert found.start_mm == pytest.approx(start)
        assert "friction unknown" in {row.name for row in found.rows}


def test_what_is_carried_back_is_from_the_window_to_the_middle_of_the_onsets():
    windows = {"opening": Window(6.0, 12.0, 3.2), "closing": Window(4.0, 14.0, 2.8)}
    rows = {row.name: row for row in estimated(measured(windows=windows, bend_shift_mm=None)).rows}
    # Mean lower end 5, mean width 8, onset 3: an unseen bend of 0.05 kPa/mm^2 carried back 2 mm.
    assert rows["ramp bend"].half_width == pytest.approx(0.05 * 2.0 * (2.0 + 8.0) / SLOPE)


def test_no_lag_told_counts_by_the_difference_of_the_mean_speeds():
    ramp = measured(lag_told=False)
    for one in ramp.strokes:
        one.speed_mm_per_s = 30.0 if one.span.direction == "opening" else 20.0
    rows = {row.name: row for row in estimated(ramp).rows}
    assert rows["lag not told apart"].half_width == pytest.approx(PROFILE.thresholds.lag_max_s * 10.0 / 2)


def test_the_spread_is_the_largest_of_its_four_estimates():
    ramp = measured()
    spread = start_spread(ramp, 0.002, 0.024)
    assert spread.standard_uncertainty_mm >= jackknife(ramp) > 0
    coarse = start_spread(ramp, 0.002, 24.0)
    assert (coarse.of, coarse.degrees_of_freedom) == ("resolution", 3)
    assert coarse.standard_uncertainty_mm == pytest.approx(24 / math.sqrt(12))


def test_sweeps_that_wander_together_count_as_sweeps_with_a_degree_less_than_there_are():
    strokes = pairs([3.0, 3.4, 3.2, 3.3], [2.8, 3.2, 3.0, 3.1])  # an opening and its closing shift alike
    ramp = ramp_of(strokes)
    by_sweep = jackknife(ramp, by_sweep=True)
    # Four sweeps' means: 2.9, 3.3, 3.1, 3.2; their standard error.
    assert by_sweep == pytest.approx(np.std([2.9, 3.3, 3.1, 3.2], ddof=1) / 2)
    assert by_sweep > jackknife(ramp)
    spread = start_spread(replace(ramp, columns=[np.zeros((3, 3))] * 8), 0.002, 0.001)
    assert (spread.of, spread.degrees_of_freedom) == ("sweeps", 3)
