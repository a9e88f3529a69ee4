"""Times as the clock of the computer that shows them has them."""

from __future__ import annotations

from datetime import datetime


def local_minute(taken_at: str) -> str:
    """Return an ISO 8601 time to the minute in this computer's zone; what is none, or out of reach, as it stands."""
    try:
        return f"{datetime.fromisoformat(taken_at).astimezone():%Y-%m-%d %H:%M}"
    except (ValueError, OverflowError, OSError):
        return taken_at
