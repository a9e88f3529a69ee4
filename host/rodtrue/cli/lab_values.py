"""Values for the lab: from a CSV, or from the runs that were kept."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rodtrue.model.errors import InputError

if TYPE_CHECKING:
    from rodtrue.lab.kept_study import KeptValue
    from rodtrue.lab.plan import PlannedReading
    from rodtrue.lab.study import Study
    from rodtrue.records import RunFilter, Value

_GIVE_ONE = "Give a FILE.csv, or --characteristic with what to choose kept runs by."
_SEE = "See `rodtrue records list`. Virtual runs are left out: --virtual takes them alone."


@dataclass(frozen=True)
class LabValues:
    """Values in the order they were taken. subgroups, unit: None where not said. source: where they come from."""

    values: Any
    subgroups: Any
    source: str
    unit: str | None

    @property
    def about(self) -> list[tuple[str, str]]:
        """What a report says of them."""
        return [("Values", self.source), ("Unit", self.unit or "not said")]


def read_values(
    file: Path | None, characteristic: str | None, wanted: RunFilter, place: str | None, unit: str | None = None
) -> LabValues:
    """Return values of a file, in a unit that only the user knows, or of kept runs.

    Raises: InputError where neither or both sources are named, or there are no values.
    """
    import numpy as np

    if (file is None) == (characteristic is None):
        raise InputError("values come from a file or from kept runs, and one is needed", _GIVE_ONE)
    if file is not None:
        from rodtrue.capture.csv_file import heading, read_table

        if "subgroup" not in heading(file):
            (values,), _, _ = read_table(file, ["value"], [])
            return LabValues(values, None, str(file), unit)
        (values,), (subgroups,), _ = read_table(file, ["value"], ["subgroup"])
        return LabValues(values, np.array(subgroups), str(file), unit)
    assert characteristic is not None
    found = kept_values(characteristic, wanted, place)
    values = np.array([value.value for value in found])
    return LabValues(values, None, f"{characteristic} of {len(found)} kept runs", unit_of(characteristic))


def unit_of(characteristic: str) -> str:
    """Return the unit of what a run measures. Raises: InputError for what none does."""
    from rodtrue.records.export import CHARACTERISTICS
    from rodtrue.records.store import ROD_ERROR

    units = {ROD_ERROR: "mm", **CHARACTERISTICS}
    if characteristic not in units:
        raise InputError(f"--characteristic {characteristic}: unknown", "Known: " + ", ".join(units) + ".")
    return units[characteristic]


def kept_values(
    characteristic: str, wanted: RunFilter, place: str | None, *, may_be_none: bool = False
) -> list[Value]:
    """Return the as-found runs' values, oldest first. Raises: InputError for none, unless there may be none."""
    from rodtrue.records import open_records

    unit_of(characteristic)
    with open_records(place) as records:
        found = records.values(characteristic, _one_a_unit(wanted))
    if not found and not may_be_none:
        raise InputError(f"{records.where}: no kept run that matches has a {characteristic}", _SEE)
    return found


def kept_study_values(
    characteristic: str,
    wanted: RunFilter,
    place: str | None,
    without: Collection[int],
    *,
    may_be_none: bool = False,
) -> list[KeptValue]:
    """Return kept runs as values of a study, the unit being the part; jobs in `without` and nameless ones left out.

    Raises: InputError where there are none, unless there may be.
    """
    from rodtrue.lab.kept_study import KeptValue

    return [
        KeptValue(value.unit, value.operator, value.value, value.job)
        for value in kept_values(characteristic, wanted, place, may_be_none=may_be_none)
        if value.unit and value.operator and value.job not in without
    ]


def read_plan(file: Path) -> list[PlannedReading]:
    """Return a plan written by `lab plan`, in its order. Raises: InputError."""
    from rodtrue.capture.csv_file import read_table
    from rodtrue.lab.plan import PlannedReading

    (orders, trials), (parts, operators), _ = read_table(file, ["order", "trial"], ["part", "operator"])
    rows = zip(orders.tolist(), operators, parts, trials.tolist(), strict=True)
    planned = [PlannedReading(int(order), operator, part, int(trial)) for order, operator, part, trial in rows]
    return sorted(planned, key=lambda reading: reading.order)


def read_study(file: Path) -> Study:
    """Return a study whose values stand in its file. Raises: InputError."""
    from rodtrue.capture.csv_file import heading, read_table
    from rodtrue.lab.study import Reading, arrange

    operator = "appraiser" if "operator" not in heading(file) and "appraiser" in heading(file) else "operator"
    (values,), (parts, operators, trials), lines = read_table(file, ["value"], ["part", operator, "trial"])
    rows = zip(parts, operators, trials, values.tolist(), lines, strict=True)
    return arrange([Reading(*row) for row in rows], str(file))


def kept_study(values: list[KeptValue], plan: list[PlannedReading] | None, where: str) -> Study:
    """Return kept runs as a study; with a plan, of what it has and as often.

    Raises: InputError where readings are missing or too many, or as `arrange`.
    """
    from rodtrue.lab.kept_study import next_reading, numbered, of_plan, refuse_too_many
    from rodtrue.lab.study import arrange

    if plan is not None:
        refuse_too_many(values, plan, where)
        values = of_plan(values, plan)
        missing = next_reading(values, plan)
        if missing is not None:
            raise InputError(
                f"{where}: {len(values)} of {len(plan)} readings are kept; next is operator {missing.operator} with "
                f"part {missing.part}, trial {missing.trial}",
                "Take what is missing (`rodtrue lab next` says what), or plan a smaller study.",
            )
    return arrange(numbered(values), where)


def batch_values(
    wanted: RunFilter, place: str | None
) -> tuple[list[tuple[str, str]], list[tuple[str, Any, Any, Any]]]:
    """Return what the batch is, and name with unit, values, lower and upper limit of each characteristic with limits.

    Raises: InputError where no run matches, or where runs were judged against different limits.
    """
    import numpy as np

    from rodtrue.records import open_records
    from rodtrue.records.export import CHARACTERISTICS

    measured, times, bodies = [], set(), set()
    with open_records(place) as records:
        for name, unit in CHARACTERISTICS.items():
            found = records.values(name, _one_a_unit(wanted))
            limits = {(value.lower_limit, value.upper_limit) for value in found} - {(None, None)}
            if len(limits) > 1:
                raise InputError(
                    f"{name}: the runs were judged against {len(limits)} different limits",
                    "Narrow them down with --profile, --since or --tag.",
                )
            times |= {value.taken_at for value in found if value.taken_at}
            bodies |= {value.run for value in found}
            if limits:
                ((lower, upper),) = limits
                values = np.array([value.value for value in found])
                measured.append((f"{name.replace('_', ' ')}, {unit}", values, lower, upper))
        where = records.where
    if not measured:
        raise InputError(f"{where}: no kept run that matches has limits", _SEE)
    about = [("Runs", f"{len(bodies)}, virtual ones {'alone' if wanted.virtual else 'left out'}")]
    about += [("Taken", f"{min(times)} to {max(times)}")] if times else []
    return about, measured


def _one_a_unit(wanted: RunFilter) -> RunFilter:
    """The as-found runs alone, oldest first: as-left is the same body again, and would pass for another."""
    return replace(wanted, newest_first=False, role="as_found")
