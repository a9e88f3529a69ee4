"""Unit factors against NIST SP 811, appendix B."""

import pytest

from rodtrue.model.units import KPA_PER_PSI, MM_PER_INCH, kpa_to_psi, mm_to_inch


def test_factors_are_those_of_sp_811():
    # NIST SP 811 appendix B: inch 25.4 mm exactly (from memory); psi 6.894757 kPa (seven digits printed).
    assert MM_PER_INCH == 25.4
    assert round(KPA_PER_PSI, 6) == 6.894757
    assert pytest.approx(6.89475729316836, rel=1e-14) == KPA_PER_PSI


def test_half_an_inch_and_three_hundred_psi():
    assert mm_to_inch(12.7) == pytest.approx(0.5, rel=1e-15)
    assert kpa_to_psi(2068.427187950508) == pytest.approx(300, rel=1e-12)
