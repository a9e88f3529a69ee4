"""Values for the lab: from a CSV, or from the runs that were kept."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from rodtrue.model.errors import InputError

if TYPE_CHECKING:
    from rodtrue.records import RunFilter

_GIVE_ONE = "Give a FILE.csv, or --characteristic with what to choose kept runs by."
_SEE = "See `rodtrue records list`. Virtual runs are left out: --virtual takes them alone."


def read_values(file: Path | None, characteristic: str | None, wanted: RunFilter, place: str | None) -> Any:
    """Return values in the order they were taken, their subgroups (None without), and where they come from.

    Raises: InputError where neither or both sources are named, or there are no values.
    """
    import numpy as np

    if (file is None) == (characteristic is None):
        raise InputError(
            "values come from a file or from kept runs, and one is needed", _GIVE_ONE
        )
    if file is not None:
        from rodtrue.capture.csv_file import heading, read_table

        if "subgroup" not in heading(file):
            (values,), _, _ = read_table(file, ["value"], [])
            return values, None, str(file)
        (values,), (subgroups,), _ = read_table(file, ["value"], ["subgroup"])
        return values, np.array(subgroups), str(file)
    from rodtrue.records import open_records
    from rodtrue.records.export import CHARACTERISTICS

    if characteristic not in CHARACTERISTICS:
        raise InputError(f"--characteristic {characteristic}: unknown", "Known: " + ", ".join(CHARACTERISTICS) + ".")
    with open_records(place) as records:
        found = records.values(characteristic, _one_a_unit(wanted))
        where = records.where
    if not found:
        raise InputError(f"{where}: no kept run that matches has a {characteristic}", _SEE)
    return np.array([value.value for value in found]), None, f"{characteristic} of {len(found)} kept runs"


def batch_values(
    wanted: RunFilter, place: str | None
) -> tuple[list[tuple[str, str]], list[tuple[str, Any, Any, Any]]]:
    """Return what the batch is, and name with unit, values, lower and upper limit of each characteristic with limits.

    Raises: InputError where no run matches, or where runs were judged against different limits.
    """
    import numpy as np

    from rodtrue.records import open_records
    from rodtrue.records.export import CHARACTERISTICS

    measured = []
    with open_records(place) as records:
        for name, unit in CHARACTERISTICS.items():
            found = records.values(name, _one_a_unit(wanted))
            limits = {(value.lower_limit, value.upper_limit) for value in found} - {(None, None)}
            if len(limits) > 1:
                raise InputError(
                    f"{name}: the runs were judged against {len(limits)} different limits",
                    "Narrow them down with --profile, --since or --tag.",
                )
            if limits:
                ((lower, upper),) = limits
                measured.append(
                    (f"{name.replace('_', ' ')}, {unit}", np.array([v.value for v in found]), lower, upper)
                )
        where = records.where
    if not measured:
        raise InputError(f"{where}: no kept run that matches has limits", _SEE)
    times = [value.taken_at for value in found if value.taken_at] or ["-"]
    about = [("Runs", f"{len(measured[0][1])}, virtual ones {'alone' if wanted.virtual else 'left out'}")]
    about += [("Taken", f"{min(times)} to {max(times)}")] if times != ["-"] else []
    return about, measured


def _one_a_unit(wanted: RunFilter) -> RunFilter:
    """The as-found runs alone, oldest first: as-left is the same body again, and would pass for another."""
    from dataclasses import replace

    return replace(wanted, newest_first=False, role="as_found")
