"""Each row of the rod error's budget worked out by hand from what it stands for (GUM: rectangular a / sqrt(3))."""

import math
from dataclasses import replace

import pytest

from rodtrue.analysis.budget import Measured, rod_error_budget, travel_rows, with_instrument
from rodtrue.analysis.interval import Spread
from rodtrue.analysis.reference import Baseline, Rests
from rodtrue.model.conditions import Conditions
from rodtrue.model.instrument import InstrumentTerms
from rodtrue.model.result import BudgetRow
from rodtrue.profiles import load_profile

PROFILE = load_profile("example-direct")
STILL = Rests(0.0, 25.0, [0.0], [25.0])
SPREAD = Spread(0.01, 9, "strokes")
ONE_APPROACH = Baseline(25.0, [25.0], 0.5)
MEASURED = Measured(
    lever_start_mm=3.0,
    slope_kpa_per_mm=10.0,
    friction_mm=0.4,
    extrapolated_mm=2.0,
    window_mm=9.0,
    bend_shift_mm=-0.06,
    linkage_shift_mm=0.0,
    lag_told=True,
    unequal_speed_mm_per_s=4.0,
    speed_mm_per_s=20.0,
)
TERMS = InstrumentTerms("calibration", 0.001, 0.02, 6.0, 0.07, 0.03, 0.004, 0.9, 0.3)


def rows(measured: Measured = MEASURED, baseline: Baseline = ONE_APPROACH, **conditions) -> dict[str, BudgetRow]:
    profile = with_instrument(PROFILE, conditions.get("instrument"))
    found = rod_error_budget(measured, SPREAD, baseline, STILL, profile, Conditions(**conditions))
    for row in found:
        assert row.standard_uncertainty_mm == pytest.approx(row.half_width / row.divisor * row.sensitivity)
        if row.unit == "mm":
            assert row.sensitivity == 1.0
        if row.distribution == "rectangular":
            assert row.divisor == pytest.approx(math.sqrt(3)) and row.degrees_of_freedom is None
    return {row.name: row for row in found}


def test_the_rows_of_a_plain_run_and_no_other():
    assert list(rows()) == [
        "stroke to stroke", "rests", "travel nonlinearity", "travel scale", "axis and arc", "baseline since its step",
        "friction asymmetry", "ramp bend",
    ]  # fmt: skip


def test_the_statistical_row_is_the_spread_with_its_degrees_of_freedom():
    row = rows()["stroke to stroke"]
    assert (row.standard_uncertainty_mm, row.degrees_of_freedom, row.distribution) == (0.01, 9, "t")
    assert "strokes" in row.note


def test_pressures_count_by_the_slope():
    drift = rows()["baseline since its step"]
    assert (drift.half_width, drift.sensitivity) == (0.5, pytest.approx(0.1))
    approaches = rows(baseline=Baseline(25.0, [24.0, 25.0, 26.0], 0.5))["baseline approaches"]
    assert approaches.half_width == pytest.approx(1 / math.sqrt(3))
    assert approaches.standard_uncertainty_mm == pytest.approx(0.1 / math.sqrt(3))
    assert approaches.degrees_of_freedom == 2


@pytest.mark.parametrize(("friction_mm", "name", "half"), [
    (0.4, "friction asymmetry", 0.1), (-0.4, "friction asymmetry", 0.1), (1.0, "friction asymmetry", 0.25),
    (1.6, "friction asymmetry", 0.55), (None, "friction unknown", 0.25),
])  # fmt: skip
def test_friction_counts_by_a_quarter_and_what_no_valve_has_by_half(friction_mm, name, half):
    assert rows(replace(MEASURED, friction_mm=friction_mm))[name].half_width == pytest.approx(half)


def test_half_of_a_bend_seen_counts_and_a_bend_unseen_by_how_far_it_is_carried_back():
    assert rows()["ramp bend"].half_width == pytest.approx(0.03)
    unseen = replace(MEASURED, bend_shift_mm=None)
    # A bend of 0.05 kPa/mm^2 carried back by d from a window w: 0.05 d (d + w) / slope.
    assert rows(unseen)["ramp bend"].half_width == pytest.approx(0.05 * 2.0 * (2.0 + 9.0) / 10.0)


def test_half_of_what_was_taken_out_for_the_linkage_stays():
    assert rows(replace(MEASURED, linkage_shift_mm=-0.2))["linkage bend"].half_width == pytest.approx(0.1)


def test_a_lag_not_told_apart_counts_by_unequal_speeds_or_for_one_direction_by_its_own():
    # lag_max 0.03 s: half of 0.03 x 4 mm/s for the middle of both, 0.03 x 20 mm/s for one onset.
    for unequal in (4.0, -4.0):
        untold = replace(MEASURED, lag_told=False, unequal_speed_mm_per_s=unequal)
        assert rows(untold)["lag not told apart"].half_width == pytest.approx(0.06)
    one = replace(MEASURED, lag_told=False, unequal_speed_mm_per_s=None)
    assert rows(one)["lag not told apart"].half_width == pytest.approx(0.6)


def test_the_levers_free_travel_has_a_row_where_the_profile_gives_it_a_width():
    profile = replace(PROFILE, lever=replace(PROFILE.lever, free_half_width_mm=0.3))
    found = {r.name: r for r in rod_error_budget(MEASURED, SPREAD, ONE_APPROACH, STILL, profile, Conditions())}
    assert found["lever free travel"].half_width == 0.3


def test_a_calibration_takes_the_place_of_the_profiles_half_widths_and_says_so():
    found = rows(instrument=TERMS)
    assert found["travel scale"].half_width == 0.001
    assert found["travel nonlinearity"].half_width == 0.02
    assert found["joint and converter"].half_width == 0.03
    assert found["pressure nonlinearity"].half_width == 0.3
    assert found["pressure nonlinearity"].sensitivity == pytest.approx(0.1)
    assert found["axis and arc"].half_width == 0.002, "the mounting stays the profile's"
    assert all("from the calibration" in found[name].note for name in ("travel scale", "pressure nonlinearity"))
    far = rows(replace(MEASURED, lever_start_mm=-6.1), instrument=TERMS)
    assert far["travel nonlinearity"].half_width == 0.07
    assert far["travel scale"].sensitivity == pytest.approx(6.1)
    part = with_instrument(PROFILE, TERMS).instrument
    assert (part.pressure_gain, part.pressure_offset_kpa) == (0.004, 0.9)
    assert with_instrument(PROFILE, None) is PROFILE


@pytest.mark.parametrize(("rests", "half"), [
    (Rests(None, None, [0.3], [25.0]), 0.02),
    (Rests(0.1, 25.0, [], []), 0.02),
    (Rests(-0.1, 25.0, [0.1], [25.0]), 0.1),
    (Rests(None, None, [0.0, 0.1], [25.0, 25.0]), 0.05),
])  # fmt: skip
def test_rests_count_by_half_their_range(rests, half):
    (row,) = [r for r in travel_rows(1.0, rests, PROFILE, Conditions()) if r.name == "rests"]
    assert row.half_width == pytest.approx(half)
