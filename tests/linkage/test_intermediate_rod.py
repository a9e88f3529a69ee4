"""A wrong intermediate rod, either way, lowers pressure at every throttle position (common practice, no source).

Pressure rises with the lever's angle, so lever travel is compared. `bench/intermediate_rod.py` holds the statement
against a family of geometries; here, what the shipped example says of itself in its note.
"""

import numpy as np
import pytest

from linkage.drawings import shipped
from rodtrue.profiles import load_profile

POSITIONS_MM = np.arange(1.0, 45.5)


def difference_mm(error_mm: float, *, adjusted_again: bool) -> np.ndarray:
    exact = shipped("two-bell-cranks")
    wrong = exact.changed({"intermediate rod": error_mm})
    if adjusted_again:
        wrong = wrong.changed({"upper rod": wrong.length_change_mm("upper rod")})
        assert wrong.lever_start_mm == pytest.approx(0.0, abs=1e-9)
    return wrong.lever_travel_mm(POSITIONS_MM) - exact.lever_travel_mm(POSITIONS_MM)


@pytest.mark.parametrize("size_mm", [0.5, 0.6, 1.0, 2.0, 4.0, 6.0, 8.0])
def test_shipped_example_starts_right_and_stays_low_either_way_once_the_upper_rod_is_adjusted_again(size_mm):
    assert "0.5 mm wrong or more (looked at up to 8 mm)" in load_profile("example-two-bell-cranks").note
    for error_mm in (-size_mm, size_mm):
        assert np.all(difference_mm(error_mm, adjusted_again=True) < 0.0)


def test_below_that_size_it_does_not_hold():
    assert any(np.any(difference_mm(error_mm, adjusted_again=True) >= 0.0) for error_mm in (-0.4, 0.4))


def test_lowering_is_slight_at_part_throttle_as_the_note_says():
    assert "under 0.15 mm of lever travel over the first 25 mm for errors up to 4 mm" in (
        load_profile("example-two-bell-cranks").note
    )
    for error_mm in (-4.0, -2.0, 2.0, 4.0):
        assert np.abs(difference_mm(error_mm, adjusted_again=True)[POSITIONS_MM <= 25.0]).max() < 0.15


@pytest.mark.parametrize("size_mm", [1.0, 4.0])
def test_with_the_upper_rod_left_as_it_is_one_way_lowers_and_the_other_raises(size_mm):
    assert np.all(difference_mm(-size_mm, adjusted_again=False) < 0.0)
    assert np.all(difference_mm(size_mm, adjusted_again=False) > 0.0)
