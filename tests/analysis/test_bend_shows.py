"""When a bend of the ramp counts as seen: on strokes whose own bends are known, so that its error can be worked out.

All strokes have the same travel, symmetric about the centre, and bend by u^2 less its mean there: level, slope and
bend are then orthogonal, the pooled bend is the mean of the strokes' own, and the jackknife's standard error is that
of a mean, s / sqrt(n) (B. Efron, The Jackknife, the Bootstrap and Other Resampling Plans, 1982).
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.made_up_ramp import ramp_of, stroke
from rodtrue.analysis.ramp import Ramp, StrokeData, _bend_shows

U = np.linspace(-3.0, 3.0, 13)
BENDING = U**2 - np.mean(U**2)
LEVEL_KPA, SLOPE = 60.0, 11.0
STUDENT_9973 = {1: 235.80, 3: 9.22, 7: 4.53}
"""JCGM 100:2008, table G.2: Student's factor for 99.73 % by degrees of freedom, here from memory."""


def bending(number: int, bend: float, why_not: str | None = None) -> StrokeData:
    """Return one stroke, opening and closing in turn, that bends by so many kPa/mm2."""
    made = stroke("closing" if number % 2 else "opening", 0.0, why_not=why_not)
    levels = [np.full(len(U), float(number % 2 == way)) for way in (0, 1)]
    columns = np.column_stack([*levels, U, U**2])
    pressure = LEVEL_KPA + SLOPE * U + bend * BENDING
    made.gram, made.moment = columns.T @ columns, columns.T @ pressure
    return made


def bent(bends: list[float], unused: int = 0) -> Ramp:
    strokes = [bending(number, bend) for number, bend in enumerate(bends)]
    strokes += [bending(number, 99.0, "too fast") for number in range(unused)]
    mean = float(np.mean(bends))
    coefficients = np.array([LEVEL_KPA, LEVEL_KPA, SLOPE, mean])
    return ramp_of(strokes, bends=True, coefficients=coefficients)


def scattered(many: int, mean: float) -> list[float]:
    """Return bends with this mean and standard error 1."""
    pattern = np.tile([1.0, 1.0, -1.0, -1.0], many)[:many]
    pattern = pattern - pattern.mean()
    error = pattern.std(ddof=1) / np.sqrt(many)
    return list(mean + pattern / error)


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize(("many", "freedom"), [(4, 1), (6, 3), (10, 7)])
def test_a_bend_shows_beyond_three_standard_deviations_with_students_factor_for_them(
    many: int, freedom: int, sign: float
) -> None:
    bar = STUDENT_9973[freedom]
    assert _bend_shows(bent(scattered(many, sign * 1.01 * bar)))
    assert not _bend_shows(bent(scattered(many, sign * 0.99 * bar)))


def test_of_three_strokes_nobody_can_tell_and_the_bend_counts() -> None:
    assert _bend_shows(bent([5.0, -6.0, 1.5]))


def test_strokes_that_were_left_out_do_not_count() -> None:
    bar = STUDENT_9973[3]
    assert _bend_shows(bent(scattered(6, 1.01 * bar), unused=4))
    assert not _bend_shows(bent(scattered(6, 0.99 * bar), unused=4))
    assert _bend_shows(bent([5.0, -6.0, 1.5], unused=4))
