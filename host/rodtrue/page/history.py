"""The page's dealings with the records: keeping a job, reading the newest runs, watching the check standard.

The records may be locked, full or out of reach; that is said in a line and never stops a run.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from rodtrue.model.result import Job
from rodtrue.records.check_standard import CHECK_STANDARD, DriftWatch, drift_of, drifted_fixtures

if TYPE_CHECKING:
    from rodtrue.records import Records, RunRow

SHOWN_AT_ONCE = 25
OF_BODY = "valve body "
_RUNS_A_JOB = 2

__all__ = ["CHECK_STANDARD", "SHOWN_AT_ONCE", "DriftWatch", "KeptJob", "RecordsDesk"]


@dataclass(frozen=True)
class KeptJob:
    """A job as the history lists it. runs: by role, `as_found` and, where there is one, `as_left`."""

    number: int
    runs: dict[str, RunRow]

    @property
    def first(self) -> RunRow:
        """The run that says whose unit it is and when the job began."""
        return self.runs.get("as_found") or next(iter(self.runs.values()))


class RecordsDesk:
    """Where the page keeps jobs and finds them. place: a file or URL; None: the user's own records."""

    def __init__(self, place: str | None = None) -> None:
        self.place = place
        self._keeper = ThreadPoolExecutor(1, thread_name_prefix="records")

    def keep(
        self, job: Job, file: Path, tag: str | None, told: Callable[[str], None], valve_body_serial: str | None = None
    ) -> None:
        """Keep a job that was written to `file`, in a thread of its own; `told` is given the line about it there."""
        self._keeper.submit(lambda: told(self._kept(job, file, tag, valve_body_serial)))

    def watch(self, fixture_id: str, *, virtual: bool, told: Callable[[DriftWatch], None]) -> None:
        """Look at a fixture's check standard, in the same thread; `told` is given what it says there."""
        self._keeper.submit(lambda: told(self.drift_of(fixture_id, virtual=virtual)))

    def watch_all(self, told: Callable[[DriftWatch], None]) -> None:
        """Look at every real fixture's check standard, in the same thread; `told` is given the alarms there."""
        self._keeper.submit(lambda: told(drifted_fixtures(self.place)))

    def close(self) -> None:
        """Wait until what was handed in is kept, or was said not to be."""
        self._keeper.shutdown(wait=True)

    def newest(self, unit: str, verdict: str, count: int) -> tuple[list[KeptJob], bool]:
        """Return the `count` newest jobs, and whether there are older ones.

        unit: text found anywhere in its name, verdict: a word that either of a job's runs has on its rod, or with
        `valve body` before it on its valve body; "" for any.
        Raises: InputError, FixtureError.
        """
        from rodtrue.records import RunFilter

        on_rod, on_body = (None, verdict.removeprefix(OF_BODY)) if verdict.startswith(OF_BODY) else (verdict, None)
        wanted = RunFilter(
            unit=unit or None, verdict=on_rod or None, body_verdict=on_body, limit=_RUNS_A_JOB * count + 1
        )
        with self._open() as records:
            found = records.runs(wanted)
            numbers = list(dict.fromkeys(row.job for row in found))
            jobs = [KeptJob(number, _by_role(records, number)) for number in numbers[:count]]
        return jobs, len(numbers) > count

    def job(self, number: int) -> Job:
        """Return a kept job. Raises: InputError where there is none, FixtureError."""
        return self.job_and_serial(number)[0]

    def job_and_serial(self, number: int) -> tuple[Job, str | None]:
        """Return a kept job and its valve body's serial number, None where none was said. Raises: as `job`."""
        from rodtrue.records.store import job_of

        with self._open() as records:
            kept = records.kept_job(number)
        return job_of(kept), kept.valve_body_serial

    def drift_of(self, fixture_id: str, *, virtual: bool) -> DriftWatch:
        """Return what the check standard's kept runs say of a fixture; trouble with the records is said so."""
        return drift_of(self.place, fixture_id, virtual=virtual)

    def _open(self) -> Records:
        from rodtrue.records import open_records

        return open_records(self.place)

    def _kept(self, job: Job, file: Path, tag: str | None, valve_body_serial: str | None) -> str:
        from rodtrue.records.keeping import keep, not_kept

        try:
            return keep(job, file, self.place, tag, valve_body_serial)
        except Exception as error:  # the job is in its file; whatever the records have must not end the page
            return not_kept(error, file, self.place, tag, valve_body_serial)


def _by_role(records: Records, number: int) -> dict[str, RunRow]:
    from rodtrue.records import RunFilter

    return {row.role: row for row in records.runs(RunFilter(job=number))}
