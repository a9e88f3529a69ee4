"""Calibration documents on disk: reading any format version this program knows, writing the newest."""

from __future__ import annotations

import math
import os.path
from collections.abc import Callable, Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from rodtrue.bounded import json_of, read_whole
from rodtrue.calibration.channel import LEAST_PLACES
from rodtrue.calibration.document import REGRESSED, CalibrationDocument, Channel, is_day, is_fixture_number
from rodtrue.calibration.performance import NotInOrder, refuse_disorder
from rodtrue.data_folder import data_folder
from rodtrue.model.codes import CODE_SPAN
from rodtrue.model.errors import InputError
from rodtrue.whole_file import write_whole

FAMILY = "rodtrue.calibration/"
_LONGEST_VERSION = 9
_ROUNDED = 1e-6
"""How far a correlation may be off by rounding."""
_LEAST_SLOPE = 1e-3
"""Full scales over the converter's whole range; a sensor that uses all of it has 1.25."""

MEASURE_AGAIN = "Give a file written by `rodtrue calibrate run`, unchanged."
_NAME_DATA_FOLDER = "Set RODTRUE_DATA to a folder that can be written to; run it again, with --points if taken."


def load_calibration(path: Path) -> CalibrationDocument:
    """Return the calibration document in a file, of whatever format version.

    Raises: InputError naming the file and the field where it cannot be read, is none, is of a format newer
    than this program, or holds values that cannot be.
    """
    try:
        text = read_whole(path)
    except OSError as error:
        raise InputError(
            f"calibration {path}: cannot be read ({error.strerror})", "Check the path and its permissions."
        ) from error
    return parse_calibration(text, str(path))


def parse_calibration(text: bytes, where: str) -> CalibrationDocument:
    """Return the document in JSON text; `where` names it in refusals. Raises: as `load_calibration`."""
    try:
        raw = json_of(text)
    except msgspec.DecodeError as error:
        raise InputError(f"calibration {where}: not JSON ({error})", MEASURE_AGAIN) from error
    document = _reader(raw, where)(raw, where)
    _refuse_nonsense(document, where)
    return document


def save_calibration(
    document: CalibrationDocument, path: Path, advice: str = "Give another place with --out."
) -> None:
    """Write a document, whole or not at all. Raises: InputError, with that advice, where it cannot be written."""
    text = msgspec.json.format(msgspec.json.encode(asdict(document)), indent=1)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, text + b"\n")
    except OSError as error:
        raise InputError(f"calibration {path}: cannot be written ({error.strerror})", advice) from error


def stored_path(document: CalibrationDocument) -> Path:
    """Return where a document is kept in the user's data folder."""
    fixture = document.fixture
    name = f"{fixture.kind}-{fixture.unique_id}-{document.done}-{document.generation}.json"
    return data_folder() / "calibrations" / name


def keep_copy(document: CalibrationDocument) -> Path:
    """Keep a document in the user's data folder beside others of its day, and return where.

    Raises: InputError where the file cannot be written.
    """
    first = stored_path(document)
    path, number = first, 1
    while os.path.exists(path):  # a name too long is none here, and is refused in words where it is written
        number += 1
        path = first.with_name(f"{first.stem}-{number}.json")
    save_calibration(document, path, _NAME_DATA_FOLDER)
    return path


def kept_documents(fixture_id: str) -> Iterator[CalibrationDocument]:
    """Yield what is kept of a fixture in the user's data folder, newest day first; the unreadable is left out."""
    folder = data_folder() / "calibrations"
    for path in sorted(folder.glob(f"*-{fixture_id}-*.json"), reverse=True):
        try:
            yield load_calibration(path)
        except InputError:
            continue


def _version_1(raw: Any, where: str) -> CalibrationDocument:
    try:
        return msgspec.convert(raw, CalibrationDocument)
    except msgspec.ValidationError as error:
        raise InputError(f"calibration {where}: {error}", MEASURE_AGAIN) from error


_READERS: dict[int, Callable[[Any, str], CalibrationDocument]] = {1: _version_1}
"""By format version. A new version keeps the readers of the older ones."""


def _reader(raw: Any, where: str) -> Callable[[Any, str], CalibrationDocument]:
    schema = raw.get("schema") if isinstance(raw, dict) else None
    version = schema.removeprefix(FAMILY) if isinstance(schema, str) and schema.startswith(FAMILY) else ""
    if not version.isdecimal() or len(version) > _LONGEST_VERSION:
        raise InputError(f"calibration {where}: no calibration document (schema {schema!r})", MEASURE_AGAIN)
    if int(version) not in _READERS:
        newest = max(_READERS)
        raise InputError(
            f"calibration {where}: format {schema}; this program reads versions 1 to {newest}",
            "Use the program that wrote it, or a newer one.",
        )
    return _READERS[int(version)]


def _refuse_nonsense(document: CalibrationDocument, where: str) -> None:
    def refuse(field: str, problem: str) -> None:
        raise InputError(f"calibration {where}: field {field} {problem}", MEASURE_AGAIN)

    if not is_fixture_number(document.fixture.unique_id):
        refuse("fixture.unique_id", f"is {document.fixture.unique_id!r}; it must be 16 hexadecimal digits")
    if not 1 <= document.generation <= 65535:
        refuse("generation", f"is {document.generation}; it must be 1 to 65535")
    if not is_day(document.done):
        refuse("done", f"is {document.done!r}; it must be a day such as 2026-03-31")
    if document.due is not None and (not is_day(document.due) or document.due < document.done):
        refuse("due", f"is {document.due!r}; it must be a day not before {document.done}")
    for name, unit, channel in (("travel", "mm", document.travel), ("pressure", "kPa", document.pressure)):
        if (channel.quantity, channel.unit) != (name, unit):
            refuse(name, f"holds {channel.quantity} in {channel.unit}; it must hold {name} in {unit}")
        _refuse_channel(channel, name, refuse)


def _refuse_channel(channel: Channel, name: str, refuse: Callable[[str, str], None]) -> None:
    curve = channel.curve
    if curve.degree not in (1, 2) or len(curve.coefficients) != curve.degree + 1:
        refuse(f"{name}.curve", f"has degree {curve.degree} and {len(curve.coefficients)} coefficients")
    if curve.regressed != REGRESSED:
        refuse(f"{name}.curve.regressed", f"is {curve.regressed!r}; it must be {REGRESSED!r}")
    if not _is_covariance(curve.covariance, len(curve.coefficients)):
        refuse(f"{name}.curve.covariance", f"is no covariance of {len(curve.coefficients)} coefficients")
    if curve.residual_sd < 0 or curve.degrees_of_freedom < 1:
        refuse(f"{name}.curve", "holds a residual deviation below 0 or fewer than 1 degree of freedom")
    if len({point.reference for point in channel.points}) < LEAST_PLACES:
        refuse(f"{name}.points", f"are at fewer than {LEAST_PLACES} different reference values")
    numbers = [*curve.coefficients, curve.r0, channel.scale_half_width, channel.nonlinearity_half_width]
    if not all(math.isfinite(number) for number in numbers):
        refuse(name, "holds a number that is not finite")
    if channel.scale_half_width < 0 or channel.nonlinearity_half_width < 0 or channel.full_scale <= 0:
        refuse(name, "holds a half-width below 0 or a full scale that is not above 0")
    if _turns(channel):
        refuse(f"{name}.curve", "stands still or turns round among its points")
    places = [point.reference for point in channel.points]
    try:
        refuse_disorder(
            places, [point.cycle for point in channel.points], [point.direction for point in channel.points]
        )
    except NotInOrder as problem:
        refuse(f"{name}.points[{problem.row}]", f"is out of order: {problem}")


def _turns(channel: Channel) -> bool:
    """Whether the curve's slope is next to nothing, or has another sign, at one end of its points."""
    _, slope, bend = [*channel.curve.coefficients, 0.0][:3]
    ratios = [point.code / CODE_SPAN for point in channel.points]
    at_ends = [slope + 2 * bend * (ratio - channel.curve.r0) for ratio in (min(ratios), max(ratios))]
    return at_ends[0] * at_ends[1] <= (_LEAST_SLOPE * channel.full_scale) ** 2


def _is_covariance(rows: list[list[float]], size: int) -> bool:
    """Whether rows are a covariance of so many coefficients: square, symmetric, no variance below 0."""
    if len(rows) != size or any(len(row) != size for row in rows):
        return False
    covariance = np.array(rows, np.float64)
    variances = np.diag(covariance)
    if (variances < 0).any():
        return False
    scale = np.sqrt(np.where(variances > 0, variances, 1.0))
    correlation = covariance / np.outer(scale, scale)
    alike = bool(np.allclose(correlation, correlation.T, rtol=0.0, atol=_ROUNDED))
    return alike and float(np.linalg.eigvalsh(correlation).min()) >= -_ROUNDED
