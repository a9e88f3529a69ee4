"""The valid inputs that fuzzing starts from: vectors, profiles, one short capture, and what is made of it."""

from __future__ import annotations

import io
import json
import shutil
import tempfile
import zipfile
from dataclasses import replace
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

import msgspec

import rodtrue_protocol as wire
from rodtrue.capture.csv_out import write_csv
from rodtrue.capture.reader import read_capture
from rodtrue.judging import CsvAnswers, judge_file
from rodtrue.model.result import JOB_SCHEMA, Job
from rodtrue.profiles import profile_text, shipped_profiles
from rodtrue.records.backup import back_up
from rodtrue.records.store import open_records
from wire_vectors import rows

CAPTURE = Path(__file__).resolve().parent / "corpus" / "short-run.capture"


@cache
def frames(direction: str) -> list[bytes]:
    """Return streams of one direction: the golden vectors, and for the host's the short run's received frames."""
    found = [bytes.fromhex(row["hex"]) for row in rows() if row["direction"] == direction]
    if direction == "from_fixture":
        received = [item.payload + b"\0" for item in read_capture(CAPTURE).items if item.kind == 1]
        found += [b"".join(received[k : k + 12]) for k in range(0, len(received), 12)]
    return found


@cache
def requests() -> list[bytes]:
    """Return what a host may send in one go: greeted or not, requests one after the other."""
    hello = wire.encode(wire.Hello(wire.TABLE.digest), 0)
    record = bytes.fromhex((CAPTURE.parents[2] / "data" / "calibration" / "record_layout_1.hex").read_text())
    talk = [
        wire.encode(wire.Start(500), 1),
        wire.encode(wire.ReadStatus(), 2),
        wire.encode(wire.SelfTest(), 3),
        wire.encode(wire.Stop(), 4),
        wire.encode(wire.WriteCalibration(1, record), 5),
        wire.encode(wire.ReadCalibration(), 6),
        wire.encode(wire.SetTravelLimit(30000), 7),
        wire.encode(wire.ReadTiming(), 8),
        wire.encode(wire.EnterMaintenance(), 9),
    ]
    return [hello + b"".join(talk), hello + talk[0] + talk[4] + talk[3], *talk, *frames("to_fixture")]


@cache
def profiles() -> list[str]:
    """Return the text of every shipped profile."""
    return [profile_text(name)[0] for name in shipped_profiles()]


@cache
def csvs() -> list[str]:
    """Return CSV files of the short run: whole, its sweeps alone, a few lines, and without steps."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "run.csv"
        write_csv(read_capture(CAPTURE).samples(), path)
        whole = path.read_text("utf-8")
    head, *lines = whole.splitlines()
    sweeps = [line for line in lines if line.endswith("sweep")]
    return [whole, "\n".join([head, *sweeps]), "\n".join([head, *lines[:20]]), "\n".join([head, *lines[::50]])]


@cache
def job() -> dict[str, Any]:
    """Return the short run's job as a document, the same in whatever folder."""
    result = judge_file(CAPTURE, None, CsvAnswers())
    found = replace(result, file=CAPTURE.name, capture=replace(result.capture, path=CAPTURE.name))
    document: dict[str, Any] = json.loads(msgspec.json.encode(Job(JOB_SCHEMA, found, found, "Invented customer")))
    return document


@cache
def backup() -> bytes:
    """Return a backup of records that hold the short run's job, the same whenever and wherever it is made."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.backup"
        shutil.copy(CAPTURE, folder)
        with open_records(str(Path(folder) / "records.sqlite")) as records:
            records.save(msgspec.convert(job(), Job), folder=Path(folder))
            back_up(records, path)
        with zipfile.ZipFile(path) as archive:
            members = {name: archive.read(name) for name in archive.namelist()}
    kept = json.loads(members["jobs.jsonl"]) | {"saved_at": "2026-01-01T00:00:00+00:00", "folder": "a-shop"}
    members["jobs.jsonl"] = msgspec.json.encode(kept) + b"\n"
    contents = json.loads(members["contents.json"]) | {"jobs_sha256": sha256(members["jobs.jsonl"]).hexdigest()}
    members["contents.json"] = msgspec.json.encode(contents)
    return zipped(members)


def zipped(members: dict[str, bytes]) -> bytes:
    """Return an archive of files, the same at any time of day."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        for name, content in members.items():
            archive.writestr(zipfile.ZipInfo(name), content)
    return made.getvalue()
