"""From a file to a result: reads the capture or CSV, judges it, and says who, when and with what."""

from __future__ import annotations

import hashlib
import os.path
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Literal

import msgspec
import numpy
import scipy

import rodtrue_protocol as wire
from rodtrue import __version__
from rodtrue.analysis.budget import with_instrument
from rodtrue.analysis.judge import judge
from rodtrue.calibration.files import load_calibration
from rodtrue.calibration.parts_budget import parts_budget, terms_of_parts
from rodtrue.calibration.ranges import range_of
from rodtrue.calibration.record import record_of
from rodtrue.capture.csv_file import read_run
from rodtrue.capture.notes import calibration_fields
from rodtrue.capture.reader import Capture, is_capture, read_capture
from rodtrue.findings_table import load_findings_table
from rodtrue.model.conditions import Conditions, Drive, Reference
from rodtrue.model.errors import InputError, RodtrueError
from rodtrue.model.profile import Profile
from rodtrue.model.result import (
    ERROR_SCHEMA,
    RESULT_SCHEMA,
    CaptureRef,
    Fixture,
    Judgement,
    ProfileDetails,
    Result,
)
from rodtrue.model.samples import Samples
from rodtrue.model.shifts import ShiftEffect
from rodtrue.profiles import load_profile, parse_profile
from rodtrue.shifts.effect import expected_effect

BaselineAnswer = Literal["unhooked", "connected", "unknown"]
_UNHOOKED: dict[BaselineAnswer, bool | None] = {"unhooked": True, "connected": False, "unknown": None}


@dataclass(frozen=True)
class CsvAnswers:
    """What a CSV cannot say itself; None where nobody said."""

    baseline: BaselineAnswer | None = None
    reference: Reference | None = None
    drive: Drive | None = None


@dataclass(frozen=True)
class Provenance:
    """What a result says beside the judgement: file, fixture, person and unit, and what was answered."""

    file: str | None
    capture: CaptureRef
    fixture: Fixture
    taken_at: str | None = None
    operator: str | None = None
    unit: str | None = None
    cautions: tuple[dict[str, str], ...] = ()
    checked: tuple[dict[str, str], ...] = ()
    adjusted: dict[str, Any] | None = None


def judge_samples(samples: Samples, profile: Profile, conditions: Conditions, provenance: Provenance) -> Result:
    """Return the result of judging these samples under a profile."""
    judgement = judge(samples, with_instrument(profile, conditions.instrument), conditions, load_findings_table())
    judged = {field.name: getattr(judgement, field.name) for field in fields(Judgement)}
    return Result(
        schema=RESULT_SCHEMA,
        file=provenance.file,
        profile=profile.name,
        fixture=provenance.fixture,
        taken_at=provenance.taken_at,
        operator=provenance.operator,
        unit=provenance.unit,
        capture=provenance.capture,
        versions={"rodtrue": __version__, "numpy": numpy.__version__, "scipy": scipy.__version__},
        drive=conditions.drive,
        reference=conditions.reference,
        rod_unhooked=conditions.rod_unhooked,
        cautions=list(provenance.cautions),
        expected_effect=_expected_effect(profile, judgement),
        profile_details=ProfileDetails(profile.title, profile.invented, profile.layout, profile.action, profile.note),
        checked=list(provenance.checked),
        adjusted=provenance.adjusted,
        **judged,
    )


def _expected_effect(profile: Profile, judgement: Judgement) -> ShiftEffect | None:
    """Return what the shifts make of the rod, where the verdict says it is off."""
    error = judgement.rod_error
    if error is None or judgement.verdict not in ("long", "short"):
        return None
    if error.value_mm is not None:
        return expected_effect(profile, error.value_mm)
    return None if error.at_most_mm is None else expected_effect(profile, error.at_most_mm, at_most=True)


def read_stored_calibration(path: Path) -> dict[str, Any]:
    """Return a calibration document's file as captures hold a fixture's calibration, and which file it is.

    Raises: InputError naming the file and the field.
    """
    document = load_calibration(path)
    data = wire.encode_calibration(record_of(document))
    held = calibration_fields(wire.Calibration(0, document.generation, data))
    found = range_of(document, "the calibration's file")
    return {**held, "range": found, "file": str(path), "sha256": sha256_of(path)}


def judge_file(
    path: Path, profile: Profile | None, answers: CsvAnswers, calibration: dict[str, Any] | None = None
) -> Result:
    """Return the result of judging a capture or a CSV, told apart by what the file holds.

    profile: None for the capture's own, or for a CSV the default one. calibration: from
    `read_stored_calibration`, to use in place of what the fixture held.
    Raises: InputError naming the file and the place in it.
    """
    if is_capture(path) or not _looks_like_csv(path):
        if answers != CsvAnswers():
            raise InputError(
                f"{path}: --baseline, --reference and --drive are for CSV files",
                "A capture says itself how it was taken: leave those options out for it.",
            )
        capture = read_capture(path)
        return judge_capture(capture if calibration is None else capture.calibrated_by(calibration), profile)
    if calibration is not None:
        raise InputError(
            f"{path}: --calibration is for captures, which hold raw codes; a CSV holds values",
            "Leave it out for a CSV, or give the capture.",
        )
    return judge_csv(path, profile or load_profile(), answers)


def _looks_like_csv(path: Path) -> bool:
    """Whether to read a file that is no capture as CSV: by its name, or as text with commas.

    Raises: InputError where it cannot be read.
    """
    if path.suffix.lower() == ".csv" or not os.path.isfile(path):
        return True
    try:
        with path.open("rb") as file:
            start = file.read(512)
    except OSError as error:
        raise _unreadable(path, error) from error
    return b"," in start and b"\x00" not in start


def judge_capture(capture: Capture, profile: Profile | None = None) -> Result:
    """Return the result of judging a capture under a profile, by default the one noted in it.

    Raises: InputError where it holds no samples or no identity, or its profile cannot be read.
    """
    if profile is None:
        noted = capture.profile
        where = f"noted in {capture.path}"
        profile = load_profile() if noted is None else parse_profile(noted[1], where)
    noted_run = capture.last("conditions")
    provenance = Provenance(
        file=str(capture.path),
        capture=CaptureRef(str(capture.path), sha256_of(capture.path)),
        fixture=capture.fixture(),
        taken_at=capture.taken_at,
        operator=noted_run.get("operator"),
        unit=noted_run.get("unit"),
        cautions=tuple(capture.cautions),
        checked=tuple(capture.checked),
        adjusted=capture.adjusted,
    )
    return judge_samples(capture.samples(), profile, capture.conditions(), provenance)


def judge_csv(path: Path, profile: Profile, answers: CsvAnswers) -> Result:
    """Return the result of judging a CSV. Raises: InputError naming file, line and column.

    Where the file says that its fixture was not calibrated the parts' uncertainty holds, as for its capture; the
    profile's half-widths where it says nothing, or that a calibration was in force, whose figures it does not hold.
    Where it says that a virtual fixture made it, the result is marked so.
    """
    samples, calibration, virtual = read_run(path)
    uncalibrated = calibration in ("missing", "of another fixture")
    conditions = Conditions(
        kind="csv",
        drive=answers.drive,
        reference=answers.reference or "curb_idle",
        rod_unhooked=_UNHOOKED[answers.baseline or "unhooked"],
        baseline_assumed=answers.baseline is None,
        calibration=calibration,
        instrument=terms_of_parts(parts_budget()) if uncalibrated else None,
    )
    fixture = Fixture("virtual" if virtual else "csv")
    provenance = Provenance(str(path), CaptureRef(str(path), sha256_of(path)), fixture)
    return judge_samples(samples, profile, conditions, provenance)


def sha256_of(path: Path) -> str:
    """Return the SHA-256 of a file as hexadecimal. Raises: InputError where it cannot be read."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise _unreadable(path, error) from error


def _unreadable(path: Path, error: OSError) -> InputError:
    return InputError(f"{path}: cannot be read ({error.strerror})", "Check the path and its permissions.")


def encode(record: Any) -> bytes:
    """Return a result, job or other record as one line of JSON, without the newline."""
    return msgspec.json.encode(record)


def encode_refusal(file: str, error: RodtrueError) -> bytes:
    """Return the JSON line for a file that was refused."""
    return msgspec.json.encode(
        {"schema": ERROR_SCHEMA, "file": file, "error": error.message, "next": error.next_step}
    )
