"""Layouts with bell cranks on the virtual unit: it moves by the same kinematics, and is judged rightly."""

from dataclasses import replace

import numpy as np
import pytest

from plant.invented_units import BASELINE_KPA, SLOPE_KPA_PER_MM, exact_scenario, settled_kpa
from rodtrue.analysis.correction import correction_for
from rodtrue.analysis.judge import judge
from rodtrue.findings_table import load_findings_table
from rodtrue.linkage import linkage_of
from rodtrue.model.conditions import Conditions
from rodtrue.model.errors import InputError
from rodtrue.model.profile import Profile
from rodtrue.profiles import load_profile
from rodtrue.run.words import correction_sentence
from rodtrue.virtual.direct import play
from rodtrue.virtual.motion import guided_run
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import scenario_for
from rodtrue.virtual.steering import steer

LAYOUTS = ("one-bell-crank", "two-bell-cranks")
UNHOOKED = Conditions(kind="virtual", drive="slide", reference="curb_idle", rod_unhooked=True)
STEP_KPA = 0.7
"""A little over one converter step: what a reading without noise can be off by."""


def drawn_plant(layout: str, rod_error_mm: float, seed: int = 1, fault: str | None = None) -> Plant:
    return Plant(scenario_for(load_profile(f"example-{layout}"), rod_error_mm=rod_error_mm, fault=fault), seed)


def exact_plant(profile: Profile, rod_error_mm: float) -> Plant:
    """A unit with nothing random in it."""
    shipped = scenario_for(profile, rod_error_mm=rod_error_mm)
    plain = exact_scenario(rod_error_mm)
    return Plant(
        replace(shipped, instrument=plain.instrument, valve=plain.valve, pump=plain.pump, sensors=plain.sensors), 1
    )


def judged(layout: str, plant: Plant):
    samples = play(plant, guided_run(plant.hand))
    return judge(samples, load_profile(f"example-{layout}"), UNHOOKED, load_findings_table())


def right_verdict(rod_error_mm: float) -> str:
    return "short" if rod_error_mm < -0.5 else "long" if rod_error_mm > 1.0 else "correct"


@pytest.mark.parametrize(("layout", "lever_turned_deg"), [("one-bell-crank", 30.0), ("two-bell-cranks", -20.0)])
@pytest.mark.parametrize("error_mm", [-6.0, 0.0, 4.0])
def test_pressure_follows_the_lever_through_the_linkage(layout, lever_turned_deg, error_mm):
    """On a lever set so that the ramp bends: a lever that simply followed the pin would show."""
    profile = load_profile(f"example-{layout}")
    lever = replace(profile.geometry.lever, arm_deg=profile.geometry.lever.arm_deg + lever_turned_deg)
    profile = replace(profile, geometry=replace(profile.geometry, lever=lever, full_travel_mm=30.0))
    plant = exact_plant(profile, error_mm)
    exact, rod = linkage_of(profile), profile.adjuster.rod
    linkage = exact.changed({rod: exact.length_change_mm(rod, to_rod_error_mm=error_mm)})
    for travel_mm in (0.0, 3.0, 9.0, 18.0, 24.0):
        expected = BASELINE_KPA + SLOPE_KPA_PER_MM * float(linkage.lever_travel_mm(travel_mm))
        assert settled_kpa(plant, travel_mm) == pytest.approx(expected, abs=STEP_KPA)
    assert abs(float(exact.lever_travel_mm(24.0)) - 24.0) > 1.0


@pytest.mark.parametrize("layout", LAYOUTS)
def test_codes_do_not_depend_on_how_calls_are_split(layout):
    times_us = 500 * np.arange(6000, dtype=np.int64)

    def moving() -> Plant:
        plant = drawn_plant(layout, -3.0)
        run = guided_run(plant.hand, sweeps=1, halves_s=(0.4,), taps=2)
        quick = [replace(step, seconds=s) for step, s in zip(run, (0.2, 1.0, 0.4, 0.2, 1.2), strict=True)]
        plant.handle.schedule_steps(quick, 0)
        return plant

    whole, plant = moving().conversions(times_us), moving()
    cuts = [1, 2, 3, 700, 701, 3600, 4100, 4101, 4105, 5999]
    np.testing.assert_array_equal(np.concatenate([plant.conversions(p) for p in np.split(times_us, cuts)]), whole)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_turns_at_the_adjuster_act_through_the_kinematics(layout):
    profile, plant = load_profile(f"example-{layout}"), drawn_plant(layout, -3.0)
    assert plant.rod_error_mm == pytest.approx(-3.0)
    plant.handle.lengthen(1.0)
    exact, rod = linkage_of(profile), profile.adjuster.rod
    as_found_mm = exact.length_change_mm(rod, to_rod_error_mm=-3.0)
    assert plant.rod_error_mm == pytest.approx(exact.changed({rod: as_found_mm + 1.0}).rod_error_mm)
    assert plant.truth.rod_error_mm == plant.rod_error_mm


def test_one_turn_of_a_threaded_adjuster_is_its_pitch():
    plant = drawn_plant("two-bell-cranks", 0.0)
    plant.handle.rod_turns = 2.0
    upper = linkage_of(load_profile("example-two-bell-cranks")).changed({"upper rod": 2 * 1.058})
    assert plant.rod_error_mm == pytest.approx(upper.rod_error_mm)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_turns_with_which_the_linkage_falls_apart_are_refused_and_change_nothing(layout):
    plant = drawn_plant(layout, -3.0)
    with pytest.raises(InputError, match="the linkage does not go together"):
        steer(plant.handle, '{"rod_turns": -100000, "rod_hooked": false, "fault": "air"}')
    assert plant.handle.rod_turns == 0.0 and plant.handle.rod_hooked and plant.handle.fault is None
    plant.samples(500, 0.1)


def test_scenario_without_its_layouts_linkage_is_refused():
    scenario = scenario_for(load_profile("example-two-bell-cranks"))
    with pytest.raises(ValueError, match="its linkage is not of the layout direct"):
        Plant(replace(scenario, layout="direct"), 1)


# --- judged


@pytest.mark.slow
@pytest.mark.parametrize("layout", LAYOUTS)
def test_no_wrong_verdict_and_the_correction_makes_the_rod_right(layout):
    """Errors and seeds as they come, none replaced; each run is corrected by the amount advised and run again."""
    covered, cases = 0, [(error, seed) for error in (-12.0, -3.0, -0.9, 0.2, 1.4, 3.0, 8.0) for seed in (1, 2)]
    for error_mm, seed in cases:
        plant = drawn_plant(layout, error_mm, seed)
        found = judged(layout, plant)
        right = right_verdict(error_mm)
        assert found.verdict in (right, "undecided"), (error_mm, seed)
        if abs(error_mm) >= 3.0:
            assert found.verdict == right, (error_mm, seed)
        low_mm, high_mm = found.rod_error.interval_mm
        covered += low_mm <= error_mm <= high_mm
        correction = found.correction
        if correction.direction == "none":
            continue
        way = 1.0 if correction.direction == "lengthen" else -1.0
        plant.handle.lengthen(way * correction.amount_mm)
        assert -0.5 <= plant.rod_error_mm <= 1.0, (error_mm, seed)
        assert abs(plant.rod_error_mm) < 0.5
        if abs(error_mm) >= 3.0:
            assert judged(layout, plant).verdict in ("correct", "undecided")
    assert covered >= len(cases) - 2


@pytest.mark.slow
@pytest.mark.parametrize("layout", LAYOUTS)
def test_far_too_long_rod_is_carried_back_along_the_linkages_own_bend(layout):
    """Carried back straight, the lever start of these is off by about 0.25 mm in the mean, and seldom covered."""
    runs = [judged(layout, drawn_plant(layout, 12.0, seed)) for seed in range(1, 9)]
    errors_mm = np.array([run.rod_error.value_mm for run in runs]) - 12.0
    assert abs(errors_mm.mean()) < 0.12
    for run in runs:
        (row,) = [row for row in run.budget if row.name == "linkage bend"]
        assert 0.05 < row.half_width < 0.3


def test_direct_rod_has_no_linkage_bend():
    plant = Plant(scenario_for(load_profile(), rod_error_mm=12.0), 1)
    assert "linkage bend" not in [row.name for row in judged("direct", plant).budget]


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_wrong_intermediate_rod_shows_as_the_rod_error_it_makes(seed):
    plant = drawn_plant("two-bell-cranks", 0.0, seed, "wrong-intermediate-rod")
    truth = plant.truth
    exact = linkage_of(load_profile("example-two-bell-cranks"))
    wrong = exact.changed({"intermediate rod": truth.intermediate_error_mm})
    assert 2.0 <= abs(truth.intermediate_error_mm) <= 4.0
    assert truth.rod_error_mm == pytest.approx(wrong.rod_error_mm)
    assert truth.lever_rate == pytest.approx(wrong.lever_rate)
    found = judged("two-bell-cranks", plant)
    assert found.verdict == right_verdict(truth.rod_error_mm) != "correct"
    low_mm, high_mm = found.rod_error.interval_mm
    assert low_mm <= truth.rod_error_mm <= high_mm
    first, final = found.correction.steps
    assert (first["rod"], first["direction"], first["amount_mm"]) == ("intermediate rod", "set", None)
    assert first["alone_mm"] == pytest.approx(-truth.intermediate_error_mm, abs=0.25)
    assert final["rod"] == "upper rod"
    # Set by its index pin, the upper rod left as it is, the linkage is exact.
    plant.handle.fault = None
    plant.samples(500, 0.1)
    assert plant.rod_error_mm == pytest.approx(0.0, abs=1e-9)


def test_wrong_intermediate_rod_goes_either_way():
    signs = {
        np.sign(drawn_plant("two-bell-cranks", 0.0, seed, "wrong-intermediate-rod").truth.intermediate_error_mm)
        for seed in range(8)
    }
    assert signs == {-1.0, 1.0}


# --- corrections


def test_correction_of_one_bell_crank_is_a_slide_of_the_lower_rod():
    profile = load_profile("example-one-bell-crank")
    correction = correction_for(profile, -3.0, needed=True)
    exact = linkage_of(profile)
    expected_mm = -exact.length_change_mm("lower rod", to_rod_error_mm=-3.0)
    assert (correction.direction, correction.turns) == ("lengthen", None)
    assert correction.amount_mm == pytest.approx(expected_mm)
    assert correction.amount_mm < 3.0 - 0.2, "not what it is at the driving end"
    (step,) = correction.steps
    assert step["rod"] == "lower rod" and step["amount_mm"] == correction.amount_mm


@pytest.mark.parametrize(("error_mm", "way"), [(-3.0, "lengthen"), (3.0, "shorten")])
def test_correction_of_two_bell_cranks_sets_the_intermediate_rod_first(error_mm, way):
    profile = load_profile("example-two-bell-cranks")
    correction = correction_for(profile, error_mm, needed=True)
    first, final = correction.steps
    assert first["rod"] == "intermediate rod" and "index pin" in first["how"]
    assert first["alone_mm"] * error_mm < 0.0
    assert first["alone_turns"] == pytest.approx(first["alone_mm"] / 1.058)
    assert (final["rod"], final["direction"]) == ("upper rod", way)
    assert correction.turns == pytest.approx(correction.amount_mm / 1.058)
    exact = linkage_of(profile)
    as_found = exact.changed({"upper rod": exact.length_change_mm("upper rod", to_rod_error_mm=error_mm)})
    sign = 1.0 if way == "lengthen" else -1.0
    assert as_found.changed({"upper rod": sign * correction.amount_mm}).rod_error_mm == pytest.approx(0.0, abs=1e-9)


def test_a_person_is_told_what_is_set_first():
    told = correction_sentence(correction_for(load_profile("example-two-bell-cranks"), -3.0, needed=True))
    assert told.startswith(
        "First set the intermediate rod at the threaded ball socket of the intermediate rod with a "
    )
    assert "3/16 inch index pin through the upper bell crank, the lever on its stop; if that changes it, " in told
    assert "measure again. Lengthen the rod by" in told
    assert "turns at the threaded end of the upper rod" in told


@pytest.mark.parametrize(("action", "way"), [("push", "lengthen"), ("pull", "shorten")])
def test_direct_rod_that_starts_late_is_lengthened_if_pushed_and_shortened_if_pulled(action, way):
    profile = replace(load_profile(), action=action)
    correction = correction_for(profile, -2.0, needed=True)
    assert (correction.direction, correction.amount_mm) == (way, 2.0)


def test_error_beyond_what_a_rod_can_take_out_gets_a_direction_and_no_amount():
    correction = correction_for(load_profile("example-two-bell-cranks"), -300.0, needed=True)
    assert (correction.direction, correction.amount_mm, correction.turns) == ("lengthen", None, None)


def test_no_correction_is_needed_for_a_rod_that_is_right():
    correction = correction_for(load_profile("example-two-bell-cranks"), 0.2, needed=False)
    assert (correction.direction, correction.amount_mm, correction.steps) == ("none", 0.0, [])
