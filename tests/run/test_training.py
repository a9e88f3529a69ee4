"""The trainer, through the plant and the judgement: what is hidden, and what an answer is worth."""

from dataclasses import replace
from functools import lru_cache

import pytest

from rodtrue.judging import Provenance, judge_samples
from rodtrue.model.both_units import in_order
from rodtrue.model.conditions import Conditions
from rodtrue.model.errors import InputError
from rodtrue.model.result import CaptureRef, Fixture
from rodtrue.run.training import EXAMPLES, Exercise
from rodtrue.run.training_score import Answer, state_of
from rodtrue.virtual.direct import play
from rodtrue.virtual.faults import FAULTS
from rodtrue.virtual.motion import guided_run

DIRECT, TWO_CRANKS = ("example-direct",), ("example-two-bell-cranks",)
NOTHING = Answer("cannot be said", None, "none")


@lru_cache
def number_of(fault, state, profiles=DIRECT, below_mm=12.0):
    """Return the first exercise with this fault, this state of the rod, and an error below so much."""
    for number in range(2000):
        exercise = Exercise(number, profiles)
        truth = exercise.new_plant().truth
        is_so = state in (None, state_of(exercise.profile, truth.rod_error_mm))
        if truth.fault == fault and is_so and truth.rod_error_mm < below_mm:
            return number
    raise AssertionError(f"no exercise with {fault} and {state}")


@lru_cache
def measured(number, profiles=DIRECT, rod_unhooked=True):
    """Return the result of a guided run on an exercise's unit as found."""
    exercise = Exercise(number, profiles)
    plant = exercise.new_plant()
    samples = play(plant, guided_run(plant.hand, sweeps=6, halves_s=(3.0, 1.6)))
    conditions = Conditions(kind="virtual", drive="slide", reference="curb_idle", rod_unhooked=rod_unhooked)
    provenance = Provenance(None, CaptureRef(None, None), Fixture("virtual"))
    return judge_samples(samples, exercise.profile, conditions, provenance)


def revealed(answer, fault, state, profiles=DIRECT, rod_unhooked=True, look=False, below_mm=12.0):
    """Return the reveal of an answer to such an exercise, measured well."""
    number = number_of(fault, state, profiles, below_mm)
    exercise = Exercise(number, profiles)
    if look:
        exercise.look_at_index_pin()
    exercise.give(answer)
    return exercise.reveal(measured(number, profiles, rod_unhooked))


def truth_of(fault, state, profiles=DIRECT):
    exercise = Exercise(number_of(fault, state, profiles), profiles)
    return exercise.new_plant().truth, exercise.profile


def points(reveal):
    return {part.name: part.points for part in reveal.parts}


# What is hidden


def test_the_same_number_is_the_same_unit_and_others_differ():
    truths = [Exercise(number, DIRECT).new_plant().truth for number in (7, 7, 8)]
    assert truths[0] == truths[1]
    assert truths[0] != truths[2]


def test_exercises_hold_exact_short_long_and_every_fault_and_none():
    exercises = [Exercise(number) for number in range(250)]
    truths = [exercise.new_plant().truth for exercise in exercises]
    assert {truth.fault for truth in truths} == {None, *FAULTS}
    assert any(truth.rod_error_mm == 0.0 for truth in truths)
    pairs = zip(exercises, truths, strict=True)
    states = {state_of(exercise.profile, truth.rod_error_mm) for exercise, truth in pairs}
    assert states == {"long", "short", "correct"}
    assert {exercise.profile.name for exercise in exercises} == set(EXAMPLES)


def test_without_faults_there_are_none():
    assert {Exercise(number, with_faults=False).new_plant().truth.fault for number in range(60)} == {None}


def test_a_fault_is_offered_only_where_the_layout_can_have_it():
    assert "wrong-intermediate-rod" not in Exercise(1, DIRECT).faults
    assert set(Exercise(1, TWO_CRANKS).faults) == set(FAULTS)


def test_nothing_that_an_exercise_shows_of_itself_gives_it_away():
    exercise = Exercise(number_of("air", "short"))
    shown = repr(exercise) + repr(vars(exercise))
    assert "'air'" not in shown.replace(repr(exercise.faults), "")
    assert f"{exercise.new_plant().rod_error_mm:g}" not in shown


def test_the_truth_is_not_shown_before_the_answer():
    number = number_of(None, "short")
    with pytest.raises(InputError, match="not answered yet"):
        Exercise(number, DIRECT).reveal(measured(number))


def test_there_is_one_answer():
    exercise = Exercise(1, DIRECT)
    exercise.give(NOTHING)
    with pytest.raises(InputError, match="answered already"):
        exercise.give(NOTHING)


@pytest.mark.parametrize(
    "answer",
    [
        Answer("short", "the-moon", "lengthen"),
        Answer("short", "wrong-intermediate-rod", "lengthen"),
        Answer("short", None, "lengthen", amount_mm=-1.0),
        Answer("short", None, "lengthen", amount_mm=float("nan")),
        Answer("short", None, "lengthen", turns=1.0),
        Answer("short", None, "lengthen", amount_mm=1.0, turns=1.0),
    ],
)
def test_an_answer_that_is_none_is_refused_and_may_be_given_again(answer):
    exercise = Exercise(1, DIRECT)
    with pytest.raises(InputError):
        exercise.give(answer)
    exercise.give(NOTHING)


def test_a_result_of_something_else_is_refused():
    number = number_of(None, "short")
    exercise = Exercise(number, DIRECT)
    exercise.give(NOTHING)
    result = measured(number)
    for other in (replace(result, profile="example-two-bell-cranks"), replace(result, fixture=Fixture("board"))):
        with pytest.raises(InputError, match="not of this exercise"):
            exercise.reveal(other)


# What an answer is worth


@pytest.mark.parametrize(("state", "direction"), [("short", "lengthen"), ("long", "shorten")])
def test_the_truth_itself_earns_every_point(state, direction):
    truth, _ = truth_of(None, state)
    reveal = revealed(Answer(state, None, direction, amount_mm=abs(truth.rod_error_mm)), None, state)
    assert points(reveal) == {"verdict": 1.0, "fault": 1.0, "direction": 1.0, "amount": 1.0}
    assert (reveal.points, reveal.out_of) == (4.0, 4)
    assert any(state in said for said in reveal.truth)
    assert any(direction in said for said in reveal.answer)
    assert any(state.upper() in said for said in reveal.data)


def test_an_exact_rod_needs_no_correction():
    reveal = revealed(Answer("correct", None, "none"), None, "correct")
    assert points(reveal) == {"verdict": 1.0, "fault": 1.0, "direction": 1.0}


def test_what_the_run_measured_earns_every_point_too():
    number = number_of(None, "short")
    correction = measured(number).correction
    reveal = revealed(Answer("short", None, correction.direction, correction.amount_mm), None, "short")
    assert reveal.points == reveal.out_of == 4


def test_the_wrong_way_earns_nothing_and_its_amount_is_not_asked_for():
    truth, _ = truth_of(None, "short")
    reveal = revealed(Answer("long", None, "shorten", amount_mm=abs(truth.rod_error_mm)), None, "short")
    assert points(reveal) == {"verdict": 0.0, "fault": 1.0, "direction": 0.0}


@pytest.mark.parametrize(("share", "worth"), [(1.0, 1.0), (0.6, 0.5), (0.3, 0.0), (2.5, 0.0)])
def test_an_amount_is_worth_what_it_leaves(share, worth):
    truth, profile = truth_of(None, "short")
    assert abs(truth.rod_error_mm) > 3 * profile.limits.rod_long_mm, "an unit that is far enough off for this test"
    amount_mm = share * abs(truth.rod_error_mm)
    assert points(revealed(Answer("short", None, "lengthen", amount_mm), None, "short"))["amount"] == worth


def test_an_amount_within_the_limits_is_right_though_not_exact():
    truth, profile = truth_of(None, "long")
    amount_mm = truth.rod_error_mm - 0.9 * profile.limits.rod_long_mm
    assert points(revealed(Answer("long", None, "shorten", amount_mm), None, "long"))["amount"] == 1.0


def test_a_harmless_correction_of_a_correct_rod_earns_half():
    reveal = revealed(Answer("correct", None, "lengthen", amount_mm=0.1), None, "correct")
    assert points(reveal)["direction"] == 0.5
    assert points(revealed(Answer("correct", None, "lengthen", amount_mm=9.0), None, "correct"))["direction"] == 0.0


def test_a_missing_amount_earns_nothing():
    assert points(revealed(Answer("short", None, "lengthen"), None, "short"))["amount"] == 0.0


@pytest.mark.parametrize("fault", ["low-supply", "air"])
def test_a_fault_that_shows_is_to_be_named_and_a_fault_that_is_not_there_is_not(fault):
    assert points(revealed(Answer("short", fault, "lengthen"), fault, "short"))["fault"] == 1.0
    assert points(revealed(Answer("short", None, "lengthen"), fault, "short"))["fault"] == 0.0
    assert points(revealed(Answer("short", "binding", "lengthen"), fault, "short"))["fault"] == 0.0
    assert points(revealed(Answer("short", fault, "lengthen"), None, "short"))["fault"] == 0.0


def test_all_that_the_data_said_is_told_in_the_units_that_come_first():
    number = number_of("low-supply", "short")
    exercise = Exercise(number, DIRECT)
    exercise.give(NOTHING)
    in_inches, in_metric = (exercise.reveal(measured(number), first).data for first in ("inch", "metric"))
    assert any(" psi (" in sentence for sentence in in_inches)
    assert in_metric == [in_order(sentence, "metric") for sentence in in_inches]
    assert not any(" psi (" in sentence or " in (" in sentence for sentence in in_metric)


@pytest.mark.parametrize("fault", ["unplugged-sensor", "stuck-lever"])
def test_where_the_data_prove_nothing_saying_so_is_right_and_a_lucky_word_earns_half(fault):
    truth, _ = truth_of(fault, "short")
    assert points(revealed(Answer("cannot be said", fault, "none"), fault, "short")) == {
        "verdict": 1.0,
        "fault": 1.0,
        "direction": 1.0,
    }
    lucky = revealed(Answer("short", fault, "lengthen", amount_mm=abs(truth.rod_error_mm)), fault, "short")
    assert points(lucky) == {"verdict": 0.5, "fault": 1.0, "direction": 0.5}


def test_where_the_data_decide_saying_that_they_do_not_earns_nothing():
    assert points(revealed(Answer("cannot be said", None, "none"), None, "short"))["verdict"] == 0.0


TRAP = {"fault": "baseline-connected", "state": "long", "below_mm": 3.0}
"""A long rod that stays on its pin while the baseline is taken: it reads exact, and no data can show it."""


def test_the_false_correct_of_a_rod_left_on_its_pin_earns_half_and_the_fault_is_not_counted():
    missed = revealed(Answer("correct", None, "none"), **TRAP)
    assert points(missed) == {"verdict": 0.5, "fault": None, "direction": 0.0}
    assert missed.out_of == 2
    assert any("move the throttle" in part.said for part in missed.parts)


def test_one_who_found_the_rod_on_its_pin_by_trying_it_has_found_the_fault():
    assert points(revealed(Answer("long", "baseline-connected", "none"), **TRAP))["fault"] == 1.0


def test_a_learner_who_noted_that_the_rod_was_on_its_pin_is_asked_for_that_fault():
    said = revealed(Answer("cannot be said", None, "none"), **TRAP, rod_unhooked=False)
    assert points(said)["fault"] == 0.0
    assert points(said)["verdict"] == 1.0


# The index pin


def test_only_the_layout_with_an_intermediate_rod_has_an_index_pin_to_look_at():
    assert Exercise(1, DIRECT).look_at_index_pin() is None
    right = Exercise(number_of(None, None, TWO_CRANKS), TWO_CRANKS).look_at_index_pin()
    wrong = Exercise(number_of("wrong-intermediate-rod", None, TWO_CRANKS), TWO_CRANKS).look_at_index_pin()
    assert "goes through" in right
    assert "does not go through" in wrong


def test_a_wrong_intermediate_rod_counts_once_the_index_pin_was_tried():
    case = ("wrong-intermediate-rod", None, TWO_CRANKS)
    assert points(revealed(NOTHING, *case))["fault"] is None
    assert points(revealed(NOTHING, *case, look=True))["fault"] == 0.0
    named = Answer("cannot be said", "wrong-intermediate-rod", "none")
    assert points(revealed(named, *case, look=True))["fault"] == 1.0


def test_a_threaded_adjuster_takes_its_amount_in_turns():
    number = number_of(None, "short", TWO_CRANKS)
    turns = measured(number, TWO_CRANKS).correction.turns
    answer = Answer("short", None, "lengthen", turns=turns)
    assert points(revealed(answer, None, "short", TWO_CRANKS))["amount"] == 1.0
