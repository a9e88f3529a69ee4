"""Digits that a number is worth: JCGM 100:2008, 7.2.6."""

import pytest

from rodtrue.model.digits import decimals_of, percent, to_last_digit, two_digits


@pytest.mark.parametrize(
    ("uncertainty", "text"),
    [
        (0.30237, "0.30"),
        (0.0996, "0.10"),
        (9.96, "10"),
        (7.956, "8.0"),
        (123.4, "123"),
        (0.0, "0"),
        (3e-5, "0.000030"),
    ],
)
def test_an_uncertainty_has_two_digits(uncertainty, text):
    assert two_digits(uncertainty) == text


def test_a_value_ends_where_its_uncertainty_does():
    # The mass standard of JCGM 100:2008, 7.2.2: 100.02147 g with a standard uncertainty of 0.35 mg.
    assert to_last_digit(100.02147, 0.00035) == "100.02147"
    assert to_last_digit(100.02147, 0.0351) == "100.021"
    assert to_last_digit(-0.00001, 0.01) == "0.000"
    assert decimals_of(float("inf")) == 0


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (100.0, "100"),
        (27.86, "28"),
        (7.34, "7.3"),
        (0.418, "0.42"),
        (9.96, "9.96"),
        (30.2, "30.2"),
        (29.6, "29.6"),
        (30.0, "30"),
    ],
)
def test_a_percentage_never_rounds_to_the_other_side_of_what_judges_it(share, text):
    assert percent(share, (10.0, 30.0)) == text


def test_a_percentage_that_nothing_judges_is_short():
    assert (percent(9.96), percent(99.7), percent(-0.73), percent(0.0)) == ("10", "100", "-0.73", "0")
    assert percent(-2.9e-5) == "under 0.01"
