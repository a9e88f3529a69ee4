"""Strokes from travel alone: turns, tremor, rests, gaps."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rodtrue.analysis.strokes import cut_sections, find_strokes, smooth
from rodtrue.model.samples import NO_STEP, SWEEP, Samples


def run(travel: np.ndarray, rate_hz: float = 500.0, step: np.ndarray | None = None) -> Samples:
    steps = np.full(len(travel), SWEEP, np.uint8) if step is None else step
    return Samples(np.arange(len(travel)) / rate_hz, travel, np.zeros(len(travel)), steps)


def sweeps(number: int, full_mm: float = 20.0, n: int = 1000, rest: int = 400) -> np.ndarray:
    half = full_mm * (0.5 - 0.5 * np.cos(np.linspace(0, np.pi, n)))
    return np.concatenate([np.zeros(rest), *[np.concatenate([half, half[::-1], np.zeros(rest)])] * number])


@pytest.mark.parametrize("number", [1, 3, 6])
def test_each_sweep_gives_an_opening_and_a_closing(number):
    strokes = find_strokes(cut_sections(run(sweeps(number)), 0.0))
    assert [s.direction for s in strokes] == ["opening", "closing"] * number


def test_rests_belong_to_no_stroke():
    travel = sweeps(2)
    for stroke in find_strokes(cut_sections(run(travel), 0.0)):
        piece = travel[stroke.start : stroke.stop]
        assert 0.05 < piece.min() < 1 and 19 < piece.max() < 19.95


@settings(max_examples=30, deadline=None, derandomize=True)
@given(
    seed=st.integers(0, 1000),
    tremor=st.floats(0, 0.4),
    noise=st.floats(0, 0.03),
    number=st.integers(1, 4),
    pause=st.integers(0, 600),
)
def test_tremor_noise_and_a_pause_cut_no_stroke_in_two(seed, tremor, noise, number, pause):
    rng = np.random.default_rng(seed)
    clean = sweeps(number)
    middle = 400 + 400
    clean = np.concatenate([clean[:middle], np.full(pause, clean[middle]), clean[middle:]])
    t = np.arange(len(clean)) / 500
    moving = np.abs(np.gradient(clean)) > 1e-4
    travel = clean + moving * tremor * np.sin(2 * np.pi * 4 * t + seed) + noise * rng.standard_normal(len(clean))
    strokes = find_strokes(cut_sections(run(travel), 0.0))
    assert [s.direction for s in strokes] == ["opening", "closing"] * number


def test_zero_is_taken_off():
    (section,) = cut_sections(run(sweeps(1) + 12.5), 12.5)
    assert section.travel_mm[0] == pytest.approx(0.0)


def test_missing_samples_break_a_section_and_say_so():
    travel = sweeps(1)
    whole = run(travel)
    keep = np.ones(len(travel), bool)
    keep[800:900] = False
    first, second = cut_sections(whole.where(keep), 0.0)
    assert not first.broken_before and second.broken_before
    assert len(first.time_s) == 800 and len(second.time_s) == len(travel) - 900


def test_a_stretch_without_a_step_breaks_a_section_but_is_no_loss():
    travel = sweeps(2)
    step = np.full(len(travel), SWEEP, np.uint8)
    step[2450:2600] = NO_STEP
    sections = cut_sections(run(travel, step=step), 0.0)
    assert [s.broken_before for s in sections] == [False, False]


@pytest.mark.parametrize("travel", [np.zeros(1000), np.linspace(0, 1.2, 1000), np.zeros(3)])
def test_no_motion_no_stroke(travel):
    assert find_strokes(cut_sections(run(travel), 0.0)) == []


def test_a_million_samples_are_cut_without_a_python_step_for_each():
    travel = np.tile(sweeps(1), 420)[:1_000_000] + 0.02 * np.random.default_rng(1).standard_normal(1_000_000)
    strokes = find_strokes(cut_sections(run(travel), 0.0))
    assert len(strokes) in (713, 714, 715, 716)


@pytest.mark.parametrize("rate_hz", [100, 250, 300, 500, 1000])
def test_smoothing_takes_noise_out_and_moves_no_parabola(rate_hz):
    # A quadratic Savitzky-Golay filter leaves a parabola as it is (Savitzky and Golay, Anal. Chem. 36 (1964) 1627).
    t = np.arange(300) / rate_hz
    parabola = 3.0 + 40 * t - 25 * t**2
    assert smooth(parabola, 1 / rate_hz) == pytest.approx(parabola, abs=1e-9)
    noise = np.random.default_rng(3).standard_normal(3000)
    # Inside a window of 2 m + 1 the variance falls to 3 (3 m^2 + 3 m - 1) / ((2 m - 1) (2 m + 1) (2 m + 3)).
    m = max(2, (round(0.060 * rate_hz) | 1) // 2)
    left = 3 * (3 * m * m + 3 * m - 1) / ((2 * m - 1) * (2 * m + 1) * (2 * m + 3))
    assert smooth(noise, 1 / rate_hz)[50:-50].var() == pytest.approx(left, rel=0.2)


def test_what_is_shorter_than_the_window_is_left_alone():
    few = np.array([0.0, 1.0, 0.0, 1.0])
    assert np.array_equal(smooth(few, 0.002), few)


@pytest.mark.parametrize(("missing", "sections"), [(2, 1), (3, 2)])
def test_two_missing_samples_are_let_pass_and_three_break_a_section(missing, sections):
    travel = sweeps(1)
    keep = np.ones(len(travel), bool)
    keep[800 : 800 + missing] = False
    found = cut_sections(run(travel).where(keep), 0.0)
    assert [s.broken_before for s in found] == [False, True][:sections]
    assert found[0].period_s == pytest.approx(0.002)


@pytest.mark.parametrize(("back_mm", "strokes"), [(1.4, 1), (1.7, 3)])
def test_a_reversal_counts_from_a_millimetre_and_a_half(back_mm, strokes):
    def moved(start: float, end: float) -> np.ndarray:
        return start + (end - start) * (0.5 - 0.5 * np.cos(np.linspace(0, np.pi, 500)))

    travel = np.concatenate([moved(0, 10), moved(10, 10 - back_mm), moved(10 - back_mm, 20)])
    found = find_strokes(cut_sections(run(travel), 0.0))
    assert [s.direction for s in found] == ["opening", "closing", "opening"][:strokes]


def test_a_stroke_leaves_three_tenths_of_a_millimetre_at_both_ends():
    travel = np.concatenate([np.zeros(300), np.linspace(0, 20, 2001), np.full(300, 20.0), np.linspace(20, 0, 2001)])
    opening, closing = find_strokes(cut_sections(run(travel), 0.0))
    assert (travel[opening.start], travel[opening.stop - 1]) == pytest.approx((0.3, 19.7), abs=0.02)
    assert (travel[closing.start], travel[closing.stop - 1]) == pytest.approx((19.7, 0.3), abs=0.02)


def test_too_few_samples_in_a_row_make_no_section():
    travel = sweeps(1)
    step = np.full(len(travel), NO_STEP, np.uint8)
    step[500:505], step[700:704] = SWEEP, SWEEP
    assert [len(s.time_s) for s in cut_sections(run(travel, step=step), 0.0)] == [5]
    step[:] = NO_STEP
    step[500:504] = SWEEP
    assert cut_sections(run(travel, step=step), 0.0) == []


def test_a_gap_right_after_the_first_sample_breaks_there():
    travel = sweeps(1)
    keep = np.ones(len(travel), bool)
    keep[1:50] = False
    (section,) = cut_sections(run(travel).where(keep), 0.0)
    assert section.broken_before and len(section.time_s) == len(travel) - 50


def test_a_stroke_turns_at_its_peak_whatever_small_way_back_follows():
    def moved(start: float, end: float) -> np.ndarray:
        return start + (end - start) * (0.5 - 0.5 * np.cos(np.linspace(0, np.pi, 500)))

    travel = np.concatenate([moved(0, 20), moved(20, 19), moved(19, 19.2), moved(19.2, 0)])
    opening, closing = find_strokes(cut_sections(run(travel), 0.0))
    assert opening.stop <= 500 <= closing.start
    assert travel[opening.stop - 1] == pytest.approx(19.7, abs=0.05)
    assert travel[closing.start] == pytest.approx(19.7, abs=0.05)
