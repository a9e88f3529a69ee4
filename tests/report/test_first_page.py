"""The customer's page: verdict in words, how far and which way, both unit systems; one page whatever is in it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from report.stored import pages_of, result, short_job, with_findings
from rodtrue.model.result import JOB_SCHEMA, Job
from rodtrue.run.words import Units


@pytest.mark.parametrize(
    ("run", "says"),
    [
        ({"rod_error_mm": -4.0}, ["SHORT", "too short", "-0.157", "-4.00", "Lengthen the rod by 0.157 in (4.00 mm)"]),
        ({"rod_error_mm": 3.0}, ["LONG", "too long", "Shorten the rod by"]),
        ({"rod_error_mm": 0.1}, ["CORRECT", "within its limits", "Correction: none needed"]),
        ({"rod_error_mm": 1.0}, ["UNDECIDED", "cannot tell"]),
        ({"rod_error_mm": -40.0, "full_mm": 20.0}, ["SHORT", "short by at least 0.7", "Lengthen", "measure again"]),
        ({"rod_error_mm": -40.0, "full_mm": 20.0, "response": False}, ["NO RESULT", "cannot say"]),
    ],
)
def test_the_verdict_stands_in_words_with_what_to_do(run: dict[str, float], says: list[str]) -> None:
    first = pages_of(result(**run))[0]
    for words in says:
        assert words in first, words


def test_what_forbids_a_verdict_is_not_told_as_a_limit_straddled() -> None:
    hindered = replace(result(rod_error_mm=0.1), verdict="undecided", reason="the baseline is not proven")
    first = pages_of(hindered)[0]
    assert "Something stands in the way of a verdict on the rod. The baseline is not proven." in first
    assert "cannot tell" not in first


def test_against_the_levers_own_stop_the_body_is_what_the_page_is_about() -> None:
    first = pages_of(result("board", "lever_stop", rod_error_mm=-0.9, full_mm=40.0))[0]
    assert "Valve body: CONFORMING" in first
    assert "and no rod" in first and "NO RESULT" not in first
    assert "full pressure" in first and "60.9 ± 0.8 psi" in first


def test_a_body_left_nonconforming_is_said_and_no_rod_is_spoken_of() -> None:
    found = replace(result("board", "lever_stop", rod_error_mm=-0.9), body_verdict="nonconforming")
    first = pages_of(Job(JOB_SCHEMA, found))[0]
    assert "Valve body: NONCONFORMING" in first
    assert "the valve body is left as it was found" in first
    whole = " ".join(pages_of(Job(JOB_SCHEMA, found)))
    assert "Valve body: what was measured" in first and "Throttle rod report" not in whole
    assert "no rod fitted, the lever on its stop" in whole and "travel of the lever from its own stop" in whole
    assert "budget of the lever's free travel" in whole and "throttle's pin, over" not in whole


def test_as_found_and_as_left_stand_on_one_page_and_a_lone_result_is_called_neither() -> None:
    first = pages_of(short_job())[0]
    assert "As found" in first and "SHORT" in first and "As left" in first and "CORRECT" in first
    alone = pages_of(result(rod_error_mm=-4.0))[0]
    assert "Measured" in alone and "As found" not in alone


def test_a_rod_left_as_it_was_found_is_said() -> None:
    first = pages_of(Job(JOB_SCHEMA, result(rod_error_mm=-4.0)))[0]
    assert "left as it was found" in first


@pytest.mark.parametrize(("units", "before", "after"), [("inch", "-0.157", "-4.00"), ("metric", "-4.00", "-0.157")])
def test_both_unit_systems_are_shown_in_the_order_asked_for(units: Units, before: str, after: str) -> None:
    first = pages_of(result(rod_error_mm=-4.0), units)[0]
    assert first.index(before) < first.index(after)


def test_stop_findings_come_before_every_verdict() -> None:
    job = short_job()
    first = pages_of(replace(job, as_found=with_findings(job.as_found, 1)))[0]
    assert "STOP" in first
    assert first.index("Made-up finding 0") < first.index("SHORT")


def test_more_sweeps_are_not_asked_for_where_something_called_for_a_stop() -> None:
    undecided = result(rod_error_mm=1.0)
    assert "sweeps" in pages_of(undecided)[0]
    assert "sweeps" not in pages_of(with_findings(undecided, 1))[0]


@pytest.mark.parametrize("units", ["inch", "metric"])
def test_it_is_one_page_whatever_is_in_it(units: Units) -> None:
    job = short_job("virtual", customer="word " * 1000, reference="R" * 3000)
    job = replace(job, as_found=with_findings(replace(job.as_found, unit="U" * 900), 60))
    first, second = pages_of(job, units)[:2]
    assert "The following pages are for the lab." in first
    assert "For the lab" in second
    assert "18 more findings of this kind are on the lab" in first


def test_what_has_no_room_on_it_is_on_the_labs_pages() -> None:
    job = short_job()
    told = " ".join(pages_of(replace(job, as_found=with_findings(job.as_found, 60)))[1:])
    for k in range(60):
        assert f"Made-up finding {k} with" in told
