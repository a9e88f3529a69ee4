"""Each fault shows what it is named for, from the start or switched on while running."""

import numpy as np
import pytest

from plant.invented_units import (
    BASELINE_KPA,
    FULL_KPA,
    SLOPE_KPA_PER_MM,
    drawn_scenario,
    exact_scenario,
    ramp,
    settled_kpa,
    take,
)
from rodtrue.model.errors import InputError
from rodtrue.virtual.faults import FAULTS
from rodtrue.virtual.plant import Plant


@pytest.fixture(params=["from the start", "while running"])
def ailing(request):
    """Make a plant with a fault, given from the start or switched on later."""

    def make(fault: str, rod_error_mm: float = 0.0) -> Plant:
        if request.param == "from the start":
            return Plant(exact_scenario(rod_error_mm, fault), 1)
        plant = Plant(exact_scenario(rod_error_mm), 1)
        take(plant, 0.2)
        plant.handle.fault = fault
        return plant

    return make


def sweep(plant: Plant, seconds: float = 2.0):
    plant.handle.follow(ramp(0.0, 40.0, seconds))
    opening = take(plant, seconds)
    plant.handle.follow(ramp(40.0, 0.0, seconds))
    return opening, take(plant, seconds + 0.5)


def test_binding_keeps_travel_and_pressure_from_returning(ailing):
    plant = ailing("binding")
    sweep(plant)
    travel, pressure = take(plant, 0.5)
    assert 0.35 < travel.mean() < 0.85
    assert 2.9 * SLOPE_KPA_PER_MM < pressure.mean() - BASELINE_KPA < 5.1 * SLOPE_KPA_PER_MM


def test_holding_spring_hides_a_binding_return(ailing):
    plant = ailing("binding")
    sweep(plant)
    plant.handle.holding_spring = True
    assert settled_kpa(plant, 0.0) == pytest.approx(BASELINE_KPA, abs=0.7)


def test_stuck_lever_shows_no_pressure_for_pin_or_hand(ailing):
    plant = ailing("stuck-lever")
    (_, opening), _ = sweep(plant)
    plant.handle.show_response()
    _, response = take(plant, 2.0)
    assert max(np.ptp(opening), np.ptp(response)) < 1.0


def test_healthy_lever_shows_its_response():
    plant = Plant(exact_scenario(-3.0), 1)
    plant.handle.rod_hooked = False
    plant.handle.show_response()
    _, response = take(plant, 2.0)
    assert response.max() > BASELINE_KPA + 10 * SLOPE_KPA_PER_MM
    assert response[-1] == pytest.approx(BASELINE_KPA, abs=0.7)


def test_loose_clamp_shifts_travel_from_stroke_to_stroke(ailing):
    plant = ailing("loose-clamp")
    rests = []
    for _ in range(6):
        sweep(plant, 1.0)
        rests.append(take(plant, 0.2)[0].mean())
    assert np.std(rests) > 0.15
    assert np.max(np.abs(rests)) < 0.85


def test_unplugged_sensor_lies_on_the_pull_down(ailing):
    plant = ailing("unplugged-sensor")
    codes = plant.samples(500, 0.5)
    assert not codes[:, 1].any()
    assert codes[:, 0].all()


def test_low_supply_lowers_the_plateau_and_spares_the_ramp(ailing):
    plant = ailing("low-supply")
    assert settled_kpa(plant, 8.0) == pytest.approx(BASELINE_KPA + 8 * SLOPE_KPA_PER_MM, abs=1.0)
    assert 0.44 * FULL_KPA < settled_kpa(plant, 40.0) < 0.61 * FULL_KPA


def test_air_makes_pressure_sluggish_and_surging(ailing):
    plant = ailing("air")
    settled_kpa(plant, 0.0)
    assert np.ptp(take(plant, 2.0)[1]) > 6.0
    plant.handle.throttle_mm = 20.0
    _, pressure = take(plant, 0.15)
    assert pressure[-1] < BASELINE_KPA + 0.8 * 20 * SLOPE_KPA_PER_MM


def test_cured_fault_leaves_a_healthy_unit():
    plant = Plant(exact_scenario(0.0, "low-supply"), 1)
    settled_kpa(plant, 40.0)
    plant.handle.fault = None
    assert settled_kpa(plant, 40.0) == pytest.approx(FULL_KPA, abs=2.0)


def test_direct_layout_has_no_intermediate_rod_to_be_wrong():
    with pytest.raises(InputError) as refusal:
        drawn_scenario(0.0, "wrong-intermediate-rod")
    assert "layout direct has no intermediate rod" in refusal.value.message
    assert "two-bell-cranks" in refusal.value.next_step


def test_every_other_fault_can_be_given_from_the_start():
    for fault in set(FAULTS) - {"wrong-intermediate-rod"}:
        plant = Plant(drawn_scenario(-3.0, fault), 1)
        assert plant.truth.fault == plant.handle.fault == fault
        assert plant.samples(100, 0.1).shape == (10, 2)
