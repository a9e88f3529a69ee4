"""Values for the lab's statistics: from a CSV, or from the runs that were kept."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rodtrue.lab.quantity import Shown
from rodtrue.model.errors import InputError

if TYPE_CHECKING:
    from rodtrue.cli.lab_kept import KeptRuns
    from rodtrue.cli.lab_options import Source
    from rodtrue.lab.plan import PlannedReading
    from rodtrue.lab.study import Study
    from rodtrue.records import RunFilter

GIVE_ONE = "Give a FILE.csv, or --characteristic with what to choose kept runs by."


@dataclass(frozen=True)
class LabValues:
    """Values in the order they were taken. subgroups, unit, kept: None where there are none, or nobody said."""

    values: Any
    subgroups: Any
    named: str
    source: str
    unit: str | None
    kept: KeptRuns | None = None

    @property
    def about(self) -> list[tuple[str, str]]:
        """What a report says of them."""
        return [
            ("Values", self.source),
            *Shown(self.unit).unit_row,
            *([] if self.kept is None else self.kept.about),
        ]

    def document(self, found: Any) -> dict[str, Any]:
        """Return what was found as programs read it, with what it was found from."""
        import msgspec

        return {**msgspec.to_builtins(found), "unit": self.unit, "kept_runs": self.kept}


def read_values(source: Source, wanted: RunFilter) -> LabValues:
    """Return values of a file, in a unit that only the user knows, or of kept runs.

    Raises: InputError where neither or both sources are named, or there are no values.
    """
    import numpy as np

    if (source.file is None) == (source.characteristic is None):
        raise InputError("values come from a file or from kept runs, and one is needed", GIVE_ONE)
    if source.file is not None:
        from rodtrue.capture.csv_file import heading, read_table

        grouped = ["subgroup"] if "subgroup" in heading(source.file) else []
        (values,), labels, _ = read_table(source.file, ["value"], grouped)
        subgroups = np.array(labels[0]) if grouped else None
        return LabValues(values, subgroups, "value", str(source.file), source.values_in)
    from rodtrue.cli.lab_kept import KeptRuns, kept_values, unit_of

    assert source.characteristic is not None
    found = kept_values(source.characteristic, wanted, source.place)
    named = source.characteristic.replace("_", " ")
    return LabValues(
        np.array([value.value for value in found]),
        None,
        named,
        f"{named} of {len(found)} kept runs",
        unit_of(source.characteristic),
        KeptRuns.of(found, wanted),
    )


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

    _, (filled,), _ = read_table(file, [], ["value"])
    if not any(text.strip() for text in filled):
        raise InputError(
            f"{file}: nothing stands in its column value",
            "Fill it in, or take the values out of the kept runs: --characteristic NAME --tag TAG.",
        )
    operator = "appraiser" if "operator" not in heading(file) and "appraiser" in heading(file) else "operator"
    (values,), (parts, operators, trials), lines = read_table(file, ["value"], ["part", operator, "trial"])
    rows = zip(parts, operators, trials, values.tolist(), lines, strict=True)
    return arrange([Reading(*row) for row in rows], str(file))
