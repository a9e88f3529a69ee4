"""What the trade says of rods and shifts, for the unit of each layout. Common practice, no source, every fact."""

import itertools

import pytest

from rodtrue.linkage import RODS, linkage_of
from rodtrue.model.profile import Profile
from rodtrue.model.units import kmh_to_mph
from rodtrue.profiles import load_profile
from rodtrue.shifts.effect import expected_effect
from rodtrue.shifts.points import Unit, shift_point
from rodtrue.shifts.predict import RodErrorGiven, predict_shifts
from rodtrue.shifts.throttle import pressure_at_lever_kpa
from rodtrue.virtual.scenario import scenario_for
from shifts.example_unit import rows

ERRORS_MM = [-15.0, -6.0, -1.0, -0.3, 0.3, 1.0, 5.0, 12.0]


@pytest.fixture(params=RODS)
def profile(request: pytest.FixtureRequest) -> Profile:
    return load_profile(f"example-{request.param}")


def upshifts(rod_error_mm: float, profile: Profile) -> list[float]:
    return [row.rod.upshift.kmh for row in rows(rod_error_mm, profile)]


def test_unit_of_every_layout_is_invented_and_tells_the_expected_effect(profile):
    assert profile.invented
    long, short = expected_effect(profile, 3.0), expected_effect(profile, -3.0)
    assert "later" in long.sentence and "earlier" not in long.sentence
    assert "earlier" in short.sentence and "later" not in short.sentence


def test_detent_lies_where_the_virtual_unit_has_it(profile):
    """Through the linkage: the lever's travel at the detent, brought back to the pin."""
    lever_mm = scenario_for(profile).linkage.detent_mm
    pin_mm = linkage_of(profile).pin_travel_at_lever_mm(lever_mm)
    assert profile.shifts.throttle.detent_mm == pytest.approx(pin_mm, abs=0.06)


@pytest.mark.parametrize("rod_error_mm", [error for error in ERRORS_MM if error > 0])
def test_long_rod_shifts_up_later_at_every_opening_where_pressure_rises_and_nowhere_earlier(rod_error_mm, profile):
    later = 0
    for row in rows(rod_error_mm, profile):
        assert row.upshift_change.kmh >= 0.0
        if row.exact.throttle_pressure_kpa < profile.shifts.throttle.plateau_kpa:
            assert row.upshift_change.kmh > 0.0
            later += 1
    assert later > 200


@pytest.mark.parametrize("rod_error_mm", [error for error in ERRORS_MM if error < 0])
def test_short_rod_shifts_up_earlier_past_idle_wherever_pressure_rises_and_nowhere_later(rod_error_mm, profile):
    earlier = 0
    for row in rows(rod_error_mm, profile):
        assert row.upshift_change.kmh <= 0.0
        if row.travel_mm > 0.0 and row.exact.throttle_pressure_kpa < profile.shifts.throttle.plateau_kpa:
            assert row.upshift_change.kmh < 0.0
            earlier += 1
    assert earlier > 200


@pytest.mark.parametrize("rod_error_mm", [0.0, *ERRORS_MM])
def test_upshift_and_downshift_speeds_never_fall_with_opening(rod_error_mm, profile):
    points = [row.rod for row in rows(rod_error_mm, profile)]
    for before, after in itertools.pairwise(points):
        assert after.upshift.kmh >= before.upshift.kmh
        assert after.downshift.kmh >= before.downshift.kmh
    assert points[-1].upshift.kmh > points[0].upshift.kmh + 10


def test_upshift_speeds_never_fall_with_rod_length(profile):
    for shorter, longer in itertools.pairwise(ERRORS_MM):
        assert all(a <= b for a, b in zip(upshifts(shorter, profile), upshifts(longer, profile), strict=True))


@pytest.mark.parametrize("rod_error_mm", [0.0, *ERRORS_MM])
def test_valve_stays_up_at_the_speed_it_went_up_at(rod_error_mm, profile):
    assert all(row.rod.downshift.kmh < row.rod.upshift.kmh - 1.0 for row in rows(rod_error_mm, profile))


def test_part_throttle_downshift_happens_only_below_about_40_mph(profile):
    points = [row.exact.part_throttle_downshift for row in rows(0.0, profile)]
    speeds = [point.mph for point in points if point.mph]
    assert len(speeds) > 200
    assert 38.0 < max(speeds) < 42.0
    assert predict_shifts(profile).part_throttle_ends.exact.mph == pytest.approx(max(speeds), rel=1e-12)


def test_part_throttle_downshift_is_forced_earlier_in_travel_by_a_long_rod(profile):
    def least_opening(rod_error_mm: float) -> float:
        """The least opening that shifts down at 30 mph in third."""
        return next(row.opening for row in rows(rod_error_mm, profile) if row.rod.downshift.mph > 30.0)

    assert least_opening(3.0) < least_opening(0.0) < least_opening(-3.0)


def test_kickdown_reaches_higher_than_part_throttle_and_needs_the_detent(profile):
    prediction = predict_shifts(profile)
    assert prediction.kickdown_ends.exact.mph > prediction.part_throttle_ends.exact.mph + 10
    for row in rows(0.0, profile):
        assert (row.exact.kickdown.kmh is not None) == (row.travel_mm >= profile.shifts.throttle.detent_mm)


def test_no_kickdown_above_a_speed_whatever_the_pressure_the_detent_gives(profile):
    """Above that speed even the full pressure on the kickdown plug is outweighed by the governor plug."""
    end_kmh = predict_shifts(profile).kickdown_ends.exact.kmh
    assert 50 < kmh_to_mph(end_kmh) < 65
    assert profile.shifts.valve.governor_area_third_mm2 > profile.shifts.valve.kickdown_area_mm2
    for error in (0.0, *ERRORS_MM):
        assert all((row.rod.kickdown.kmh or 0.0) <= end_kmh + 1e-9 for row in rows(error, profile))
    unit = Unit(profile.shifts)
    assert pressure_at_lever_kpa(profile.shifts.throttle, 200.0) == profile.shifts.throttle.full_kpa
    assert shift_point(unit, 200.0, 0.0).downshift.kmh == pytest.approx(end_kmh)


def test_rod_so_short_that_wide_open_misses_the_detent_has_no_kickdown(profile):
    margin_mm = profile.shifts.throttle.wide_open_mm - profile.shifts.throttle.detent_mm
    reached = predict_shifts(profile, RodErrorGiven(0.01 - margin_mm)).kickdown_ends.rod
    missed = predict_shifts(profile, RodErrorGiven(-0.01 - margin_mm)).kickdown_ends.rod
    assert reached.kmh is not None
    assert missed.kmh is None and "does not reach the kickdown detent" in missed.why_not


def test_coast_downshift_does_not_depend_on_the_rod(profile):
    closed = {round(rows(error, profile)[0].rod.downshift.kmh, 9) for error in (-12.0, -3.0, 0.0, 1.0, 3.0)}
    assert len(closed) == 1
    assert 10 < kmh_to_mph(closed.pop()) < 18
