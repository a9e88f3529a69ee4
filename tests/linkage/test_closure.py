"""One loop, against published four-bar linkages and as properties."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rodtrue.linkage.chain import Chain, Crank, Rod
from rodtrue.linkage.closure import LinkageError, assembly_of, meet

COURSEWORK = (35.0, 25.0, 15.0, 10.0, 30.0)
TEXTBOOK = (40.0, 120.0, 80.0, 100.0, 40.0)
PUBLISHED = [
    # Input a, coupler b, output c, ground d, input angle; coupler and output angle. Coursework problem with its
    # answers, read on a public problem page: four decimals.
    (COURSEWORK, "open", (254.1745, 334.0983), 5e-5),
    (COURSEWORK, "crossed", (187.3223, 107.3985), 5e-5),
    # Norton, Design of Machinery, example 4-1; printed 20.30, 57.33 and -60.98, -98.01, from memory (the last one
    # calculates to -98.005, so the printed second decimal is not demanded).
    (TEXTBOOK, "open", (20.30, 57.33), 6e-3),
    (TEXTBOOK, "crossed", (-60.98, -98.01), 6e-3),
]


def four_bar(a, b, c, d, input_deg, assembly):
    """Coupler and output angle in degrees, and the coupler's ends."""
    start = a * math.cos(math.radians(input_deg)), a * math.sin(math.radians(input_deg))
    end = meet((np.asarray(start[0]), np.asarray(start[1])), b, (d, 0.0), c, assembly)
    coupler = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))
    return coupler, math.degrees(math.atan2(end[1], end[0] - d)), start, end


def turned_by(angle_deg, other_deg):
    return (angle_deg - other_deg + 180.0) % 360.0 - 180.0


@pytest.mark.parametrize(("links", "assembly", "angles", "within_deg"), PUBLISHED)
def test_published_four_bar_positions(links, assembly, angles, within_deg):
    coupler, output, _, _ = four_bar(*links, assembly)
    assert turned_by(coupler, angles[0]) == pytest.approx(0.0, abs=within_deg)
    assert turned_by(output, angles[1]) == pytest.approx(0.0, abs=within_deg)


@pytest.mark.parametrize(("assembly", "point"), [("open", (33.4666, -5.8245)), ("crossed", (10.1047, 5.4293))])
def test_published_coupler_point(assembly, point):
    """The same public problem page: 10 from the coupler's far end, 70 degrees between it and the coupler."""
    coupler, _, _, end = four_bar(*COURSEWORK, assembly)
    angle = math.radians(coupler + 110.0)
    assert end[0] + 10.0 * math.cos(angle) == pytest.approx(point[0], abs=5e-5)
    assert end[1] + 10.0 * math.sin(angle) == pytest.approx(point[1], abs=5e-5)


arms_mm, rods_mm = st.floats(20.0, 120.0), st.floats(60.0, 600.0)
angles_rad = st.floats(-math.pi, math.pi)


@given(rods_mm, arms_mm, st.floats(-300.0, 300.0), st.floats(-300.0, 300.0), angles_rad, angles_rad)
def test_both_assemblies_close_the_loop_and_satisfy_freudenstein(rod, arm, x, y, toward, bend):
    """Any place of the driven pin defines a loop that closes; both meeting points must lie on both circles."""
    driven = x + arm * math.cos(toward), y + arm * math.sin(toward)
    driving = driven[0] + rod * math.cos(bend), driven[1] + rod * math.sin(bend)
    ground = math.dist(driving, (x, y))
    found = {}
    for assembly in ("open", "crossed"):
        end = meet((np.asarray(driving[0]), np.asarray(driving[1])), rod, (x, y), arm, assembly)
        assert math.dist(end, driving) == pytest.approx(rod, abs=1e-12 * (rod + arm + ground))
        assert math.dist(end, (x, y)) == pytest.approx(arm, abs=1e-12 * (rod + arm + ground))
        found[assembly] = end
    # The drawing's own assembly is found again; at a toggle both are one, and ill conditioned.
    drawn = assembly_of(driving, driven, (x, y))
    assert math.dist(found[drawn], driven) == pytest.approx(0.0, abs=1e-4)


def test_freudensteins_equation_holds_over_a_turn_of_the_crank():
    """K1 cos th4 - K2 cos th2 + K3 = cos(th2 - th4); Freudenstein 1955, from memory."""
    a, b, c, d, _ = TEXTBOOK
    k1, k2, k3 = d / a, d / c, (a * a - b * b + c * c + d * d) / (2 * a * c)
    input_rad = np.linspace(0.0, 2 * np.pi, 73)
    for assembly in ("open", "crossed"):
        x, y = meet((a * np.cos(input_rad), a * np.sin(input_rad)), b, (d, 0.0), c, assembly)
        output_rad = np.arctan2(y, x - d)
        left = k1 * np.cos(output_rad) - k2 * np.cos(input_rad) + k3
        np.testing.assert_allclose(left, np.cos(input_rad - output_rad), atol=1e-12)


def test_assemblies_mirror_each_other_about_the_line_to_the_pivot():
    open_end = meet((np.asarray(0.0), np.asarray(0.0)), 100.0, (80.0, 0.0), 60.0, "open")
    crossed_end = meet((np.asarray(0.0), np.asarray(0.0)), 100.0, (80.0, 0.0), 60.0, "crossed")
    assert open_end[0] == pytest.approx(crossed_end[0])
    assert open_end[1] == pytest.approx(-crossed_end[1])
    assert open_end[1] > 0.0


@pytest.mark.parametrize(
    ("pivot_x", "says"),
    [
        (165.0, r"165.00 mm from the pivot of the crank it drives, 5.00 mm too far .* from 40.00 to 160.00 mm"),
        (30.0, r"30.00 mm from the pivot of the crank it drives, 10.00 mm too near"),
        (0.0, r"0.00 mm from the pivot of the crank it drives, 40.00 mm too near"),
    ],
)
def test_loop_that_cannot_close_names_the_rod_and_the_misfit(pivot_x, says):
    with pytest.raises(LinkageError, match="the lower rod cannot close: .*" + says):
        meet((np.asarray(0.0), np.asarray(0.0)), 100.0, (pivot_x, 0.0), 60.0, "open", "lower rod")


def test_worst_of_many_places_is_named():
    places = np.array([0.0, -7.0, -12.0, -3.0]), np.zeros(4)
    with pytest.raises(LinkageError, match=r"12\.00 mm too far"):
        meet(places, 100.0, (160.0, 0.0), 60.0, "open")


def test_place_that_is_no_number_closes_nothing():
    with pytest.raises(LinkageError):
        meet((np.array([0.0, np.nan]), np.zeros(2)), 100.0, (80.0, 0.0), 60.0, "open")


def test_loop_closes_exactly_at_its_toggle():
    end = meet((np.asarray(0.0), np.asarray(0.0)), 100.0, (160.0, 0.0), 60.0, "open")
    assert end == pytest.approx((100.0, 0.0))


@pytest.mark.parametrize("aside_mm", [1e-310, 7e-312, 1e-308])
def test_a_toggle_missed_by_less_than_can_be_divided_by_is_a_toggle(aside_mm: float) -> None:
    """Found by fuzzing profiles: the rod's moment arm about its crank is not 0, but nothing can be divided by it."""
    rod, crank = Rod("throttle rod", 10.0, "open"), Crank((20.0, aside_mm), 10.0)
    moves = Chain((0.0, 0.0), (1.0, 0.0), (rod,), (crank,), (10.0, 0.0), 1.0).moves(0.0)
    assert np.isinf(moves.lever_rad)
