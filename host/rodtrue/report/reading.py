"""Reading a stored result or job back into records, and refusing what is neither, with file and field."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import msgspec

from rodtrue.bounded import json_of, read_whole
from rodtrue.model.errors import InputError
from rodtrue.model.result import JOB_SCHEMA, RESULT_SCHEMA, Job, Result

_GIVE = "Give a stored job, or what `rodtrue judge --json` wrote for one file."
_ANEW = "Judge the capture again and store the result anew."


@dataclass(frozen=True)
class FitLine:
    """One direction's fitted line as stored in a result's plot."""

    direction: str
    travel_mm: list[float]
    pressure_kpa: list[float]


@dataclass(frozen=True)
class _SetFirst:
    """What words need of a correction's step."""

    rod: str
    direction: str
    where: str
    how: str


@dataclass(frozen=True)
class _Adjusted:
    """What was done to the rod before a run."""

    moved: str | None = None
    advised_mm: float | None = None


def read_job(path: Path) -> Job:
    """Return the job in a file; a result alone comes as a job with nothing else, under the result's schema.

    Raises: InputError naming the file and the field that is wrong.
    """
    try:
        document = json_of(read_whole(path))
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror})", "Check the path.") from error
    except msgspec.DecodeError as error:
        raise InputError(f"{path}: not one JSON document ({error})", _GIVE) from error
    schema = document.get("schema") if isinstance(document, dict) else None
    if schema == RESULT_SCHEMA:
        job = Job(RESULT_SCHEMA, _converted(path, document, Result, "field "))
    elif schema == JOB_SCHEMA:
        job = _converted(path, document, Job, "field ")
    else:
        raise InputError(f"{path}: field schema is {schema!r}, not {RESULT_SCHEMA!r} or {JOB_SCHEMA!r}", _GIVE)
    for name, result in (("as_found", job.as_found), ("as_left", job.as_left)):
        if result is not None:
            _check(path, name if schema == JOB_SCHEMA else "", result)
    return job


def fit_lines(result: Result) -> list[FitLine]:
    """Return the fitted lines of a result. Raises: msgspec.ValidationError where they are none."""
    return msgspec.convert(result.plot.fit, list[FitLine])


def _check(path: Path, name: str, result: Result) -> None:
    """Refuse what the records' types let pass and a report cannot show."""
    where = f"{name}." if name else ""
    if result.schema != RESULT_SCHEMA:
        raise InputError(f"{path}: field {where}schema is {result.schema!r}, not {RESULT_SCHEMA!r}", _GIVE)
    lines = _converted(path, result.plot.fit, list[FitLine], f"field {where}plot.fit")
    plot = result.plot
    if not len(plot.travel_mm) == len(plot.pressure_kpa) == len(plot.direction):
        raise InputError(f"{path}: field {where}plot has lists of different lengths", _ANEW)
    if any(len(line.travel_mm) != len(line.pressure_kpa) for line in lines):
        raise InputError(f"{path}: field {where}plot.fit has lists of different lengths", _ANEW)
    if result.correction is not None:
        _converted(path, result.correction.steps, list[_SetFirst], f"field {where}correction.steps")
    for k, caution in enumerate(result.cautions):
        if not {"code", "text"} <= caution.keys():
            raise InputError(f"{path}: field {where}cautions[{k}] lacks code or text", _ANEW)
    for k, item in enumerate(result.checked):
        if not {"item", "text", "answer"} <= item.keys():
            raise InputError(f"{path}: field {where}checked[{k}] lacks item, text or answer", _ANEW)
    if result.adjusted is not None:
        _converted(path, result.adjusted, _Adjusted, f"field {where}adjusted")
    if result.taken_at is not None:
        try:
            datetime.fromisoformat(result.taken_at)
        except ValueError as error:
            raise InputError(
                f"{path}: field {where}taken_at is {result.taken_at!r}, not a date and time", _ANEW
            ) from error


def _converted(path: Path, document: Any, kind: Any, said: str) -> Any:
    try:
        return msgspec.convert(document, kind)
    except msgspec.ValidationError as error:
        words = str(error).replace("$.", said + ("." if said[-1] != " " else ""))
        words = words.replace("`$[", f"`{said}[")
        raise InputError(f"{path}: {words}", _ANEW) from error
