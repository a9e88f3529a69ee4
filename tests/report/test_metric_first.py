"""With the metric setting every text of the report gives kPa and mm first, psi and inches after them."""

from __future__ import annotations

import re
from dataclasses import replace

from report.stored import pages_of, result, short_job
from rodtrue.model.both_units import length, pressure, slope
from rodtrue.model.result import Finding, Job

US_FIRST = re.compile(r"\d (?:in|psi|psi/in|in/s|mph|degF) \([-+±.\d andto]+ (?:mm|kPa|kPa/mm|mm/s|km/h|degC)\)")
METRIC_FIRST = re.compile(r"\d (?:mm|kPa|kPa/mm|mm/s|km/h|degC) \([-+±.\d andto]+ (?:in|psi|psi/in|in/s|mph|degF)\)")


def _job() -> Job:
    job = short_job()
    findings = [
        Finding(f"made_up_{severity}", severity, f"Rests {length(0.25)}; {pressure(41.0)}; {slope(11.1)} is steep.")
        for severity in ("stop", "warning", "note")
    ]  # type: ignore[misc]
    strokes = [replace(job.as_found.strokes[0], used=False, why_not=f"too far: {length(80.0)}")]
    checked = [
        {
            "checklist": "fitting",
            "item": "gauge_range",
            "text": f"Rated for more than {pressure(700.0)}.",
            "answer": "yes",
            "answered_at": "2026-03-04T10:00:00+00:00",
        }
    ]
    found = replace(job.as_found, findings=findings, strokes=strokes, checked=checked)
    unplugged = replace(found, verdict="no result", reason=f"reads {pressure(-90.0)}")
    return replace(job, as_found=found, as_left=unplugged)


def test_no_text_has_inches_first_with_the_metric_setting() -> None:
    told = " ".join(pages_of(_job(), "metric"))
    assert not US_FIRST.findall(told)
    assert "Rests 0.25 mm (0.010 in); 41 kPa (5.9 psi); 11.1 kPa/mm (41 psi/in) is steep." in told
    assert "too far: 80.00 mm (3.150 in)" in told
    assert "Rated for more than 700 kPa (101.5 psi)." in told
    assert "Reads -90 kPa (-13.1 psi)." in told
    assert "km/h (9 mph) earlier at quarter throttle" in told


def test_no_text_has_millimetres_first_without_it() -> None:
    told = " ".join(pages_of(_job()))
    assert not METRIC_FIRST.findall(told)
    assert "Rests 0.010 in (0.25 mm); 5.9 psi (41 kPa); 41 psi/in (11.1 kPa/mm) is steep." in told


def test_evidence_of_several_values_is_told_in_both_systems() -> None:
    evidence = {"limits_kpa": [5.0, None], "speeds_mm_per_s": [25.4, 50.8], "slope_kpa_per_mm": 11.1, "seen": True}
    finding = Finding("made_up", "note", "Seen.", evidence)
    told = " ".join(pages_of(replace(result(rod_error_mm=0.1), findings=[finding]), "metric"))
    assert "limits 5 kPa (0.7 psi) and none; speeds 25 mm/s (1.0 in/s) and 51 mm/s (2.0 in/s)" in told
    assert "slope 11.1 kPa/mm (41 psi/in); seen yes" in told
