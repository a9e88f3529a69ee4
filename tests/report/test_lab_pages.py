"""The lab's pages: what another lab would need to follow the result.

Items after ISO/IEC 17025:2017, clause 7.8, from memory of the standard.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from report.stored import SHA256, UNIQUE_IDS, pages_of, result, short_job, with_findings
from rodtrue import __version__
from rodtrue.model.result import Finding, Fixture
from rodtrue.report.document import report_data
from rodtrue.run.cautions import cautions_for

SAID = {
    "customer": "Ann Example\n12 Example Street",
    "laboratory": "Invented Shop, 1 Made-up Road",
    "reference": "W-1042",
    "notes": "Rod straightened.",
}


@pytest.mark.parametrize(
    ("asked_for", "words"),
    [
        ("7.8.2.1 a, a title", "Throttle rod report"),
        ("7.8.2.1 b, name and address of the laboratory", SAID["laboratory"]),
        ("7.8.2.1 e, customer", "12 Example Street"),
        ("7.8.2.1 f, the method", "rod error is minus the travel at which the lever leaves its stop"),
        ("7.8.2.1 g, the item", "unit 12"),
        ("7.8.2.1 i, the date", "2026-03-04 10:20 UTC"),
        ("7.8.2.1 l, that results relate to the items tested only", "relate only to the unit named"),
        ("7.8.2.1 m, results with units", "-0.157 ± 0.00"),
        ("7.8.2.1 o, who authorises", "Checked and authorised by"),
        ("7.8.3.1 a, conditions", "hand slide"),
        ("7.8.3.1 c, measurement uncertainty", "Uncertainty budget"),
        ("7.8.6, the decision rule", "as in JCGM 106:2012"),
        ("7.8.7, what advice rests on", "unit's service information comes first"),
    ],
)
def test_it_says_what_a_report_has_to_say(asked_for: str, words: str) -> None:
    assert words in " ".join(pages_of(short_job(**SAID))[1:]), asked_for


def test_every_page_has_its_number_their_count_and_the_reports_number() -> None:
    told = pages_of(short_job(**SAID))
    number = _number(told[0])
    for k, page in enumerate(told, 1):
        assert f"Page {k} of {len(told)}" in page
        assert number in page
    assert f"End of report {number}" in told[-1]


def test_another_job_has_another_number() -> None:
    one, other = (_number(pages_of(job)[0]) for job in (short_job(), short_job(**SAID)))
    assert one != other


def _number(page: str) -> str:
    found = re.search(r"Throttle rod report ([0-9A-F]{4}(-[0-9A-F]{4}){2})", page)
    assert found is not None
    return found[1]


def test_fixture_profile_capture_and_versions_are_named() -> None:
    told = " ".join(pages_of(short_job())[1:])
    for words in (UNIQUE_IDS["board"], "example-direct", SHA256, f"rodtrue {__version__}", "none: nominal values"):
        assert words in told
    assert f"Rodtrue {__version__}, typst " in told


HELD = {
    "generation": 3,
    "data": "0100ffff" * 40,
    "fixture_id": UNIQUE_IDS["board"],
    "done": "2026-01-05",
    "due": "2027-01-05",
    "references": "gauge blocks 7, dead weights 2",
    "channels": [],
    "range": {"travel": {"lowest": 5.0, "highest": 95.0}, "pressure": {"lowest": 34.5, "highest": 620.5}},
    "file": "shop #1.json",
}


def test_the_calibration_in_force_is_named_with_dates_references_and_range() -> None:
    calibrated = Fixture("board", None, None, HELD)
    told = " ".join(pages_of(replace(result(rod_error_mm=0.1), fixture=calibrated)))
    assert f"number 3, done 2026-01-05, due 2027-01-05, of fixture {UNIQUE_IDS['board']}" in told
    assert "references: gauge blocks 7, dead weights 2" in told
    assert "travel 0.20 to 3.74 in (5.0 to 95.0 mm), pressure 5 to 90 psi (34 to 620 kPa)" in told
    assert "from the file shop #1.json" in told and "0100ffff" not in told


def test_a_calibration_of_which_little_is_known_is_told_as_far_as_it_is() -> None:
    told = " ".join(pages_of(replace(result(rod_error_mm=0.1), fixture=Fixture("board", None, None, {"range": 3}))))
    assert "done on an unknown date; held by the fixture" in told


def test_findings_stand_with_their_evidence_in_both_unit_systems() -> None:
    told = " ".join(pages_of(with_findings(result(rod_error_mm=0.1), 1)))
    # NIST SP 811: 1 psi = 6.894757 kPa; the inch is 25.4 mm exactly.
    assert "shift 0.010 in (0.25 mm); excess 1.0 psi (7 kPa); lag 0.03 s" in told


def test_the_budgets_rows_add_up_to_the_combined_uncertainty() -> None:
    """JCGM 100:2008, equation 11a: the combined variance is the sum of the variances, where uncorrelated."""
    run = report_data(short_job(), "metric")["lab"]["runs"][0]
    rows = [float(row[5]) for row in run["budget"]]
    assert math.sqrt(sum(u**2 for u in rows)) == pytest.approx(float(run["budget_sum"][5]), abs=3e-4)
    assert run["budget_units"] == ["mm", "in"]


def test_strokes_that_were_not_used_say_why() -> None:
    found = result(rod_error_mm=0.1)
    strokes = [replace(found.strokes[0], used=False, why_not="too fast"), *found.strokes[1:]]
    assert "not used: too fast" in " ".join(pages_of(replace(found, strokes=strokes)))


def test_cautions_and_closing_steps_stand_with_the_time_of_their_acknowledgement() -> None:
    told = " ".join(pages_of(short_job()))
    before, after = told.index("Cautions acknowledged"), told.index("Closing steps acknowledged")
    assert before < told.index(cautions_for("before", "slide")[0].text) < after
    assert after < told.index(cautions_for("after", "slide")[0].text)
    assert "2026-03-04 10:15 UTC" in told


FITTED = {
    "checklist": "fitting",
    "item": "port_and_adapter",
    "text": "Which port is it, and which adapter and hose are on it?",
    "answer": "TV port, 1/8 in adapter, hose 3 #read(1)",
    "answered_at": "2026-03-04T10:05:00+00:00",
}


def test_what_was_answered_before_the_run_and_done_to_the_rod_is_told_once() -> None:
    job = short_job()
    left = replace(job.as_left or job.as_found, checked=[FITTED], adjusted={"moved": "3 turns", "advised_mm": 2.54})
    told = " ".join(pages_of(replace(job, as_found=replace(job.as_found, checked=[FITTED]), as_left=left)))
    assert told.count("TV port, 1/8 in adapter, hose 3 #read(1)") == 1
    assert "2026-03-04 10:05 UTC" in told
    assert "3 turns; advised: 0.100 in (2.54 mm)" in told


def test_what_the_report_does_not_state_is_named() -> None:
    bare = " ".join(pages_of(replace(result(rod_error_mm=0.1), operator=None)))
    for words in ("the laboratory's name and address", "who measured", "port, adapter and hose", "traceability"):
        assert words in bare
    calibrated = Fixture("board", None, None, HELD)
    full = replace(result(rod_error_mm=0.1), checked=[FITTED], fixture=calibrated)
    whole = " ".join(pages_of(replace(short_job(**SAID), as_found=full, as_left=None)))
    assert "Not stated here: the place, where it was not the laboratory; air temperature" in whole
    assert "traceability" not in whole and "who measured" not in whole
    assert "A virtual fixture measures nothing" in " ".join(pages_of(short_job("virtual")))


def test_a_csv_is_not_said_to_have_been_read_with_the_parts_uncertainty() -> None:
    silent = replace(result(rod_error_mm=0.1), fixture=Fixture("csv"))
    assert "not recorded: the profile's half-widths" in " ".join(pages_of(silent))
    told = replace(silent, findings=[Finding("calibration_missing", "warning", "None.")])
    assert "none: nominal values and the parts' uncertainty" in " ".join(pages_of(told))


def test_the_decision_rule_names_guard_band_factor_and_probability() -> None:
    told = " ".join(pages_of(short_job()))
    assert "The guard band is the expanded uncertainty U = k u (as found and as left k = 1.96 for 95 %)" in told
    assert "Characteristics of the valve body: the same rule" in told


def test_the_end_of_the_report_takes_no_page_of_its_own() -> None:
    for units in ("inch", "metric"):
        for job in (short_job(), short_job("virtual"), short_job(**SAID)):
            *before, last = pages_of(job, units)
            end = re.search(r"End of report ([-0-9A-F]+)", last)
            assert end is not None and not any("End of report" in page for page in before)
            assert len(last) > 600, "nothing but the end"


def test_a_virtual_run_is_marked_on_every_page_and_has_no_signatures() -> None:
    virtual, real = pages_of(short_job("virtual")), pages_of(short_job())
    assert all("virtual fixture, not a measurement" in page for page in virtual)
    assert "Signatures" not in " ".join(virtual) and "authorised" not in " ".join(virtual)
    assert "Signatures" in " ".join(real) and "virtual" not in " ".join(real)


def test_one_virtual_run_in_a_job_marks_all_of_it() -> None:
    mixed = replace(short_job(), as_left=result("virtual", rod_error_mm=0.1))
    assert all("virtual fixture, not a measurement" in page for page in pages_of(mixed))


def test_how_the_length_is_set_is_shown_where_something_has_to_be_set() -> None:
    assert "How the length is set, layout direct" in " ".join(pages_of(short_job()))
    assert "How the length is set" not in " ".join(pages_of(result(rod_error_mm=0.1)))


def test_a_result_without_a_plot_or_numbers_is_reported_too() -> None:
    told = " ".join(pages_of(result(rod_error_mm=-40.0, full_mm=20.0, response=False)))
    assert "No rod error was determined" in told and "Page 1 of" in told
