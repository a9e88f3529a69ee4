"""Drift watch: what a fixture's kept runs of the check standard say of it, in words.

The records may be locked, full or out of reach; that is said in a line and never stops a run.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rodtrue.lab.drift import LEAST_WATCHED, DriftState, drift_state
from rodtrue.model.errors import RodtrueError
from rodtrue.model.result import Result
from rodtrue.records.filters import RunFilter

if TYPE_CHECKING:
    from rodtrue.records.store import Records

CHECK_STANDARD = "check standard"
LOOKED_BACK = 60
LIMITS_FROM_AT_MOST = 20
WATCHED = ("slope", "baseline")
_ADVICE = "Measure the check standard again, or calibrate, before a customer's unit."


@dataclass(frozen=True)
class DriftWatch:
    """What the check standard says of a fixture, in words. alarm: to be said before a customer's run."""

    alarm: bool
    text: str


def drift_of(place: str | None, fixture_id: str, *, virtual: bool) -> DriftWatch:
    """Return what the kept runs of a fixture's check standard say; trouble with the records is said so.

    place: a file or URL; None: the user's own records. virtual: hold a virtual fixture against virtual runs.
    """
    from rodtrue.records.store import open_records

    try:
        with open_records(place) as records:
            return judge_drift(_check_standards(records, fixture_id, virtual=virtual))
    except Exception as error:  # whatever the records have, the run goes on
        return _unread(error)


def drifted_fixtures(place: str | None) -> DriftWatch:
    """Return an alarm naming every real fixture that may have drifted, to be said before one is chosen."""
    from rodtrue.records.store import open_records

    try:
        with open_records(place) as records:
            numbers = records.fixtures(RunFilter(tag=CHECK_STANDARD, role="as_found", virtual=False))
            watched = [
                judge_drift(_check_standards(records, number, virtual=False), f"Fixture {number}")
                for number in numbers
            ]
    except Exception as error:
        return _unread(error)
    alarms = [watch.text for watch in watched if watch.alarm]
    return DriftWatch(bool(alarms), " ".join(alarms))


def judge_drift(results: list[Result], fixture: str = "The fixture") -> DriftWatch:
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
        return DriftWatch(True, f"{fixture} may have drifted: {'; '.join(alarms)}. {_ADVICE}")
    unknown = [f"{name}: {', '.join(state.reasons)}" for name, state in states.items() if state.word == "unknown"]
    if unknown:
        return DriftWatch(False, f"Drift watch: not all can be said; {'; '.join(unknown)}.")
    return DriftWatch(False, f"Drift watch: the check standard's last run fits the {len(results) - 1} before it.")


def _state_of(name: str, results: list[Result]) -> DriftState:
    """Judge the values there are, so that an alarm stands until a run takes it back; one without a value does not."""
    found = [value for result in results if (value := _value(name, result)) is not None]
    state = drift_state(np.array(found, dtype=np.float64), min(LIMITS_FROM_AT_MOST, max(len(found) - 1, 0)))
    if state.word == "ok" and _value(name, results[-1]) is None:
        return DriftState("unknown", ("the last run gave none",))
    return state


def _value(name: str, result: Result) -> float | None:
    return next((each.value for each in result.characteristics if each.name == name), None)


def _check_standards(records: Records, fixture_id: str, *, virtual: bool) -> list[Result]:
    """Return its as-found results, oldest first, back to the last change of the fixture's calibration.

    Those measured as the newest was, with rods or as a body alone: a slope counts at the pin or at the lever.
    """
    wanted = RunFilter(
        fixture=fixture_id, tag=CHECK_STANDARD, role="as_found", virtual=virtual, limit=LOOKED_BACK
    )
    results: list[Result] = []
    for row in records.runs(wanted):
        result = records.job(row.job).as_found
        if results and result.fixture.calibration != results[0].fixture.calibration:
            break
        if results and result.reference != results[0].reference:
            continue
        results.append(result)
    return results[::-1]


def _unread(error: Exception) -> DriftWatch:
    why = error.message if isinstance(error, RodtrueError) else str(error)
    return DriftWatch(False, f"Drift watch: the records could not be read ({why}).")
