"""The file in which an archive's judging is kept line by line, so that it can go on after a kill."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any

import msgspec

from rodtrue.archive.work import Outcome, Request, digest_of, versions
from rodtrue.bounded import json_of
from rodtrue.model.errors import InputError
from rodtrue.model.result import RESULT_SCHEMA

SCHEMA = "rodtrue.archive/1"


@dataclass(frozen=True)
class Heading:
    """The first line: how all the others were judged."""

    schema: str
    request: str
    versions: dict[str, str]


class Journal:
    """An open file of outcomes. Each is written whole and brought to the disk before the next is begun."""

    def __init__(self, path: Path, request: Request, *, resume: bool) -> None:
        """Open a new file, or an older one to go on with.

        Raises: InputError where the file is there and `resume` is not asked for, where it was judged in another way
        or by other versions, or where it cannot be read or written.
        """
        self._path = path
        heading = Heading(SCHEMA, request.digest(), versions())
        self.done: dict[str, str | None] = {}
        try:
            if resume and path.exists():
                self._read(heading)
                self._file = path.open("ab")
            else:
                self._file = path.open("xb")
                self._append(msgspec.json.encode(heading))
        except FileExistsError as error:
            raise InputError(
                f"{path}: is there already", "Go on with it: --resume; or name another file with --out."
            ) from error
        except OSError as error:
            raise InputError(
                f"{path}: cannot be written ({error.strerror})", "Name another file with --out."
            ) from error

    def __enter__(self) -> Journal:
        return self

    def __exit__(self, *_: type[BaseException] | BaseException | TracebackType | None) -> None:
        self._file.close()

    def unfinished(self, files: list[str]) -> list[str]:
        """Return the files that are not in it yet, or that changed since they were judged."""
        return [file for file in files if file not in self.done or self.done[file] != digest_of(Path(file))]

    def write(self, outcome: Outcome) -> None:
        """Add an outcome. Raises: InputError where the disk takes no more; what stands in the file stands."""
        try:
            self._append(outcome.line())
        except OSError as error:
            raise InputError(
                f"{self._path}: cannot be written further ({error.strerror})",
                "Make room, then go on with --resume; what was judged stands in it.",
            ) from error

    def _append(self, line: bytes) -> None:
        self._file.write(line + b"\n")
        self._file.flush()
        os.fsync(self._file.fileno())

    def _read(self, heading: Heading) -> None:
        """Take what is done from the file, and cut a last line off that a kill left half-written."""
        content = self._path.read_bytes()
        whole = content.rfind(b"\n") + 1
        lines = content[:whole].splitlines()
        if not lines:
            raise InputError(f"{self._path}: nothing whole stands in it", "Delete it, and begin anew.")
        first = _heading(self._path, lines[0])
        if (first.request, first.versions) != (heading.request, heading.versions):
            raise InputError(
                f"{self._path}: judged under another profile, calibration or version", "Name another file with --out."
            )
        for document in _documents(self._path, lines[1:]):
            if document.get("schema") == RESULT_SCHEMA:
                self._take(document)
        if whole < len(content):
            os.truncate(self._path, whole)

    def _take(self, result: dict[str, Any]) -> None:
        try:
            self.done[result["file"]] = result["capture"]["sha256"]
        except (KeyError, TypeError) as error:
            raise InputError(
                f"{self._path}: a result in it does not say of which file", "Begin anew in another file."
            ) from error


def read_journal(path: Path) -> list[dict[str, Any]]:
    """Return the results and refusals in a file, by `judge --out` or `judge --json`; a later one of a file counts.

    Raises: InputError naming file and line.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror})", "Check the path.") from error
    lines = content.splitlines()
    if content and not content.endswith(b"\n"):
        lines = lines[:-1]
    by_file = {str(d.get("file")): d for d in _documents(path, lines) if d.get("schema") != SCHEMA}
    return list(by_file.values())


def _documents(path: Path, lines: list[bytes]) -> Iterator[dict[str, Any]]:
    for i, line in enumerate(lines):
        try:
            document = json_of(line)
        except msgspec.DecodeError as error:
            raise InputError(
                f"{path}, line {i + 1}: no JSON document ({error})", "Begin anew in another file."
            ) from error
        if not isinstance(document, dict):
            raise InputError(f"{path}, line {i + 1}: no result", "Give what `rodtrue judge` wrote.")
        yield document


def _heading(path: Path, line: bytes) -> Heading:
    try:
        heading = msgspec.json.decode(line, type=Heading)
    except msgspec.DecodeError as error:
        raise InputError(f"{path}, line 1: not the heading of an archive's judging", "Name another file.") from error
    if heading.schema != SCHEMA:
        raise InputError(f"{path}, line 1: {heading.schema!r} is not {SCHEMA!r}", "Name another file.")
    return heading
