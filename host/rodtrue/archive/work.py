"""One file judged, wherever the worker runs: what goes to a worker and what comes back are plain values."""

from __future__ import annotations

import platform
from dataclasses import dataclass, field, replace
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import msgspec

from rodtrue.judging import CsvAnswers, encode, encode_refusal, judge_file, sha256_of
from rodtrue.model.errors import InputError, RodtrueError
from rodtrue.model.profile import Profile
from rodtrue.model.result import CaptureRef, Result


@dataclass(frozen=True)
class Request:
    """How every file of an archive is judged; the same arguments as those of `judge_file`."""

    profile: Profile | None = None
    answers: CsvAnswers = field(default_factory=CsvAnswers)
    calibration: dict[str, Any] | None = None

    def digest(self) -> str:
        """SHA-256 of all of it: two judgings are comparable where it is the same."""
        return sha256(msgspec.json.encode((self.profile, self.answers, self.calibration))).hexdigest()


@dataclass(frozen=True)
class Outcome:
    """A file, and its result or the refusal of it. `sha256` is of the file, None where it could not be read."""

    file: str
    sha256: str | None
    result: Result | None
    refusal: RodtrueError | None = None

    def line(self) -> bytes:
        """The outcome as one JSON document."""
        if self.result is not None:
            return encode(self.result)
        assert self.refusal is not None
        return encode_refusal(self.file, self.refusal)


def judge_here(file: str, request: Request) -> Outcome:
    """Judge a file that this process can open."""
    try:
        result = judge_file(Path(file), request.profile, request.answers, request.calibration)
    except RodtrueError as error:
        return Outcome(file, digest_of(Path(file)), None, error)
    return Outcome(file, result.capture.sha256, result)


def judge_sent(file: str, content: bytes, request: Request) -> Outcome:
    """Judge a file's content on a machine that may not see the file; the outcome names the file all the same."""
    with TemporaryDirectory() as folder:
        copy = Path(folder) / Path(file).name
        copy.write_bytes(content)
        outcome = judge_here(str(copy), request)
    if outcome.result is not None:
        ref = CaptureRef(file, outcome.result.capture.sha256)
        return Outcome(file, outcome.sha256, replace(outcome.result, file=file, capture=ref))
    assert outcome.refusal is not None
    message = outcome.refusal.message.replace(str(copy), file)
    return Outcome(file, outcome.sha256, None, type(outcome.refusal)(message, outcome.refusal.next_step))


def digest_of(file: Path) -> str | None:
    """SHA-256 of a file, None where it cannot be read or is none: a device may have no end."""
    try:
        return sha256_of(file) if file.is_file() else None
    except InputError:
        return None


def versions() -> dict[str, str]:
    """What a result depends on in a worker."""
    import numpy
    import scipy

    from rodtrue import __version__

    return {
        "rodtrue": __version__,
        "numpy": numpy.__version__,
        "scipy": scipy.__version__,
        "python": platform.python_version(),
    }


def died(file: str) -> Outcome:
    """The outcome of a file whose worker died twice over it."""
    why = InputError(
        f"{file}: the worker judging it was killed, twice", "Judge it alone; if it dies again, memory may be short."
    )
    return Outcome(file, digest_of(Path(file)), None, why)
