"""Capability and tolerance limits: published intervals and factors, coverage, and refusals."""

import numpy as np
import pytest

from rodtrue.lab.capability import capability, centred_interval, moving_range_freedom, spread_interval
from rodtrue.lab.tolerance import one_sided_factor, tolerance_limits, two_sided_factor
from rodtrue.model.errors import InputError


def test_the_textbooks_intervals_of_an_index():
    # D. C. Montgomery, Introduction to Statistical Quality Control, example 8.5: n = 20, index 1.33, 95 %.
    assert [round(limit, 3) for limit in spread_interval(1.33, 19)] == [0.911, 1.749]
    assert [round(limit, 2) for limit in centred_interval(1.33, 20, 19)] == [0.88, 1.78]


def test_factors_of_tolerance_limits_are_the_handbooks():
    # NIST/SEMATECH e-Handbook 7.2.6.3, 43 values, 90 % of the population with 99 % confidence: 2.217 on two sides,
    # 1.8740 on one (from memory).
    assert round(two_sided_factor(43, 0.90, 0.99), 3) == 2.217
    assert one_sided_factor(43, 0.90, 0.99) == pytest.approx(1.8740, abs=1.5e-4)


def test_indices_of_values_made_by_hand():
    values = np.array([9.0, 10, 11, 10, 9, 10, 11, 10])
    found = capability(values, 7.0, 13.0)
    assert found.mean == 10
    assert found.sd == pytest.approx(1.0 / 1.128)
    assert found.overall_sd == pytest.approx(np.sqrt(4 / 7))
    assert found.cp == pytest.approx(6 / (6 / 1.128))
    assert found.cpk == pytest.approx(found.cp)
    assert found.ppk == pytest.approx(3 / (3 * np.sqrt(4 / 7)))
    assert found.outside == 0


def test_subgroups_pool_their_spread():
    values = np.array([1.0, 3, 11, 13, 5, 7, 9, 11])
    found = capability(values, 0.0, 20.0, np.array(list("aabbccdd")))
    assert found.sd == pytest.approx(np.sqrt(2.0))
    assert found.degrees_of_freedom == 4


def test_one_limit_gives_no_cp():
    found = capability(np.random.default_rng(1).normal(size=40), None, 4.0)
    assert (found.cp, found.pp, found.cp_interval) == (None, None, None)
    assert found.cpk == pytest.approx((4.0 - found.mean) / (3 * found.sd))


def test_the_freedom_of_a_mean_moving_range_matches_its_scatter():
    rng = np.random.default_rng(4)
    mean_ranges = np.abs(np.diff(rng.normal(size=(20_000, 25)), axis=1)).mean(axis=1)
    seen = mean_ranges.mean() ** 2 / (2 * mean_ranges.var())
    assert moving_range_freedom(25) == pytest.approx(seen, rel=0.04)


def test_intervals_hold_the_true_index():
    """1,000 batches of 50: Cp, Cpk, Pp and Ppk inside their 95 % intervals in 92 % or more."""
    inside = np.zeros(4)
    for seed in range(1000):
        values = np.random.default_rng(seed).normal(size=50)
        found = capability(values, -4.0, 3.0)
        intervals = (found.cp_interval, found.cpk_interval, found.pp_interval, found.ppk_interval)
        inside += [low <= truth <= high for truth, (low, high) in zip((7 / 6, 1, 7 / 6, 1), intervals, strict=True)]
    assert np.all(inside >= 920), inside


def test_a_skewed_batch_is_called_out_and_a_normal_one_is_not():
    skewed = np.random.default_rng(2).exponential(size=60)
    assert any("do not look normal" in remark for remark in capability(skewed, 0.0, 6.0).remarks)
    normal = np.random.default_rng(2).normal(size=60)
    assert not any("do not look normal" in remark for remark in capability(normal, -4.0, 4.0).remarks)


def test_a_level_that_moves_is_called_out():
    values = np.concatenate([np.random.default_rng(3).normal(scale=0.2, size=30) + level for level in (0, 1, 2)])
    assert any("the level moves" in remark for remark in capability(values, -5.0, 5.0).remarks)


def test_tolerance_limits_hold_the_share_they_promise():
    from scipy.stats import norm

    kept = 0
    for seed in range(400):
        found = tolerance_limits(np.random.default_rng(seed).normal(size=20), coverage=0.90, confidence=0.95)
        kept += norm.cdf(found.upper) - norm.cdf(found.lower) >= 0.90
    assert 366 <= kept <= 394  # 380 expected; three standard deviations of a binomial count


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: capability(np.arange(10.0), None, None), "no limit"),
        (lambda: capability(np.arange(10.0), 5.0, 3.0), "not below"),
        (lambda: capability(np.arange(10.0), 3.0, 3.0), "not below"),
        (lambda: capability(np.arange(5.0), 0.0, 9.0), "too few"),
        (lambda: capability(np.ones(30), 0.0, 9.0), "no spread"),
        (lambda: capability(np.arange(8.0), 0.0, 9.0, np.array(list("abcdefgh"))), "one value"),
        (lambda: tolerance_limits(np.arange(10.0), coverage=1.0), "coverage 1"),
        (lambda: tolerance_limits(np.arange(3.0)), "too few"),
    ],
)
def test_what_cannot_be_judged_says_why(make, says):
    with pytest.raises(InputError, match=says):
        make()


@pytest.mark.parametrize(
    ("n", "two_sided", "one_sided"), [(10, 3.379, 2.911), (20, 2.752, 2.396), (30, 2.549, 2.220), (50, 2.379, 2.065)]
)
def test_factors_for_95_of_100_with_95_per_cent_confidence_agree_with_the_printed_tables(n, two_sided, one_sided):
    # R. E. Odeh and D. B. Owen, Tables for Normal Tolerance Limits (1980), as in handbooks (from memory). Howe's
    # two-sided factor is an approximation, good to a few thousandths.
    assert two_sided_factor(n, 0.95, 0.95) == pytest.approx(two_sided, abs=5e-3)
    assert one_sided_factor(n, 0.95, 0.95) == pytest.approx(one_sided, abs=1e-3)
