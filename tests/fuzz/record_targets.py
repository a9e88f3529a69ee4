"""What records are brought back from: backups and job files."""

from __future__ import annotations

import contextlib
import io
import json
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path
from random import Random

import msgspec

from fuzz import corpus_seeds as seeds
from fuzz.mutation import as_json, mutate, mutate_document, mutate_text
from fuzz.target import Tell, chosen
from rodtrue.cli.stored_run import read_stored_runs
from rodtrue.model.errors import InputError
from rodtrue.records.backup import restore
from rodtrue.records.store import open_records
from rodtrue.report import read_job, report_pdf

REPORTED_SHARE = 0.02


def _backup_bytes(rng: Random) -> bytes:
    """Return a backup changed byte by byte, or in its members with their digests put right again."""
    whole = seeds.backup()
    if rng.random() < 0.3:
        return mutate(rng, whole, [whole])
    with zipfile.ZipFile(io.BytesIO(whole)) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    contents = json.loads(members["contents.json"])
    kept = json.loads(members["jobs.jsonl"])
    what = rng.random()
    if what < 0.5:
        kept["document"] = as_json(mutate_document(rng, json.loads(kept["document"]))).decode()
        kept["digest"] = sha256(kept["document"].encode()).hexdigest()
    elif what < 0.7:
        kept = mutate_document(rng, kept)
    elif what < 0.9:
        contents = mutate_document(rng, contents)
    members["jobs.jsonl"] = as_json(kept) + b"\n"
    if rng.random() < 0.1:
        members["jobs.jsonl"] = mutate(rng, members["jobs.jsonl"], [b"\n"])
    if isinstance(contents, dict) and rng.random() < 0.9:
        contents["jobs_sha256"] = sha256(members["jobs.jsonl"]).hexdigest()
    members["contents.json"] = as_json(contents)
    return seeds.zipped(members)


def record_bytes(rng: Random) -> bytes:
    if rng.random() < 0.5:
        return _backup_bytes(rng)
    if rng.random() < 0.7:
        return as_json(mutate_document(rng, seeds.job()))
    text = as_json(seeds.job()).decode()
    return mutate_text(rng, text, [text])


@contextmanager
def record_read(folder: Path) -> Iterator[Tell]:
    job_path, backup_path = folder / "job.json", folder / "input.backup"

    def tell(data: bytes) -> str:
        return restored(data) if data[:2] == b"PK" else shown(data)

    def restored(data: bytes) -> str:
        backup_path.write_bytes(data)
        try:
            restore(records, backup_path, folder / "captures")
        except InputError:
            assert records.count() == 0, "refused, yet something was put back"
            raise
        read_and_forget()
        return "restored"

    def read_and_forget() -> None:
        """Read every job that is kept as it comes back, and leave the records empty for the next input."""
        for number in {row.job for row in records.runs()}:
            records.job(number)
            records.delete(number)
        assert records.count() == 0

    def shown(data: bytes) -> str:
        job_path.write_bytes(data)
        with contextlib.suppress(InputError):
            read_stored_runs(job_path)
        job = read_job(job_path)
        if job.schema == "rodtrue.job/1":
            records.save(job)
            read_and_forget()
        if not chosen(data, REPORTED_SHARE):
            return "read"
        msgspec.json.encode(job)
        report_pdf(job)
        return "reported"

    with open_records(str(folder / "records.sqlite")) as records:
        yield tell
