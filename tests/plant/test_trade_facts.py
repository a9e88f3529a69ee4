"""What the trade says of throttle rods, held against the plant.

Every fact here is common practice, no source.
"""

import numpy as np
import pytest

from plant.invented_units import BASELINE_KPA, FULL_KPA, SLOPE_KPA_PER_MM, exact_scenario, ramp, settled_kpa, take
from rodtrue.model.units import MM_PER_INCH
from rodtrue.virtual.plant import Plant

POSITIONS_MM = np.arange(0.0, 45.0, 2.5)
STEP_KPA = 0.7
"""A little over one converter step: what a reading without noise can be off by."""


def pressures_kpa(rod_error_mm: float) -> np.ndarray:
    plant = Plant(exact_scenario(rod_error_mm), 1)
    return np.array([settled_kpa(plant, travel) for travel in POSITIONS_MM])


def test_short_rod_lowers_pressure_at_every_throttle_position():
    exact, short = pressures_kpa(0.0), pressures_kpa(-4.0)
    assert np.all(short <= exact + STEP_KPA)
    on_the_ramp = (POSITIONS_MM > 0.0) & (exact < FULL_KPA - 10.0)
    assert on_the_ramp.sum() >= 10
    assert np.all(short[on_the_ramp] < exact[on_the_ramp] - 20.0)


def test_long_rod_raises_pressure_at_every_throttle_position_and_at_idle():
    exact, long = pressures_kpa(0.0), pressures_kpa(3.0)
    assert np.all(long >= exact - STEP_KPA)
    assert long[0] == pytest.approx(BASELINE_KPA + 3.0 * SLOPE_KPA_PER_MM, abs=STEP_KPA)


def test_exact_rod_rises_from_the_first_travel_on():
    plant = Plant(exact_scenario(0.0), 1)
    assert settled_kpa(plant, 0.0) == pytest.approx(BASELINE_KPA, abs=STEP_KPA)
    assert settled_kpa(plant, 1.0) == pytest.approx(BASELINE_KPA + SLOPE_KPA_PER_MM, abs=STEP_KPA)


def test_half_an_inch_short_begins_its_ramp_half_an_inch_late():
    """The inch: NIST SP 811, appendix B, 25.4 mm exactly."""
    half_inch_mm = 0.5 * MM_PER_INCH
    assert half_inch_mm == pytest.approx(12.7)
    plant = Plant(exact_scenario(-half_inch_mm), 1)
    plant.handle.follow(ramp(0.0, 25.0, 10.0))
    travel, pressure = take(plant, 10.0)
    risen = pressure > BASELINE_KPA + 6.0
    assert travel[risen][0] == pytest.approx(half_inch_mm + 6.0 / SLOPE_KPA_PER_MM, abs=0.12)
    assert not risen[travel < half_inch_mm].any()


def test_short_rod_misses_the_kickdown_detent():
    assert pressures_kpa(0.0)[-1] == pytest.approx(FULL_KPA, abs=2.0)
    for rod_error_mm, kicks_down in ((0.0, True), (-4.0, False)):
        plant = Plant(exact_scenario(rod_error_mm), 1)
        assert (settled_kpa(plant, 45.0) > FULL_KPA + 50.0) is kicks_down


def test_unhooked_rod_shows_the_minimum_pressure_whatever_its_length():
    for rod_error_mm in (-4.0, 0.0, 6.0):
        plant = Plant(exact_scenario(rod_error_mm), 1)
        plant.handle.rod_hooked = False
        plant.handle.holding_spring = True
        assert settled_kpa(plant, 0.0) == pytest.approx(BASELINE_KPA, abs=STEP_KPA)


def test_baseline_taken_with_a_long_rod_on_the_pin_equals_idle_pressure():
    """The idle stop blocks the rod, so no holding spring brings the lever to its stop."""
    plant = Plant(exact_scenario(3.0, "baseline-connected"), 1)
    plant.handle.rod_hooked = False
    plant.handle.holding_spring = True
    plant.handle.tap_lever()
    take(plant, 0.5)
    baseline_kpa = settled_kpa(plant, 0.0)
    plant.handle.holding_spring = False
    plant.handle.rod_hooked = True
    assert baseline_kpa == pytest.approx(settled_kpa(plant, 0.0), abs=STEP_KPA)
    assert baseline_kpa > BASELINE_KPA + 2.5 * SLOPE_KPA_PER_MM


def test_slot_lets_the_throttle_close_on_a_stuck_linkage():
    """The slot is a safety feature: the pin comes back although the lever hangs."""
    plant = Plant(exact_scenario(0.0, "binding"), 1)
    plant.handle.follow(ramp(0.0, 30.0, 2.0))
    take(plant, 2.0)
    plant.handle.follow(ramp(30.0, 0.0, 2.0))
    take(plant, 3.0)
    travel, pressure = take(plant, 0.5)
    assert travel.mean() < 1.0
    assert pressure.mean() > BASELINE_KPA + 2.0 * SLOPE_KPA_PER_MM


def test_lengthening_cures_a_short_rod():
    plant = Plant(exact_scenario(-3.0), 1)
    assert settled_kpa(plant, 2.0) == pytest.approx(BASELINE_KPA, abs=STEP_KPA)
    plant.handle.lengthen(3.0)
    assert settled_kpa(plant, 2.0) == pytest.approx(BASELINE_KPA + 2.0 * SLOPE_KPA_PER_MM, abs=STEP_KPA)
    assert plant.truth.rod_error_mm == pytest.approx(0.0)
