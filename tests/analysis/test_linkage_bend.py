"""What is taken out of a lever start for the linkage's own bend is what a fit over the window misses it by."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.made_up_ramp import pairs, ramp_of
from rodtrue.analysis.linkage_bend import start_shift_mm
from rodtrue.analysis.ramp import Ramp, Window
from rodtrue.linkage import linkage_of
from rodtrue.model.profile import Profile
from rodtrue.profiles import load_profile

BELL_CRANKS = ("example-one-bell-crank", "example-two-bell-cranks")


def ramp_between(lower_mm: float, upper_mm: float, *, bends: bool = False, apart_mm: float = 0.0) -> Ramp:
    """Return a ramp read between these travels; the two directions' windows lie so far apart about it."""
    half = apart_mm / 2
    windows = {
        "opening": Window(lower_mm + half, upper_mm + half, 0.0),
        "closing": Window(lower_mm - half, upper_mm - half, 0.0),
    }
    return ramp_of(pairs([0.0], [0.0]), windows=windows, bends=bends)


def fitted_start(profile: Profile, true_start_mm: float, lower_mm: float, upper_mm: float, degree: int) -> float:
    """Return where a polynomial through the lever's travel over the window says that the lever starts, in mm."""
    exact = linkage_of(profile)
    change = exact.length_change_mm(profile.adjuster.rod, to_rod_error_mm=-true_start_mm)
    travel_mm = np.linspace(lower_mm, upper_mm, 2001)
    lever_mm = exact.changed({profile.adjuster.rod: change}).lever_travel_mm(travel_mm)
    roots = np.roots(np.polyfit(travel_mm, lever_mm, degree))
    return float(min(roots.real, key=lambda root: abs(root - true_start_mm)))


@pytest.mark.parametrize("bends", [False, True])
@pytest.mark.parametrize(
    ("true_start_mm", "lower_mm", "upper_mm"), [(-6.0, 3.0, 12.0), (-3.0, 1.0, 9.0), (2.0, 4.0, 14.0)]
)
@pytest.mark.parametrize("name", BELL_CRANKS)
def test_the_shift_is_what_the_fit_misses_the_start_by(
    name: str, true_start_mm: float, lower_mm: float, upper_mm: float, bends: bool
) -> None:
    profile = load_profile(name)
    found_mm = fitted_start(profile, true_start_mm, lower_mm, upper_mm, 2 if bends else 1)
    missed_mm = found_mm - true_start_mm
    told_mm = start_shift_mm(profile, ramp_between(lower_mm, upper_mm, bends=bends), found_mm)
    # The start as found stands in for the true one: the bend there differs by a share of the shift's own size.
    assert told_mm == pytest.approx(missed_mm, rel=0.15, abs=2e-4)


@pytest.mark.parametrize("name", BELL_CRANKS)
def test_taking_the_shift_out_leaves_little_of_a_straight_fits_error(name: str) -> None:
    profile = load_profile(name)
    found_mm = fitted_start(profile, -8.0, 4.0, 13.0, 1)
    assert abs(found_mm + 8.0) > 0.005, "a bend that hardly matters shows nothing"
    told_mm = start_shift_mm(profile, ramp_between(4.0, 13.0), found_mm)
    assert abs(found_mm - told_mm + 8.0) < 0.2 * abs(found_mm + 8.0)


def test_the_directions_windows_count_by_their_middle() -> None:
    profile = load_profile("example-one-bell-crank")
    together = start_shift_mm(profile, ramp_between(3.0, 12.0), -6.0)
    assert start_shift_mm(profile, ramp_between(3.0, 12.0, apart_mm=1.0), -6.0) == pytest.approx(together, abs=1e-12)
    assert start_shift_mm(profile, ramp_between(4.0, 12.0), -6.0) != pytest.approx(together, rel=0.02)
    assert start_shift_mm(profile, ramp_between(3.0, 14.0), -6.0) != pytest.approx(together, rel=0.02)


def test_a_direct_rod_bends_nothing() -> None:
    profile = load_profile("example-direct")
    assert profile.geometry is None
    assert start_shift_mm(profile, ramp_between(3.0, 12.0), -6.0) == 0.0


@pytest.mark.parametrize("start_mm", [-300.0, 300.0])
def test_a_start_that_the_linkage_cannot_have_is_not_shifted(start_mm: float) -> None:
    assert start_shift_mm(load_profile("example-one-bell-crank"), ramp_between(3.0, 12.0), start_mm) == 0.0


def test_beyond_the_linkages_own_travel_nothing_is_asked_of_it() -> None:
    """The window's end is cut to where the linkage reaches."""
    profile = load_profile("example-one-bell-crank")
    exact = linkage_of(profile)
    rod = profile.adjuster.rod
    reaches_mm = exact.changed({rod: exact.length_change_mm(rod, to_rod_error_mm=6.0)}).travel_limits_mm()[1]
    beyond = start_shift_mm(profile, ramp_between(3.0, reaches_mm + 40.0), -6.0)
    assert beyond == pytest.approx(start_shift_mm(profile, ramp_between(3.0, reaches_mm), -6.0), rel=1e-9)
    assert beyond != 0.0


def test_the_rod_with_the_final_adjuster_is_taken_for_the_wrong_one() -> None:
    """Another rod that is wrong bends the curve otherwise."""
    profile = load_profile("example-two-bell-cranks")
    other = replace(profile, adjuster=replace(profile.adjuster, rod=profile.set_first[0].rod))
    ramp = ramp_between(3.0, 12.0)
    assert start_shift_mm(other, ramp, -3.0) != pytest.approx(start_shift_mm(profile, ramp, -3.0), rel=0.01)
