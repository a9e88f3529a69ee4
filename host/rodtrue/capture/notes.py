"""What the fixture said, as plain JSON values for entries of a capture."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import rodtrue_protocol as wire


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

    Raises: ValueError where the record is not of this program's layout.
    """
    record = wire.decode_calibration(calibration.data)
    return {
        "generation": calibration.generation,
        "data": calibration.data.hex(),
        "fixture_id": record.fixture_id.hex(),
        "done": f"{record.done_year:04d}-{record.done_month:02d}-{record.done_day:02d}",
        "due": f"{record.due_year:04d}-{record.due_month:02d}-{record.due_day:02d}" if record.due_year else None,
        "references": record.references,
        "channels": [asdict(channel) for channel in record.channels],
    }
