"""Linkages with bell cranks: whole chains, from the pin to the lever and back."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linkage.drawings import NAMES, Loop, distances_mm, drawing, linkages, shipped
from rodtrue.linkage import LinkageError
from rodtrue.linkage.direct import DirectLinkage
from rodtrue.linkage.drawing import linkage_from

LAYOUTS = ("one-bell-crank", "two-bell-cranks")
TRAVELS_MM = np.linspace(0.0, 45.0, 46)
small_errors_mm = st.floats(-3.0, 3.0)
any_linkage = settings(max_examples=60, deadline=None)


@any_linkage
@given(linkages())
def test_every_loop_closes_all_along_the_travel(linkage):
    pins = linkage.chain.pins(TRAVELS_MM)
    for rod, crank, (driving, driven) in zip(linkage.chain.rods, linkage.chain.cranks, pins, strict=True):
        np.testing.assert_allclose(distances_mm(driving, driven), rod.length_mm, rtol=1e-12)
        np.testing.assert_allclose(distances_mm(crank.pivot_mm, driven), crank.in_arm_mm, rtol=1e-11)
    for crank, (_, driven), (driving, _) in zip(linkage.chain.cranks, pins, pins[1:], strict=False):
        np.testing.assert_allclose(distances_mm(crank.pivot_mm, driving), crank.out_arm_mm, rtol=1e-11)
        pivot = np.reshape(crank.pivot_mm, (2, 1))
        arm, other = np.array(driven) - pivot, np.array(driving) - pivot
        between = np.arctan2(arm[0] * other[1] - arm[1] * other[0], (arm * other).sum(axis=0))
        turned = np.mod(between - crank.between_rad + np.pi, 2 * np.pi) - np.pi
        np.testing.assert_allclose(turned, 0.0, atol=1e-10)


@any_linkage
@given(linkages())
def test_exact_rods_start_the_lever_at_the_idle_stop(linkage):
    assert linkage.lever_start_mm == pytest.approx(0.0, abs=1e-9)
    assert linkage.rod_error_mm == pytest.approx(0.0, abs=1e-9)
    assert linkage.lever_rate == pytest.approx(1.0, abs=1e-9)


@any_linkage
@given(linkages(), small_errors_mm)
def test_from_the_lever_back_to_the_pin_is_the_same_way(linkage, change_mm):
    changed = linkage.changed({linkage.rods[-1]: change_mm / 3})
    start_mm = changed.lever_start_mm
    _, most_mm = changed.travel_limits_mm()
    for pin_mm in np.linspace(start_mm, min(40.0, most_mm - 0.5), 7):
        lever_mm = float(changed.lever_travel_mm(pin_mm))
        assert changed.pin_travel_at_lever_mm(lever_mm) == pytest.approx(pin_mm, abs=1e-7)


@any_linkage
@given(linkages())
def test_lever_moves_one_way_and_as_fast_as_told(linkage):
    """Central differences of the lever's angle against the chain's velocities."""
    step = 1e-4
    travels = np.linspace(1.0, 44.0, 12)
    angle = linkage.chain.lever_angle_rad
    rate = (angle(travels + step) - angle(travels - step)) / (2 * step)
    told = linkage.chain.moves(travels).lever_rad
    np.testing.assert_allclose(rate, told, rtol=1e-5, atol=1e-9)
    assert np.all(told * linkage.lever_rad_per_mm > 0.0)


@any_linkage
@given(linkages(), small_errors_mm)
def test_sensitivity_is_the_derivative_of_the_lever_start(linkage, change_mm):
    step = 1e-4
    changed = linkage.changed({linkage.rods[0]: change_mm})
    for rod in linkage.rods:
        longer, shorter = changed.changed({rod: step}), changed.changed({rod: -step})
        slope = (longer.lever_start_mm - shorter.lever_start_mm) / (2 * step)
        assert changed.sensitivity(rod) == pytest.approx(slope, rel=1e-5)
        assert changed.sensitivity(rod) < 0.0, "a pushed rod made longer starts the lever earlier"


@any_linkage
@given(linkages(), st.data())
def test_named_change_of_any_rod_takes_out_an_error_in_any_other(linkage, data):
    wrong, mended = data.draw(st.sampled_from(linkage.rods)), data.draw(st.sampled_from(linkage.rods))
    off = linkage.changed({wrong: data.draw(small_errors_mm) / 3})
    exact = off.changed({mended: off.length_change_mm(mended)})
    assert exact.lever_start_mm == pytest.approx(0.0, abs=1e-8)


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("error_mm", [-15.0, -3.0, 0.5, 12.0])
def test_change_of_length_is_exact_however_far_where_a_straight_line_is_not(layout, error_mm):
    linkage = shipped(layout)
    for rod in linkage.rods:
        found = linkage.changed({rod: linkage.length_change_mm(rod, to_rod_error_mm=error_mm)})
        assert found.rod_error_mm == pytest.approx(error_mm, abs=1e-9)
        assert found.changed({rod: found.length_change_mm(rod)}).rod_error_mm == pytest.approx(0.0, abs=1e-9)
    last = linkage.rods[-1]
    linear_mm = -error_mm / linkage.sensitivity(last)
    if abs(error_mm) >= 12.0:
        assert abs(linkage.length_change_mm(last, to_rod_error_mm=error_mm) - linear_mm) > 0.05


@pytest.mark.parametrize("layout", LAYOUTS)
def test_short_chain_leaves_a_gap_and_a_long_one_holds_the_lever_off_its_stop(layout):
    linkage = shipped(layout)
    short = linkage.changed({linkage.rods[0]: linkage.length_change_mm(linkage.rods[0], to_rod_error_mm=-4.0)})
    np.testing.assert_array_equal(short.lever_travel_mm([-10.0, 0.0, 3.9]), 0.0)
    assert short.lever_travel_mm(4.1) == pytest.approx(0.1, abs=0.01)
    long = linkage.changed({linkage.rods[0]: linkage.length_change_mm(linkage.rods[0], to_rod_error_mm=2.0)})
    assert long.lever_travel_mm(0.0) == pytest.approx(2.0, abs=0.05)
    assert not long.lever_travel_mm([0.0, 20.0], hooked=False).any()
    assert long.lever_travel_mm(45.0, lever_full_mm=30.0) == 30.0


@pytest.mark.parametrize("layout", LAYOUTS)
def test_many_travels_at_once_are_each_one_alone(layout):
    linkage = shipped(layout)
    together = linkage.lever_travel_mm(TRAVELS_MM)
    alone = [float(linkage.lever_travel_mm(travel)) for travel in TRAVELS_MM]
    np.testing.assert_array_equal(together, alone)
    assert linkage.lever_travel_mm(TRAVELS_MM.reshape(2, 23)).shape == (2, 23)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_travel_counted_from_another_stop_is_the_same_lever_travel(layout):
    linkage = shipped(layout)
    seen = linkage.from_stop(0.4)
    assert seen.lever_start_mm == pytest.approx(-0.4)
    np.testing.assert_allclose(seen.lever_travel_mm(TRAVELS_MM), linkage.lever_travel_mm(TRAVELS_MM + 0.4), atol=1e-9)


# --- limits of travel

STEEP = [Loop(0.0, 300.0, 60.0, -20.0, 1, 60.0, -10.0), Loop(-90.0, 200.0, 34.0, 0.0, -1)]
"""A crank with long arms on a short lever: the lever reaches its toggle before full travel."""


def test_travel_ends_where_rod_and_lever_are_in_one_line():
    """Toggle position of a four-bar: law of cosines with coupler and output in line (Norton, Design of
    Machinery, chapter 4, from memory)."""
    linkage = linkage_from(drawing(STEEP, full_travel_mm=20.0), NAMES[1], "push")
    _, most_mm = linkage.travel_limits_mm()
    crank, lever = linkage.chain.cranks
    rod_mm = linkage.chain.rods[1].length_mm
    ground_mm = math.dist(crank.pivot_mm, lever.pivot_mm)
    driving, driven = linkage.chain.pins(most_mm)[1]
    arm = np.array(driving) - crank.pivot_mm
    ground = np.array(lever.pivot_mm) - crank.pivot_mm
    cosine = float(arm @ ground) / (crank.out_arm_mm * ground_mm)
    in_line_mm = rod_mm + lever.in_arm_mm, rod_mm - lever.in_arm_mm
    out_mm = crank.out_arm_mm
    toggles = [(out_mm**2 + ground_mm**2 - line_mm**2) / (2 * out_mm * ground_mm) for line_mm in in_line_mm]
    assert min(abs(cosine - toggle) for toggle in toggles) < 1e-9
    assert distances_mm(driving, driven) == pytest.approx(rod_mm)
    with pytest.raises(LinkageError, match=r"the lower rod cannot close: .* too (far|near)"):
        linkage.lever_travel_mm(most_mm + 0.01)


def test_travel_ends_where_a_crank_passes_its_dead_point():
    """Rod and driving arm in one line: the rod turns back although the loop still closes."""
    loops = [Loop(0.0, 300.0, 40.0, -40.0, 1, 60.0, 55.0), Loop(-90.0, 300.0, 80.0, -20.0, 1)]
    text = refusal(loops)
    assert "beyond, the arm that drives the lower rod passes its dead point" in text
    linkage = linkage_from(drawing(loops, full_travel_mm=15.0), NAMES[1], "push")
    least_mm, most_mm = linkage.travel_limits_mm()
    driving, driven = linkage.chain.pins(most_mm)[1]
    pivot = linkage.chain.cranks[0].pivot_mm
    arm, rod = np.array(driving) - pivot, np.array(driven) - driving
    assert abs(arm[0] * rod[1] - arm[1] * rod[0]) < 1e-3 * np.linalg.norm(arm) * np.linalg.norm(rod)
    angles = linkage.chain.lever_angle_rad(most_mm + np.array([-1.0, 0.0, 1.0])) * np.sign(linkage.lever_rad_per_mm)
    assert angles[1] > angles[0] and angles[1] > angles[2]
    assert least_mm < 0.0


def test_pin_is_held_off_its_stop_only_by_a_chain_shorter_than_the_slot():
    linkage = shipped("two-bell-cranks")
    upper = linkage.rods[0]
    limits = {"slot_length_mm": 20.0, "lever_full_mm": 48.0}
    assert linkage.pin_limits_mm(**limits)[0] == -math.inf
    short = linkage.changed({upper: -24.0})
    held_mm = short.pin_limits_mm(**limits)[0]
    assert held_mm == pytest.approx(short.changed({upper: 20.0}).lever_start_mm)
    assert 3.5 < held_mm < 4.5
    assert short.pin_limits_mm(hooked=False, **limits) == (-math.inf, math.inf)


def test_levers_stop_or_the_linkages_limit_ends_the_pins_travel():
    linkage = shipped("two-bell-cranks")
    most_mm = linkage.pin_limits_mm(slot_length_mm=20.0, lever_full_mm=30.0)[1]
    assert linkage.lever_travel_mm(most_mm) == pytest.approx(30.0)
    most_mm = linkage.pin_limits_mm(slot_length_mm=20.0, lever_full_mm=500.0)[1]
    assert most_mm == linkage.travel_limits_mm()[1]


# --- what is refused

DRAWN = [Loop(0.0, 300.0, 75.0, -15.0, -1, 60.0, -15.0), Loop(-90.0, 300.0, 60.0, -15.0, -1)]


def refusal(loops, action="push", names=NAMES[1], full_travel_mm=45.0):
    with pytest.raises(LinkageError) as refused:
        linkage_from(drawing(loops, full_travel_mm), names, action)
    return str(refused.value)


def pulled_drawing():
    """The lower rod hangs on the other side of the bell crank: it is drawn down to up."""
    pushed = drawing(DRAWN)
    crank = pushed.bell_cranks[0]
    return replace(pushed, bell_cranks=(replace(crank, out_arm_deg=crank.out_arm_deg + 150.0),))


def test_pulled_rod_is_refused_unless_the_profile_says_pull():
    with pytest.raises(LinkageError, match="the lower rod would be pulled, and the action is push"):
        linkage_from(pulled_drawing(), NAMES[1], "push")
    linkage = linkage_from(pulled_drawing(), NAMES[1], "pull")
    assert linkage.sensitivity("upper rod") < 0.0 < linkage.sensitivity("lower rod")
    longer = linkage.changed({"lower rod": 1.0})
    assert longer.lever_start_mm > 0.5, "a pulled rod made longer starts the lever later"
    mended = longer.changed({"lower rod": longer.length_change_mm("lower rod")})
    assert mended.lever_start_mm == pytest.approx(0.0, abs=1e-9)


def test_pull_is_refused_where_every_rod_is_pushed():
    assert "every rod would be pushed, and the action is pull" in refusal(DRAWN, "pull")


def test_slotted_rod_may_be_pulled():
    """A pin that draws the slotted rod along: the other end of the slot bears on it, the gap is the same."""
    loops = [Loop(180.0, 300.0, 75.0, 15.0, 1, 60.0, -15.0), DRAWN[1]]
    linkage = linkage_from(drawing(loops), NAMES[1], "pull")
    assert linkage.chain.pushes == -1.0
    assert linkage.sensitivity("upper rod") > 0.0
    late = linkage.changed({"upper rod": 2.0})
    assert late.lever_start_mm == pytest.approx(2.0, abs=0.05)
    np.testing.assert_array_equal(late.lever_travel_mm([0.0, 1.5]), 0.0)
    assert late.pin_limits_mm(slot_length_mm=20.0, lever_full_mm=40.0)[0] == -math.inf
    later = linkage.changed({"upper rod": 24.0})
    assert later.pin_limits_mm(slot_length_mm=20.0, lever_full_mm=40.0)[0] == pytest.approx(4.0, abs=0.2)


def test_linkage_that_does_not_reach_full_travel_says_how_far_it_goes_and_why():
    text = refusal(STEEP)
    assert "works up to a pin travel of" in text and "short of full travel" in text
    assert "the lower rod cannot close" in text


@pytest.mark.parametrize(
    ("loops", "says"),
    [
        ([Loop(90.0, 300.0, 75.0, -15.0, -1), DRAWN[1]], "the upper rod stands square to the way of its driving end"),
        ([Loop(0.0, 300.0, 75.0, 90.0, -1), DRAWN[1]], "the upper rod lies in one line with the arm it drives"),
        ([DRAWN[0], Loop(-90.0, 300.0, 60.0, 90.0, -1)], "the lower rod lies in one line with the arm it drives"),
        ([Loop(0.0, 300.0, 75.0, -15.0, -1, 60.0, 90.0), DRAWN[1]], "the lower rod stands square to the way"),
        ([Loop(0.0, 0.0, 75.0, -15.0, -1), DRAWN[1]], "the upper rod as drawn is 0 mm long"),
        ([Loop(0.0, 300.0, 0.0, -15.0, -1), DRAWN[1]], "an arm is 0 mm long"),
        ([DRAWN[0], Loop(-90.0, 300.0, -60.0, -15.0, -1)], "an arm is -60 mm long"),
        ([Loop(0.0, math.inf, 75.0, -15.0, -1), DRAWN[1]], "every place and angle must be a finite number"),
    ],
)
def test_drawing_that_is_no_linkage_is_refused(loops, says):
    assert says in refusal(loops)


def test_number_of_bell_cranks_must_fit_the_layout():
    assert "1 bell cranks drawn, 2 needed" in refusal(DRAWN, names=NAMES[2])


@pytest.mark.parametrize("full_travel_mm", [0.0, -1.0, math.inf])
def test_full_travel_must_be_a_length(full_travel_mm):
    assert "full travel is" in refusal(DRAWN, full_travel_mm=full_travel_mm)


def test_rod_it_does_not_have_is_refused_by_name():
    linkage = shipped("one-bell-crank")
    for ask in (
        lambda: linkage.changed({"intermediate rod": 1.0}),
        lambda: linkage.sensitivity("intermediate rod"),
        lambda: linkage.length_change_mm("intermediate rod"),
    ):
        with pytest.raises(LinkageError, match="no rod named 'intermediate rod' here; rods: upper rod, lower rod"):
            ask()


def test_rod_cannot_lose_all_its_length():
    linkage = shipped("two-bell-cranks")
    with pytest.raises(LinkageError, match=r"the intermediate rod of .* cannot change by -500\.00 mm"):
        linkage.changed({"intermediate rod": -500.0})


def test_chain_far_too_short_cannot_close_with_the_lever_on_its_stop():
    linkage = shipped("two-bell-cranks").changed({"lower rod": -140.0})
    with pytest.raises(LinkageError, match=r"the lower rod cannot close: .* mm too far"):
        _ = linkage.lever_start_mm


def test_error_that_no_length_takes_out_is_refused():
    linkage = shipped("two-bell-cranks")
    with pytest.raises(LinkageError):
        linkage.length_change_mm("lower rod", to_rod_error_mm=-150.0)


# --- the direct layout as the case without a bell crank


@pytest.mark.parametrize("error_mm", [-12.0, -3.0, 0.0, 2.0, 10.0])
def test_direct_layout_is_the_case_without_a_bell_crank(error_mm):
    """A long rod in line with the pin's way on a long lever square to it: what the direct layout takes as exact."""
    lever = Loop(0.0, 2000.0, 1500.0, 0.0, 1)
    linkage = linkage_from(drawing([lever]), ("throttle rod",), "push").changed({"throttle rod": error_mm})
    direct = DirectLinkage().changed({"throttle rod": error_mm})
    assert linkage.lever_start_mm == pytest.approx(direct.lever_start_mm, abs=1e-9)
    assert linkage.sensitivity("throttle rod") == pytest.approx(direct.sensitivity("throttle rod"))
    assert linkage.length_change_mm("throttle rod") == pytest.approx(direct.length_change_mm("throttle rod"))
    np.testing.assert_allclose(linkage.lever_travel_mm(TRAVELS_MM), direct.lever_travel_mm(TRAVELS_MM), atol=0.08)
