"""Where the ramp lies: no starting guess, and nothing after it that moves it."""

import csv
from pathlib import Path

import numpy as np
import pytest

from rodtrue.analysis.knots import bin_by_travel, find_ramp, plateau_kpa

PUBLISHED = Path(__file__).parents[1] / "data" / "published"


def curve(
    x: np.ndarray, knee: float, slope: float = 12.0, plateau: float = np.inf, detent: float = np.inf
) -> np.ndarray:
    pressure = np.minimum(25.0 + slope * np.maximum(0, x - knee), plateau)
    return np.where(x > detent, np.maximum(pressure, plateau if np.isfinite(plateau) else 0) + 250.0, pressure)


def found(x: np.ndarray, p: np.ndarray, noise: float = 0.5):
    rng = np.random.default_rng(7)
    return find_ramp(bin_by_travel(x, p + noise * rng.standard_normal(len(x))), 8.0, 25.0)


X = np.linspace(0, 45, 6000)


@pytest.mark.parametrize("knee", [0.5, 3.0, 8.0, 15.0, 30.0])
def test_knee_is_found_wherever_it_lies(knee):
    place = found(X, curve(X, knee))
    assert place is not None
    assert place.lower_mm == pytest.approx(knee, abs=0.15)
    assert place.slope_kpa_per_mm == pytest.approx(12.0, rel=0.03)


@pytest.mark.parametrize("knee", [1.0, 6.0, 14.0])
def test_plateau_and_detent_do_not_move_the_knee(knee):
    plain = found(X, curve(X, knee))
    after = found(X, curve(X, knee, plateau=300.0, detent=42.0))
    step = found(X, curve(X, knee, detent=40.0))
    assert plain is not None and after is not None and step is not None
    assert after.lower_mm == pytest.approx(plain.lower_mm, abs=0.05)
    assert step.lower_mm == pytest.approx(plain.lower_mm, abs=0.05)


def test_a_short_ramp_before_a_plateau_is_found():
    place = found(X, curve(X, 10.0, plateau=25.0 + 3 * 12.0))
    assert place is not None
    assert (place.lower_mm, place.upper_mm) == (pytest.approx(10, abs=0.2), pytest.approx(13, abs=0.2))


def test_a_long_rod_has_no_level():
    place = found(X, curve(X, -6.0, plateau=400.0))
    assert place is not None and not place.has_level
    assert place.slope_kpa_per_mm == pytest.approx(12.0, rel=0.03)


def test_the_lag_rounded_end_of_a_long_rods_ramp_is_no_level():
    rounded = curve(X, -9.0) + 6.0 * np.exp(-X / 0.6)
    place = found(X, rounded)
    assert place is not None and not place.has_level
    assert place.upper_mm > 10


def test_a_rounded_knee_is_no_ramp_of_its_own():
    rounded = 25 + 12 * 0.5 * ((X - 5) + np.sqrt((X - 5) ** 2 + 0.25))
    place = found(X, rounded)
    assert place is not None
    assert place.upper_mm - place.lower_mm > 8


def test_published_saturation_case():
    # Flat, ramp, saturation; numpy default_rng(20260201), truth 0.137 and 5.3, exact least squares 0.1221777
    # and 5.2936188 (nested grid). Bins weigh alike here, so agreement is to their width.
    with (PUBLISHED / "hinge_saturation.csv").open() as file:
        rows = list(csv.DictReader(file))
    x, y = (np.array([float(row[name]) for row in rows]) for name in ("x", "y"))
    place = find_ramp(bin_by_travel(x, y), 8.0, 20.0)
    assert place is not None
    assert place.lower_mm == pytest.approx(0.1221777, abs=0.02)
    assert place.upper_mm == pytest.approx(5.2936188, abs=0.02)


def test_plateau_is_read_below_a_detent():
    bins = bin_by_travel(X, curve(X, 5.0, plateau=300.0, detent=43.0))
    assert plateau_kpa(bins, 8.0) == pytest.approx(300, abs=1)
    assert plateau_kpa(bin_by_travel(X, curve(X, 5.0)), 8.0) is None


def test_bins_keep_sums_of_large_numbers():
    x = np.linspace(0, 1, 1000)
    bins = bin_by_travel(1e6 + x, 1e9 + x, bins=10)
    assert bins.pressure_kpa - 1e9 == pytest.approx(bins.travel_mm - 1e6, abs=1e-5)
    assert bins.n.sum() == 1000


def test_too_few_bins_hold_no_ramp():
    assert find_ramp(bin_by_travel(np.zeros(50), np.zeros(50)), 1.0, 0.0) is None


@pytest.mark.parametrize("beyond_knee", [13.1, 13.5, 14.0, 15.0])
@pytest.mark.parametrize("steep", [3.0, 12.0])
def test_a_detent_beyond_what_is_looked_at_changes_nothing_at_all(beyond_knee, steep):
    detent = 3.0 + beyond_knee
    plain, with_detent = curve(X, 3.0), curve(X, 3.0) + 12.0 * (steep - 1) * np.maximum(0, X - detent)
    a, b = found(X, plain), found(X, with_detent)
    assert a is not None and b is not None
    assert b.lower_mm == pytest.approx(a.lower_mm, abs=1e-3)


@pytest.mark.parametrize("at", [12.0, 12.3, 12.6, 12.9])
def test_a_detent_that_begins_on_a_plateau_does_not_hide_the_plateau(at):
    p = curve(X, -9.0, plateau=25 + 12 * 20.0) + 36.0 * np.maximum(0, X - at)
    place = found(X, p)
    assert place is not None and not place.has_level
    # Up to half a millimetre late: less than the window keeps clear of it.
    assert at - 1.5 <= place.detent_mm <= at + 0.5
    assert place.upper_mm == pytest.approx(11.0, abs=0.4)


def test_of_two_plateaus_the_longer_one_is_the_plateau():
    p = 25 + 12 * (np.clip(X, 3, 10) - 3) + 12 * (np.clip(X, 14, 20) - 14)
    assert plateau_kpa(bin_by_travel(X, p), 8.0) == pytest.approx(25 + 12 * 13, abs=1)
