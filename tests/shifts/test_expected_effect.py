"""The expected effect as a result tells it."""

import pytest

from rodtrue.shifts.effect import expected_effect
from rodtrue.shifts.predict import RodErrorGiven, predict_shifts
from shifts.example_unit import changed, changed_text, example


@pytest.mark.parametrize("rod_error_mm", [-7.0, -0.4, 0.8, 4.0])
def test_changes_are_those_of_the_full_prediction(rod_error_mm):
    effect = expected_effect(example(), rod_error_mm)
    openings = [row.opening for row in effect.openings]
    assert openings == [0.25, 0.5, 0.75, 1.0]
    full = predict_shifts(example(), RodErrorGiven(rod_error_mm), openings).openings
    for row, whole in zip(effect.openings, full, strict=True):
        assert row.upshift_change_kmh == whole.upshift_change.kmh
        assert row.upshift_change_mph == whole.upshift_change.mph
        assert row.why_not is None


def test_words_for_long_and_short():
    long, short = expected_effect(example(), 4.0), expected_effect(example(), -4.0)
    half = long.openings[1]
    assert (
        f"{half.upshift_change_mph:.0f} mph ({half.upshift_change_kmh:.0f} km/h) later at half throttle"
        in long.sentence
    )
    assert "later" in long.sentence and "earlier" not in long.sentence
    assert "earlier at half throttle" in short.sentence and "later" not in short.sentence


def test_bound_is_told_as_the_least_to_expect():
    assert "about" in expected_effect(example(), -10.0).sentence
    bound = expected_effect(example(), -10.0, at_most=True).sentence
    assert "at least" in bound and "about" not in bound


def test_lost_kickdown_is_told():
    assert "No kickdown" in expected_effect(example(), -4.0).sentence
    assert "kickdown" not in expected_effect(example(), 4.0).sentence.lower()


@pytest.mark.parametrize("rod_error_mm", [0.0, 0.05, -0.05])
def test_change_that_nobody_would_notice_is_called_none(rod_error_mm):
    sentence = expected_effect(example(), rod_error_mm).sentence
    assert "no change" in sentence and "mph" not in sentence


def test_opening_without_an_upshift_gives_the_reason():
    weak = changed(("shaft_rpm = [0.0, 925.0, 3780.0]", "shaft_rpm = [0.0, 925.0, 2700.0]"),
                   ("pressure_kpa = [0.0, 150.0, 620.0]", "pressure_kpa = [0.0, 150.0, 360.0]"))  # fmt: skip
    effect = expected_effect(weak, 3.0)
    wide = effect.openings[-1]
    assert wide.upshift_change_kmh is None and wide.upshift_change_mph is None
    assert "no speed of the governor curve" in wide.why_not
    assert "At wide-open throttle no change can be given" in effect.sentence


def test_profile_without_shift_data_has_no_effect_to_tell():
    from rodtrue.profiles import parse_profile

    text = changed_text()
    without = parse_profile(text[: text.index("[shifts.throttle]")], "without")
    assert expected_effect(without, 3.0) is None
