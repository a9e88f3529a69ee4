"""Governor curve and road speed."""

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rodtrue.model.shifts import Governor
from rodtrue.model.units import KMH_PER_MPH, MM_PER_INCH, kmh_to_mph
from rodtrue.shifts.governor import governor_pressure_kpa, road_speed_kmh, speed_at_pressure_kmh
from shifts.example_unit import example

TWO_STAGES = Governor(pressure_kpa=(0.0, 150.0, 600.0), road_kmh=(10.0, 35.0, 140.0))


def test_mile_is_that_of_sp_811():
    # NIST SP 811, appendix B: 1 mile/h = 1.609344 km/h exactly (from memory).
    assert kmh_to_mph(1.609344) == 1.0


@pytest.mark.parametrize(("rpm", "tyre_in", "axle"), [(2000, 26.0, 3.00), (1682, 25.98, 3.25), (4000, 28.5, 2.75)])
def test_road_speed_agrees_with_the_336_rule(rpm, tyre_in, axle):
    """mph = rpm x tyre diameter in inches / (axle ratio x 336): common practice, no source."""
    kmh = road_speed_kmh(rpm, axle, tyre_in / 2 * MM_PER_INCH)
    assert kmh / KMH_PER_MPH == pytest.approx(rpm * tyre_in / (axle * 336), rel=1e-3)


def test_pressure_is_straight_in_speed_squared_within_a_stage():
    for low, high in ((10.0, 35.0), (35.0, 140.0)):
        squares = [low**2 + share * (high**2 - low**2) for share in (0.0, 0.25, 0.5, 0.75, 1.0)]
        pressures = [governor_pressure_kpa(TWO_STAGES, math.sqrt(square)) for square in squares]
        steps = [b - a for a, b in itertools.pairwise(pressures)]
        assert steps == pytest.approx([steps[0]] * 4)


def test_second_stage_is_flatter_in_speed_squared_than_the_first():
    governor = example().shifts.governor
    first, second = (
        (p1 - p0) / (n1**2 - n0**2)
        for p0, p1, n0, n1 in zip(
            governor.pressure_kpa, governor.pressure_kpa[1:], governor.shaft_rpm, governor.shaft_rpm[1:], strict=False
        )
    )
    assert 0 < second < first / 3


def test_no_pressure_before_the_governor_begins_and_no_more_than_its_last():
    assert governor_pressure_kpa(TWO_STAGES, 5.0) == 0.0
    assert governor_pressure_kpa(TWO_STAGES, 300.0) == 600.0
    assert speed_at_pressure_kmh(TWO_STAGES, 600.0) == pytest.approx(140.0)
    assert speed_at_pressure_kmh(TWO_STAGES, 600.1) is None


@settings(deadline=None, max_examples=200)
@given(pressure_kpa=st.floats(0.0, 600.0))
def test_speed_and_pressure_are_each_others_inverse(pressure_kpa):
    speed = speed_at_pressure_kmh(TWO_STAGES, pressure_kpa)
    assert governor_pressure_kpa(TWO_STAGES, speed) == pytest.approx(pressure_kpa, rel=1e-9, abs=1e-9)


@settings(deadline=None, max_examples=200)
@given(speeds=st.tuples(st.floats(0.0, 200.0), st.floats(0.0, 200.0)))
def test_pressure_never_falls_with_speed(speeds):
    slow, fast = sorted(speeds)
    assert governor_pressure_kpa(TWO_STAGES, slow) <= governor_pressure_kpa(TWO_STAGES, fast)


def test_shaft_speeds_and_the_road_speeds_they_mean_give_the_same_curve():
    shaft = example().shifts.governor
    road = Governor(shaft.pressure_kpa, tuple(road_speed_kmh(n, 3.25, 330.0) for n in shaft.shaft_rpm))
    for kmh in range(0, 160, 7):
        assert governor_pressure_kpa(road, kmh) == pytest.approx(governor_pressure_kpa(shaft, kmh), rel=1e-12)
