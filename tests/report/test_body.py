"""The valve body's verdict says which characteristic decided it, against which limit, in both unit systems.

1 psi = 6.894757 kPa (NIST SP 811, appendix B).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from report.stored import pages_of, result
from rodtrue.model.result import Characteristic, Finding, Result
from rodtrue.report.body import body_sentence


def _body(verdict: str | None, *found: Characteristic, **more: Any) -> Result:
    return replace(result(rod_error_mm=0.1), body_verdict=verdict, characteristics=list(found), **more)


def _pressure(name: str, value: float | None, reach: float | None, limits: Any, decision: Any) -> Characteristic:
    return Characteristic(name, value, "kPa", reach, limits, decision)


WIDE = _pressure("baseline", 25.0, 29.0, (5.0, 60.0), "undecided")
FULL = _pressure("full_pressure", 420.0, 5.0, (300.0, None), "within")


def test_undecided_names_the_limit_that_the_interval_straddles() -> None:
    said = body_sentence(_body("undecided", WIDE, FULL))
    assert said.startswith("Valve body: undecided. The baseline of 3.6 ± 4.2 psi (25 ± 29 kPa) may lie within")
    assert "0.7 to 8.7 psi (5.0 to 60.0 kPa), or below it: it is not known closely enough." in said
    assert "full pressure" not in said and "calibrated" not in said


@pytest.mark.parametrize(
    ("value", "reach", "side"),
    [(58.0, 5.0, "or above it:"), (6.0, 5.0, "or below it:"), (30.0, 40.0, "or below or above it:")],
)
def test_undecided_says_on_which_side(value: float, reach: float, side: str) -> None:
    assert side in body_sentence(_body("undecided", replace(WIDE, value=value, expanded_uncertainty=reach)))


def test_where_the_fixture_is_not_calibrated_that_is_the_way_on() -> None:
    findings = [Finding("calibration_missing", "warning", "none")]
    assert "A calibrated fixture tells it more closely." in body_sentence(_body("undecided", WIDE, findings=findings))


def test_not_conforming_names_every_characteristic_beyond_its_limit() -> None:
    low = replace(FULL, value=200.0, decision="below")
    said = body_sentence(_body("nonconforming", WIDE, low))
    assert "nonconforming. The full pressure of 29.0 ± 0.7 psi (200.0 ± 5.0 kPa) is below what is allowed" in said
    assert "at least 43.5 psi (at least 300.0 kPa)" in said and "baseline" not in said


def test_conforming_names_what_was_within() -> None:
    unlimited = replace(WIDE, limits=(None, None), decision="not judged")
    said = body_sentence(_body("conforming", FULL, unlimited))
    assert said == "Valve body: conforming. Within limits: full pressure."


@pytest.mark.parametrize("decision", ["within", "undecided"])
def test_what_has_limits_and_was_not_determined_is_never_passed_over(decision: Any) -> None:
    unknown = replace(FULL, value=None, expanded_uncertainty=None, decision="not judged")
    said = body_sentence(_body("undecided", replace(WIDE, decision=decision), unknown))
    assert "baseline" in said and said.endswith("Not determined: full pressure.")


def test_not_judged_says_whether_limits_or_values_are_missing() -> None:
    free = _pressure("ripple", 1.0, 0.1, (None, None), "not judged")
    assert "The profile gives no limits for it." in body_sentence(_body(None, free))
    assert "no value" in body_sentence(_body(None, replace(FULL, value=None, decision="not judged")))
    assert "no value" in body_sentence(_body(None))


def test_in_a_metric_report_the_reason_is_metric_first() -> None:
    first = pages_of(_body("undecided", WIDE), "metric")[0]
    assert "The baseline of 25 ± 29 kPa (3.6 ± 4.2 psi) may lie within what is allowed" in first
    assert "5.0 to 60.0 kPa (0.7 to 8.7 psi), or below it" in first


def test_against_the_levers_own_stop_the_reason_stands_on_the_customers_page_too() -> None:
    body_only = replace(_body("undecided", WIDE), reference="lever_stop", rod_error=None, verdict="no result")
    first = pages_of(body_only)[0]
    assert "Valve body: UNDECIDED" in first and "or below it" in first
