"""The statistical part: what scatters from stroke to stroke is seen, quiet data claim no more than the converter."""

import math

import numpy as np
import pytest
import statsmodels.api as sm

from analysis.made_up_ramp import BASELINE_KPA, SLOPE, stroke
from analysis.made_up_ramp import ramp_of as written_ramp
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


@pytest.mark.parametrize("period_s", [0.002, 0.004, 0.2])
def test_wander_within_strokes_counts_as_newey_and_west_have_it(period_s):
    # Against statsmodels (OLS, `hac-panel`: Bartlett weights over 50 ms, none from one stroke to the next).
    rng = np.random.default_rng(14)
    strokes = [stroke(direction, 3.0) for direction in ("opening", "closing") * 2]
    columns, pressures = [], []
    for number, one in enumerate(strokes):
        travel = np.linspace(6.0, 14.0, 180 + 20 * number)
        opening = np.full(len(travel), one.span.direction == "opening")
        columns.append(np.column_stack([opening, ~opening, travel]))
        wander = np.convolve(rng.normal(0, 1, len(travel) + 9), np.ones(10) / 3, "valid")
        pressures.append(BASELINE_KPA + SLOPE * (travel - 3.0 - 0.2 * opening) + wander)
        one.gram, one.moment = columns[-1].T @ columns[-1], columns[-1].T @ pressures[-1]
    fitted = sm.OLS(np.concatenate(pressures), np.concatenate(columns)).fit()
    coefficients = fitted.params
    ramp = written_ramp(
        strokes, coefficients=coefficients, columns=columns,
        residual_kpa=[p - x @ coefficients for p, x in zip(pressures, columns, strict=True)],
    )  # fmt: skip
    reach = max(1, round(0.050 / period_s))
    groups = np.repeat(np.arange(4), [len(p) for p in pressures])
    robust = fitted.get_robustcov_results("hac-panel", groups=groups, maxlags=reach - 1, use_correction=False)
    opening, closing, slope = coefficients
    # The middle of the onsets is ((p0 - a1) + (p0 - a2)) / 2k: its derivatives by a1, a2 and k.
    by = np.array([-1, -1, -(2 * BASELINE_KPA - opening - closing) / slope]) / (2 * slope)
    assert autocorrelated(ramp, period_s) == pytest.approx(math.sqrt(by @ robust.cov_params() @ by), rel=1e-5)
