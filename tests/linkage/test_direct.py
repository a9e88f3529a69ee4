"""The direct layout's kinematics."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rodtrue.linkage import LinkageError, direct
from rodtrue.linkage.direct import DirectLinkage

errors_mm = st.floats(-15.0, 12.0)
travels_mm = st.floats(0.0, 45.0)


def test_exact_rod_moves_the_lever_from_the_idle_stop_on():
    pin = np.array([0.0, 0.1, 20.0])
    np.testing.assert_array_equal(direct.lever_travel_mm(pin, 0.0), pin)


def test_short_rod_leaves_a_gap_that_the_pin_crosses_first():
    np.testing.assert_allclose(direct.lever_travel_mm([0.0, 2.9, 3.0, 5.0], -3.0), [0.0, 0.0, 0.0, 2.0])


def test_long_rod_holds_the_lever_off_its_stop_at_idle():
    assert direct.lever_travel_mm(0.0, 2.0) == pytest.approx(2.0)


def test_unhooked_rod_moves_nothing():
    assert not direct.lever_travel_mm([0.0, 20.0, 45.0], 6.0, hooked=False).any()


def test_lever_ends_at_its_full_travel_stop():
    assert direct.lever_travel_mm(45.0, 6.0, lever_full_mm=48.0) == 48.0


@given(travels_mm, errors_mm)
def test_the_named_change_of_length_makes_any_rod_exact(pin_mm, error_mm):
    rod = DirectLinkage().changed({direct.ROD: error_mm})
    mended = rod.changed({direct.ROD: rod.length_change_mm(direct.ROD)})
    assert mended.lever_travel_mm(pin_mm) == pytest.approx(pin_mm)


@given(errors_mm)
def test_pulled_rod_works_the_other_way_round(error_mm):
    pulled = DirectLinkage("pull").changed({direct.ROD: error_mm})
    assert pulled.rod_error_mm == -error_mm
    assert pulled.length_change_mm(direct.ROD) == pytest.approx(-error_mm)
    assert pulled.sensitivity(direct.ROD) == 1.0


@given(travels_mm, errors_mm, st.floats(-1.0, 1.0))
def test_travel_counted_from_another_stop_is_the_same_lever_travel(pin_mm, error_mm, stop_mm):
    rod = DirectLinkage().changed({direct.ROD: error_mm})
    seen = rod.from_stop(stop_mm)
    assert seen.lever_travel_mm(pin_mm) == pytest.approx(rod.lever_travel_mm(pin_mm + stop_mm))
    assert seen.lever_start_mm == pytest.approx(rod.lever_start_mm - stop_mm)


def test_rod_it_does_not_have_is_refused_by_name():
    for ask in (
        lambda rod: rod.changed({"lower rod": 1.0}),
        lambda rod: rod.sensitivity("lower rod"),
        lambda rod: rod.length_change_mm("lower rod"),
    ):
        with pytest.raises(LinkageError, match="no rod named 'lower rod'"):
            ask(DirectLinkage())


@given(errors_mm)
def test_lever_start_is_where_the_lever_leaves_its_stop(error_mm):
    start = direct.lever_start_mm(error_mm)
    assert direct.lever_travel_mm(start, error_mm) == pytest.approx(0.0, abs=1e-12)
    assert direct.lever_travel_mm(start + 0.5, error_mm) == pytest.approx(0.5)


def test_zero_error_has_no_minus_sign():
    assert math.copysign(1.0, direct.lever_start_mm(0.0)) == 1.0
    assert math.copysign(1.0, DirectLinkage().length_change_mm(direct.ROD)) == 1.0


@pytest.mark.parametrize("error_mm", [-15.0, -3.0, 3.0, 12.0])
@pytest.mark.parametrize("angle_deg", [0.0, 2.0, 3.6])
def test_one_to_one_holds_on_a_plane_drawing_within_the_axis_row(error_mm, angle_deg):
    """Against plane geometry: with the lever on its stop the rod's ends are its length apart.

    The pin moves along an axis tilted by `angle_deg` to the rod at curb idle (0.2 % of cosine at 3.6
    degrees). Solved by the law of cosines, with no use of the module under test.
    """
    rod_mm, angle = 500.0, math.radians(angle_deg)
    length_mm = rod_mm + error_mm
    # Pin at distance s behind its idle place: length^2 = rod^2 + s^2 + 2 rod s cos(angle).
    b = rod_mm * math.cos(angle)
    s = -b + math.sqrt(b * b - rod_mm**2 + length_mm**2)
    # A longer rod lets the lever off its stop with the pin further towards idle: travel is -s.
    assert direct.lever_start_mm(error_mm) == pytest.approx(-s, rel=0.0022)


def test_pin_is_held_off_its_stop_only_by_a_rod_shorter_than_the_slot():
    limits = {"slot_length_mm": 20.0, "lever_full_mm": 48.0}
    assert direct.pin_limits_mm(-15.0, **limits)[0] == -math.inf
    assert direct.pin_limits_mm(-21.5, **limits)[0] == pytest.approx(1.5)


def test_long_rod_brings_the_lever_to_full_travel_early():
    limits = {"slot_length_mm": 20.0, "lever_full_mm": 48.0}
    assert direct.pin_limits_mm(12.0, **limits)[1] == pytest.approx(36.0)
    assert direct.pin_limits_mm(12.0, hooked=False, **limits)[1] == math.inf


def test_detent_comes_late_on_a_short_rod():
    assert direct.pin_travel_at_lever_mm(43.0, -3.0) == pytest.approx(46.0)
