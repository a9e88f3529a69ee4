"""The budget against the GUM's own arithmetic."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rodtrue.analysis.budget import STATISTICAL_ROW, combine, expanded, travel_rows
from rodtrue.analysis.reference import Rests
from rodtrue.model.conditions import Conditions
from rodtrue.model.result import BudgetRow
from rodtrue.profiles import load_profile

PROFILE = load_profile("example-direct")
STILL = Rests(0.0, 25.0, [0.0, 0.0], [25.0, 25.0])


def row(name: str, u: float, freedom: float | None) -> BudgetRow:
    return BudgetRow(name, u, "mm", "normal", 1.0, 1.0, u, freedom)


def test_effective_degrees_of_freedom_of_gum_h1():
    # JCGM 100:2008, H.1 (end-gauge calibration): contributions 25 nm (18), 9.7 nm (25.6), 2.9 nm (50), 16.6 nm (2)
    # combine to u_c = 32 nm with 16 effective degrees of freedom, t(99 %) = 2.92 (from memory; recalculated).
    rows = [row("comparator", 5.8, 24), row("systematic", 6.7, 8), row("reads", 3.9, 5), row("standard", 25.0, 18),
            row("thermal", 2.9, 50), row("difference", 16.6, 2)]  # fmt: skip
    combined = combine(rows)
    assert combined.standard_uncertainty_mm == pytest.approx(32, abs=0.5)
    assert int(combined.degrees_of_freedom) in (16, 17)


@given(u=st.lists(st.floats(1e-4, 10), min_size=1, max_size=8))
def test_combined_uncertainty_is_the_root_sum_of_squares(u):
    combined = combine([row(str(i), value, 5) for i, value in enumerate(u)])
    assert combined.standard_uncertainty_mm == pytest.approx(math.sqrt(sum(v * v for v in u)))
    assert 5 - 1e-9 <= combined.degrees_of_freedom <= 5 * len(u) + 1e-6


def test_statistical_and_systematic_parts_are_kept_apart():
    combined = combine([row(STATISTICAL_ROW, 3.0, 9), row("rests", 4.0, None)])
    assert (combined.standard_uncertainty_mm, combined.systematic_mm) == (5.0, 4.0)
    assert combined.limiting_row == "rests"
    assert combined.degrees_of_freedom == pytest.approx(5**4 / (3**4 / 9))


def test_expanded_uncertainty_uses_student_t():
    # t(0.975, 9) = 2.262 (NIST/SEMATECH e-Handbook table).
    reach, factor = expanded(combine([row(STATISTICAL_ROW, 2.0, 9)]), 0.95)
    assert factor == pytest.approx(2.262157, abs=1e-6) and reach == pytest.approx(2 * factor)


@pytest.mark.parametrize(("distance_mm", "half_width_mm"), [(0.0, 0.05), (5.0, 0.05), (-5.0, 0.05), (12.0, 0.12)])
def test_nonlinearity_is_a_length_near_zero_and_a_share_of_the_distance_beyond(distance_mm, half_width_mm):
    rows = {r.name: r for r in travel_rows(distance_mm, STILL, PROFILE, Conditions())}
    assert rows["travel nonlinearity"].half_width == pytest.approx(half_width_mm)
    assert rows["travel scale"].standard_uncertainty_mm == pytest.approx(0.005 * abs(distance_mm) / math.sqrt(3))
    assert rows["axis and arc"].standard_uncertainty_mm == pytest.approx(0.002 * abs(distance_mm) / math.sqrt(3))


def test_rests_count_by_their_spread_but_never_less_than_the_profiles():
    scattered = Rests(0.0, 25.0, [0.1, -0.02], [25.0, 25.0])
    rows = {r.name: r for r in travel_rows(1.0, scattered, PROFILE, Conditions())}
    assert rows["rests"].half_width == pytest.approx(0.06)
    rows = {r.name: r for r in travel_rows(1.0, STILL, PROFILE, Conditions())}
    assert rows["rests"].half_width == pytest.approx(0.02)
