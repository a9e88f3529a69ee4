"""From a job to the bytes of its PDF. The same job, settings and versions give the same bytes: there is no clock."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

import msgspec

from rodtrue import __version__
from rodtrue.model.result import RESULT_SCHEMA, Job, Result
from rodtrue.report.first_page import first_page, runs_of
from rodtrue.report.lab_pages import lab_pages
from rodtrue.report.shown import ordered, own_words
from rodtrue.report.typesetting import typeset
from rodtrue.run.job import cannot_write
from rodtrue.run.words import VIRTUAL_MARK, Units
from rodtrue.whole_file import write_whole

MOST_IN_HEADER = 70


def report_pdf(job: Job | Result, units: Units = "inch", *, valve_body_serial: str | None = None) -> bytes:
    """Return the report of a job, or of one result alone, as PDF.

    units: which system comes first; it also chooses letter or A4 paper. valve_body_serial: what the records say
    beside the job.
    """
    whole = _as_stored(Job(RESULT_SCHEMA, job) if isinstance(job, Result) else job)
    return typeset("report.typ", report_data(whole, units, valve_body_serial), _seconds(whole))


def write_report(
    path: Path, job: Job | Result, units: Units = "inch", *, valve_body_serial: str | None = None
) -> Path:
    """Write the report of a job, or of one result alone, as `report_pdf` makes it, and return its path.

    Raises: InputError where it cannot be written.
    """
    try:
        write_whole(path, report_pdf(job, units, valve_body_serial=valve_body_serial))
    except OSError as error:
        raise cannot_write(path, error) from error
    return path


def report_data(job: Job, units: Units, valve_body_serial: str | None = None) -> dict[str, Any]:
    """Return all that the template shows, as plain data."""
    runs = runs_of(job)
    virtual = any(result.fixture.kind == "virtual" for _, result in runs)
    moment = datetime.fromtimestamp(_seconds(job), UTC)
    return {
        "number": report_number(job, units, valve_body_serial),
        "subject": "Valve body" if job.as_found.reference == "lever_stop" else "Throttle rod",
        "paper": "us-letter" if units == "inch" else "a4",
        "date": [moment.year, moment.month, moment.day],
        "systems": ordered("psi, in", "kPa, mm", units),
        "laboratory": own_words(job.laboratory, MOST_IN_HEADER) if job.laboratory else "",
        "mark": VIRTUAL_MARK if virtual else None,
        "made_with": f"Rodtrue {__version__}, typst {version('typst')}, matplotlib {version('matplotlib')}",
        "first": first_page(job, runs, units, valve_body_serial),
        "lab": lab_pages(job, runs, units),
    }


def _as_stored(job: Job) -> Job:
    """Return the job as its file gives it back, so that a report made before storing it is the same."""
    return msgspec.json.decode(msgspec.json.encode(job), type=Job)


def report_number(job: Job, units: Units, valve_body_serial: str | None) -> str:
    """Return the report's number: the start of the SHA-256 of what it is made from."""
    said = [valve_body_serial] if valve_body_serial else []
    made_from = msgspec.json.encode([job, units, __version__, *said])
    digest = hashlib.sha256(made_from).hexdigest()[:12].upper()
    return "-".join(digest[k : k + 4] for k in (0, 4, 8))


def _seconds(job: Job) -> int:
    """Return when the first run was taken, in seconds since 1970; 0 where nobody recorded it."""
    taken_at = job.as_found.taken_at
    if taken_at is None:
        return 0
    time = datetime.fromisoformat(taken_at)
    return max(0, int((time if time.tzinfo else time.replace(tzinfo=UTC)).timestamp()))
