"""The pooled ramp on runs whose lag, friction and start are known: made up, then put through another's filter."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import TransferFunction, lsim

from analysis.made_up_run import MadeUp
from rodtrue.analysis.ramp import TOO_LITTLE_RAMP, Ramp, fit_ramp, locate_ramps
from rodtrue.analysis.strokes import cut_sections, find_strokes
from rodtrue.model.samples import Samples

QUIET = MadeUp(rod_error_mm=-3.0, noise_kpa=0.0, travel_noise_mm=0.0)


def lagging(run: MadeUp, lag_s: float) -> Samples:
    """Return the run with its pressure through a first-order lag, by scipy.signal.lsim."""
    samples = run.samples()
    seconds = np.arange(len(samples)) / run.rate_hz
    _, over_kpa, _ = lsim(TransferFunction([1.0], [lag_s, 1.0]), samples.pressure_kpa - run.baseline_kpa, seconds)
    return replace(samples, pressure_kpa=run.baseline_kpa + over_kpa)


def fitted(samples: Samples) -> Ramp:
    sections = cut_sections(samples, 12.0)
    spans = find_strokes(sections)
    ramp = fit_ramp(sections, spans, locate_ramps(sections, spans, 5.0, 25.0), 25.0, 60.0)
    assert isinstance(ramp, Ramp)
    return ramp


@pytest.mark.parametrize("friction_mm", [0.0, 0.3])
@pytest.mark.parametrize("lag_s", [0.005, 0.01, 0.03])
def test_lag_and_friction_are_told_apart_and_the_start_stays(lag_s, friction_mm):
    ramp = fitted(lagging(replace(QUIET, friction_mm=friction_mm), lag_s))
    assert ramp.lag_told
    assert ramp.lag_s == pytest.approx(lag_s, rel=1e-3)
    # The rod is 3 mm short; opening and closing meet the baseline half the friction to either side.
    assert ramp.middle() == pytest.approx(3.0, abs=1e-3)
    onsets = ramp.onsets()
    assert onsets["opening"] - onsets["closing"] == pytest.approx(friction_mm, abs=1e-3)
    assert ramp.slope_kpa_per_mm == pytest.approx(12.0, rel=1e-3)


def test_a_lag_longer_than_the_guards_first_guess_is_found_with_wider_ones():
    ramp = fitted(lagging(QUIET, 0.08))
    assert ramp.lag_s == pytest.approx(0.08, rel=5e-3)
    assert ramp.middle() == pytest.approx(3.0, abs=0.03)


def test_without_lag_none_is_found():
    ramp = fitted(QUIET.samples())
    assert (ramp.lag_told, ramp.lag_s) == (True, pytest.approx(0.0, abs=1e-5))


def test_a_stroke_without_ramp_says_so_and_has_neither_speed_nor_onset():
    sections = cut_sections(QUIET.samples(), 12.0)
    spans = find_strokes(sections)
    places = locate_ramps(sections, spans, 5.0, 25.0)
    del places["closing"]
    ramp = fit_ramp(sections, spans, places, 25.0, 60.0)
    assert isinstance(ramp, Ramp)
    assert ramp.directions == ("opening",)
    left_out = [s for s in ramp.strokes if s.span.direction == "closing"]
    assert len(left_out) == 6
    for stroke in left_out:
        assert (stroke.why_not, stroke.speed_mm_per_s, stroke.onset_mm) == (TOO_LITTLE_RAMP, 0.0, None)
