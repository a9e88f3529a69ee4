"""Closed-form shift points against a valve followed step by step up and down through the speeds."""

import pytest

from rodtrue.model.shifts import ShiftData
from rodtrue.shifts.governor import governor_pressure_kpa
from rodtrue.shifts.predict import RodErrorGiven, predict_shifts
from shifts.example_unit import changed, example, rows

STEP_KMH = 0.05


def throttle_kpa(data: ShiftData, lever_mm: float) -> float:
    """Throttle pressure written out once more, by cases."""
    t = data.throttle
    if lever_mm < 0:
        return t.baseline_kpa
    ramp = t.baseline_kpa + t.slope_kpa_per_mm * lever_mm
    level = ramp if ramp < t.plateau_kpa else t.plateau_kpa
    if lever_mm < t.detent_mm:
        return level
    steep = level + t.detent_slope_kpa_per_mm * (lever_mm - t.detent_mm)
    return steep if steep < t.full_kpa else t.full_kpa


def net_force_mn(data: ShiftData, in_third: bool, lever_mm: float, kmh: float) -> float:
    """Force towards third in mN (kPa mm2)."""
    v, p = data.valve, throttle_kpa(data, lever_mm)
    governor = governor_pressure_kpa(data.governor, kmh)
    if not in_third:
        return governor * v.governor_area_second_mm2 - p * v.throttle_area_mm2 - 1000 * v.spring_preload_n
    back = 1000 * (v.spring_preload_n + v.spring_rate_n_per_mm * v.stroke_mm)
    if p * v.part_throttle_area_mm2 > back:
        back = p * v.part_throttle_area_mm2
    if lever_mm >= data.throttle.detent_mm and p * v.kickdown_area_mm2 > back:
        back = p * v.kickdown_area_mm2
    return governor * v.governor_area_third_mm2 - back


def driven(data: ShiftData, lever_mm: float) -> tuple[float, float]:
    """Drive from rest to 150 km/h and back at a fixed lever; return where the valve went up and came back."""
    in_third, kmh, up, way = False, 0.0, None, STEP_KMH
    while kmh >= 0.0:
        force = net_force_mn(data, in_third, lever_mm, kmh)
        if not in_third and force > 0 and way > 0:
            in_third, up = True, kmh
        elif in_third and force < 0:
            assert way < 0, "came back while still gathering speed"
            return up, kmh
        if kmh > 150.0:
            way = -STEP_KMH
        kmh += way
    raise AssertionError("the valve did not go up and come back")


@pytest.mark.parametrize("rod_error_mm", [-6.0, -0.7, 0.0, 2.5, 9.0])
def test_closed_form_is_where_a_valve_followed_step_by_step_moves(rod_error_mm):
    profile = example()
    for row in predict_shifts(profile, RodErrorGiven(rod_error_mm)).openings:
        up, down = driven(profile.shifts, row.travel_mm + rod_error_mm)
        assert row.rod.upshift.kmh == pytest.approx(up, abs=2 * STEP_KMH)
        assert row.rod.downshift.kmh == pytest.approx(down, abs=2 * STEP_KMH)


def test_each_downshift_is_named_by_what_does_it_and_only_by_that():
    seen = set()
    for row in rows(0.0):
        point = row.exact
        seen.add(point.downshift_by)
        assert (point.part_throttle_downshift.kmh is not None) == (point.downshift_by == "part-throttle plug")
        assert (point.kickdown.kmh is not None) == (point.downshift_by == "kickdown plug")
        for speed in (point.part_throttle_downshift, point.kickdown):
            assert (speed.kmh is None) == (speed.why_not is not None)
            assert speed.kmh in (None, point.downshift.kmh)
    assert seen == {"spring", "part-throttle plug", "kickdown plug"}


def test_lever_free_travel_delays_the_rise_by_itself():
    free = changed(("free_mm = 0.0", "free_mm = 2.0"))
    with_free = predict_shifts(free, None, [0.5]).openings[0].exact
    short_by_as_much = predict_shifts(example(), RodErrorGiven(-2.0), [0.5]).openings[0].rod
    assert with_free.upshift.kmh == pytest.approx(short_by_as_much.upshift.kmh, rel=1e-12)


def test_unit_whose_governor_is_too_weak_to_shift_at_wide_open_says_so():
    weak = changed(("shaft_rpm = [0.0, 925.0, 3780.0]", "shaft_rpm = [0.0, 925.0, 2700.0]"),
                   ("pressure_kpa = [0.0, 150.0, 620.0]", "pressure_kpa = [0.0, 150.0, 360.0]"))  # fmt: skip
    closed, wide = (predict_shifts(weak, None, [opening]).openings[0].exact for opening in (0.0, 1.0))
    assert closed.upshift.kmh is not None and closed.upshift.why_not is None
    assert wide.upshift.kmh is None and wide.upshift.mph is None
    assert "no speed of the governor curve" in wide.upshift.why_not
    assert "mph" in wide.upshift.why_not and "km/h" in wide.upshift.why_not and "psi" in wide.upshift.why_not


def test_unit_whose_kickdown_never_ends_on_the_governor_curve_says_so():
    weak = changed(("shaft_rpm = [0.0, 925.0, 3780.0]", "shaft_rpm = [0.0, 925.0, 2700.0]"),
                   ("pressure_kpa = [0.0, 150.0, 620.0]", "pressure_kpa = [0.0, 150.0, 320.0]"))  # fmt: skip
    ends = predict_shifts(weak).kickdown_ends.exact
    assert ends.kmh is None and "every speed of the governor curve" in ends.why_not


@pytest.mark.parametrize("rod_error_mm", [-3.0, 0.2, 4.0])
def test_interval_of_the_rod_error_is_that_of_the_speeds(rod_error_mm):
    ends = (rod_error_mm - 0.4, rod_error_mm + 0.4)
    middle = predict_shifts(example(), RodErrorGiven(rod_error_mm, ends)).openings
    low, high = (predict_shifts(example(), RodErrorGiven(end)).openings for end in ends)
    wider = 0
    for row, below, above in zip(middle, low, high, strict=True):
        reach = row.intervals.upshift.kmh
        assert reach == (below.rod.upshift.kmh, above.rod.upshift.kmh)
        assert reach[0] <= row.rod.upshift.kmh <= reach[1]
        assert row.intervals.kickdown.mph == (below.rod.kickdown.mph, above.rod.kickdown.mph)
        wider += reach[1] > reach[0]
    assert wider >= 6
