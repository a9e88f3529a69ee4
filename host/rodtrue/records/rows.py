"""A job as rows of the tables."""

from __future__ import annotations

from hashlib import sha256
from typing import Any

import msgspec

from rodtrue.model.result import Job, Result

ROLES = ("as_found", "as_left")


def document_of(job: Job) -> tuple[str, str]:
    """Return the job as JSON text and the SHA-256 of it: the same for a job just made and for one read from its file,
    which has 1.0 where a limit was given as 1.
    """
    text = msgspec.json.encode(msgspec.json.decode(msgspec.json.encode(job), type=Job))
    return text.decode(), sha256(text).hexdigest()


def runs_of(job: Job) -> list[tuple[str, Result]]:
    """Return the job's runs with their roles."""
    results = ((role, getattr(job, role)) for role in ROLES)
    return [(role, result) for role, result in results if result is not None]


def run_row(role: str, result: Result) -> dict[str, Any]:
    """Return a run's columns, without its key and its job."""
    rod, identity = result.rod_error, result.fixture.identity or {}
    return {
        "role": role,
        "taken_at": result.taken_at,
        "unit": result.unit,
        "operator": result.operator,
        "profile": result.profile,
        "drive": result.drive,
        "reference": result.reference,
        "fixture_kind": result.fixture.kind,
        "fixture_id": None if identity.get("unique_id") is None else str(identity["unique_id"]),
        "calibration": _json(result.fixture.calibration),
        "profile_details": _json(result.profile_details),
        "rod_unhooked": result.rod_unhooked,
        "verdict": result.verdict,
        "body_verdict": result.body_verdict,
        "rod_error_mm": None if rod is None else rod.value_mm,
        "expanded_uncertainty_mm": None if rod is None else rod.expanded_uncertainty_mm,
        "at_most_mm": None if rod is None else rod.at_most_mm,
        "capture_path": result.capture.path,
        "capture_sha256": result.capture.sha256,
        "versions": _json(result.versions),
    }


def characteristic_rows(run_id: int, result: Result) -> list[dict[str, Any]]:
    """Return the rows of a run's characteristics."""
    return [
        {
            "run_id": run_id,
            "name": c.name,
            "value": c.value,
            "unit": c.unit,
            "expanded_uncertainty": c.expanded_uncertainty,
            "lower_limit": c.limits[0],
            "upper_limit": c.limits[1],
            "decision": c.decision,
        }
        for c in result.characteristics
    ]


def finding_rows(run_id: int, result: Result) -> list[dict[str, Any]]:
    """Return the rows of a run's findings."""
    return [{"run_id": run_id, "code": f.code, "severity": f.severity, "text": f.text} for f in result.findings]


def caution_rows(run_id: int, result: Result) -> list[dict[str, Any]]:
    """Return the rows of the cautions acknowledged before a run."""
    return [{"run_id": run_id, "code": c["code"], "text": c["text"]} for c in result.cautions]


def _json(value: Any) -> str | None:
    return None if value is None else msgspec.json.encode(value).decode()
