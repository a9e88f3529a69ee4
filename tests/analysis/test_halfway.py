"""How far apart opening and closing lie half way up, on strokes whose friction and lag are known."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import ttest_ind

from rodtrue.analysis.halfway import Halfway, find_halfway
from rodtrue.analysis.lag import lagged
from rodtrue.analysis.ramp import locate_ramps
from rodtrue.analysis.strokes import Section, Span, smooth

PERIOD_S = 0.004
SLOPE, BASELINE_KPA = 12.0, 40.0


def strokes(
    *,
    apart_mm: float,
    lag_s: float = 0.0,
    halves_s: tuple[float, ...] = (2.0, 3.5, 2.5, 4.0),
    full_mm: float = 40.0,
    top_kpa: float = 460.0,
    stands_kpa: float = BASELINE_KPA,
    noise_kpa: float = 0.0,
    jump_mm: float = 0.0,
    closing_slower: float = 1.0,
) -> tuple[list[Section], list[Span]]:
    """Even strokes with rests between; the closing lies `apart_mm` to the left of the opening, before the lag.

    stands_kpa: pressure never falls below this. jump_mm: every other sweep lies this much further. closing_slower:
    how many times as long a closing takes.
    """
    rng = np.random.default_rng(5)
    travel, settled, turns = [np.zeros(250)], [np.full(250, stands_kpa)], []
    for number, half_s in enumerate(halves_s):
        for slower, start_mm in ((1.0, 3.0), (closing_slower, 3.0 - apart_mm)):
            n = round(slower * half_s / PERIOD_S)
            up = np.linspace(0.0, full_mm, n)
            path = up if len(turns) % 2 == 0 else up[::-1]
            start_mm += jump_mm * (number % 2)
            asked = BASELINE_KPA + SLOPE * (path - start_mm)
            begun = sum(map(len, travel))
            turns.append((begun, begun + n))
            travel += [path, np.full(250, path[-1])]
            settled += [np.clip(asked, stands_kpa, top_kpa), np.full(250, np.clip(asked[-1], stands_kpa, top_kpa))]
    x, p = np.concatenate(travel), lagged(np.concatenate(settled), lag_s, PERIOD_S)
    p = p + noise_kpa * rng.standard_normal(len(p))
    section = Section(PERIOD_S * np.arange(len(x)), x, smooth(x, PERIOD_S), p, PERIOD_S, broken_before=False)
    spans = [Span(0, a, b, "opening" if i % 2 == 0 else "closing") for i, (a, b) in enumerate(turns)]
    return [section], spans


def found(sections: list[Section], spans: list[Span]) -> Halfway | None:
    return find_halfway(sections, spans, locate_ramps(sections, spans, 5.0, BASELINE_KPA))


def test_a_lag_beyond_belief_is_held_at_the_largest_there_is() -> None:
    halfway = found(*strokes(apart_mm=0.4, lag_s=0.3))
    assert halfway is not None
    assert halfway.lag_s == 0.2
    assert halfway.apart_mm > 1.0, "what the lag does not take is left between the directions"


@pytest.mark.parametrize("apart_mm", [0.0, 0.4, 5.0])
@pytest.mark.parametrize("lag_s", [0.0, 0.03, 0.12])
def test_friction_and_lag_are_told_apart_by_speed(apart_mm: float, lag_s: float) -> None:
    halfway = found(*strokes(apart_mm=apart_mm, lag_s=lag_s))
    assert halfway is not None and halfway.lag_s is not None
    assert halfway.apart_mm == pytest.approx(apart_mm, abs=0.06)
    assert halfway.lag_s == pytest.approx(lag_s, abs=0.003)


def test_a_level_far_above_the_baseline_does_not_hide_how_far_apart_they_lie() -> None:
    halfway = found(*strokes(apart_mm=4.5, lag_s=0.02, stands_kpa=95.0))
    assert halfway is not None
    assert halfway.apart_mm == pytest.approx(4.5, abs=0.06)


def test_a_plateau_that_most_of_the_travel_lies_on_does_not_matter() -> None:
    halfway = found(*strokes(apart_mm=0.4, top_kpa=200.0, noise_kpa=1.0))
    assert halfway is not None
    assert halfway.apart_mm == pytest.approx(0.4, abs=0.1)


def test_alike_speeds_leave_the_lag_untold_and_in_the_distance() -> None:
    halfway = found(*strokes(apart_mm=0.4, lag_s=0.02, halves_s=(3.0, 3.2, 2.9), closing_slower=2.0))
    assert halfway is not None and halfway.lag_s is None
    speeds = halfway.speed_mm_per_s
    assert speeds["opening"] == pytest.approx(np.mean([40 / 3.0, 40 / 3.2, 40 / 2.9]), rel=0.01)
    assert speeds["closing"] == pytest.approx(speeds["opening"] / 2, rel=0.01)
    assert halfway.apart_mm == pytest.approx(0.4 + 0.02 * sum(speeds.values()), abs=0.06)


def test_strokes_that_disagree_widen_what_is_said() -> None:
    steady, jumping = (found(*strokes(apart_mm=0.4, noise_kpa=0.5, jump_mm=jump)) for jump in (0.0, 1.0))
    assert steady is not None and jumping is not None
    assert 0 < steady.reach_mm < 0.1
    assert jumping.reach_mm > 1.0


def test_the_reach_is_the_interval_of_two_means_that_scatter_alike() -> None:
    """Reference: scipy's two-sample t interval with pooled variance, of places that alternate by 1 mm."""
    halfway = found(*strokes(apart_mm=0.4, jump_mm=1.0, halves_s=(3.0, 3.0, 3.0, 3.0)))
    assert halfway is not None and halfway.lag_s is None
    interval = ttest_ind([0.4, 1.4, 0.4, 1.4], [0.0, 1.0, 0.0, 1.0]).confidence_interval(0.95)
    assert halfway.reach_mm == pytest.approx((interval.high - interval.low) / 2, rel=0.02)


def test_one_sweep_cannot_tell_how_far_its_strokes_scatter() -> None:
    halfway = found(*strokes(apart_mm=0.4, halves_s=(3.0,)))
    assert halfway is not None
    assert halfway.reach_mm == 0.0


def test_pressure_ahead_of_the_travel_is_no_lag_below_zero() -> None:
    """Slower strokes farther apart than quick ones: only scatter can do that."""
    sections, spans = strokes(apart_mm=0.4, halves_s=(2.0, 4.0))
    shifted = sections[0].pressure_kpa.copy()
    shifted[spans[2].start : spans[2].stop] -= SLOPE * 0.5
    slower = [Section(*(getattr(sections[0], name) for name in ("time_s", "travel_mm", "smooth_mm")), shifted,
                      PERIOD_S, broken_before=False)]  # fmt: skip
    halfway = found(slower, spans)
    assert halfway is not None
    assert halfway.lag_s == 0.0


def test_one_direction_alone_says_nothing() -> None:
    sections, spans = strokes(apart_mm=0.4)
    assert found(sections, [span for span in spans if span.direction == "opening"]) is None


def test_strokes_too_short_for_the_middle_are_left_out() -> None:
    sections, spans = strokes(apart_mm=0.4)
    cut = [Span(s.section, s.start, s.start + 20, s.direction) if s.direction == "closing" else s for s in spans]
    assert found(sections, cut) is None
