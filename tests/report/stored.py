"""Stored results and jobs to report on, judged from made-up runs, and reading what a PDF says."""

from __future__ import annotations

import io
from dataclasses import replace
from functools import cache
from typing import Any

from pypdf import PdfReader

from analysis.made_up_run import MadeUp
from rodtrue.judging import Provenance, encode, judge_samples
from rodtrue.model.conditions import Conditions, FixtureKind, Reference
from rodtrue.model.result import JOB_SCHEMA, CaptureRef, Finding, Fixture, Job, Result
from rodtrue.profiles import load_profile
from rodtrue.report import report_pdf
from rodtrue.run.cautions import cautions_for
from rodtrue.run.words import Units

SHA256 = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
_made: dict[tuple[Units, bytes], list[str]] = {}
UNIQUE_IDS: dict[FixtureKind, str] = {"board": "e661410403456789", "virtual": "5649525455414c01"}


@cache
def result(kind: FixtureKind = "board", reference: Reference = "curb_idle", **run: float) -> Result:
    """Return the result of a made-up run; run: as for `MadeUp`."""
    conditions = Conditions(kind=kind, drive="slide", reference=reference)
    provenance = Provenance(
        "as-found.capture",
        CaptureRef("as-found.capture", SHA256),
        Fixture(kind, "micropython", {"kind": kind, "unique_id": UNIQUE_IDS[kind]}, None),
        "2026-03-04T10:20:30+00:00",
        "A. Fitter",
        "unit 12",
        tuple(
            {"code": c.code, "text": c.text, "acknowledged_at": "2026-03-04T10:15:00+00:00"}
            for when in ("before", "after")
            for c in cautions_for(when, "slide")  # type: ignore[arg-type]
        ),
    )
    return judge_samples(MadeUp(**run).samples(), load_profile(), conditions, provenance)  # type: ignore[arg-type]


def short_job(kind: FixtureKind = "board", **said: Any) -> Job:
    """Return a job found 4 mm short and left correct."""
    return Job(JOB_SCHEMA, result(kind, rod_error_mm=-4.0), result(kind, rod_error_mm=0.1), **said)


def with_findings(of: Result, number: int) -> Result:
    """Return a result with so many more findings of all severities, each with its own long words."""
    severities = ("stop", "warning", "note")
    more = [
        Finding(
            f"made_up_{k}",
            severities[k % 3],  # type: ignore[arg-type]
            f"Made-up finding {k} with " + "many words that say what was seen and where to look first " * 3,
            {"shift_mm": 0.254, "excess_kpa": 6.894757, "lag_s": 0.03},
        )
        for k in range(number)
    ]
    return replace(of, findings=[*of.findings, *more])


def pages(pdf: bytes) -> list[str]:
    """Return the text of each page, its runs of white space as one blank."""
    reader = PdfReader(io.BytesIO(pdf))
    return [" ".join(page.extract_text().split()) for page in reader.pages]


def pages_of(job: Job | Result, units: Units = "inch") -> list[str]:
    """Return the text of each page of the report; made once for each job."""
    key = units, encode(job)
    if key not in _made:
        _made[key] = pages(report_pdf(job, units))
    return _made[key]
