"""Findings as they are told: the gravest first, then in the table's order."""

import pytest

from rodtrue.analysis.findings import FindingKind, Findings

TABLE = {
    "a_note": FindingKind("note", "Noted.", ""),
    "a_warning": FindingKind("warning", "{gap_mm:length} off.", "Look there."),
    "a_stop": FindingKind("stop", "Stop.", ""),
    "another_note": FindingKind("note", "Noted, too.", ""),
    "another_warning": FindingKind("warning", "Warned.", ""),
}


def test_stops_come_before_warnings_and_warnings_before_notes_whatever_was_found_first():
    findings = Findings(TABLE)
    for code in ("another_note", "a_note", "another_warning"):
        findings.add(code)
    assert not findings.stop
    findings.add("a_warning", gap_mm=25.4)
    findings.add("a_stop")
    assert findings.stop
    listed = [finding.code for finding in findings.listed()]
    assert listed == ["a_stop", "a_warning", "another_warning", "a_note", "another_note"]


def test_a_finding_says_its_evidence_in_both_systems_and_where_to_look():
    findings = Findings(TABLE)
    findings.add("a_warning", gap_mm=25.4)
    (found,) = findings.listed()
    assert found.text == "1.000 in (25.40 mm) off. Look there."
    assert found.evidence == {"gap_mm": 25.4}
    assert findings.has("a_warning") and not findings.has("a_note")


def test_a_code_that_the_table_does_not_have_is_the_programs_own_mistake():
    with pytest.raises(KeyError, match="unheard_of"):
        Findings(TABLE).add("unheard_of")
