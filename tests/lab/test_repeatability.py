"""Crossed studies: against the published study, another library, and components that are known."""

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import beta

from rodtrue.lab.intervals import MeanSquare, combination_interval
from rodtrue.lab.repeatability import by_analysis_of_variance, by_ranges
from rodtrue.lab.study import Reading, Study, arrange
from rodtrue.model.errors import InputError

PUBLISHED = Path(__file__).parents[1] / "data" / "published"


@pytest.fixture(scope="module")
def published_study():
    """AIAG, Measurement Systems Analysis, 4th edition: 10 parts, 3 appraisers, 3 trials."""
    rows = csv.DictReader((PUBLISHED / "aiag_grr.csv").read_text().splitlines())
    return arrange([Reading(r["part"], r["appraiser"], r["trial"], float(r["value"])) for r in rows])


def test_the_published_study_comes_out_by_analysis_of_variance(published_study):
    # The same manual's table: degrees of freedom, mean squares, F, components, per cent, categories.
    found = by_analysis_of_variance(published_study, pool=True, confidence=0.90)
    part, operator, interaction, error, total = found.table
    assert [row.degrees_of_freedom for row in found.table] == [9, 2, 18, 60, 89]
    for row, printed in zip(found.table, (88.3619, 3.1673, 0.3590, 2.7589, 94.6471), strict=True):
        assert round(row.sum_of_squares, 4) == printed
    for row, printed in ((part, 9.81799), (operator, 1.58363), (interaction, 0.01994), (error, 0.04598)):
        assert round(row.mean_square, 5) == printed
    assert total.mean_square is None
    assert (round(part.f_ratio, 2), round(operator.f_ratio, 2)) == (213.52, 34.44)
    assert round(interaction.f_ratio, 3) == 0.434
    assert found.pooled
    for value, printed in (
        (found.repeatability, 0.199933),
        (found.reproducibility, 0.226838),
        (found.gauge_rr, 0.302372),
        (found.part, 1.042327),
    ):
        assert value == pytest.approx(printed, abs=1.5e-6)
    assert round(found.total, 3) == 1.085
    assert round(found.percent_gauge_rr, 1) == 27.9
    assert found.distinct_categories == 4
    # Its printed 90 % limits: of the equipment, and the upper one of the gauge. Its limits of the appraisers rest on
    # another approximation, 0.129 to 1.001 against 0.128 to 1.014 here.
    assert [round(limit, 3) for limit in found.interval["repeatability"]] == [0.177, 0.231]
    assert round(found.interval["gauge_rr"][1], 3) == 1.033


def test_the_published_study_comes_out_by_ranges(published_study):
    # The same manual's worksheet; it rounds on the way, so five digits are not to be had.
    found = by_ranges(published_study)
    for value, printed in (
        (found.repeatability, 0.20188),
        (found.reproducibility, 0.22963),
        (found.gauge_rr, 0.30575),
        (found.part, 1.10456),
        (found.total, 1.14610),
    ):
        assert value == pytest.approx(printed, abs=1.5e-4)
    assert found.percent_gauge_rr == pytest.approx(26.68, abs=0.01)
    assert found.distinct_categories == 5


def test_a_component_below_nought_is_set_to_nought_and_said(published_study):
    found = by_analysis_of_variance(published_study)
    assert found.repeatability == pytest.approx(0.214435, abs=1e-6)
    assert found.interaction == 0
    assert found.reproducibility == pytest.approx(0.228304, abs=1e-6)
    assert found.part == pytest.approx(1.043395, abs=1e-6)
    assert any("interaction" in remark and "below nought" in remark for remark in found.remarks)


def test_a_significant_interaction_is_kept_though_pooling_is_asked_for():
    rng = np.random.default_rng(3)
    values = rng.normal(size=(6, 3, 1)) * 2 + rng.normal(size=(6, 3, 1)) + rng.normal(scale=0.1, size=(6, 3, 3))
    found = by_analysis_of_variance(Study(tuple("abcdef"), tuple("xyz"), values), pool=True)
    assert found.pooled is False
    assert any("from part to part" in remark for remark in found.remarks)


def test_an_interaction_is_not_pooled_where_no_two_trials_differ_and_nothing_can_test_it():
    rng = np.random.default_rng(1)
    cells = 3 * rng.normal(size=(6, 1, 1)) + rng.integers(-1, 2, (6, 3, 1))
    values = np.repeat(np.round(cells, 1), 2, axis=2)
    asked, unasked = (
        by_analysis_of_variance(Study(tuple("abcdef"), tuple("xyz"), values), pool=pool) for pool in (True, False)
    )
    assert asked.pooled is False and asked.interaction > 0.5
    assert asked.gauge_rr == unasked.gauge_rr
    assert not any("p =" in remark for remark in asked.remarks)


def test_limits_of_one_mean_square_are_those_of_chi_square():
    # chi-square with 60 degrees of freedom: 40.4817 and 83.2977, F. N. David's and any later table.
    low, high = combination_interval([MeanSquare(1.0, 2.0, 60)], 0.95)
    assert low == pytest.approx(2.0 * 60 / 83.2977, rel=1e-5)
    assert high == pytest.approx(2.0 * 60 / 40.4817, rel=1e-5)


def test_known_components_lie_in_their_intervals():
    """200 studies of 10 bodies, 3 operators, 3 trials with known components: 95 % is asked, 88 % must hold."""
    truth = {"part": 1.0, "operator": 0.15, "interaction": 0.08, "repeatability": 0.2}
    expected = {
        "repeatability": truth["repeatability"],
        "reproducibility": np.hypot(truth["operator"], truth["interaction"]),
        "gauge_rr": np.sqrt(truth["operator"] ** 2 + truth["interaction"] ** 2 + truth["repeatability"] ** 2),
        "part": truth["part"],
        "total": np.sqrt(sum(sd**2 for sd in truth.values())),
    }
    inside = dict.fromkeys(expected, 0)
    for seed in range(200):
        rng = np.random.default_rng(seed)
        values = (
            50
            + truth["part"] * rng.normal(size=(10, 1, 1))
            + truth["operator"] * rng.normal(size=(1, 3, 1))
            + truth["interaction"] * rng.normal(size=(10, 3, 1))
            + truth["repeatability"] * rng.normal(size=(10, 3, 3))
        )
        found = by_analysis_of_variance(Study(tuple("0123456789"), tuple("ABC"), values))
        for name, sd in expected.items():
            low, high = found.interval[name]
            inside[name] += low <= sd <= high
    print({name: (n, f"{beta.ppf(0.025, n, 201 - n):.3f} or more") for name, n in inside.items()})
    assert all(n >= 176 for n in inside.values()), inside


def test_components_agree_with_a_mixed_model_of_another_library():
    statsmodels = pytest.importorskip("statsmodels.formula.api")
    import pandas
    from statsmodels.stats.anova import anova_lm

    rng = np.random.default_rng(11)
    values = rng.normal(size=(5, 1, 1)) + 0.4 * rng.normal(size=(1, 3, 1)) + 0.2 * rng.normal(size=(5, 3, 2))
    rows = [(p, o, values[p, o, t]) for p in range(5) for o in range(3) for t in range(2)]
    frame = pandas.DataFrame(rows, columns=["part", "operator", "value"])
    table = anova_lm(statsmodels.ols("value ~ C(part) * C(operator)", frame).fit())
    found = by_analysis_of_variance(Study(tuple("abcde"), tuple("xyz"), values))
    for row, name in zip(found.table[:4], ("C(part)", "C(operator)", "C(part):C(operator)", "Residual"), strict=True):
        assert row.sum_of_squares == pytest.approx(table.loc[name, "sum_sq"], rel=1e-9)
        assert row.degrees_of_freedom == table.loc[name, "df"]
        if row.p is not None:
            assert row.p == pytest.approx(table.loc[name, "PR(>F)"], rel=1e-7)


def _readings(values):
    parts, operators, trials = values.shape
    return [
        Reading(str(p), "ABC"[o], str(t), float(values[p, o, t]))
        for p in range(parts)
        for o in range(operators)
        for t in range(trials)
    ]


GOOD = _readings(np.random.default_rng(1).normal(size=(3, 2, 2)))


@pytest.mark.parametrize(
    ("readings", "says"),
    [
        ([], "no readings"),
        (GOOD[:-1], "part 2, operator B: 1"),
        ([r for r in GOOD if (r.part, r.operator) != ("1", "A")], "part 1, operator A: 0"),
        ([r for r in GOOD if r.operator == "A"], "only one operator"),
        ([r for r in GOOD if r.part == "0"], "only one part"),
        ([r for r in GOOD if r.trial == "0"], "one trial each"),
        ([*GOOD, GOOD[3]], "stands twice"),
        ([Reading(r.part, r.operator, r.trial, 7.0) for r in GOOD], "every value is 7"),
    ],
)
def test_a_study_that_cannot_be_analysed_says_why(readings, says):
    with pytest.raises(InputError, match=says):
        arrange(readings)


def test_the_order_of_rows_does_not_matter():
    shuffled = [GOOD[i] for i in np.random.default_rng(2).permutation(len(GOOD))]
    one, other = by_analysis_of_variance(arrange(GOOD)), by_analysis_of_variance(arrange(shuffled))
    assert other.gauge_rr == pytest.approx(one.gauge_rr)
    assert other.part == pytest.approx(one.part)
