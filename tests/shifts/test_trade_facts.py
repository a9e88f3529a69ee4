"""What the trade says of rods and shifts. Every fact here is common practice, no source."""

import itertools

import pytest

from rodtrue.model.units import kmh_to_mph
from rodtrue.shifts.points import Unit, shift_point
from rodtrue.shifts.predict import RodErrorGiven, predict_shifts
from rodtrue.shifts.throttle import pressure_at_lever_kpa
from shifts.example_unit import example, rows

ERRORS_MM = [-15.0, -6.0, -1.0, -0.3, 0.3, 1.0, 5.0, 12.0]
PROFILE = example()
DATA = PROFILE.shifts


def upshifts(rod_error_mm: float) -> list[float]:
    return [row.rod.upshift.kmh for row in rows(rod_error_mm)]


@pytest.mark.parametrize("rod_error_mm", [error for error in ERRORS_MM if error > 0])
def test_long_rod_shifts_up_later_at_every_opening_where_pressure_rises_and_nowhere_earlier(rod_error_mm):
    later = 0
    for row in rows(rod_error_mm):
        assert row.upshift_change.kmh >= 0.0
        if row.exact.throttle_pressure_kpa < DATA.throttle.plateau_kpa:
            assert row.upshift_change.kmh > 0.0
            later += 1
    assert later > 200


@pytest.mark.parametrize("rod_error_mm", [error for error in ERRORS_MM if error < 0])
def test_short_rod_shifts_up_earlier_at_every_opening_past_idle_where_pressure_rises_and_nowhere_later(rod_error_mm):
    earlier = 0
    for row in rows(rod_error_mm):
        assert row.upshift_change.kmh <= 0.0
        if row.travel_mm > 0.0 and row.exact.throttle_pressure_kpa < DATA.throttle.plateau_kpa:
            assert row.upshift_change.kmh < 0.0
            earlier += 1
    assert earlier > 200


@pytest.mark.parametrize("rod_error_mm", [0.0, *ERRORS_MM])
def test_upshift_and_downshift_speeds_never_fall_with_opening(rod_error_mm):
    points = [row.rod for row in rows(rod_error_mm)]
    for before, after in itertools.pairwise(points):
        assert after.upshift.kmh >= before.upshift.kmh
        assert after.downshift.kmh >= before.downshift.kmh
    assert points[-1].upshift.kmh > points[0].upshift.kmh + 10


def test_upshift_speeds_never_fall_with_rod_length():
    for shorter, longer in itertools.pairwise(ERRORS_MM):
        assert all(a <= b for a, b in zip(upshifts(shorter), upshifts(longer), strict=True))


@pytest.mark.parametrize("rod_error_mm", [0.0, *ERRORS_MM])
def test_valve_stays_up_at_the_speed_it_went_up_at(rod_error_mm):
    assert all(row.rod.downshift.kmh < row.rod.upshift.kmh - 1.0 for row in rows(rod_error_mm))


def test_part_throttle_downshift_happens_only_below_about_40_mph():
    speeds = [row.exact.part_throttle_downshift.mph for row in rows(0.0) if row.exact.part_throttle_downshift.mph]
    assert len(speeds) > 200
    assert 38.0 < max(speeds) < 42.0
    assert predict_shifts(PROFILE).part_throttle_ends.exact.mph == pytest.approx(max(speeds), rel=1e-12)


def test_part_throttle_downshift_is_forced_earlier_in_travel_by_a_long_rod():
    def least_opening(rod_error_mm: float) -> float:
        """The least opening that shifts down at 30 mph in third."""
        return next(row.opening for row in rows(rod_error_mm) if row.rod.downshift.mph > 30.0)

    assert least_opening(3.0) < least_opening(0.0) < least_opening(-3.0)


def test_kickdown_reaches_higher_than_part_throttle_and_needs_the_detent():
    prediction = predict_shifts(PROFILE)
    assert prediction.kickdown_ends.exact.mph > prediction.part_throttle_ends.exact.mph + 10
    for row in rows(0.0):
        assert (row.exact.kickdown.kmh is not None) == (row.travel_mm >= DATA.throttle.detent_mm)


def test_no_kickdown_above_a_speed_whatever_the_pressure_the_detent_gives():
    """Above that speed even the full pressure on the kickdown plug is outweighed by the governor plug."""
    end_kmh = predict_shifts(PROFILE).kickdown_ends.exact.kmh
    assert 50 < kmh_to_mph(end_kmh) < 65
    assert DATA.valve.governor_area_third_mm2 > DATA.valve.kickdown_area_mm2
    for error in (0.0, *ERRORS_MM):
        assert all((row.rod.kickdown.kmh or 0.0) <= end_kmh + 1e-9 for row in rows(error))
    unit = Unit(DATA)
    assert pressure_at_lever_kpa(DATA.throttle, 200.0) == DATA.throttle.full_kpa
    assert shift_point(unit, 200.0, 0.0).downshift.kmh == pytest.approx(end_kmh)


def test_rod_so_short_that_wide_open_misses_the_detent_has_no_kickdown():
    margin_mm = DATA.throttle.wide_open_mm - DATA.throttle.detent_mm
    reached = predict_shifts(PROFILE, RodErrorGiven(0.01 - margin_mm)).kickdown_ends.rod
    missed = predict_shifts(PROFILE, RodErrorGiven(-0.01 - margin_mm)).kickdown_ends.rod
    assert reached.kmh is not None
    assert missed.kmh is None and "does not reach the kickdown detent" in missed.why_not


def test_coast_downshift_does_not_depend_on_the_rod():
    closed = {round(rows(error)[0].rod.downshift.kmh, 9) for error in (-12.0, -3.0, 0.0, 1.0, 3.0)}
    assert len(closed) == 1
    assert 10 < kmh_to_mph(closed.pop()) < 18
