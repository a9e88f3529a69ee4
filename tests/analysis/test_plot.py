"""What a front end draws, on a run without noise whose pressure is known in closed form at every travel."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from analysis.made_up_run import MadeUp
from rodtrue.analysis.plot import POINTS, plot_of
from rodtrue.analysis.ramp import Ramp, Window, fit_ramp, locate_ramps
from rodtrue.analysis.strokes import Section, Span, cut_sections, find_strokes
from rodtrue.model.result import Plot

RUN = MadeUp(rod_error_mm=-3.0, noise_kpa=0.0, travel_noise_mm=0.0, friction_mm=0.4)
ZERO_MM, BASELINE_KPA = 12.0, 25.0
Parts = tuple[list[Section], list[Span], Ramp]


@pytest.fixture(scope="module")
def parts() -> Parts:
    sections = cut_sections(RUN.samples(), ZERO_MM)
    spans = find_strokes(sections)
    ramp = fit_ramp(sections, spans, locate_ramps(sections, spans, 5.0, BASELINE_KPA), BASELINE_KPA, 60.0)
    assert isinstance(ramp, Ramp)
    return sections, spans, ramp


def of(plot: Plot, direction: str) -> tuple[np.ndarray, np.ndarray]:
    """Return travel and pressure of one direction's points."""
    chosen = np.array(plot.direction) == direction
    return np.array(plot.travel_mm)[chosen], np.array(plot.pressure_kpa)[chosen]


def test_each_direction_has_its_points_opening_first_and_few_enough_to_draw(parts: Parts) -> None:
    plot = plot_of(*parts)
    assert len(plot.travel_mm) == len(plot.pressure_kpa) == len(plot.direction)
    assert [way for way, after in pairwise([*plot.direction, ""]) if way != after] == ["opening", "closing"]
    for way in ("opening", "closing"):
        travel, _ = of(plot, way)
        assert POINTS // 2 < len(travel) <= POINTS
        assert (np.diff(travel) > 0).all(), "in order of travel, none twice"


@pytest.mark.parametrize(("way", "sign"), [("opening", 1.0), ("closing", -1.0)])
def test_the_points_lie_on_the_curve_from_one_end_of_the_stroke_to_the_other(
    parts: Parts, way: str, sign: float
) -> None:
    travel, pressure = of(plot_of(*parts), way)
    expected = BASELINE_KPA + RUN.slope * np.maximum(0.0, travel - 3.0 - sign * RUN.friction_mm / 2)
    # A point is the mean over its bin: where the curve has its knee that mean lies above the corner.
    away = np.abs(travel - 3.0) > 0.6
    assert pressure[away] == pytest.approx(expected[away], abs=0.02)
    assert travel[0] < 0.8
    assert travel[-1] > RUN.full_mm - 0.8


@pytest.mark.parametrize(("way", "sign"), [("opening", 1.0), ("closing", -1.0)])
def test_the_fit_goes_along_the_baseline_to_the_onset_and_up_the_ramp_to_the_windows_end(
    parts: Parts, way: str, sign: float
) -> None:
    sections, spans, ramp = parts
    plot = plot_of(sections, spans, ramp)
    assert [line["direction"] for line in plot.fit] == ["opening", "closing"]
    (line,) = [line for line in plot.fit if line["direction"] == way]
    travel, pressure = np.array(line["travel_mm"]), np.array(line["pressure_kpa"])
    onset_mm = 3.0 + sign * RUN.friction_mm / 2
    assert travel[0] == pytest.approx(of(plot, way)[0][0], abs=1e-4), "from the least travel drawn"
    assert pressure[0] == BASELINE_KPA
    assert travel[1] == pytest.approx(onset_mm, abs=2e-3)
    assert travel[-1] == pytest.approx(ramp.windows[way].upper_mm, abs=1e-4)  # type: ignore[index]
    assert np.diff(travel[1:]) == pytest.approx((travel[-1] - travel[1]) / 8, abs=2e-4), "even steps"
    assert pressure[1:] == pytest.approx(BASELINE_KPA + RUN.slope * (travel[1:] - onset_mm), abs=0.05)


def test_an_onset_left_of_all_travel_begins_its_line_a_millimetre_before_it(parts: Parts) -> None:
    sections, spans, ramp = parts
    long = replace(ramp, coefficients=ramp.coefficients + np.array([60.0, 60.0, 0.0, *ramp.coefficients[3:] * 0]))
    for line in plot_of(sections, spans, long).fit:
        travel = line["travel_mm"]
        assert isinstance(travel, list)
        assert travel[1] < -1.0
        assert travel[0] == pytest.approx(travel[1] - 1.0, abs=1e-4)


def test_a_bending_ramp_is_drawn_bent_and_each_direction_through_its_own_play(parts: Parts) -> None:
    """Worked out by hand: 25 + 8 w + 0.5 w^2, w from 5 mm on; 0.3 mm of play either way."""
    sections, spans, ramp = parts
    bent = replace(
        ramp,
        coefficients=np.array([25.0, 25.0, 8.0, 0.5]),
        centre_mm=5.0,
        play_mm=0.3,
        bends=True,
        windows={"opening": Window(5.0, 9.3, 5.3), "closing": Window(5.0, 8.7, 4.7)},
    )
    opening, closing = plot_of(sections, spans, bent).fit
    along = np.linspace(0.0, 4.0, 9)
    expected = 25.0 + 8.0 * along + 0.5 * along**2
    for line, onset_mm in ((opening, 5.3), (closing, 4.7)):
        assert line["travel_mm"][1:] == pytest.approx(onset_mm + along, abs=1e-4)  # type: ignore[index]
        assert line["pressure_kpa"][1:] == pytest.approx(expected, abs=1e-3)  # type: ignore[index]


def test_without_a_ramp_only_the_points_are_drawn(parts: Parts) -> None:
    sections, spans, ramp = parts
    plain = plot_of(sections, spans, None)
    drawn = plot_of(sections, spans, ramp)
    assert plain.fit == []
    assert (plain.travel_mm, plain.pressure_kpa) == (drawn.travel_mm, drawn.pressure_kpa)


def test_a_direction_without_strokes_or_without_ramp_is_left_out(parts: Parts) -> None:
    sections, spans, ramp = parts
    openings = [span for span in spans if span.direction == "opening"]
    alone = plot_of(sections, openings, ramp)
    assert set(alone.direction) == {"opening"}
    assert [line["direction"] for line in alone.fit] == ["opening"]
    one_sided = replace(ramp, directions=("closing",), coefficients=ramp.coefficients[1:])
    half = plot_of(sections, spans, one_sided)
    assert set(half.direction) == {"opening", "closing"}
    assert [line["direction"] for line in half.fit] == ["closing"]


def test_without_strokes_nothing_is_drawn(parts: Parts) -> None:
    assert plot_of(parts[0], [], None) == Plot([], [], [], [])
