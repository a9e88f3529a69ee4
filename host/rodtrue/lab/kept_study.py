"""A planned study whose values come from kept runs: which run is which reading, and which one is next."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from rodtrue.lab.plan import PlannedReading
from rodtrue.lab.study import Reading
from rodtrue.model.errors import InputError


@dataclass(frozen=True)
class KeptValue:
    """What one kept run says: the unit measured is the part. job: where to find it again."""

    part: str
    operator: str
    value: float
    job: int


def numbered(values: Sequence[KeptValue]) -> list[Reading]:
    """Return values, oldest first, as readings: the trials of a part by an operator are counted as they come."""
    seen: Counter[tuple[str, str]] = Counter()
    readings = []
    for value in values:
        cell = (value.part, value.operator)
        seen[cell] += 1
        readings.append(Reading(*cell, str(seen[cell]), value.value))
    return readings


def next_reading(values: Sequence[KeptValue], plan: Sequence[PlannedReading]) -> PlannedReading | None:
    """Return the first reading of the plan that no value stands for yet; None where all are taken."""
    taken = Counter((value.part, value.operator) for value in values)
    for reading in plan:
        if not taken[reading.part, reading.operator]:
            return reading
        taken[reading.part, reading.operator] -= 1
    return None


@dataclass(frozen=True)
class OutOfOrder:
    """A reading that was taken when another was due, and the job it is in."""

    taken: PlannedReading
    due: PlannedReading
    job: int


def out_of_order(values: Sequence[KeptValue], plan: Sequence[PlannedReading]) -> list[OutOfOrder]:
    """Return the values, oldest first, that were neither due nor the next after the one before.

    So one reading left out is one jump, and not every reading after it. Values the plan does not have are not told.
    """
    left, last, found = list(plan), 0, []
    for value in values:
        cell = (value.part, value.operator)
        taken = next((reading for reading in left if (reading.part, reading.operator) == cell), None)
        if taken is None:
            continue
        following = next((reading for reading in left if reading.order > last), None)
        if taken not in (left[0], following):
            found.append(OutOfOrder(taken, left[0], value.job))
        left.remove(taken)
        last = taken.order
    return found


def refuse_too_many(values: Sequence[KeptValue], plan: Collection[PlannedReading], where: str) -> None:
    """Raises: InputError, naming the jobs, where a part has more values by an operator than the plan has trials."""
    planned = Counter((reading.part, reading.operator) for reading in plan)
    for cell, trials in planned.items():
        jobs = [value.job for value in values if (value.part, value.operator) == cell]
        if len(jobs) > trials:
            part, operator = cell
            raise InputError(
                f"{where}: part {part}, operator {operator} was measured {len(jobs)} times, {trials} are planned "
                f"(jobs {', '.join(map(str, jobs))})",
                "Say with --without JOB which are not to count, and why in your notes.",
            )
