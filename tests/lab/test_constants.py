"""Control chart factors against numerical integrations done elsewhere and against printed tables."""

import csv
from math import sqrt
from pathlib import Path

import pytest

from rodtrue.lab.constants import c4, d2, d2_of_one_range, d3

PUBLISHED = Path(__file__).parents[1] / "data" / "published"
ROWS = list(csv.DictReader((PUBLISHED / "control_chart_constants.csv").read_text().splitlines()))
PRINTED = {2: (1.128, 0.7979, 1.880), 5: (2.326, 0.9400, 0.577), 10: (3.078, 0.9727, 0.308)}
"""d2, c4 and A2 as D. C. Montgomery, Introduction to Statistical Quality Control, prints them in appendix VI."""


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"n={row['n']}")
def test_factors_agree_with_an_independent_integration_to_six_digits(row):
    n = int(row["n"])
    assert d2(n) == pytest.approx(float(row["d2"]), abs=1e-6)
    assert d3(n) == pytest.approx(float(row["d3"]), abs=1e-6)
    assert c4(n) == pytest.approx(float(row["c4"]), abs=1e-6)
    assert max(1 - 3 * d3(n) / d2(n), 0) == pytest.approx(float(row["D3"]), abs=3e-6)
    assert 1 + 3 * d3(n) / d2(n) == pytest.approx(float(row["D4"]), abs=3e-6)
    assert 1 + 3 * sqrt(1 - c4(n) ** 2) / c4(n) == pytest.approx(float(row["B4"]), abs=3e-6)


@pytest.mark.parametrize("n", PRINTED)
def test_factors_round_to_the_printed_table(n):
    printed_d2, printed_c4, printed_a2 = PRINTED[n]
    assert round(d2(n), 3) == printed_d2
    assert round(c4(n), 4) == printed_c4
    assert round(3 / (d2(n) * sqrt(n)), 3) == printed_a2


def test_divisors_of_one_range_are_the_inverse_of_the_printed_k_factors():
    # AIAG, Measurement Systems Analysis, 4th edition: K1 for 3 trials, K2 for 3 appraisers, K3 for 10 parts.
    assert round(1 / d2(3), 4) == 0.5908
    assert 1 / d2_of_one_range(3) == pytest.approx(0.5231, abs=5e-5)
    assert 1 / d2_of_one_range(10) == pytest.approx(0.3146, abs=5e-5)
