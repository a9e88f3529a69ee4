"""The statistical part: what scatters from stroke to stroke is seen, quiet data claim no more than the converter."""

import math

import numpy as np
import pytest

from analysis.made_up_run import MadeUp
from rodtrue.analysis.interval import autocorrelated, jackknife, start_spread
from rodtrue.analysis.ramp import Ramp, fit_ramp, locate_ramps
from rodtrue.analysis.strokes import cut_sections, find_strokes
from rodtrue.model.samples import Samples


def ramp_of(samples: Samples) -> Ramp:
    sections = cut_sections(samples, 12.0)
    spans = find_strokes(sections)
    ramp = fit_ramp(sections, spans, locate_ramps(sections, spans, 5.0, 25.0), 25.0, 60.0)
    assert isinstance(ramp, Ramp)
    return ramp


def test_degrees_of_freedom_are_strokes_less_one_and_the_directions():
    ramp = ramp_of(MadeUp(rod_error_mm=-3.0, sweeps=6).samples())
    assert start_spread(ramp, 0.004, 0.03).degrees_of_freedom == 12 - 3


def test_quiet_data_claim_no_more_than_a_converter_step():
    ramp = ramp_of(MadeUp(rod_error_mm=-3.0, noise_kpa=0.0, travel_noise_mm=0.0).samples())
    spread = start_spread(ramp, 0.004, 0.03)
    assert spread.of == "resolution"
    assert spread.standard_uncertainty_mm == pytest.approx(0.03 / math.sqrt(12))  # JCGM 100:2008, F.2.2.1


def test_scatter_of_the_start_is_seen_by_the_jackknife_and_not_by_residuals():
    pieces = []
    rng = np.random.default_rng(11)
    for number, shift in enumerate(rng.normal(0, 0.1, 6)):
        run = MadeUp(rod_error_mm=-3.0 + shift, sweeps=1, seconds=((2.0, 3.0)[number % 2],), seed=number).samples()
        pieces.append(run)
    joined = Samples(
        np.arange(sum(map(len, pieces))) / 250.0,
        *(np.concatenate([getattr(p, name) for p in pieces]) for name in ("travel_mm", "pressure_kpa", "step")),
    )
    ramp = ramp_of(joined)
    expected = 0.1 / math.sqrt(6)
    assert jackknife(ramp) == pytest.approx(expected, rel=0.6)
    assert autocorrelated(ramp, 0.004) < jackknife(ramp)


def test_white_noise_gives_both_estimates_the_same_size():
    ratios = []
    for seed in range(12):
        ramp = ramp_of(MadeUp(rod_error_mm=-3.0, noise_kpa=2.0, seed=seed).samples())
        ratios.append(jackknife(ramp) / autocorrelated(ramp, 0.004))
    assert 0.7 < np.median(ratios) < 1.4


def test_one_stroke_a_direction_leaves_nothing_to_leave_out():
    ramp = ramp_of(MadeUp(rod_error_mm=-3.0, sweeps=1).samples())
    assert jackknife(ramp) == 0.0
    assert start_spread(ramp, 0.004, 0.03).degrees_of_freedom == 0
