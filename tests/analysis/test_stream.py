"""The running fit: as good as the bound allows, whatever the order of the samples, no starting guess."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rodtrue.analysis.hinge import fit_hinge
from rodtrue.analysis.stream import LevelRampLevel, RunningBins


def course(x: np.ndarray, lower: float, upper: float, slope: float = 12.0, level: float = 20.0) -> np.ndarray:
    return level + slope * (np.clip(x, lower, upper) - lower)


def fitted(x: np.ndarray, p: np.ndarray, pieces: int = 1) -> LevelRampLevel:
    bins = RunningBins(float(x.min()), float(np.nextafter(x.max(), np.inf)), 20.0)
    for part_x, part_p in zip(np.array_split(x, pieces), np.array_split(p, pieces), strict=True):
        bins.add(part_x, part_p)
    fit = bins.fit()
    assert fit is not None
    return fit


def bound(x: np.ndarray, lower: float, upper: float, slope: float, sd: float) -> float:
    """Cramer-Rao bound of the lower knot: root of its diagonal in the inverse information (Seber and Wild 1989)."""
    columns = [np.ones_like(x), np.clip(x, lower, upper) - lower, -slope * ((x > lower) & (x <= upper))]
    if np.isfinite(upper):
        columns = [np.ones_like(x), np.clip(x, lower, upper) - lower, -slope * (x > lower), slope * (x > upper)]
    information = np.column_stack(columns).T @ np.column_stack(columns)
    return float(sd * np.sqrt(np.linalg.inv(information)[2, 2]))


@pytest.mark.parametrize("upper", [np.inf, 15.0])
def test_scatter_of_the_start_is_the_cramer_rao_bound(upper):
    rng = np.random.default_rng(20260401)
    x = np.linspace(-2, 20, 3000)
    ratios = []
    for _ in range(300):
        lower = rng.uniform(0, 6)
        p = course(x, lower, upper) + 1.5 * rng.standard_normal(len(x))
        ratios.append((fitted(x, p).lower - lower) / bound(x, lower, upper, 12.0, 1.5))
    # RMSE over the bound; 300 runs give it to within 4 % (one standard error).
    assert np.sqrt(np.mean(np.square(ratios))) < 1.12
    assert np.max(np.abs(ratios)) < 5, "no gross failure"


@pytest.mark.parametrize(("lower", "upper"), [(0.0, 3.0), (8.0, 11.0), (18.9, np.inf), (-1.5, 19.0), (5.0, 6.0)])
def test_short_late_and_barely_seen_ramps_are_found_without_a_guess(lower, upper):
    rng = np.random.default_rng(5)
    x = np.linspace(-2, 20, 6000)
    fit = fitted(x, course(x, lower, upper) + 0.5 * rng.standard_normal(len(x)))
    assert fit.lower == pytest.approx(lower, abs=0.12)


def test_agrees_with_the_exact_hinge():
    rng = np.random.default_rng(6)
    x = rng.uniform(-2, 18, 5000)
    p = course(x, 3.3, np.inf) + 1.5 * rng.standard_normal(len(x))
    exact = fit_hinge(x, p, flat_left=True)
    error = exact.standard_error
    assert error is not None
    assert fitted(x, p).lower == pytest.approx(exact.break_point, abs=0.35 * error)


@settings(max_examples=20, deadline=None, derandomize=True)
@given(pieces=st.integers(1, 40), seed=st.integers(0, 100))
def test_how_the_samples_arrive_does_not_matter(pieces, seed):
    rng = np.random.default_rng(seed)
    x = np.linspace(-2, 20, 2000)
    p = course(x, 2.0, 16.0) + rng.standard_normal(len(x))
    order = rng.permutation(len(x))
    assert fitted(x[order], p[order], pieces).lower == pytest.approx(fitted(x, p).lower, abs=1e-9)


def test_far_from_zero_no_digits_are_lost():
    x = np.linspace(-2, 20, 4000)
    p = course(x, 2.0, 16.0) + np.random.default_rng(2).standard_normal(len(x))
    moved = RunningBins(1e5 - 2, np.nextafter(1e5 + 20, np.inf), 1e6)
    moved.add(x + 1e5, p + 1e6)
    fit = moved.fit()
    assert fit is not None
    assert fit.lower - 1e5 == pytest.approx(fitted(x, p).lower, abs=1e-5)
    assert fit.level is not None
    assert fit.level - 1e6 == pytest.approx(fitted(x, p).level, abs=1e-5)


def test_a_ramp_from_the_first_sample_on_is_carried_back():
    x = np.linspace(0, 12, 3000)
    fit = fitted(x, 100.0 + 12 * x + np.random.default_rng(3).standard_normal(len(x)))
    assert fit.level is None or fit.level > 99
    assert fit.meets(25.0) == pytest.approx(-75 / 12, abs=0.05)


def test_samples_out_of_range_are_counted_and_left_out():
    bins = RunningBins(0.0, 10.0)
    bins.add(np.array([-1.0, 5.0, 10.0, 99.0]), np.ones(4))
    assert bins.outside == 3


def test_too_little_or_no_rise_gives_no_fit():
    assert RunningBins(0, 10).fit() is None
    falling = RunningBins(0, 10)
    x = np.linspace(0, 9.99, 500)
    falling.add(x, 100 - 5 * np.maximum(0, x - 4))
    assert falling.fit() is None
    with pytest.raises(ValueError, match="above"):
        RunningBins(1, 1)
