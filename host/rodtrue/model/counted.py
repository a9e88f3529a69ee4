"""Counts in words."""

from __future__ import annotations


def counted(number: int, what: str, many: str | None = None) -> str:
    """Return how many of what, as in `1 sweep` or `3 sweeps`. many: the plural where an s does not make it."""
    return f"{number} {what if number == 1 else many or what + 's'}"
