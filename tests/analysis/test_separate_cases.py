"""Judging captures of the second generator: no wrong word, and intervals that hold the truth."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from scipy.stats import binomtest
from typer.testing import CliRunner

from rodtrue.cli import app
from rodtrue.judging import CsvAnswers, judge_file
from rodtrue.model.result import Result
from rodtrue.profiles import load_profile
from separate_generator import Case, large_cases, standard_cases, write_csv

CASES = {case.name: case for case in standard_cases()}
PLAINLY_WRONG = [
    case.name for case in CASES.values() if case.name[:5] in ("rod +", "rod -") and abs(case.rod_error_mm) >= 2.0
]


def judged(case: Case) -> Result:
    with TemporaryDirectory() as folder:
        path = write_csv(case, Path(folder) / "capture.csv")
        return judge_file(path, load_profile("example-direct"), CsvAnswers(**case.judge_options))


@cache
def judged_by_name(name: str) -> Result:
    return judged(CASES[name])


def described(case: Case, result: Result) -> str:
    error = result.rod_error
    interval = "no value" if error is None or error.value_mm is None else f"{error.interval_mm}"
    return f"{case.name}: rod {case.rod_error_mm:+.3f} mm, judged {result.verdict}, {interval}, {result.reason}"


def count_covered(cases: list[Case], results: list[Result]) -> tuple[int, int, list[str]]:
    """How many intervals hold the truth, of how many that must, and a line for each that does not."""
    scored, outside = 0, []
    for case, result in zip(cases, results, strict=True):
        error = result.rod_error
        if not case.is_scored or error is None or error.interval_mm is None:
            continue
        scored += 1
        low, high = error.interval_mm
        if not low <= case.rod_error_mm <= high:
            outside.append(described(case, result))
    return scored - len(outside), scored, outside


@pytest.mark.parametrize("name", CASES)
def test_no_wrong_word_is_given(name):
    case, result = CASES[name], judged_by_name(name)
    assert result.verdict not in case.wrong_verdicts, described(case, result)
    if case.expected is not None:
        assert result.verdict in case.expected, described(case, result)
    assert case.findings <= {finding.code for finding in result.findings}


@pytest.mark.parametrize("name", PLAINLY_WRONG)
def test_a_rod_wrong_by_two_millimetres_or_more_is_named_as_such(name):
    assert judged_by_name(name).verdict == CASES[name].state


@pytest.mark.slow
def test_intervals_of_the_named_cases_hold_the_truth():
    covered, scored, outside = count_covered(list(CASES.values()), [judged_by_name(name) for name in CASES])
    print(f"{covered} of {scored} intervals hold the truth", *outside, sep="\n")
    assert scored >= 80
    assert binomtest(covered, scored, 0.95, "less").pvalue > 0.01, "\n".join(outside)


@pytest.mark.slow
def test_random_cases_get_no_wrong_word_and_intervals_that_hold_the_truth():
    cases = large_cases(200)
    results = [judged(case) for case in cases]
    wrong = [described(c, r) for c, r in zip(cases, results, strict=True) if r.verdict in c.wrong_verdicts]
    covered, scored, outside = count_covered(cases, results)
    print(f"{covered} of {scored} intervals hold the truth", *outside, sep="\n")
    assert not wrong, "\n".join(wrong)
    assert scored >= 180
    assert covered / scored >= 0.92, "\n".join(outside)
    # An interval that covers because it is huge is no success.
    known = [
        (abs(r.rod_error.value_mm - c.rod_error_mm), r.rod_error.expanded_uncertainty_mm)
        for c, r in zip(cases, results, strict=True)
        if c.is_scored and r.rod_error is not None and r.rod_error.value_mm is not None
    ]
    errors, reaches = np.array(known).T
    assert np.median(reaches) <= 1.6 * np.quantile(errors, 0.95)


def test_command_line_gives_the_same_with_its_options(tmp_path):
    case = CASES["long 4 mm, baseline connected"]
    path = write_csv(case, tmp_path / "capture.csv")
    outcome = CliRunner().invoke(app, ["judge", str(path), "--baseline", "connected", "--json"])
    assert outcome.exit_code == 0, outcome.output
    document = json.loads(outcome.stdout)
    assert document["verdict"] == judged_by_name(case.name).verdict == "undecided"
    assert document["rod_unhooked"] is False
