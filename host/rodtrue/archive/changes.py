"""What judging old captures anew changed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

NOTICED_MM = 0.001
"""A rod error that moved less than this is rounding, not news."""


@dataclass(frozen=True)
class Change:
    """One file whose judgement changed, and in what; `before` and `now` are words to show."""

    file: str
    what: str
    before: str
    now: str


def changes(before: Iterable[dict[str, Any]], now: Iterable[dict[str, Any]]) -> Iterator[Change]:
    """Give what differs, file by file, in the order of the new judging.

    A capture is known by its SHA-256, so it may have moved; a refused file is known by its name.
    """
    old = {key: document for document in before for key in _keys(document)}
    for document in now:
        earlier = next((old[key] for key in _keys(document) if key in old), None)
        file = str(document.get("file"))
        if earlier is None:
            yield Change(file, "judged", "not judged", _verdict(document))
            continue
        if _verdict(earlier) != _verdict(document):
            yield Change(file, "verdict", _verdict(earlier), _verdict(document))
        error_before, error_now = _error_mm(earlier), _error_mm(document)
        if (error_before is None) != (error_now is None) or (
            error_before is not None and error_now is not None and abs(error_now - error_before) >= NOTICED_MM
        ):
            yield Change(file, "rod error", _length(error_before), _length(error_now))
        gone, new = _codes(earlier) - _codes(document), _codes(document) - _codes(earlier)
        if gone or new:
            yield Change(file, "findings", ", ".join(sorted(gone)) or "-", ", ".join(sorted(new)) or "-")


def _keys(document: dict[str, Any]) -> list[str]:
    digest = (document.get("capture") or {}).get("sha256")
    return [*([f"sha256 {digest}"] if digest else []), f"file {document.get('file')}"]


def _verdict(document: dict[str, Any]) -> str:
    return str(document.get("verdict") or "refused")


def _error_mm(document: dict[str, Any]) -> float | None:
    return (document.get("rod_error") or {}).get("value_mm")


def _length(value_mm: float | None) -> str:
    return "none" if value_mm is None else f"{value_mm / 25.4:+.4f} in ({value_mm:+.3f} mm)"


def _codes(document: dict[str, Any]) -> set[str]:
    return {finding["code"] for finding in document.get("findings") or []}
