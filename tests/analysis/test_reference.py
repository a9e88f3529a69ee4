"""What a run stands on: zero, approaches of the baseline, response, rests, adjustments."""

from dataclasses import replace

import numpy as np
import pytest

from analysis.made_up_run import MadeUp
from rodtrue.analysis.reference import (
    after_adjustment,
    find_baseline,
    find_rests,
    find_zero,
    response_kpa,
    shows_response,
)
from rodtrue.analysis.strokes import cut_sections, find_strokes
from rodtrue.model.samples import ADJUSTED, BASELINE, RESPONSE, SWEEP, ZERO, Samples


def baseline_run(levels: list[float], noise: float, tap_kpa: float = 40.0, seed: int = 1) -> Samples:
    rng = np.random.default_rng(seed)
    pieces = []
    for level in levels:
        pieces += [np.full(400, level), level + tap_kpa * np.sin(np.linspace(0, np.pi, 120))]
    pressure = np.concatenate(pieces[:-1])
    pressure = pressure + noise * rng.standard_normal(len(pressure))
    n = len(pressure)
    return Samples(np.arange(n) / 250, np.zeros(n), pressure, np.full(n, BASELINE, np.uint8))


def test_each_approach_between_taps_counts_once_whatever_the_taps_height():
    found = find_baseline(baseline_run([25.0, 26.0, 24.5, 25.5], noise=0.8))
    assert found is not None
    assert found.approaches_kpa == pytest.approx([25.0, 26.0, 24.5, 25.5], abs=0.25)
    assert found.level_kpa == pytest.approx(25.25, abs=0.15)
    assert found.standard_error_kpa == pytest.approx(np.std([25, 26, 24.5, 25.5], ddof=1) / 2, rel=0.3)


def test_without_visible_taps_the_whole_step_is_one_approach():
    found = find_baseline(baseline_run([25.0], noise=0.8))
    assert found is not None and len(found.approaches_kpa) == 1
    assert found.standard_error_kpa == 0.0
    assert found.noise_kpa == pytest.approx(0.8, rel=0.1)


def test_no_baseline_rows_no_baseline():
    run = MadeUp().samples()
    assert find_baseline(run.where(run.step != BASELINE)) is None


def test_zero_is_the_mean_of_its_rows_and_none_without():
    run = MadeUp(origin_mm=12.5).samples()
    assert find_zero(run) == pytest.approx(12.5, abs=0.01)
    assert find_zero(run.where(run.step != ZERO)) is None


@pytest.mark.parametrize(("height_kpa", "shown"), [(60.0, True), (0.5, False)])
def test_response_needs_a_rise_well_above_the_noise(height_kpa, shown):
    run = MadeUp(noise_kpa=1.0).samples()
    at = run.step == RESPONSE
    pressure = run.pressure_kpa.copy()
    pressure[at] = 25 + height_kpa * np.sin(np.linspace(0, np.pi, at.sum()))
    baseline = find_baseline(run)
    assert baseline is not None
    assert shows_response(replace(run, pressure_kpa=pressure), baseline, 5.0) is shown


def test_rests_before_between_and_after_the_sweeps():
    run = MadeUp(rod_error_mm=2.0, sweeps=3, later_rest_mm=0.1).samples()
    sections = cut_sections(run, 12.0)
    rests = find_rests(sections, find_strokes(sections))
    assert rests.first_mm == pytest.approx(0.0, abs=0.02)
    assert rests.later_mm == pytest.approx([0.1, 0.1, 0.1], abs=0.02)
    assert rests.first_kpa == pytest.approx(25 + 2 * 12, abs=1)


def test_a_record_that_starts_in_motion_has_no_first_rest():
    run = MadeUp(sweeps=2).samples()
    first_move = np.flatnonzero((run.step == SWEEP) & (run.travel_mm > 13.0))[0]
    moving = run.where(np.arange(len(run)) >= first_move)
    sections = cut_sections(moving, 12.0)
    assert find_rests(sections, find_strokes(sections)).first_mm is None


def test_after_an_adjustment_only_later_sweeps_count_and_the_old_zero_still_stands():
    run = MadeUp(sweeps=4).samples()
    sweep = np.flatnonzero(run.step == SWEEP)
    half = sweep[len(sweep) // 2]
    step = run.step.copy()
    step[half] = ADJUSTED
    counted = after_adjustment(replace(run, step=step))
    assert (counted.step == SWEEP).sum() == (sweep > half).sum()
    assert (counted.step == ZERO).any() and (counted.step == BASELINE).any()
    assert after_adjustment(run) is run
    assert after_adjustment(counted) is counted, "the mark itself is gone"


@pytest.mark.parametrize(("samples", "risen_kpa"), [(25, 60.0), (50, 60.0), (10, 24.0)])
def test_a_response_is_what_stays_a_tenth_of_a_second(samples, risen_kpa):
    # 250 Hz: 25 samples are 0.1 s; a push of 10 of them counts for 10/25 of its height.
    run = MadeUp(noise_kpa=0.0).samples()
    baseline = find_baseline(run)
    assert baseline is not None
    at = np.flatnonzero(run.step == RESPONSE)
    pressure = run.pressure_kpa.copy()
    pressure[at] = 25.0
    pressure[at[150] : at[150] + samples] += 60.0
    risen = response_kpa(replace(run, pressure_kpa=pressure), baseline)
    assert risen == pytest.approx(risen_kpa + 25.0 - baseline.level_kpa, abs=1e-6)


def test_a_baseline_sampled_slower_than_its_averaging_is_still_one():
    level = np.full(40, 25.0)
    tap = 25.0 + np.array([30.0, 60.0, 30.0])
    pressure = np.concatenate([level, tap, level + 1.0, tap, level - 1.0])
    n = len(pressure)
    found = find_baseline(Samples(np.arange(n) / 5.0, np.zeros(n), pressure, np.full(n, BASELINE, np.uint8)))
    assert found is not None
    assert found.approaches_kpa == pytest.approx([25.0, 26.0, 24.0])
    assert found.level_kpa == pytest.approx(25.0)


def test_the_longest_still_stretch_of_a_rest_counts_and_not_the_last():
    def still(at_mm: float, seconds: float) -> np.ndarray:
        return np.full(round(seconds * 250), at_mm)

    def way(start_mm: float, end_mm: float, seconds: float) -> np.ndarray:
        return start_mm + (end_mm - start_mm) * (0.5 - 0.5 * np.cos(np.linspace(0, np.pi, round(seconds * 250))))

    # At rest for a second, nudged by 1 mm and back, then still for 0.3 s a little off: both near the median.
    before = np.concatenate([still(0.0, 1.0), way(0.0, 1.0, 0.1), way(1.0, 0.08, 0.1), still(0.08, 0.3)])
    travel = np.concatenate([before, way(0.08, 20.0, 2.0), way(20.0, 0.08, 2.0), still(0.08, 0.5)])
    n = len(travel)
    run = Samples(np.arange(n) / 250.0, travel, 25.0 + travel, np.full(n, SWEEP, np.uint8))
    sections = cut_sections(run, 0.0)
    rests = find_rests(sections, find_strokes(sections))
    assert rests.first_mm == pytest.approx(0.0, abs=0.01)
    assert rests.first_kpa == pytest.approx(25.0, abs=0.01)
    assert rests.later_mm == pytest.approx([0.08], abs=0.01)
