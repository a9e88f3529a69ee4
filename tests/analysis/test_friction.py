"""What the valve follows of the travel: the play operator and its promises."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rodtrue.analysis.friction import followed


def test_steady_motion_is_followed_half_the_width_behind():
    up = np.linspace(0, 10, 101)
    path = followed(np.concatenate([up, up[::-1]]), 0.3)
    assert path[100] == pytest.approx(9.7)
    assert path[-1] == pytest.approx(0.3)


def test_a_small_reversal_is_not_followed():
    travel = np.concatenate([np.linspace(0, 5, 51), 5 - 0.4 * np.sin(np.linspace(0, np.pi, 40)), [5.0]])
    path = followed(travel, 0.3)
    assert np.ptp(path[50:]) == pytest.approx(0.0)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10_000), width=st.floats(0.0, 1.0))
def test_it_stays_within_its_play_and_never_overshoots(seed, width):
    travel = np.cumsum(np.random.default_rng(seed).normal(0, 0.3, 300))
    path = followed(travel, width)
    assert np.all(np.abs(path - travel) <= width + 1e-12)
    moved = np.diff(path)
    pushed = np.abs(np.abs(path - travel)[1:] - width) < 1e-9
    assert np.all((moved == 0) | pushed), "it moves only when pushed"


def test_no_play_changes_nothing_and_a_negative_one_is_refused():
    travel = np.arange(5.0)
    assert followed(travel, 0.0) is travel
    with pytest.raises(ValueError, match="negative"):
        followed(travel, -0.1)
