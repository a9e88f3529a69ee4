"""Kept runs as the lab's values, and what is said of the runs they come from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from rodtrue.model.errors import InputError

if TYPE_CHECKING:
    from rodtrue.lab.kept_study import KeptValue
    from rodtrue.lab.plan import PlannedReading
    from rodtrue.lab.study import Study
    from rodtrue.model.result import Characteristic
    from rodtrue.records import RunFilter, RunRow, Value
    from rodtrue.report.lab_batch import BatchBody

_SEE = "See `rodtrue records list`. Virtual runs are left out: --virtual takes them alone."
_STATES = {"as_found": "as found", "as_left": "as left", "last": "as left, each job's last run"}
_MEASURED = {"curb_idle": "with rods", "lever_stop": "of valve bodies alone"}


@dataclass(frozen=True)
class KeptRuns:
    """What the runs behind a statistic are. units_again: those measured by several of them."""

    runs: int
    state: str
    virtual: bool
    references: dict[str, int]
    profiles: list[str]
    fixtures: list[str]
    first_taken_at: str | None
    last_taken_at: str | None
    units_again: list[str]
    left_out: str | None

    @staticmethod
    def of(found: Sequence[Value | RunRow], wanted: RunFilter) -> KeptRuns:
        """Return what values say of their runs, each run once."""
        runs = {value.run: value for value in found}.values()
        times = sorted(value.taken_at for value in runs if value.taken_at)
        units = Counter(value.unit for value in runs if value.unit)
        return KeptRuns(
            len(runs),
            wanted.role or "as_found",
            wanted.virtual is True,
            dict(Counter(value.reference for value in runs)),
            sorted({value.profile for value in runs}),
            sorted({value.fixture_id for value in runs if value.fixture_id}),
            times[0] if times else None,
            times[-1] if times else None,
            [unit for unit, count in units.items() if count > 1],
            wanted.not_tag,
        )

    @property
    def about(self) -> list[tuple[str, str]]:
        """What a report says of them."""
        from rodtrue.report.shown import moment, own_words

        apart = "virtual ones alone" if self.virtual else "without virtual ones"
        apart += f"{', without' if self.virtual else ' and'} those of the {self.left_out}" if self.left_out else ""
        several = " (several together; --fixture takes one)" if len(self.fixtures) > 1 else ""
        measured = (f"{count} {_MEASURED.get(name, name)}" for name, count in self.references.items())
        rows = [
            ("Runs", f"{self.runs}, {_STATES[self.state]}; {apart}"),
            ("Measured", ", ".join(measured)),
            ("Profile", own_words(", ".join(self.profiles))),
            ("Fixture", own_words(", ".join(self.fixtures)) + several),
        ]
        if self.first_taken_at is not None:
            rows.append(("Taken", f"{moment(self.first_taken_at)} to {moment(self.last_taken_at)}"))
        return rows

    @property
    def remarks(self) -> list[str]:
        """What to mind where each run is to stand for another body."""
        from rodtrue.report.shown import own_words

        if not self.units_again:
            return []
        named = own_words(", ".join(self.units_again), 120)
        return [f"Measured more than once, each run counted as another body: {named}. --tag and --since narrow down."]


def unit_of(characteristic: str) -> str:
    """Return the unit of what a run measures. Raises: InputError for what none does."""
    from rodtrue.records.export import CHARACTERISTICS
    from rodtrue.records.store import ROD_ERROR

    units = {ROD_ERROR: "mm", **CHARACTERISTICS}
    if characteristic not in units:
        raise InputError(f"--characteristic {characteristic}: unknown", "Known: " + ", ".join(units) + ".")
    return units[characteristic]


def of_bodies(wanted: RunFilter) -> RunFilter:
    """Return the filter without the check standard's runs, one body again and again, unless they are asked for."""
    from rodtrue.records.check_standard import CHECK_STANDARD

    return wanted if wanted.tag else replace(wanted, not_tag=CHECK_STANDARD)


def kept_values(characteristic: str, wanted: RunFilter, place: str | None) -> list[Value]:
    """Return the values of one run a job, oldest first: as found, unless the filter's role says another.

    Raises: InputError for none, or for values that are not one quantity.
    """
    found, where = _read(characteristic, wanted, place)
    if not found:
        raise InputError(f"{where}: no kept run that matches has a {characteristic}", _SEE)
    _refuse_two_quantities(characteristic, found)
    return found


def kept_for_study(
    characteristic: str,
    wanted: RunFilter,
    place: str | None,
    without: Collection[int],
    plan: Sequence[PlannedReading] | None,
    *,
    may_be_none: bool = False,
) -> list[Value]:
    """Return the values of a study, oldest first: of a plan's parts and operators where there is one.

    Jobs in `without` and runs that name no unit or operator are left out. Raises: InputError as `kept_values`.
    """
    found, where = _read(characteristic, wanted, place)
    cells = None if plan is None else {(reading.part, reading.operator) for reading in plan}
    values = [
        value
        for value in found
        if value.unit
        and value.operator
        and value.job not in without
        and (cells is None or (value.unit, value.operator) in cells)
    ]
    if not values and not may_be_none:
        raise InputError(f"{where}: no kept run that matches has a {characteristic}", _SEE)
    _refuse_two_quantities(characteristic, values)
    return values


def _read(characteristic: str, wanted: RunFilter, place: str | None) -> tuple[list[Value], str]:
    from rodtrue.records import open_records

    unit_of(characteristic)
    with open_records(place) as records:
        return records.values(characteristic, _one_a_job(wanted)), records.where


def _one_a_job(wanted: RunFilter) -> RunFilter:
    """As-found and as-left are one unit, and would pass for two."""
    return replace(wanted, newest_first=False, role=wanted.role or "as_found")


def _refuse_two_quantities(characteristic: str, found: Sequence[Value | RunRow]) -> None:
    """Raises: InputError where travel counts at the pin in some runs, and at the lever in others."""
    counts = Counter(value.reference for value in found)
    if len(counts) > 1 and "mm" in unit_of(characteristic):
        measured = " and ".join(f"{count} {_MEASURED.get(name, name)}" for name, count in counts.items())
        raise InputError(
            f"{characteristic}: the runs are {measured}; travel at the throttle's pin and at the lever are not one "
            "quantity",
            "Say which: --reference lever_stop, or --reference curb_idle.",
        )


def study_values(found: Sequence[Value]) -> list[KeptValue]:
    """Return kept runs as values of a study, the unit being the part."""
    from rodtrue.lab.kept_study import KeptValue

    return [KeptValue(value.unit or "", value.operator or "", value.value, value.job) for value in found]


def kept_study(found: Sequence[Value], plan: list[PlannedReading] | None, where: str) -> Study:
    """Return kept runs as a study; with a plan, of what it has and as often.

    Raises: InputError where readings are missing or too many, or as `arrange`.
    """
    from rodtrue.lab.kept_study import next_reading, numbered, refuse_too_many
    from rodtrue.lab.study import arrange

    values = study_values(found)
    if plan is not None:
        refuse_too_many(values, plan, where)
        missing = next_reading(values, plan)
        if missing is not None:
            raise InputError(
                f"{where}: {len(values)} of {len(plan)} readings are kept; next is operator {missing.operator} with "
                f"part {missing.part}, trial {missing.trial}",
                "Take what is missing (`rodtrue lab next` says what), or plan a smaller study.",
            )
    return arrange(numbered(values), where)


@dataclass(frozen=True)
class Batch:
    """Kept runs of one batch, oldest first, what was measured in each, and which characteristics can be judged."""

    kept: KeptRuns
    bodies: list[BatchBody]
    measured: list[BodyValues]


@dataclass(frozen=True)
class BodyValues:
    """One characteristic of a batch with its limits; values of shape (n,), in the bodies' order."""

    name: str
    unit: str
    values: Any
    lower: float | None
    upper: float | None


def batch_of(wanted: RunFilter, place: str | None) -> Batch:
    """Return every body of a batch, and each characteristic that has limits.

    Raises: InputError where no run matches, where runs were judged against different limits, or where they are of
    bodies alone and of units with rods.
    """
    import numpy as np

    from rodtrue.records import open_records
    from rodtrue.records.export import CHARACTERISTICS

    wanted = _one_a_job(wanted)
    wanted = replace(wanted, virtual=wanted.virtual or False)
    with open_records(place) as records:
        rows, by_run, where = records.runs(wanted), records.characteristics(wanted), records.where
    if not rows:
        raise InputError(f"{where}: no kept run matches", _SEE)
    bodies, measured = [_body(row, by_run.get(row.run, [])) for row in rows], []
    for name, unit in CHARACTERISTICS.items():
        found = [
            (row, each)
            for row in rows
            for each in by_run.get(row.run, [])
            if each.name == name and each.value is not None
        ]
        _refuse_two_quantities(name, [row for row, _ in found])
        limits = {each.limits for _, each in found} - {(None, None)}
        if len(limits) > 1:
            raise InputError(
                f"{name}: the runs were judged against {len(limits)} different limits",
                "Narrow them down with --profile, --since or --tag.",
            )
        if limits:
            ((lower, upper),) = limits
            values = np.array([each.value for _, each in found])
            measured.append(BodyValues(name.replace("_", " "), unit, values, lower, upper))
    return Batch(KeptRuns.of(rows, wanted), bodies, measured)


def _body(row: RunRow, measured: list[Characteristic]) -> BatchBody:
    from rodtrue.records.export import CHARACTERISTICS
    from rodtrue.report.lab_batch import BatchBody

    order = list(CHARACTERISTICS)
    return BatchBody(
        row.job,
        row.valve_body_serial,
        row.unit,
        row.operator,
        row.taken_at,
        row.verdict,
        row.body_verdict,
        sorted(measured, key=lambda each: order.index(each.name) if each.name in order else len(order)),
    )
