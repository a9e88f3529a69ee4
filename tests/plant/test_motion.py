"""Movements by hand, and the steps of a guided run."""

from itertools import pairwise

import numpy as np
import pytest
from scipy import signal

from plant.invented_units import drawn_scenario
from rodtrue.virtual.motion import Hand, Move, Push, adjustment, further_sweeps, guided_run
from rodtrue.virtual.truth import stream

TIME_S = np.arange(0.0, 40.0, 0.001)


def hand(seed: int = 1, rest_half_width_mm: float = 0.02) -> Hand:
    scenario = drawn_scenario(-3.0)
    return Hand(scenario.hand, rest_half_width_mm, stream(scenario, seed, "hand"))


@pytest.mark.parametrize("seed", range(8))
def test_sweep_starts_and_ends_at_rest_and_reaches_its_travel(seed):
    person = hand(seed)
    started_mm = person.resting_mm
    sweep = person.sweep(3.0, 6.0, 30.0, rest_s=0.5, hold_s=0.5)
    assert sweep.seconds == pytest.approx(10.5)
    travel = sweep(TIME_S)
    np.testing.assert_allclose(travel[TIME_S < 0.5], started_mm)
    np.testing.assert_allclose(travel[(TIME_S > 3.5) & (TIME_S < 4.0)], 30.0)
    np.testing.assert_allclose(travel[TIME_S > 10.0], person.resting_mm)
    assert np.max(np.abs(np.diff(travel))) < 0.05, "no jumps: under 50 mm/s"


def test_rests_scatter_within_their_half_width():
    person = hand(3)
    rests = []
    for _ in range(200):
        person.sweep(3.0, 3.0)
        rests.append(person.resting_mm)
    assert np.max(np.abs(rests)) <= 0.02
    assert np.std(rests) == pytest.approx(0.02 / np.sqrt(3), rel=0.15)


def test_hand_goes_at_uneven_speed_with_a_tremor_of_three_to_five_hertz():
    stroke = hand(2).stroke(0.0, 45.0, 20.0)
    time = np.arange(4.0, 16.0, 0.01)
    speed = np.gradient(stroke(time), time)
    by_second = speed.reshape(-1, 100).mean(axis=1)
    assert by_second.min() > 0.0
    assert by_second.max() / by_second.min() > 1.2
    frequencies, power = signal.periodogram(speed, 100.0, window="hann")
    shaking = frequencies > 1.5
    assert 3.0 <= frequencies[shaking][np.argmax(power[shaking])] <= 5.0


def test_no_two_strokes_are_alike():
    person = hand(2)
    first, second = person.stroke(0.0, 45.0, 3.0), person.stroke(0.0, 45.0, 3.0)
    assert np.max(np.abs(first(TIME_S) - second(TIME_S))) > 0.2


def test_move_ends_where_told_and_push_comes_back():
    move = Move(2.0, 5.0, 0.5)
    np.testing.assert_allclose(move(np.array([-1.0, 0.0, 0.25, 0.5, 9.0])), [2.0, 2.0, 3.5, 5.0, 5.0])
    push = Push(10.0, rise_s=0.5, hold_s=1.0, start_s=1.0)
    np.testing.assert_allclose(push(np.array([0.0, 1.0, 1.5, 2.0, 3.0, 9.0])), [0, 0, 10, 10, 0, 0], atol=1e-9)


def test_guided_run_takes_zero_and_baseline_unhooked_and_sweeps_on_the_linkages_own_springs():
    steps = guided_run(hand(), sweeps=6)
    assert [step.name for step in steps] == ["zero", "baseline", "response", ""] + ["sweep"] * 6
    by_name = {step.name: step for step in steps}
    for name in ("zero", "baseline"):
        assert not by_name[name].rod_hooked
        assert by_name[name].holding_spring
    assert not by_name["response"].rod_hooked
    assert by_name["response"].lever is not None
    assert len(by_name["baseline"].taps_s) >= 3
    assert all(step.rod_hooked and not step.holding_spring for step in steps if step.name == "sweep")


def test_sweeps_take_turns_in_speed():
    strokes = [step.pin for step in guided_run(hand(), sweeps=4, halves_s=(3.0, 6.0)) if step.name == "sweep"]
    assert [sweep.opening.seconds for sweep in strokes] == [3.0, 6.0, 3.0, 6.0]
    assert [sweep.closing.seconds for sweep in strokes] == [3.0, 6.0, 3.0, 6.0]


def test_pin_goes_on_from_where_it_rested():
    person = hand()
    steps = [*guided_run(person, sweeps=2), *further_sweeps(person, 2)]
    for before, after in pairwise(steps):
        end = before.pin(np.array([before.seconds]))
        assert after.pin(np.array([0.0])) == pytest.approx(end)


def test_adjustment_is_done_with_the_rod_off_the_pin_and_says_which_way():
    longer, shorter = adjustment(hand(), 2.5), adjustment(hand(), -1.0)
    assert longer.name == shorter.name == "adjusted"
    assert not longer.rod_hooked
    assert longer.doing == "rod made 2.50 mm longer"
    assert shorter.doing == "rod made 1.00 mm shorter"
