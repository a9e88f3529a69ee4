"""What a command needs of a stored result or job: which profile, which rod error, from which fixture."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from rodtrue.bounded import json_of, read_whole
from rodtrue.model.errors import InputError
from rodtrue.model.result import JOB_SCHEMA, RESULT_SCHEMA


@dataclass(frozen=True)
class StoredError:
    """The rod error as stored: a value with its interval, or only a bound, or neither."""

    value_mm: float | None
    interval_mm: tuple[float, float] | None = None
    at_most_mm: float | None = None


@dataclass(frozen=True)
class StoredFixture:
    """What delivered the samples."""

    kind: str


@dataclass(frozen=True)
class StoredRun:
    """One result; further fields are left alone."""

    profile: str
    fixture: StoredFixture
    verdict: str
    reason: str | None
    rod_error: StoredError | None


@dataclass(frozen=True)
class _StoredJob:
    as_found: StoredRun
    as_left: StoredRun | None


def read_stored_runs(path: Path) -> list[tuple[str | None, StoredRun]]:
    """Return the runs in a stored result or job, with `as found` or `as left` beside those of a job.

    Raises: InputError naming the file and what is wrong in it.
    """
    try:
        document = json_of(read_whole(path))
    except OSError as error:
        raise InputError(
            f"{path}: cannot be read ({error.strerror})", "Check the path and its permissions."
        ) from error
    except msgspec.DecodeError as error:
        raise InputError(
            f"{path}: not one JSON document ({error})",
            "Give a stored job, or what `rodtrue judge --json` wrote for one file.",
        ) from error
    schema = document.get("schema") if isinstance(document, dict) else None
    if schema == RESULT_SCHEMA:
        return [(None, _convert(path, document, StoredRun))]
    if schema == JOB_SCHEMA:
        job = _convert(path, document, _StoredJob)
        return [("as found", job.as_found), *([("as left", job.as_left)] if job.as_left else [])]
    raise InputError(
        f"{path}: field schema is {schema!r}, expected {RESULT_SCHEMA!r} or {JOB_SCHEMA!r}",
        "Give a stored job, or what `rodtrue judge --json` wrote for one file.",
    )


def _convert(path: Path, document: dict[str, Any], kind: Any) -> Any:
    try:
        return msgspec.convert(document, kind)
    except msgspec.ValidationError as error:
        raise InputError(
            f"{path}: {str(error).replace('$.', 'field ')}", "Judge the capture again and store the result anew."
        ) from error
