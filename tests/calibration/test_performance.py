"""Nonlinearity, hysteresis and repeatability against a case that can be checked by hand."""

import pytest

from calibration.published import columns, words
from rodtrue.calibration.performance import NotInOrder, performance


def test_the_sensor_case_has_its_figures() -> None:
    # Made-up case, 4 to 20 mA; figures computed with numpy and scipy's linprog, in percent of 16 mA.
    name = "sensor_linearity_case.csv"
    x, y, cycle = columns(name, "input_percent", "output_mA", "cycle")
    ways = ["up" if word == "up" else "down" for word in words(name, "direction")]
    found = performance(x, y, [int(c) for c in cycle], ways, 16.0)
    assert found.nonlinearity_terminal == pytest.approx(0.390625)
    assert found.nonlinearity_least_squares == pytest.approx(0.218750)
    assert found.nonlinearity_independent == pytest.approx(0.1953125)
    assert found.hysteresis == pytest.approx(0.25)
    assert found.repeatability == pytest.approx(0.05)


def test_what_one_way_alone_does_not_tell_is_not_told() -> None:
    found = performance([0, 1, 2, 3], [0.0, 1.0, 2.1, 3.0], [1] * 4, ["up"] * 4, 3.0)
    assert (found.hysteresis, found.repeatability, found.nonlinearity_terminal) == (None, None, None)


def test_an_up_that_falls_is_refused_with_its_row() -> None:
    with pytest.raises(NotInOrder, match="says up, but goes from 2 to 1") as refused:
        performance([0, 2, 1], [0.0, 2.0, 1.0], [1] * 3, ["up"] * 3, 3.0)
    assert refused.value.row == 2
