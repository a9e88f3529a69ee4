"""What a killed program left, opened again: each function tells what is wrong, in words; nothing where nothing is."""

from __future__ import annotations

import io
import sqlite3
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path

import msgspec

from rodtrue.calibration.files import load_calibration
from rodtrue.capture.framing import FIRST_LINE, RECEIVED
from rodtrue.capture.reader import Capture, read_capture
from rodtrue.judging import judge_capture
from rodtrue.model.errors import InputError
from rodtrue.model.result import Job
from rodtrue.records import open_records
from rodtrue.records.backup import back_up, restore
from rodtrue.report.reading import read_job

PART = ".part"


@dataclass
class Left:
    """What stood in runs' folders after kills, counted, and what was wrong."""

    wrong: list[str] = field(default_factory=list)
    captures: int = 0
    unbegun: int = 0
    cut: int = 0
    verdicts: int = 0
    jobs: int = 0
    reports: int = 0
    parts: int = 0


@dataclass
class Killed:
    """What came of killing one kind of run. drawn: moments; struck: those before its end; orphans: children that
    outlived it.
    """

    drawn: int = 0
    struck: int = 0
    orphans: int = 0
    left: Left = field(default_factory=Left)


def run_left(folder: Path, left: Left, undisturbed: Path | None = None) -> None:
    """Open what a killed run left in its folder, and count it.

    undisturbed: the folder of the same run let live, where one seed gives one run: what was captured must be the
    beginning of that, and each file that is there must be the same.
    """
    for path in sorted(folder.iterdir()):
        whole = None if undisturbed is None else undisturbed / path.name
        if path.suffix == ".capture":
            _capture_left(path, left, whole)
        elif path.name == "job.json":
            left.jobs += 1
            read_job(path)
        elif path.suffix == ".pdf":
            left.reports += 1
            left.wrong += pdf_wrong(path)
        elif path.suffix == ".png":
            if not path.read_bytes().endswith(b"IEND\xaeB`\x82"):
                left.wrong.append(f"{path}: half a picture")
        elif path.suffix == PART:
            left.parts += 1
        else:
            left.wrong.append(f"{path}: not known what this is")


def pdf_wrong(path: Path) -> list[str]:
    """Read every page of a report."""
    from pypdf import PdfReader
    from pypdf.errors import PyPdfError

    try:
        pages = PdfReader(io.BytesIO(path.read_bytes()), strict=True).pages
        return [] if all(page.extract_text() for page in pages) and len(pages) else [f"{path}: an empty page"]
    except PyPdfError as error:
        return [f"{path}: no whole report: {error}"]


def _capture_left(path: Path, left: Left, whole: Path | None) -> None:
    content = path.read_bytes()
    if len(content) < len(FIRST_LINE):
        left.unbegun += 1
        return
    left.captures += 1
    capture = read_capture(path)
    last = [damage for damage in capture.damages if damage.offset + damage.length == len(content)]
    left.cut += len(last)
    if capture.damages != last:
        left.wrong.append(f"{path}: damaged before its end: {capture.damages}")
    if whole is not None and not _is_beginning(capture, read_capture(whole)):
        left.wrong.append(f"{path}: other frames than the undisturbed run's")
    result = _judged(capture)
    if result is not None and whole is not None and capture.last("end"):
        left.verdicts += 1
        if result != _judged(read_capture(whole)):
            left.wrong.append(f"{path}: finished, and judged otherwise than the undisturbed run")


def _judged(capture: Capture) -> tuple[str, object] | None:
    """Return verdict and error; None where the capture was cut off before the fixture had said who it is."""
    try:
        result = judge_capture(capture)
    except InputError:
        if not capture.last("identity"):
            return None
        raise
    return result.verdict, result.rod_error


def _is_beginning(capture: Capture, whole: Capture) -> bool:
    frames, all_frames = ([item.payload for item in each.items if item.kind == RECEIVED] for each in (capture, whole))
    return frames == all_frames[: len(frames)]


def records_wrong(file: Path, jobs: list[Job], least: int) -> list[str]:
    """Have SQLite check a file of records, and look at what is kept there."""
    return kept_wrong(str(file), jobs, least) + database_wrong(file)


def kept_wrong(file: str, jobs: list[Job], least: int) -> list[str]:
    """Open records: every kept job whole, at least so many of `jobs`; then save them all, and find each once."""
    wrong = []
    with open_records(file) as records:
        kept = list(records.kept())
        halves = [job for job in kept if sha256(job.document.encode()).hexdigest() != job.digest]
        wrong += [f"{file}: {len(halves)} jobs not whole"] if halves else []
        if len(kept) < least:
            wrong.append(f"{file}: {len(kept)} jobs where {least} were kept before")
        for job in jobs:
            records.save(job)
        if sum(1 for _ in records.kept()) != len(jobs) or records.count() != sum(map(_runs, jobs)):
            wrong.append(f"{file}: saved again, {records.count()} runs")
    return wrong


def database_wrong(file: Path) -> list[str]:
    """Have SQLite check a database of its own."""
    database = sqlite3.connect(file)
    answer = database.execute("PRAGMA integrity_check").fetchone()
    database.close()
    return [] if answer == ("ok",) else [f"{file}: {answer}"]


def _runs(job: Job) -> int:
    return 1 + (job.as_left is not None)


def backup_wrong(file: Path, again_from: Path, into: Path, count: int) -> list[str]:
    """A backup that has its name is whole; without it, backing up again makes one."""
    if not file.exists():
        with open_records(str(again_from)) as records:
            back_up(records, file)
    with open_records(str(into)) as records:
        done = restore(records, file, into.with_suffix(".captures"))
        return [] if (done.jobs, done.missing) == (count, []) else [f"{file}: {done}"]


def restoring_wrong(file: Path, into: Path, captures: Path, count: int) -> list[str]:
    """Restoring again puts back what was not; each capture with its name is the one of that name."""
    found = sorted(captures.glob("*.capture")) if captures.is_dir() else []
    wrong = [f"{path}: half a capture" for path in found if sha256(path.read_bytes()).hexdigest() != path.stem]
    with open_records(str(into)) as records:
        done = restore(records, file, captures)
        if done.jobs + done.already_there != count or sum(1 for _ in records.kept()) != count or done.missing:
            wrong.append(f"{into}: restored again: {done}")
    return wrong


def same_or(path: Path, *contents: bytes | None) -> list[str]:
    """A file is one of these contents, None being no file."""
    content = path.read_bytes() if path.exists() else None
    return [] if content in contents else [f"{path}: neither as before nor as it was to be"]


def calibrations_wrong(folder: Path) -> list[str]:
    """Every calibration that has its name is whole."""
    for path in sorted(folder.rglob("*.json")):
        load_calibration(path)
    return []


def fixture_wrong(flash: Path, told: Path) -> list[str]:
    """A fixture switched on again holds the calibration it has acknowledged last, or the one after that."""
    from rodtrue.link.port import Port
    from rodtrue.run.manual_time import manual_client
    from rodtrue.run.recorder import read_calibration
    from rodtrue.run.session import default_plant
    from rodtrue.virtual.fixture import VirtualFixture

    acknowledged = [int(line) for line in told.read_text().splitlines()] if told.exists() else []
    last = acknowledged[-1] if acknowledged else 0
    with VirtualFixture(default_plant(), pace="manual", state_dir=flash) as fixture, Port(fixture.port) as port:
        client = manual_client(fixture, port)
        client.hello()
        held = read_calibration(client)
    generation = 0 if held is None else held["generation"]
    return [] if generation in (last, last + 1) else [f"{flash}: holds {generation}, had acknowledged {last}"]


def job_in(path: Path) -> Job:
    """Return the job in a file."""
    return msgspec.json.decode(path.read_bytes(), type=Job)
