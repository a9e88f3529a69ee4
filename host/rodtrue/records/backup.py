"""All jobs and their captures in one file, each with its SHA-256, and back again. Nothing is overwritten."""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile

import msgspec

from rodtrue.bounded import json_of
from rodtrue.model.errors import InputError
from rodtrue.records.rows import runs_of
from rodtrue.records.store import Kept, Records, job_of
from rodtrue.whole_file import new_whole, write_whole

SCHEMA = "rodtrue.backup/1"
_CONTENTS = "contents.json"
_JOBS = "jobs.jsonl"
_MOST_TIMES_PACKED, _LEAST_REFUSED_BYTES = 100, 1 << 20
"""Jobs pack to about a tenth."""


@dataclass(frozen=True)
class Contents:
    """What a backup says of itself: the SHA-256 of its jobs, and of each capture by its name in the archive."""

    schema: str
    jobs: int
    jobs_sha256: str
    captures: dict[str, str]


@dataclass(frozen=True)
class Copied:
    """What was done: jobs, captures, and captures that a run names but that were not found or not the same."""

    jobs: int
    captures: int
    missing: list[str]
    already_there: int = 0


def back_up(records: Records, path: Path, restored_to: Path | None = None) -> Copied:
    """Write every job and every capture that still is what its run says into a new file.

    restored_to: where an earlier `restore` put captures that their run's path no longer leads to.
    It is written beside its name and put there when whole. Raises: InputError.
    """
    try:
        with new_whole(path) as file, ZipFile(file, "w") as archive:
            return _write(records, archive, restored_to)
    except FileExistsError as error:
        raise InputError(f"{path}: is there already", "Name another file; nothing is overwritten.") from error
    except OSError as error:
        raise InputError(f"{path}: cannot be written ({error.strerror or error})", "Name another file.") from error


def _write(records: Records, archive: ZipFile, restored_to: Path | None) -> Copied:
    lines, captures, missing = [], {}, []
    for kept in records.kept():
        lines.append(msgspec.json.encode(kept))
        for path, digest in _captures(kept):
            name = f"captures/{digest}.capture"
            if name in captures:
                continue
            content = _content(path, digest)
            if content is None and restored_to is not None:
                content = _content(_restored(restored_to, digest), digest)
            if content is None:
                missing.append(str(path))
                continue
            archive.writestr(name, content, ZIP_STORED)
            captures[name] = digest
    jobs = b"".join(line + b"\n" for line in lines)
    archive.writestr(_JOBS, jobs, ZIP_DEFLATED)
    contents = Contents(SCHEMA, len(lines), sha256(jobs).hexdigest(), captures)
    archive.writestr(_CONTENTS, msgspec.json.encode(contents))
    return Copied(len(lines), len(captures), missing)


def restore(records: Records, path: Path, captures_to: Path) -> Copied:
    """Verify a whole backup first, then put its captures and jobs back; what is there already stays as it is.

    captures_to: folder for captures that are no longer where their run says. Raises: InputError where anything in
    the backup is not what it should be; then nothing was put back.
    """
    try:
        with ZipFile(path) as archive:
            contents, jobs = _verified(path, archive)
            missing = _put_captures(archive, contents, jobs, captures_to)
    except FileNotFoundError as error:
        raise InputError(f"{path}: no such file", "Check the path.") from error
    except (BadZipFile, zlib.error, NotImplementedError, RuntimeError) as error:
        raise InputError(f"{path}: damaged, or not a backup ({error})", "Take another copy of it.") from error
    except OSError as error:
        raise InputError(
            f"{path}: {error.strerror or error}", "Free or unlock the place, then restore again."
        ) from error
    there = sum(records.put_back(kept).was_there for kept in jobs)
    return Copied(len(jobs) - there, len(contents.captures), missing, there)


def _verified(path: Path, archive: ZipFile) -> tuple[Contents, list[Kept]]:
    damaged = InputError(
        f"{path}: not what its list of contents says", "Take another copy of it; nothing was put back."
    )
    try:
        contents = json_of(_unpacked(archive, _CONTENTS), Contents)
        text = _unpacked(archive, _JOBS)
        if contents.schema != SCHEMA:
            raise InputError(f"{path}: {contents.schema!r} is not {SCHEMA!r}", "Update Rodtrue, then restore.")
        if sha256(text).hexdigest() != contents.jobs_sha256:
            raise damaged
        for name, digest in contents.captures.items():
            if name != f"captures/{digest}.capture" or sha256(_unpacked(archive, name)).hexdigest() != digest:
                raise damaged
        jobs = [json_of(line, Kept) for line in text.splitlines()]
        for kept in jobs:
            job_of(kept)
    except (KeyError, msgspec.DecodeError) as error:
        raise damaged from error
    if any(sha256(kept.document.encode()).hexdigest() != kept.digest for kept in jobs):
        raise damaged
    return contents, jobs


def _put_captures(archive: ZipFile, contents: Contents, jobs: list[Kept], folder: Path) -> list[str]:
    missing = []
    for path, digest in (capture for kept in jobs for capture in _captures(kept)):
        if _content(path, digest) is not None:
            continue
        name = f"captures/{digest}.capture"
        if name not in contents.captures:
            missing.append(str(path))
            continue
        place = _restored(folder, digest)
        if _content(place, digest) is None:
            folder.mkdir(parents=True, exist_ok=True)
            write_whole(place, _unpacked(archive, name))
    return missing


def _unpacked(archive: ZipFile, name: str) -> bytes:
    """Return one file of a backup. Raises: KeyError where there is none; BadZipFile for one packed to overwhelm."""
    packed = archive.getinfo(name)
    if packed.file_size > _LEAST_REFUSED_BYTES + _MOST_TIMES_PACKED * packed.compress_size:
        raise BadZipFile(f"{name} would unpack to {packed.file_size} bytes, more than any backup packs so small")
    return archive.read(packed)


def _restored(folder: Path, digest: str) -> Path:
    return folder / f"{digest}.capture"


def _content(path: Path, digest: str) -> bytes | None:
    """Return a file's content where it can be read and is what its digest says, else None."""
    try:
        content = path.read_bytes() if path.is_file() else b""
    except OSError:
        return None
    return content if sha256(content).hexdigest() == digest else None


def _captures(kept: Kept) -> Iterator[tuple[Path, str]]:
    for _, result in runs_of(job_of(kept)):
        if result.capture.path and result.capture.sha256:
            yield Path(kept.folder or "") / result.capture.path, result.capture.sha256
