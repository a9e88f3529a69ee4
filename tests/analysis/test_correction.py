"""What to turn, held against the linkage carried forward: the change whose rod error a search finds."""

import math

import pytest
from scipy.optimize import brentq

from rodtrue.analysis.correction import correction_at_least, correction_for
from rodtrue.linkage import linkage_of
from rodtrue.profiles import load_profile

PROFILES = [load_profile(f"example-{layout}") for layout in ("direct", "one-bell-crank", "two-bell-cranks")]
NAMES = [profile.layout for profile in PROFILES]
ERRORS_MM = [-6.0, -2.0, 3.0]


def sits_in(profile, rod: str, rod_error_mm: float) -> float:
    """Return how much longer than exact this rod is where all of the rod error sits in it."""
    exact = linkage_of(profile)
    return brentq(lambda by: exact.changed({rod: by}).rod_error_mm - rod_error_mm, -15.0, 15.0, xtol=1e-12)


@pytest.mark.parametrize("profile", PROFILES, ids=NAMES)
@pytest.mark.parametrize("rod_error_mm", ERRORS_MM)
def test_the_adjusters_rod_gives_back_what_it_is_off_by_all_others_exact(profile, rod_error_mm):
    found = correction_for(profile, rod_error_mm, needed=True)
    adjuster = profile.adjuster
    off_by = sits_in(profile, adjuster.rod, rod_error_mm)
    assert found.direction == ("shorten" if off_by > 0 else "lengthen")
    assert found.amount_mm == pytest.approx(abs(off_by), abs=1e-9)
    last = found.steps[-1]
    assert (last["rod"], last["direction"], last["amount_mm"]) == (adjuster.rod, found.direction, found.amount_mm)
    assert found.turns == last["turns"]
    if adjuster.pitch_mm is None:
        assert found.turns is None, "a slip joint has no thread"
    else:
        assert found.turns == pytest.approx(abs(off_by) / adjuster.pitch_mm)


@pytest.mark.parametrize("rod_error_mm", ERRORS_MM)
def test_a_rod_set_by_its_gauge_comes_first_and_tells_what_it_alone_would_take(rod_error_mm):
    told = 0
    for profile in PROFILES:
        steps = correction_for(profile, rod_error_mm, needed=True).steps
        assert [step["rod"] for step in steps] == [*(first.rod for first in profile.set_first), profile.adjuster.rod]
        for step, first in zip(steps[:-1], profile.set_first, strict=True):
            assert (step["direction"], step["amount_mm"], step["turns"]) == ("set", None, None)
            alone = -sits_in(profile, first.rod, rod_error_mm)
            assert step["alone_mm"] == pytest.approx(alone, abs=1e-9)
            if first.pitch_mm is not None:
                assert step["alone_turns"] == pytest.approx(alone / first.pitch_mm)
            told += 1
    assert told, "one of the layouts has a rod set by a gauge"


@pytest.mark.parametrize("profile", PROFILES, ids=NAMES)
def test_a_rod_short_by_at_least_so_much_has_a_way_and_a_least_change_and_no_amount(profile):
    found = correction_at_least(profile, 5.0)
    off_by = sits_in(profile, profile.adjuster.rod, -5.0)
    assert found.direction == ("shorten" if off_by > 0 else "lengthen")
    assert (found.amount_mm, found.turns) == (None, None)
    assert found.at_least_mm == pytest.approx(abs(off_by), abs=1e-9)
    for step in found.steps[:-1]:
        assert (step["direction"], step["alone_mm"], step["alone_turns"]) == ("set", None, None)


@pytest.mark.parametrize("profile", PROFILES, ids=NAMES)
def test_a_correct_rod_is_left_alone_and_what_no_length_mends_has_a_way_and_no_amount(profile):
    assert correction_for(profile, 0.3, needed=False).steps == []
    far = correction_for(profile, -500.0, needed=True)
    near = correction_for(profile, -1.0, needed=True)
    assert far.direction == near.direction
    if profile.layout == "direct":
        assert far.amount_mm == pytest.approx(500.0)
    else:
        assert (far.amount_mm, far.turns) == (None, None)
        assert all(step.get("alone_mm") is None or math.isfinite(step["alone_mm"]) for step in far.steps)
