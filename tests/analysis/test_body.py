"""The valve body's characteristics worked out by hand: values, expanded uncertainties, decisions."""

import math
from dataclasses import replace

import pytest

from analysis.made_up_ramp import SLOPE, pairs, ramp_of
from rodtrue.analysis.body import body_verdict, characteristics, friction_mm, return_error_kpa
from rodtrue.analysis.reference import Baseline, Rests
from rodtrue.model.result import Characteristic
from rodtrue.profiles import load_profile

PROFILE = load_profile("example-direct")
RESTS = Rests(0.0, 25.0, [0.0, 0.0, 0.0], [25.5, 26.0, 26.5])
BASELINE = Baseline(25.0, [24.0, 25.0, 26.0], 0.8)
NORMAL_95 = 1.959964  # two-sided 95 % point of the normal distribution (NIST/SEMATECH e-Handbook, 1.3.6.7.1)
GAIN, OFFSET = 0.01 / math.sqrt(3), 2.0 / math.sqrt(3)  # the profile's half-widths, rectangular


def by_name(**changes) -> dict[str, Characteristic]:
    arguments = {
        "profile": PROFILE, "baseline": BASELINE, "ramp": ramp_of(pairs([3.1, 3.3, 3.2], [2.9, 2.7, 2.8])),
        "full": 400.0, "rests": RESTS, "measured_free": None,
    } | changes  # fmt: skip
    return {found.name: found for found in characteristics(**arguments)}


def test_pressures_carry_gain_and_offset_and_what_is_a_difference_the_gain_alone():
    found = by_name()
    # Standard error of three approaches with a standard deviation of 1: 1 / sqrt(3).
    assert found["baseline"].expanded_uncertainty == pytest.approx(
        NORMAL_95 * math.sqrt(1 / 3 + (GAIN * 25) ** 2 + OFFSET**2), rel=1e-6
    )
    assert found["full_pressure"].expanded_uncertainty == pytest.approx(
        NORMAL_95 * math.hypot(GAIN * 400, OFFSET), rel=1e-6
    )
    assert found["ripple"].value == 0.8
    assert found["ripple"].expanded_uncertainty == pytest.approx(NORMAL_95 * math.hypot(0.08, GAIN * 0.8), rel=1e-6)
    # Rests at 25.5, 26, 26.5 after 25: 1 above, standard error 0.5 / sqrt(3).
    assert found["return_error"].value == pytest.approx(1.0)
    assert found["return_error"].expanded_uncertainty == pytest.approx(
        NORMAL_95 * math.hypot(0.5 / math.sqrt(3), GAIN * 1.0), rel=1e-6
    )


def test_slope_carries_gain_and_travel_scale_with_students_factor():
    found = by_name(ramp=ramp_of(pairs([3.2] * 3, [2.8] * 3)))["slope"]
    assert found.value == pytest.approx(SLOPE)
    # Strokes alike: nothing but gain and scale; six strokes less three coefficients: t(0.975, 3) = 3.182446.
    scale = 0.005 / math.sqrt(3)
    assert found.expanded_uncertainty == pytest.approx(3.182446 * SLOPE * math.hypot(GAIN, scale), rel=1e-5)
    assert found.decision == "within"


def test_friction_is_opening_less_closing_with_its_scatter():
    ramp = ramp_of(pairs([3.1, 3.3, 3.2], [2.9, 2.7, 2.8]))
    value, reach = friction_mm(ramp, 0.03)
    assert value == pytest.approx(0.4)
    # Leaving strokes out in turn, at one slope for all: the mean of three moves by half its deviation; six in turn.
    shifts = [0.05, 0.05, -0.05, -0.05, 0.0, 0.0]
    random = math.sqrt(5 * sum(s * s for s in shifts) / 6)
    assert reach == pytest.approx(3.182446 * random, rel=1e-5)


def test_lag_that_was_not_told_apart_widens_the_friction_by_both_directions_speeds():
    strokes = pairs([3.2] * 3, [2.8] * 3, speed=20.0)
    value, reach = friction_mm(ramp_of(strokes, lag_told=False), 0.03)
    assert value == pytest.approx(0.4)
    assert reach == pytest.approx(3.182446 * 0.03 * (20 + 20) / math.sqrt(3), rel=1e-5)


def test_one_direction_has_no_friction():
    strokes = pairs([3.2] * 3, [2.8] * 3)
    assert friction_mm(replace(ramp_of(strokes), directions=("opening",)), 0.03) == (None, None)


@pytest.mark.parametrize(
    ("rests", "expected"),
    [
        (Rests(None, None, [0.0], [26.0]), (None, 0.0)),
        (Rests(0.0, 25.0, [], []), (None, 0.0)),
        (Rests(0.0, 25.0, [0.0], [24.0]), (-1.0, 0.0)),
        (Rests(0.0, 25.0, [0.0, 0.0], [26.0, 28.0]), (2.0, 1.0)),
    ],
)
def test_return_error_is_rest_after_less_rest_before(rests, expected):
    assert return_error_kpa(rests) == pytest.approx(expected)


def test_free_travel_is_the_profiles_where_the_run_did_not_measure_it():
    assert by_name()["lever_free_travel"].value is None
    lever = replace(PROFILE.lever, free_mm=0.8, free_half_width_mm=0.3)
    limits = replace(PROFILE.limits, lever_free_travel_mm=(None, 1.0))
    found = by_name(profile=replace(PROFILE, lever=lever, limits=limits))["lever_free_travel"]
    assert found.value == 0.8
    assert found.expanded_uncertainty == pytest.approx(NORMAL_95 * 0.3 / math.sqrt(3), rel=1e-6)
    assert found.decision == "undecided"
    exact = by_name(profile=replace(PROFILE, lever=replace(lever, free_half_width_mm=0.0), limits=limits))
    assert exact["lever_free_travel"].decision == "within"
    no_motion = by_name(profile=replace(PROFILE, lever=replace(lever, free_mm=0.0), limits=limits))
    assert (no_motion["lever_free_travel"].value, no_motion["lever_free_travel"].decision) == (0.0, "within")
    measured = by_name(measured_free=(1.2, 0.1), profile=replace(PROFILE, limits=limits))["lever_free_travel"]
    assert (measured.value, measured.expanded_uncertainty, measured.decision) == (1.2, 0.1, "above")


def test_without_a_ramp_what_needs_one_has_no_value_and_is_not_judged():
    found = by_name(ramp=None, full=None)
    for name in ("full_pressure", "slope", "friction"):
        one = found[name]
        assert (one.value, one.expanded_uncertainty, one.decision) == (None, None, "not judged")
    assert found["baseline"].decision == "within"


@pytest.mark.parametrize(
    ("decisions", "verdict"),
    [
        (["not judged", "not judged"], None),
        (["within", "within"], "conforming"),
        (["within", "not judged"], "undecided"),
        (["within", "undecided"], "undecided"),
        (["undecided", "above", "within"], "nonconforming"),
        (["below"], "nonconforming"),
    ],
)
def test_the_worst_decision_makes_the_bodys_verdict(decisions, verdict):
    found = [Characteristic("slope", 1.0, "kPa/mm", 0.1, (0.9, None), decision) for decision in decisions]
    without_limits = Characteristic("ripple", 1.0, "kPa", 0.1, (None, None), "not judged")
    assert body_verdict([*found, without_limits]) == verdict
