"""What the data cannot say: a rise is one of the travel's ends, not of a few samples."""

import numpy as np
import pytest

from rodtrue.analysis.reference import Baseline
from rodtrue.analysis.refusals import falls_as_travel_rises, noticeable_kpa, rises
from rodtrue.analysis.strokes import Section, Span
from rodtrue.profiles import load_profile

PROFILE = load_profile("example-direct")
QUIET = Baseline(25.0, [25.0], 0.2)


def opening(pressure_kpa: np.ndarray) -> tuple[list[Section], list[Span]]:
    """Return one opening of 20 mm with this pressure, a sample in each of the travel's bins."""
    n = len(pressure_kpa)
    travel = np.linspace(0.0, 20.0, n)
    return [Section(np.arange(n) / 250, travel, travel, pressure_kpa, 0.004, False)], [Span(0, 0, n, "opening")]


def test_a_noticeable_change_is_the_noise_times_the_profiles_ratio_and_half_a_kpa_at_least():
    assert PROFILE.thresholds.response_noise_ratio == 5.0
    assert noticeable_kpa(QUIET, PROFILE) == pytest.approx(1.0)
    assert noticeable_kpa(Baseline(25.0, [25.0], 0.01), PROFILE) == 0.5


@pytest.mark.parametrize(("lifted", "risen"), [(3, False), (30, True)])
def test_a_few_samples_at_the_far_end_are_no_rise(lifted, risen):
    # Of 500 places 6 % are 30 to an end: 3 lifted by 4 kPa lift its mean by 0.4, 30 by all 4; 1 is needed.
    pressure = np.full(500, 25.0)
    pressure[-lifted:] += 4.0
    assert rises(*opening(pressure), QUIET, PROFILE) is risen
    assert falls_as_travel_rises(*opening(pressure), QUIET, PROFILE) is False
    assert rises(*opening(pressure[::-1]), QUIET, PROFILE) is risen
    assert falls_as_travel_rises(*opening(pressure[::-1]), QUIET, PROFILE) is risen


def test_without_a_stroke_nothing_rises():
    sections, _ = opening(np.full(500, 25.0))
    assert rises(sections, [], QUIET, PROFILE) is False
