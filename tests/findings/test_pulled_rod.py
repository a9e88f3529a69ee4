"""A rod that is pulled: the words stay true of its own length, and the correction they give cures the unit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rodtrue.judging import Provenance, judge_samples
from rodtrue.model.conditions import Conditions
from rodtrue.model.profile import Profile
from rodtrue.model.result import CaptureRef, Fixture, Result
from rodtrue.profiles import load_profile
from rodtrue.run.words import correction_sentence, error_sentence, limits_sentence, verdict_sentence
from rodtrue.virtual.direct import play
from rodtrue.virtual.motion import adjustment, guided_run
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import scenario_for

UNHOOKED = Conditions(kind="virtual", drive="slide", rod_unhooked=True)
SOME_RUN = Provenance("run", CaptureRef("run", ""), Fixture("virtual"))


def direct(action: str) -> Profile:
    return replace(load_profile("example-direct"), action=action)


def one_bell_crank(action: str) -> Profile:
    """The shipped drawing; pulled, the arm that drives the lower rod stands on the crank's other side."""
    profile = load_profile("example-one-bell-crank")
    if action == "push":
        return profile
    crank = profile.geometry.bell_cranks[0]
    turned = replace(crank, out_arm_deg=crank.out_arm_deg + 180.0)
    return replace(profile, action="pull", geometry=replace(profile.geometry, bell_cranks=(turned,)))


LAYOUTS = {"direct": direct, "one-bell-crank": one_bell_crank}


def measured(plant: Plant, profile: Profile, *before) -> Result:  # type: ignore[no-untyped-def]
    return judge_samples(play(plant, [*before, *guided_run(plant.hand)]), profile, UNHOOKED, SOME_RUN)


def own_change_mm(result: Result) -> float:
    """How much longer the correction makes the rod itself."""
    correction = result.correction
    return correction.amount_mm if correction.direction == "lengthen" else -correction.amount_mm


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize(("action", "made_longer_mm"), [("push", 3.0), ("push", -3.0), ("pull", 3.0), ("pull", -3.0)])
def test_rod_of_wrong_length_is_told_rightly_and_cured_by_its_correction(layout, action, made_longer_mm):
    profile = LAYOUTS[layout](action)
    plant = Plant(scenario_for(profile), 5)
    as_found = measured(plant, profile, adjustment(plant.hand, made_longer_mm))

    early = (made_longer_mm > 0) == (action == "push")
    assert as_found.verdict == ("long" if early else "short")
    told = verdict_sentence(as_found)
    assert ("pressure comes too early" in told) is early
    assert ("pressure comes too late" in told) is not early
    assert ("too long" in told) is (made_longer_mm > 0), "the rod's own length"
    assert ("too short" in told) is (made_longer_mm < 0)
    assert ("pulled" in told) is (action == "pull")
    change_mm = own_change_mm(as_found)
    assert change_mm == pytest.approx(-made_longer_mm, abs=0.7)
    verb = "Lengthen" if made_longer_mm < 0 else "Shorten"
    assert correction_sentence(as_found.correction).startswith(f"{verb} the rod by")
    rest = error_sentence(as_found.rod_error) + limits_sentence(as_found.rod_error)
    assert "long" not in rest and "short" not in rest
    assert as_found.expected_effect is not None
    assert ("later" if early else "earlier") in as_found.expected_effect.sentence

    as_left = measured(plant, profile, adjustment(plant.hand, change_mm))
    assert abs(plant.rod_error_mm) < 0.5, "what is true of it"
    assert as_left.verdict in ("correct", "undecided")
    assert abs(as_left.rod_error.value_mm) < 0.5


def test_own_length_is_left_unsaid_where_no_correction_can_be_given():
    profile = direct("pull")
    plant = Plant(scenario_for(profile, rod_error_mm=3.0), 5)
    told = verdict_sentence(replace(measured(plant, profile), correction=None))
    assert told == "LONG: the pressure comes too early."


def test_rod_known_only_to_be_too_late_is_told_without_a_word_on_its_own_length():
    profile = direct("pull")
    plant = Plant(scenario_for(profile, rod_error_mm=-12.0), 5)
    steps = guided_run(plant.hand, travel_mm=8.0)
    result = judge_samples(play(plant, steps), profile, UNHOOKED, SOME_RUN)
    assert result.rod_error.value_mm is None and result.rod_error.at_most_mm < -5.0
    assert error_sentence(result.rod_error).endswith("or below.")
    assert correction_sentence(result.correction).startswith("Shorten the rod by at least")
    assert "by its own length it is too long" in verdict_sentence(result)
