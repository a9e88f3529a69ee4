"""What the fixture said, as plain JSON values for entries of a capture."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import rodtrue_protocol as wire
from rodtrue.calibration.record import held_record, threshold_kpa


def identity_fields(identity: wire.Identity) -> dict[str, Any]:
    """Return an identity as it is kept in captures and shown to people."""
    return {
        "kind": wire.Kind.label(identity.kind),
        "unique_id": identity.unique_id.hex(),
        "firmware_version": identity.firmware_version,
        "micropython_version": identity.micropython_version,
        "interpreter": identity.interpreter,
        "table_digest": wire.digest_text(identity.table_digest),
        "rate_min_hz": identity.rate_min_hz,
        "rate_max_hz": identity.rate_max_hz,
        "calibration_generation": identity.calibration_generation,
        "reset_cause": wire.ResetCause.label(identity.reset_cause),
    }


def calibration_fields(calibration: wire.Calibration) -> dict[str, Any]:
    """Return a stored calibration as it is kept in captures: as read (`data`, hexadecimal), and decoded.

    Raises: ValueError where the record is not of this program's layout, or is none that a fixture can have.
    """
    record = held_record(calibration.data)
    return {
        "generation": calibration.generation,
        "data": calibration.data.hex(),
        "fixture_id": record.fixture_id.hex(),
        "done": f"{record.done_year:04d}-{record.done_month:02d}-{record.done_day:02d}",
        "due": f"{record.due_year:04d}-{record.due_month:02d}-{record.due_day:02d}" if record.due_year else None,
        "references": record.references,
        "over_pressure_kpa": threshold_kpa(record),
        "channels": [asdict(channel) for channel in record.channels],
    }


def status_fields(status: wire.Status) -> dict[str, Any]:
    """Return a status as it is shown to people."""
    plain = status.values()
    for name in ("request", "marks"):
        del plain[name]
    return {
        **plain,
        "flags": [flag.name.lower() for flag in wire.StatusFlags if flag.name and flag & status.flags],
        "button": wire.Contact.label(status.button),
        "foot_switch": wire.Contact.label(status.foot_switch),
        "reset_cause": wire.ResetCause.label(status.reset_cause),
        "marks": [f"{wire.MarkSource.label(mark.source)} {mark.counter}" for mark in status.marks if mark.counter],
    }


def timing_fields(timing: wire.Timing) -> dict[str, Any]:
    """Return how sampling kept its time, in us: `jitter_us` is how far sample periods began from one another's
    schedule at most, `interrupt_us` the longest interrupt, of `interval_us` that it may take.
    """
    return {
        "interval_us": timing.interval_us,
        "early_us": timing.early_us,
        "late_us": timing.late_us,
        "jitter_us": timing.early_us + timing.late_us,
        "interrupt_us": timing.interrupt_us,
    }


def self_test_fields(report: wire.SelfTestReport) -> dict[str, Any]:
    """Return a self-test's outcome: `tests` by name (passed, failed, not run, empty), and its readings.

    A calibration slot without a record is `empty`: nothing has failed.
    """
    plain = report.values()
    for name in ("request", "tests_run", "tests_passed"):
        del plain[name]
    return {"tests": {flag.name.lower(): _outcome(report, flag) for flag in wire.SelfTestFlags if flag.name}, **plain}


def _outcome(report: wire.SelfTestReport, test: wire.SelfTestFlags) -> str:
    if not report.tests_run & test:
        return "not run"
    if report.tests_passed & test:
        return "passed"
    return "empty" if test in (wire.SelfTestFlags.SLOT_A, wire.SelfTestFlags.SLOT_B) else "failed"
