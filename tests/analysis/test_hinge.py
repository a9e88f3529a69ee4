"""The hinge against published data sets, a brute-force search, and data that hold none."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rodtrue.analysis.hinge import NoHinge, fit_hinge

PUBLISHED = Path(__file__).parents[1] / "data" / "published"


def published(name: str, x: str = "x", y: str = "y") -> tuple[np.ndarray, np.ndarray]:
    with (PUBLISHED / name).open() as file:
        rows = list(csv.DictReader(file))
    return np.array([float(r[x]) for r in rows]), np.array([float(r[y]) for r in rows])


# Exact least squares, computed with numpy by brute-force grid and confirmed with R segmented 1.6-2
# (data sets `stagnant` and `plant` of that package; Bacon and Watts 1971 for the first).
EXACT = [
    ("stagnant_28.csv", "x", 0.0411057845921, 0.02283480677, 0.544661078387, -0.422076814414, -1.02056754501,
     0.0091401972320882),
    ("stagnant_29.csv", "x", 0.0359119968664, 0.02188605819, 0.544661078387, -0.422076814414, -1.01659265254,
     0.00938136269761969),
    ("plant_rkv.csv", "time", 383.765138406, 8.234755884, 0.117890255208, 0.00223273367142, -0.000363897837043,
     0.0279197890991499),
    ("plant_rkw.csv", "time", 469.100620193, 13.61434263, -0.208869866872, 0.00226190157, 0.00038245963444,
     0.0434707551638333),
    ("hinge_flat_ramp.csv", "x", 0.393225996073, 0.05374506876, 20.0203360229, 0.0449176033982, 11.9379081628,
     260.759073996601),
]  # fmt: skip


@pytest.mark.parametrize(("name", "x", "psi", "error", "intercept", "left", "right", "rss"), EXACT)
def test_free_hinge_agrees_with_exact_least_squares(name, x, psi, error, intercept, left, right, rss):
    fit = fit_hinge(*published(name, x))
    assert fit.break_point == pytest.approx(psi, rel=1e-9)
    assert fit.standard_error == pytest.approx(error, rel=1e-8)
    assert fit.intercept == pytest.approx(intercept, rel=1e-9)
    assert fit.slope_left == pytest.approx(left, rel=1e-9)
    assert fit.slope_right == pytest.approx(right, rel=1e-8)
    assert fit.rss == pytest.approx(rss, rel=1e-10)


def test_flat_hinge_agrees_with_exact_least_squares():
    fit = fit_hinge(*published("hinge_flat_ramp.csv"), flat_left=True)
    assert fit.break_point == pytest.approx(0.388647810023, rel=1e-10)
    assert fit.standard_error == pytest.approx(0.03505097171, rel=1e-9)
    assert fit.intercept == pytest.approx(19.9833448276, rel=1e-10)
    assert fit.slope_left == 0.0
    assert fit.slope_right == pytest.approx(11.9379081628, rel=1e-10)
    assert fit.rss == pytest.approx(260.787996209871, rel=1e-11)


def test_interval_is_the_delta_interval_of_r_segmented():
    # R segmented 1.6-2, confint(method="delta") on its data set `stagnant`.
    fit = fit_hinge(*published("stagnant_28.csv"))
    assert fit.interval == pytest.approx((-0.0060229388, 0.0882345108), abs=2e-8)
    fit = fit_hinge(*published("plant_rkv.csv", "time"))
    assert fit.interval == pytest.approx((366.897005, 400.633271), abs=2e-5)


def test_data_without_noise_give_the_break_back():
    x = np.linspace(-2, 8, 101)
    for flat in (False, True):
        fit = fit_hinge(x, 20 + 12 * np.maximum(0, x - 0.4321), flat_left=flat)
        assert fit.break_point == pytest.approx(0.4321, abs=1e-12)


def test_one_degree_of_freedom_still_gives_an_error_and_none_gives_none():
    # By hand: level (0 + 0.1) / 2, line of slope 1.9 through the other two; they cross at 2 - 0.05 / 1.9.
    # Its variance: that of the level (s^2 / 2) and of the line carried back 0.05 / 1.9, over 1.9^2; s^2 = 0.005.
    fit = fit_hinge([0, 1, 2, 3], [0, 0.1, 0.1, 2.0], flat_left=True)
    back = 0.05 / 1.9
    error = np.sqrt(0.005 * (0.5 + (1 + back) ** 2 + back**2)) / 1.9
    assert fit.break_point == pytest.approx(2 - back)
    assert fit.standard_error == pytest.approx(error)
    # t(0.975) for one degree of freedom is 12.7062 (NIST/SEMATECH e-Handbook, 1.3.6.7.2).
    assert fit.interval == pytest.approx((2 - back - 12.7062 * error, 2 - back + 12.7062 * error), rel=1e-5)
    exact = fit_hinge([0, 1, 2, 3], [0, 0.1, 1.0, 3.0])
    assert (exact.standard_error, exact.interval) == (None, None)


def test_order_of_rows_does_not_matter():
    x, y = published("plant_rkw.csv", "time")
    order = np.random.default_rng(3).permutation(len(x))
    assert fit_hinge(x[order], y[order]).break_point == pytest.approx(fit_hinge(x, y).break_point, rel=1e-13)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10_000), n=st.integers(6, 30), flat=st.booleans(), rounded=st.booleans())
def test_no_knot_of_a_fine_grid_does_better(seed, n, flat, rounded):
    rng = np.random.default_rng(seed)
    x = rng.uniform(-5, 5, n)
    if rounded:  # repeated x
        x = np.round(x)
    y = rng.normal(size=n) + 2 * np.maximum(0, x - rng.uniform(-4, 4))
    if len(np.unique(x)) < 4:
        return
    fit = fit_hinge(x, y, flat_left=flat)
    for knot in np.linspace(x.min(), x.max(), 400)[1:-1]:
        hinge = np.maximum(0, x - knot)
        design = np.column_stack([np.ones(n), hinge] if flat else [np.ones(n), x, hinge])
        coefficients, *_ = np.linalg.lstsq(design, y, rcond=None)
        rss = float(((y - design @ coefficients) ** 2).sum())
        assert fit.rss <= rss * (1 + 1e-9) + 1e-9


@settings(max_examples=40, deadline=None, derandomize=True)
@given(shift=st.floats(-1e6, 1e6), scale=st.floats(1e-6, 1e6), up=st.floats(1e-6, 1e6))
def test_break_follows_shift_and_scale_of_the_data(shift, scale, up):
    x, y = published("plant_rkv.csv", "time")
    moved = fit_hinge(x * scale + shift, y * up)
    expected = fit_hinge(x, y).break_point * scale + shift
    assert moved.break_point == pytest.approx(expected, rel=1e-6, abs=1e-6 * max(abs(shift), scale))


def test_error_of_the_break_is_the_cramer_rao_bound_on_average():
    # Level 20, slope 12, sd 1.5, n = 400 on [-2, 8], break at 0: bounds 0.0197504 (flat) and 0.0313836 (free),
    # from the information matrix (Seber and Wild 1989, chapter 9); the Monte Carlo SD of 4000 runs agrees.
    x = np.linspace(-2, 8, 400)
    rng = np.random.default_rng(20260101)
    runs = 20 + 12 * np.maximum(0, x) + 1.5 * rng.standard_normal((600, 400))
    flat = np.array([fit_hinge(x, y, flat_left=True).break_point for y in runs])
    free = np.array([fit_hinge(x, y).break_point for y in runs])
    # First five of the published-by-computation series for this seed.
    assert flat[:3] == pytest.approx([0.0350210785, 0.0127812148, -0.0074195719], abs=1e-9)
    assert free[:3] == pytest.approx([0.0727564520, -0.0115307898, -0.0623695028], abs=1e-9)
    tolerance = 3 / np.sqrt(2 * 600)
    assert flat.std() / 0.0197504 == pytest.approx(1, abs=tolerance)
    assert free.std() / 0.0313836 == pytest.approx(1, abs=tolerance + 0.03)


@pytest.mark.parametrize(
    ("x", "y", "says"),
    [
        ([1, 2, 3], [1, 2, 3], "at least 4"),
        ([1, 1, 1, 1, 2, 2], [1, 2, 3, 4, 5, 6], "at least 4"),
        ([1, 2, 3, 4, 5], [7, 7, 7, 7, 7], "one value"),
        ([1, 2, 3, 4, 5], [1, 2, 3, 4, 5], "one line"),
        ([0, 1, 2, 3, 4, 1e9], [0, 0, 0, 1, 2, 3], "far off"),
        ([-1e12, 0, 1, 2, 3, 4], [0, 0, 0, 1, 2, 3], "far off"),
    ],
)
def test_data_without_a_bend_are_refused_with_the_reason(x, y, says):
    with pytest.raises(NoHinge, match=says):
        fit_hinge(x, y)


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_values_that_are_not_finite_are_refused(bad):
    with pytest.raises(ValueError, match="finite"):
        fit_hinge([1, 2, 3, 4, bad], [1, 2, 3, 4, 5])
