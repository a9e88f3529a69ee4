"""Saving, finding and deleting. One transaction a save; what is saved is never overwritten."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from types import TracebackType
from typing import Any

import msgspec
from sqlalchemy import Connection, Engine, delete, func, insert, select

from rodtrue.bounded import json_of
from rodtrue.model.errors import InputError
from rodtrue.model.result import Characteristic, Job
from rodtrue.records.connecting import connect, database_url, named_safely, trouble_in_words
from rodtrue.records.filters import RunFilter, narrowed
from rodtrue.records.rows import (
    caution_rows,
    characteristic_rows,
    document_of,
    finding_rows,
    run_row,
    runs_of,
)
from rodtrue.records.schema import bring_up_to_date
from rodtrue.records.tables import cautions, characteristics, findings, jobs, runs

ROD_ERROR = "rod_error"
"""The measured quantity itself; stands where a characteristic's name may stand."""

LARGEST_NUMBER = 2**31 - 1
"""Of a key in PostgreSQL's integer column."""


@dataclass(frozen=True)
class Saved:
    """The job's number, and whether it was there already."""

    job: int
    was_there: bool


@dataclass(frozen=True)
class RunRow:
    """A run as a list shows it."""

    job: int
    run: int
    role: str
    taken_at: str | None
    unit: str | None
    customer: str | None
    operator: str | None
    profile: str
    fixture_kind: str
    fixture_id: str | None
    reference: str
    verdict: str
    body_verdict: str | None
    rod_error_mm: float | None
    expanded_uncertainty_mm: float | None
    at_most_mm: float | None
    tag: str | None
    order: str | None
    valve_body_serial: str | None
    capture_path: str | None
    capture_sha256: str | None


@dataclass(frozen=True)
class Value:
    """One characteristic of one run, for charts, capability and studies."""

    job: int
    run: int
    taken_at: str | None
    unit: str | None
    operator: str | None
    value: float
    profile: str
    drive: str | None
    reference: str
    fixture_id: str | None
    expanded_uncertainty: float | None = None
    lower_limit: float | None = None
    upper_limit: float | None = None


@dataclass(frozen=True)
class Kept:
    """A job word for word as kept, and what was said of it when it was saved."""

    document: str
    digest: str
    tag: str | None = None
    valve_body_serial: str | None = None
    saved_at: str | None = None
    folder: str | None = None


def job_of(kept: Kept) -> Job:
    """Return the job that was kept. Raises: InputError where this version cannot read it."""
    try:
        job = json_of(kept.document, Job)
    except msgspec.DecodeError as error:
        raise InputError(f"a kept job cannot be read ({error})", "Update Rodtrue on this machine.") from error
    for role, result in runs_of(job):
        if not all({"code", "text"} <= caution.keys() for caution in result.cautions):
            raise InputError(
                f"a kept job cannot be read (a caution of its {role} run lacks code or text)",
                "Update Rodtrue on this machine.",
            )
    return job


def open_records(named: str | None = None) -> Records:
    """Open a database by file or URL, by default the user's own, and bring its schema up to date.

    Raises: InputError, FixtureError where it cannot be reached, written or understood.
    """
    url = database_url(named)
    records = Records(connect(url), url)
    try:
        with trouble_in_words(url, "opening the records"), records.writing() as connection:
            bring_up_to_date(connection, records.where)
    except BaseException:
        records.close()
        raise
    return records


class Records:
    """An open database of jobs and runs; a context manager that closes it."""

    def __init__(self, engine: Engine, url: str) -> None:
        self._engine = engine
        self._url = url
        self.where = named_safely(url)

    def __enter__(self) -> Records:
        return self

    def __exit__(self, *_: type[BaseException] | BaseException | TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def save(
        self, job: Job, *, tag: str | None = None, valve_body_serial: str | None = None, folder: Path | None = None
    ) -> Saved:
        """Save a job with its runs, all or nothing. The same job again is found, not doubled.

        folder: where relative paths of its captures begin; by default here. Raises: InputError, FixtureError.
        """
        document, digest = document_of(job)
        begin = str((folder or Path()).absolute())
        return self._save(Kept(document, digest, tag, valve_body_serial, folder=begin), job)

    def _save(self, kept: Kept, job: Job) -> Saved:
        with trouble_in_words(self._url, "saving a job"), self.writing() as connection:
            there = connection.scalar(select(jobs.c.id).where(jobs.c.digest == kept.digest))
            there = _kept_by_an_older_version(connection, job) if there is None else there
            if there is not None:
                return Saved(there, True)
            row = {
                "digest": kept.digest,
                "saved_at": kept.saved_at or datetime.now(UTC).isoformat(timespec="seconds"),
                "customer": job.customer,
                "laboratory": job.laboratory,
                "reference": job.reference,
                "valve_body_serial": kept.valve_body_serial,
                "notes": job.notes,
                "tag": kept.tag,
                "folder": kept.folder,
                "document": kept.document,
            }
            number = _inserted(connection, jobs, row)
            for role, result in runs_of(job):
                run_id = _inserted(connection, runs, {"job_id": number, **run_row(role, result)})
                for table, rows in (
                    (characteristics, characteristic_rows(run_id, result)),
                    (findings, finding_rows(run_id, result)),
                    (cautions, caution_rows(run_id, result)),
                ):
                    if rows:
                        connection.execute(insert(table), [_storable(row) for row in rows])
        return Saved(number, False)

    def runs(self, wanted: RunFilter | None = None) -> list[RunRow]:
        """Return the runs that the filter asks for. Raises: InputError, FixtureError."""
        columns = [runs.c.job_id.label("job"), runs.c.id.label("run"), *(_column(name) for name in _LISTED)]
        query = narrowed(select(*columns).join_from(runs, jobs), wanted or RunFilter())
        with trouble_in_words(self._url, "reading"), self._engine.connect() as connection:
            return [RunRow(**row) for row in connection.execute(query).mappings()]

    def count(self, wanted: RunFilter | None = None) -> int:
        """Return how many runs the filter finds, its limit left out. Raises: InputError, FixtureError."""
        every = replace(wanted or RunFilter(), limit=None)
        query = narrowed(select(runs.c.id).join_from(runs, jobs), every).order_by(None)
        with trouble_in_words(self._url, "counting"), self._engine.connect() as connection:
            return connection.scalar(select(func.count()).select_from(query.subquery())) or 0

    def fixtures(self, wanted: RunFilter) -> list[str]:
        """Return the unique numbers of the fixtures in the runs that the filter asks for, each once.

        Raises: InputError, FixtureError.
        """
        found = narrowed(select(runs.c.fixture_id).join_from(runs, jobs), wanted).order_by(None).distinct()
        with trouble_in_words(self._url, "reading"), self._engine.connect() as connection:
            return sorted(number for number in connection.scalars(found) if number is not None)

    def job(self, number: int) -> Job:
        """Return a job as it was saved. Raises: InputError where there is none of that number."""
        return job_of(self.kept_job(number))

    def kept_job(self, number: int) -> Kept:
        """Return a job as kept, with what was said of it. Raises: InputError where there is none of that number."""
        if not 0 < number <= LARGEST_NUMBER:
            raise self._no_job(number)
        query = select(*(jobs.c[name] for name in Kept.__dataclass_fields__)).where(jobs.c.id == number)
        with trouble_in_words(self._url, "reading a job"), self._engine.connect() as connection:
            row = connection.execute(query).mappings().one_or_none()
        if row is None:
            raise self._no_job(number)
        return Kept(**row)

    def kept(self) -> Iterator[Kept]:
        """Give every job as kept, in the order of their numbers. Raises: InputError, FixtureError."""
        query = select(*(jobs.c[name] for name in Kept.__dataclass_fields__)).order_by(jobs.c.id)
        with trouble_in_words(self._url, "reading"), self._engine.connect() as connection:
            for row in connection.execution_options(yield_per=100).execute(query).mappings():
                yield Kept(**row)

    def put_back(self, kept: Kept) -> Saved:
        """Save a job as it was kept elsewhere. Raises: InputError where it is not what its digest says."""
        if sha256(kept.document.encode()).hexdigest() != kept.digest:
            raise InputError("a job is not what its SHA-256 says", "Take another copy of the backup.")
        return self._save(kept, job_of(kept))

    def values(self, characteristic: str, wanted: RunFilter, *, virtual_too: bool = False) -> list[Value]:
        """Return one characteristic, or `rod_error`, of the runs that the filter asks for, those that have it.

        Virtual runs are left out unless the filter or `virtual_too` asks for them. Raises: InputError, FixtureError.
        """
        columns = (runs.c.job_id.label("job"), runs.c.id.label("run"), *(runs.c[name] for name in _SAID_OF_A_VALUE))
        if characteristic == ROD_ERROR:
            reach = runs.c.expanded_uncertainty_mm.label("expanded_uncertainty")
            query = select(*columns, runs.c.rod_error_mm.label("value"), reach).join_from(runs, jobs)
            query = query.where(runs.c.rod_error_mm.is_not(None))
        else:
            of_body = (characteristics.c[name] for name in _OF_A_CHARACTERISTIC)
            query = select(*columns, *of_body).join_from(runs, jobs)
            query = query.join(characteristics, characteristics.c.run_id == runs.c.id)
            query = query.where(characteristics.c.name == characteristic, characteristics.c.value.is_not(None))
        if wanted.virtual is None and not virtual_too:
            query = query.where(runs.c.fixture_kind != "virtual")
        with trouble_in_words(self._url, "reading values"), self._engine.connect() as connection:
            return [Value(**row) for row in connection.execute(narrowed(query, wanted)).mappings()]

    def characteristics(self, wanted: RunFilter) -> dict[int, list[Characteristic]]:
        """Return the characteristics of the runs that the filter asks for, by run, in no order.

        Raises: InputError, FixtureError.
        """
        query = select(characteristics).join_from(runs, jobs)
        query = query.join(characteristics, characteristics.c.run_id == runs.c.id)
        found: dict[int, list[Characteristic]] = {}
        with trouble_in_words(self._url, "reading characteristics"), self._engine.connect() as connection:
            for row in connection.execute(narrowed(query, wanted)).mappings():
                limits = (row["lower_limit"], row["upper_limit"])
                found.setdefault(row["run_id"], []).append(
                    Characteristic(
                        row["name"], row["value"], row["unit"], row["expanded_uncertainty"], limits, row["decision"]
                    )
                )
        return found

    def delete(self, number: int) -> None:
        """Delete a job with its runs; its files stay. Raises: InputError where there is none of that number."""
        with trouble_in_words(self._url, "deleting a job"), self.writing() as connection:
            if not 0 < number <= LARGEST_NUMBER:
                raise self._no_job(number)
            if connection.execute(delete(jobs).where(jobs.c.id == number)).rowcount == 0:
                raise self._no_job(number)

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction that writes: kept when the block ends well, undone otherwise."""
        with self._engine.connect().execution_options(writes=True) as connection, connection.begin():
            yield connection

    def _no_job(self, number: int) -> InputError:
        return InputError(
            f"{self.where}: no job {number}", "Look at `rodtrue records list` for the numbers there are."
        )


_OF_A_CHARACTERISTIC = ("value", "expanded_uncertainty", "lower_limit", "upper_limit")
_SAID_OF_A_VALUE = ("taken_at", "unit", "operator", "profile", "drive", "reference", "fixture_id")
_LISTED = [name for name in RunRow.__dataclass_fields__ if name not in ("job", "run")]


def _column(name: str) -> Any:
    """Return a run's column or its job's."""
    if name == "order":  # the job's reference; a run's is what its travel counts from
        return jobs.c.reference.label(name)
    return runs.c[name] if name in runs.c else jobs.c[name]


def _kept_by_an_older_version(connection: Connection, job: Job) -> int | None:
    """Return the number of the same job kept before results had all of today's fields: its document, and so its
    digest, lacks those, which read as not said.
    """
    begun = runs.c.taken_at == job.as_found.taken_at if job.as_found.taken_at else runs.c.taken_at.is_(None)
    query = select(jobs.c.id, jobs.c.document).join(runs, runs.c.job_id == jobs.c.id)
    for number, document in connection.execute(query.where(runs.c.role == "as_found", begun)):
        try:
            if json_of(document, Job) == job:
                return int(number)
        except msgspec.DecodeError:  # of a version that this one cannot read, so none of this one's
            continue
    return None


def _inserted(connection: Connection, table: Any, row: dict[str, Any]) -> int:
    key = connection.execute(insert(table).values(**_storable(row))).inserted_primary_key
    assert key is not None
    return int(key[0])


def _storable(row: dict[str, Any]) -> dict[str, Any]:
    """A row without zero characters in its text, which PostgreSQL refuses; the document keeps them, escaped."""
    return {name: value.replace("\0", "") if isinstance(value, str) else value for name, value in row.items()}
