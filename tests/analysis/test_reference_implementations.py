"""The hinge and the running fit against general fitters of other people: scipy, pwlf, piecewise-regression.

None of them knows of this project. On the published sets all must find the same least-squares optimum; where
a search of theirs stops short of it, ours must not be the worse one.
"""

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import curve_fit

from rodtrue.analysis.hinge import fit_hinge
from rodtrue.analysis.stream import RunningBins

PUBLISHED = Path(__file__).parents[1] / "data" / "published"
SETS = ["stagnant_28.csv", "stagnant_29.csv", "plant_rkv.csv", "plant_rkw.csv", "hinge_flat_ramp.csv"]


def published(name: str) -> tuple[np.ndarray, np.ndarray]:
    with (PUBLISHED / name).open() as file:
        rows = list(csv.DictReader(file))
    x = "time" if "time" in rows[0] else "x"
    return np.array([float(row[x]) for row in rows]), np.array([float(row["y"]) for row in rows])


def hinge(x: np.ndarray, level: float, left: float, knot: float, right: float) -> np.ndarray:
    return level + np.where(x < knot, left, right) * (x - knot)


def saturating(x: np.ndarray, level: float, lower: float, slope: float, upper: float) -> np.ndarray:
    return level + slope * (np.clip(x, lower, upper) - lower)


@pytest.mark.parametrize("name", SETS)
def test_scipy_curve_fit_ends_at_the_same_hinge(name):
    x, y = published(name)
    ours = fit_hinge(x, y)
    # Started a standard error off, so that it has a way to go.
    knot = ours.break_point + ours.standard_error
    start = [float(np.interp(knot, x[np.argsort(x)], y[np.argsort(x)])), ours.slope_left, knot, ours.slope_right]
    theirs, _ = curve_fit(hinge, x, y, start, xtol=1e-14, ftol=1e-14)
    rss = float(((y - hinge(x, *theirs)) ** 2).sum())
    assert ours.rss <= rss * (1 + 1e-9)
    assert theirs[2] == pytest.approx(ours.break_point, abs=0.02 * ours.standard_error)
    assert theirs[[1, 3]] == pytest.approx([ours.slope_left, ours.slope_right], rel=1e-2)


@pytest.mark.parametrize("name", SETS)
def test_pwlf_finds_no_better_hinge(name):
    pwlf = pytest.importorskip("pwlf")
    x, y = published(name)
    ours = fit_hinge(x, y)
    theirs = pwlf.PiecewiseLinFit(x, y, seed=3)
    knots = theirs.fit(2)
    assert ours.rss <= theirs.ssr * (1 + 1e-9)
    assert theirs.ssr == pytest.approx(ours.rss, rel=1e-4)
    assert knots[1] == pytest.approx(ours.break_point, abs=0.1 * ours.standard_error)
    # With the break given it has nothing left to search: slopes must agree to the last digits.
    theirs.fit_with_breaks([x.min(), ours.break_point, x.max()])
    assert theirs.slopes == pytest.approx([ours.slope_left, ours.slope_right], rel=1e-7)


@pytest.mark.parametrize("name", SETS)
@pytest.mark.filterwarnings("default")
def test_piecewise_regression_agrees_on_break_and_standard_error(name):
    library = pytest.importorskip("piecewise_regression", reason="only with the extra `bench`: it brings pandas")
    x, y = published(name)
    ours = fit_hinge(x, y)
    found = library.Fit(x, y, start_values=[ours.break_point + ours.standard_error], n_boot=0).get_results()
    estimate = found["estimates"]["breakpoint1"]
    assert estimate["estimate"] == pytest.approx(ours.break_point, abs=0.05 * ours.standard_error)
    assert estimate["se"] == pytest.approx(ours.standard_error, rel=0.05)
    assert ours.rss <= found["rss"] * (1 + 1e-9)


def test_running_fit_and_curve_fit_meet_on_the_saturating_set():
    x, y = published("hinge_saturation.csv")
    bins = RunningBins(float(x.min()), float(np.nextafter(x.max(), np.inf)), float(y.mean()))
    bins.add(x, y)
    ours = bins.fit()
    theirs, covariance = curve_fit(saturating, x, y, [20.0, 0.3, 10.0, 5.0])
    error = np.sqrt(np.diag(covariance))
    assert ours is not None and ours.upper is not None
    found = [ours.level, ours.lower, ours.slope, ours.upper]
    # The bins that hold a knot are left out of the sums; that may cost a small part of a standard error.
    assert np.abs((np.array(found) - theirs) / error).max() < 0.35


def test_running_fit_and_curve_fit_agree_on_many_samples():
    rng = np.random.default_rng(20260108)
    x = rng.uniform(-2.0, 20.0, 20_000)
    y = saturating(x, 20.0, 3.0, 12.0, 12.0) + 1.5 * rng.standard_normal(len(x))
    bins = RunningBins(-2.5, 20.5, 20.0)
    bins.add(x, y)
    ours = bins.fit()
    theirs, covariance = curve_fit(saturating, x, y, [22.0, 3.5, 11.0, 11.0])
    assert ours is not None and ours.upper is not None
    found = np.array([ours.level, ours.lower, ours.slope, ours.upper])
    assert np.abs((found - theirs) / np.sqrt(np.diag(covariance))).max() < 0.35
