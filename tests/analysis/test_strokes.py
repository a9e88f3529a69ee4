"""Strokes from travel alone: turns, tremor, rests, gaps."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rodtrue.analysis.strokes import cut_sections, find_strokes
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
