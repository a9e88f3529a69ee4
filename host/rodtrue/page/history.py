"""The page's dealings with the records: keeping a job, reading the newest runs, watching the check standard.

The records may be locked, full or out of reach; that is said in a line and never stops a run.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from rodtrue.lab.drift import LEAST_WATCHED, DriftState, drift_state
from rodtrue.model.errors import RodtrueError
from rodtrue.model.result import Job, Result

if TYPE_CHECKING:
    from rodtrue.records import Records, RunRow

CHECK_STANDARD = "check standard"
SHOWN_AT_MOST = 100
LOOKED_BACK = 60
LIMITS_FROM_AT_MOST = 20
WATCHED = ("slope", "baseline")
_ADVICE = "Measure the check standard again, or calibrate, before a customer's unit."


@dataclass(frozen=True)
class DriftWatch:
    """What the check standard says of a fixture, in words. alarm: to be said before a customer's run."""

    alarm: bool
    text: str


class RecordsDesk:
    """Where the page keeps jobs and finds them. place: a file or URL; None: the user's own records."""

    def __init__(self, place: str | None = None) -> None:
        self.place = place
        self._keeper = ThreadPoolExecutor(1, thread_name_prefix="records")

    def keep(self, job: Job, file: Path, tag: str | None, told: Callable[[str], None]) -> None:
        """Keep a job that was written to `file`, in a thread of its own; `told` is given the line about it there."""
        self._keeper.submit(lambda: told(self._kept(job, file, tag)))

    def watch(self, fixture_id: str, *, virtual: bool, told: Callable[[DriftWatch], None]) -> None:
        """Look at a fixture's check standard, in the same thread; `told` is given what it says there."""
        self._keeper.submit(lambda: told(self.drift_of(fixture_id, virtual=virtual)))

    def close(self) -> None:
        """Wait until what was handed in is kept, or was said not to be."""
        self._keeper.shutdown(wait=True)

    def newest(self, unit: str, verdict: str) -> list[RunRow]:
        """Return the newest runs; unit: text found anywhere in its name, verdict: a word; "" for any.

        Raises: InputError, FixtureError.
        """
        from rodtrue.records import RunFilter

        with self._open() as records:
            return records.runs(RunFilter(unit=unit or None, verdict=verdict or None, limit=SHOWN_AT_MOST))

    def job(self, number: int) -> Job:
        """Return a kept job. Raises: InputError where there is none, FixtureError."""
        with self._open() as records:
            return records.job(number)

    def drift_of(self, fixture_id: str, *, virtual: bool) -> DriftWatch:
        """Return what the check standard's kept runs say of a fixture; trouble with the records is said so."""
        try:
            with self._open() as records:
                return judge_drift(_check_standards(records, fixture_id, virtual=virtual))
        except Exception as error:  # whatever the records have, the run goes on
            return DriftWatch(False, f"Drift watch: the records could not be read ({_short(error)}).")

    def _open(self) -> Records:
        from rodtrue.records import open_records

        return open_records(self.place)

    def _kept(self, job: Job, file: Path, tag: str | None) -> str:
        from rodtrue.records.keeping import keep

        try:
            return keep(job, file, self.place, tag)
        except Exception as error:  # the job is in its file; whatever the records have must not end the page
            return f"Not kept: {error}\nThe job is in {file}; later: rodtrue records add {file}"


def judge_drift(results: list[Result]) -> DriftWatch:
    """Judge the check standard's results, oldest first, by slope and baseline.

    Limits come from the first twenty, or all but the newest where there are fewer.
    """
    if not results:
        return DriftWatch(False, "")
    if len(results) < LEAST_WATCHED:
        count = f"{len(results)} of {LEAST_WATCHED}"
        return DriftWatch(False, f"Drift watch: {count} runs of the check standard with this calibration so far.")
    states = {name: _state_of(name, results) for name in WATCHED}
    alarms = [f"{name}: {', '.join(state.reasons)}" for name, state in states.items() if state.word == "alarm"]
    if alarms:
        return DriftWatch(True, f"The fixture may have drifted: {'; '.join(alarms)}. {_ADVICE}")
    unknown = [f"{name}: {', '.join(state.reasons)}" for name, state in states.items() if state.word == "unknown"]
    if unknown:
        return DriftWatch(False, f"Drift watch: not all can be said; {'; '.join(unknown)}.")
    return DriftWatch(False, f"Drift watch: the check standard's last run fits the {len(results) - 1} before it.")


def _state_of(name: str, results: list[Result]) -> DriftState:
    found = [c.value for result in results for c in result.characteristics if c.name == name and c.value is not None]
    return drift_state(np.array(found, dtype=np.float64), min(LIMITS_FROM_AT_MOST, max(len(found) - 1, 0)))


def _check_standards(records: Records, fixture_id: str, *, virtual: bool) -> list[Result]:
    """Return its as-found results, oldest first, back to the last change of the fixture's calibration."""
    from rodtrue.records import RunFilter

    wanted = RunFilter(
        fixture=fixture_id, tag=CHECK_STANDARD, role="as_found", virtual=virtual, limit=LOOKED_BACK
    )
    results: list[Result] = []
    for row in records.runs(wanted):
        result = records.job(row.job).as_found
        if results and result.fixture.calibration != results[0].fixture.calibration:
            break
        results.append(result)
    return results[::-1]


def _short(error: Exception) -> str:
    return error.message if isinstance(error, RodtrueError) else str(error)

