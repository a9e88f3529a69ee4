"""Control charts against published series, and run rules on runs made to break them."""

import csv
from pathlib import Path

import numpy as np
import pytest

from rodtrue.lab.charts import individuals, means, run_rules, weighted
from rodtrue.model.errors import InputError

PUBLISHED = Path(__file__).parents[1] / "data" / "published"


def _column(file, name):
    return np.array([float(row[name]) for row in csv.DictReader((PUBLISHED / file).read_text().splitlines())])


def test_the_handbooks_individuals_chart():
    # NIST/SEMATECH e-Handbook 6.3.2.2.
    chart = individuals(_column("nist_individuals.csv", "flowrate"))
    single, moving = chart.tracks
    assert round(single.centre, 2) == 50.81
    assert round(moving.centre, 4) == 1.8778
    assert (round(single.upper[0], 4), round(single.lower[0], 4)) == (55.8041, 45.8159)
    assert moving.upper[0] == pytest.approx(3.267 * 1.8778, abs=2e-3)
    assert chart.in_control


def test_the_handbooks_weighted_average_chart():
    # NIST/SEMATECH e-Handbook 6.3.2.4: weight 0.3, start 50, sd 2.0539; it cuts 47.41157 off to 47.4115.
    track = weighted(_column("nist_ewma.csv", "x"), 0.3, centre=50, sd=2.0539).tracks[0]
    assert round(track.upper[0], 4) == 52.5884
    assert track.lower[0] == pytest.approx(47.4115, abs=1e-4)
    assert np.allclose(track.points, _column("nist_ewma.csv", "ewma_published"), atol=0.0051)
    assert not track.signals


def test_the_piston_rings():
    # D. C. Montgomery, Introduction to Statistical Quality Control, in R's qcc; 25 samples set the limits.
    groups = _column("pistonrings.csv", "diameter_mm").reshape(-1, 5)
    chart = means(groups, set_from=25)
    level, spread = chart.tracks
    assert level.centre == pytest.approx(74.001176, abs=1e-6)
    assert chart.sd == pytest.approx(0.00978534, abs=1e-8)
    assert (level.lower[0], level.upper[0]) == pytest.approx((73.98804759, 74.01430441), abs=1e-7)
    assert spread.upper[0] == pytest.approx(0.04811, abs=3e-5)
    assert {s.point + 1 for s in level.signals if s.rule.startswith("beyond the limit")} == {37, 38, 39}
    assert means(groups, "sd", set_from=25).tracks[1].centre == pytest.approx(0.00924004, abs=1e-8)


@pytest.mark.parametrize("at", [11, 20])
def test_a_jump_is_signalled_at_the_step_to_it_also_as_the_newest_value(at):
    values = 10 + np.tile([0.0, 0.1], 11)[:21]
    values[at] += 5
    chart = individuals(values, set_from=10)
    moving = chart.tracks[1]
    assert [signal.point for signal in moving.signals] == [at - 1, *([at] if at < 20 else [])]
    assert all(moving.points[signal.point] > moving.upper[0] for signal in moving.signals)
    assert {signal.point for signal in chart.tracks[0].signals} == {at}


SEQUENCES = [
    ([0, 0.5, -0.5, 3.1], 3, "beyond the limit, above"),
    ([0, 0.5, -3.2], 2, "beyond the limit, below"),
    ([0, 2.1, 0.3, 2.2], 3, "two of three"),
    ([0, -2.1, -2.2], 2, "two of three"),
    ([1.2, 1.1, -0.5, 1.3, 1.4], 4, "four of five"),
    ([-0.1, 0.2, 0.4, 0.1, 0.6, 0.2, 0.3, 0.5, 0.1], 8, "eight in a row above"),
]


@pytest.mark.parametrize(("z", "point", "says"), SEQUENCES)
def test_each_run_rule_signals_where_it_is_broken(z, point, says):
    signals = run_rules(10 + 2 * np.array(z), 10.0, np.full(len(z), 2.0))
    assert [(signal.point, says in signal.rule) for signal in signals] == [(point, True)]


def test_rules_count_one_side_only():
    z = np.array([2.1, -2.2, 1.2, -1.3, 1.4, -1.5, 0.2, -0.1])
    assert run_rules(z, 0.0, np.ones(len(z))) == []


def test_healthy_values_seldom_signal_and_a_drift_soon_does():
    rng = np.random.default_rng(5)
    chart = individuals(rng.normal(size=500))
    assert len({signal.point for signal in chart.tracks[0].signals}) < 25
    drifted = np.concatenate([rng.normal(size=30), rng.normal(size=15) + 2.5])
    assert any(signal.point >= 30 for signal in individuals(drifted, 30).tracks[0].signals)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: individuals(np.ones(20)), "all equal"),
        (lambda: individuals(np.arange(4.0)), "too few"),
        (lambda: individuals(np.arange(10.0), 11), "there are 10"),
        (lambda: means(np.ones((10, 3))), "all equal"),
        (lambda: weighted(np.arange(10.0), 0.0), "weight 0"),
    ],
)
def test_values_that_set_no_limits_say_why(make, says):
    with pytest.raises(InputError, match=says):
        make()


@pytest.mark.parametrize(
    ("spread", "lower", "upper", "reach"), [("range", 0.0, 2.114, 0.577), ("sd", 0.0, 2.089, 1.427)]
)
def test_limits_of_means_and_of_their_spread_follow_the_printed_factors_for_five(spread, lower, upper, reach):
    # D3, D4, A2 and B3, B4, A3 for subgroups of five: the tables of D. C. Montgomery, Introduction to Statistical
    # Quality Control, appendix VI, and ASTM STP 15D (from memory).
    level, inside = means(_column("pistonrings.csv", "diameter_mm").reshape(-1, 5), spread, set_from=25).tracks
    assert inside.lower[0] == pytest.approx(lower * inside.centre)
    assert inside.upper[0] / inside.centre == pytest.approx(upper, abs=6e-4)
    assert (level.upper[0] - level.centre) / inside.centre == pytest.approx(reach, abs=6e-4)
    assert (level.centre - level.lower[0]) / inside.centre == pytest.approx(reach, abs=6e-4)
