"""The drift watch: silent on a steady fixture, loud on one that has moved."""

from __future__ import annotations

import numpy as np
import pytest

from rodtrue.lab.drift import drift_state
from rodtrue.model.errors import InputError

# NIST/SEMATECH e-Handbook, 6.3.2.2, flow rates of an individuals chart: mean 50.81, mean moving range 1.8778 and so
# limits 45.817 and 55.807 (read from memory of that page; the arithmetic is checked below).
FLOW = np.array([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])


def test_the_published_batches_are_in_control() -> None:
    assert drift_state(FLOW, 9).word == "ok"


@pytest.mark.parametrize(("newest", "word"), [(55.6, "ok"), (56.0, "alarm"), (46.0, "ok"), (45.6, "alarm")])
def test_the_published_limits_divide_fits_from_drifted(newest: float, word: str) -> None:
    assert abs(FLOW.mean() - 50.81) < 0.005 and abs(np.abs(np.diff(FLOW)).mean() - 1.8778) < 0.0005
    # The published series followed by values near its centre line, which break no rule of their own, then the newest.
    assert drift_state(np.array([*FLOW, 50.5, 51.0, 50.6, newest]), 10).word == word


def test_a_slow_creep_is_told_by_eight_in_a_row() -> None:
    steady = np.array([10.0, 10.4, 9.6, 10.3, 9.7, 10.2, 9.8, 10.4, 9.6, 10.0])
    state = drift_state(np.array([*steady, *[10.12] * 8]), 10)
    assert state.word == "alarm"
    assert state.reasons == ("eight in a row above the centre line",)
    assert drift_state(np.array([*steady, *[10.12] * 7]), 10).word == "ok"


def test_a_bad_measurement_measured_again_and_found_right_is_past() -> None:
    steady = [10.0, 10.4, 9.6, 10.3, 9.7, 10.2, 9.8, 10.4, 9.6, 10.0]
    assert drift_state(np.array([*steady, 14.0]), 10).word == "alarm"
    assert drift_state(np.array([*steady, 14.0, 10.05]), 10).word == "ok"


def test_little_or_no_spread_says_nothing_and_why() -> None:
    assert drift_state(np.arange(7.0), 5).word == "unknown"
    equal = drift_state(np.full(12, 3.0), 10)
    assert (equal.word, equal.reasons) == ("unknown", ("the values that would set the limits are all equal",))
    assert drift_state(np.array([1.0, 2.0, 1.0, 2.0, 1.0, 2.0, 1.0, np.nan]), 7).word == "unknown"


@pytest.mark.parametrize("set_from", [4, 10])
def test_limits_that_the_newest_value_would_help_to_set_are_refused(set_from: int) -> None:
    with pytest.raises(InputError):
        drift_state(FLOW, set_from)
