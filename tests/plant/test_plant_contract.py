"""What the plant promises to whoever asks it for conversions."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.invented_units import (
    BASELINE_KPA,
    SLOPE_KPA_PER_MM,
    drawn_scenario,
    exact_scenario,
    ramp,
    settled_kpa,
    take,
)
from rodtrue.model.errors import InputError
from rodtrue.virtual import sensors
from rodtrue.virtual.motion import guided_run
from rodtrue.virtual.plant import Plant

TIMES_US = 500 * np.arange(6000, dtype=np.int64)


def moving_plant(fault: str | None = None, seed: int = 1) -> Plant:
    """A plant with three seconds of everything in front of it: taps, push, hook up, sweep."""
    plant = Plant(drawn_scenario(-3.0, fault), seed)
    run = guided_run(plant.hand, sweeps=1, halves_s=(0.4,), taps=2)
    quick = [replace(step, seconds=seconds) for step, seconds in zip(run, (0.2, 1.0, 0.4, 0.2, 1.2), strict=True)]
    plant.handle.schedule_steps(quick, 0)
    return plant


WHOLE = {fault: moving_plant(fault).conversions(TIMES_US) for fault in (None, "binding", "loose-clamp")}


@settings(max_examples=25, deadline=None)
@given(st.sets(st.integers(0, 6000), max_size=12), st.sampled_from(sorted(WHOLE, key=str)))
def test_codes_do_not_depend_on_how_calls_are_split(cuts, fault):
    plant = moving_plant(fault)
    pieces = [plant.conversions(part) for part in np.split(TIMES_US, sorted(cuts))]
    np.testing.assert_array_equal(np.concatenate(pieces), WHOLE[fault])


def test_same_key_gives_the_same_codes_and_another_seed_does_not():
    np.testing.assert_array_equal(moving_plant().conversions(TIMES_US), WHOLE[None])
    assert np.any(moving_plant(seed=2).conversions(TIMES_US) != WHOLE[None])


def test_samples_are_four_times_the_sum_of_four_conversions():
    rate_hz = 300
    interval_us = 1_000_000 // (4 * rate_hz)
    whole = moving_plant().samples(rate_hz, 1.0)
    plant = moving_plant()
    in_two = np.concatenate([plant.samples(rate_hz, 0.37), plant.samples(rate_hz, 0.63)])
    conversions = moving_plant().conversions(interval_us * np.arange(4 * rate_hz, dtype=np.int64))
    by_hand = 4 * conversions[:, :2].astype(int).reshape(-1, 4, 2).sum(axis=1)
    np.testing.assert_array_equal(whole, by_hand)
    np.testing.assert_array_equal(in_two, by_hand)


def test_codes_are_twelve_bits_on_eight_channels_and_a_sample_fits_its_code():
    assert WHOLE[None].shape == (6000, 8)
    assert WHOLE[None].dtype == np.uint16
    assert WHOLE[None].max() <= 4095
    assert sensors.sample_codes(np.full((4, 8), 4095, dtype=np.uint16)).max() == 65520


@pytest.mark.parametrize("times", [[5, 5], [5, 4], [0, 1]])
def test_times_that_do_not_go_on_are_refused(times):
    plant = moving_plant()
    plant.conversions(np.array([1, 2, 3], dtype=np.int64))
    with pytest.raises(ValueError, match="increase strictly"):
        plant.conversions(np.array(times, dtype=np.int64))


def test_no_conversions_are_no_codes():
    assert moving_plant().conversions(np.array([], dtype=np.int64)).shape == (0, 8)


def test_friction_sees_what_moved_while_the_converter_was_idle():
    plant = Plant(exact_scenario(-3.0, friction_mm=0.8), 5)
    take(plant, 0.1)
    plant.handle.follow(lambda time_s: np.interp(time_s, [0.0, 1.0, 2.0], [0.0, 20.0, 0.0]))
    take(plant, 0.1)
    after = plant.conversions(10_000_000 + 500 * np.arange(400, dtype=np.int64))[:, sensors.PRESSURE]
    held_kpa = (after.mean() / 4096 - 0.1) / 0.8 * 2068.0 - BASELINE_KPA
    assert held_kpa == pytest.approx(SLOPE_KPA_PER_MM * (0.4 - plant.truth.friction_asymmetry_mm), abs=0.7)


def test_setting_the_throttle_acts_within_a_tenth_of_a_second():
    plant = Plant(exact_scenario(0.0), 1)
    take(plant, 0.1)
    plant.handle.throttle_mm = 20.0
    travel, pressure = take(plant, 0.1)
    assert travel[-1] > 19.0
    assert pressure[-1] > BASELINE_KPA + 15.0 * SLOPE_KPA_PER_MM
    assert plant.handle.throttle_mm == pytest.approx(20.0, abs=0.1)


@pytest.mark.parametrize(("wish_mm", "reached_mm"), [(-10.0, 0.0), (80.0, 45.0)])
def test_throttle_stays_between_its_stops(wish_mm, reached_mm):
    plant = Plant(exact_scenario(0.0), 1)
    settled_kpa(plant, 5.0)
    settled_kpa(plant, wish_mm)
    assert plant.handle.throttle_mm == pytest.approx(reached_mm)


def test_turns_of_the_adjuster_change_the_truth():
    plant = Plant(exact_scenario(-3.0), 1)
    turn_mm = plant.truth.turn_mm
    plant.handle.rod_turns = 2.0
    take(plant, 0.1)
    assert plant.truth.rod_error_mm == pytest.approx(-3.0 + 2.0 * turn_mm)
    assert plant.truth.lever_start_mm == pytest.approx(3.0 - 2.0 * turn_mm)


def test_trajectory_begins_at_the_next_conversion():
    plant = Plant(exact_scenario(0.0), 1)
    take(plant, 1.0)
    plant.handle.follow(ramp(0.0, 10.0, 1.0))
    travel, _ = take(plant, 1.0)
    assert travel[0] == pytest.approx(0.0, abs=0.1)
    assert travel[250] == pytest.approx(5.0, abs=0.1)


def test_scheduled_action_acts_at_its_device_time():
    plant = Plant(exact_scenario(0.0), 1)

    def open_half(handle):
        handle.throttle_mm = 20.0

    plant.handle.schedule(1_000_000, open_half)
    travel, _ = take(plant, 2.0)
    assert np.all(np.abs(travel[:500]) < 0.1)
    assert travel[-1] == pytest.approx(20.0, abs=0.1)


def test_button_and_foot_switch_are_told_by_device_time():
    plant = Plant(exact_scenario(0.0), 1)

    def press(handle):
        handle.button = True

    def let_go_and_step_on(handle):
        handle.button = False
        handle.foot_switch = True

    plant.handle.schedule(100_000, press)
    plant.handle.schedule(200_000, let_go_and_step_on)
    plant.conversions(500 * np.arange(1000, dtype=np.int64))
    seen = plant.switches(np.array([0, 99_999, 100_000, 199_999, 200_000, 499_000]))
    np.testing.assert_array_equal(seen[:, 0], [False, False, True, True, False, False])
    np.testing.assert_array_equal(seen[:, 1], [False, False, False, False, True, True])


def test_unknown_fault_is_refused_by_name():
    with pytest.raises(InputError, match="fault rust: not known"):
        Plant(exact_scenario(0.0), 1).handle.fault = "rust"
