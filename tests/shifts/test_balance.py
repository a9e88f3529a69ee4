"""The force balance against published worked examples, through the functions the shift valve uses."""

import math

import pytest

from rodtrue.model.shifts import ShiftValve
from rodtrue.model.units import KPA_PER_PSI, MM_PER_INCH
from rodtrue.shifts.balance import balancing_pressure_kpa, pressure_force_n, spring_force_n
from rodtrue.shifts.valve import downshift_governor_kpa, upshift_governor_kpa

N_PER_LBF = 4.4482216152605
"""NIST SP 811, appendix B (from memory)."""
MM2_PER_IN2 = MM_PER_INCH**2


def circle_mm2(diameter_mm: float) -> float:
    return math.pi * diameter_mm**2 / 4


def test_hydraulic_brake():
    """OpenStax, College Physics, chapter 11: 500 N on a piston of 0.500 cm gives 2.5e7 Pa.

    The 1.25e4 N on a piston of 2.50 cm are from memory.
    """
    pressure_kpa = balancing_pressure_kpa(circle_mm2(5.0), 500.0)
    assert float(f"{pressure_kpa * 1000:.1e}") == 2.5e7
    assert pressure_kpa == pytest.approx(25464.7909, rel=1e-8)
    assert pressure_force_n(pressure_kpa, circle_mm2(25.0)) == pytest.approx(1.25e4, rel=1e-12)


def test_hydraulic_lift():
    """OpenStax, College Physics, chapter 11: 2000 kg on 24.0 cm are held by 136 N on 2.00 cm (g = 9.80)."""
    pressure_kpa = balancing_pressure_kpa(circle_mm2(240.0), 2000 * 9.80)
    assert round(pressure_force_n(pressure_kpa, circle_mm2(20.0))) == 136


@pytest.mark.parametrize(("opened_in", "printed_psi"), [(0.0, 667), (0.10, 1000)])
def test_spring_loaded_relief_valve(opened_in, printed_psi):
    """Esposito, Fluid Power with Applications, example 8-1: cracking and full-flow pressure.

    Poppet 0.75 in2, spring 2500 lb/in, compressed 0.20 in when shut, 0.10 in more at full flow.
    """
    rate_n_per_mm = 2500 * N_PER_LBF / MM_PER_INCH
    spring_n = spring_force_n(0.0, rate_n_per_mm, (0.20 + opened_in) * MM_PER_INCH)
    pressure_psi = balancing_pressure_kpa(0.75 * MM2_PER_IN2, spring_n) / KPA_PER_PSI
    assert round(pressure_psi) == printed_psi
    assert pressure_psi == pytest.approx(2500 * (0.20 + opened_in) / 0.75, rel=1e-9)


def relief_valve_as_shift_valve() -> ShiftValve:
    """The same relief valve, governor pressure on its poppet, closed in second and open in third."""
    return ShiftValve(
        governor_area_second_mm2=0.75 * MM2_PER_IN2,
        governor_area_third_mm2=0.75 * MM2_PER_IN2,
        throttle_area_mm2=100.0,
        part_throttle_area_mm2=100.0,
        kickdown_area_mm2=100.0,
        spring_preload_n=500 * N_PER_LBF,
        spring_rate_n_per_mm=2500 * N_PER_LBF / MM_PER_INCH,
        stroke_mm=0.10 * MM_PER_INCH,
    )


def test_shift_valve_without_throttle_pressure_is_that_relief_valve():
    """Esposito, example 8-1, once more: 666.667 and 1000 psi."""
    valve = relief_valve_as_shift_valve()
    assert upshift_governor_kpa(valve, 0.0) / KPA_PER_PSI == pytest.approx(666.667, abs=5e-4)
    down_kpa, cause = downshift_governor_kpa(valve, 0.0, past_detent=True)
    assert down_kpa / KPA_PER_PSI == pytest.approx(1000.0, rel=1e-9)
    assert cause == "spring"
