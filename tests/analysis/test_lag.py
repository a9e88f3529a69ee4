"""The first-order lag against its closed forms."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from rodtrue.analysis.lag import lagged

PERIOD_S = 0.002


def test_a_ramp_lags_by_speed_times_lag_once_settled():
    t = np.arange(2000) * PERIOD_S
    behind = 12.0 * t - lagged(12.0 * t, 0.02, PERIOD_S)
    # tau y' + y = v t has y = v (t - tau) + v tau exp(-t / tau).
    assert behind == pytest.approx(12.0 * 0.02 * (1 - np.exp(-t / 0.02)), abs=1e-9)


def test_any_piecewise_linear_course_agrees_with_an_integrator():
    rng = np.random.default_rng(5)
    x = np.cumsum(rng.normal(size=120))
    t = np.arange(120) * PERIOD_S
    # scipy.integrate.solve_ivp as reference implementation.
    solved = solve_ivp(
        lambda s, y: (np.interp(s, t, x) - y) / 0.008, (0, t[-1]), [x[0]], t_eval=t, max_step=PERIOD_S / 4,
        rtol=1e-9, atol=1e-9,
    )  # fmt: skip
    assert lagged(x, 0.008, PERIOD_S) == pytest.approx(solved.y[0], abs=1e-4)


def test_no_lag_changes_nothing_and_a_level_stays():
    x = np.arange(10.0)
    assert np.array_equal(lagged(x, 0.0, PERIOD_S), x)
    assert lagged(np.full(50, 3.0), 0.03, PERIOD_S) == pytest.approx(3.0)


@settings(max_examples=50, deadline=None, derandomize=True)
@given(lag=st.floats(1e-6, 0.2), a=st.floats(-5, 5), b=st.floats(-5, 5))
def test_it_is_linear(lag, a, b):
    rng = np.random.default_rng(1)
    x, y = rng.normal(size=80), rng.normal(size=80)
    both = lagged(a * x + b * y, lag, PERIOD_S)
    assert both == pytest.approx(a * lagged(x, lag, PERIOD_S) + b * lagged(y, lag, PERIOD_S), abs=1e-9)


@pytest.mark.parametrize(("lag", "period"), [(-0.01, 0.002), (0.01, 0.0)])
def test_senseless_times_are_refused(lag, period):
    with pytest.raises(ValueError, match="lag"):
        lagged(np.zeros(5), lag, period)
