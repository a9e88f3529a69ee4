"""Runs with their characteristics as one flat table, written as CSV or Parquet."""

from __future__ import annotations

import csv
import io
from dataclasses import asdict
from pathlib import Path
from typing import Any

from rodtrue.model.errors import InputError
from rodtrue.records.filters import RunFilter
from rodtrue.records.parquet import write_parquet
from rodtrue.records.store import Records
from rodtrue.whole_file import write_new_whole

CHARACTERISTICS = {
    "lever_free_travel": "mm",
    "baseline": "kPa",
    "full_pressure": "kPa",
    "ripple": "kPa",
    "return_error": "kPa",
    "slope": "kPa/mm",
    "friction": "mm",
}
"""Name and unit, in the order in which results have them."""

_BEGINS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""As OWASP lists them under CSV injection (from memory), the full-width forms too."""


def export_runs(records: Records, wanted: RunFilter, path: Path) -> int:
    """Write the runs that the filter asks for; `.csv` or `.parquet` decides the form. Returns how many.

    Raises: InputError where the form is unknown, the file is there already, or it cannot be written.
    """
    if path.suffix not in (".csv", ".parquet"):
        raise InputError(f"{path}: neither .csv nor .parquet", "Name a file that ends in one of them.")
    if path.exists():
        raise InputError(f"{path}: is there already", "Name another file; nothing is overwritten.")
    rows = _rows(records, wanted)
    try:
        if path.suffix == ".csv":
            _write_csv(path, rows)
        else:
            write_parquet(path, {name: [row[name] for row in rows] for name in rows[0]} if rows else {})
    except FileExistsError as error:
        raise InputError(f"{path}: is there already", "Name another file; nothing is overwritten.") from error
    except OSError as error:
        raise InputError(f"{path}: cannot be written ({error.strerror or error})", "Name another file.") from error
    return len(rows)


def _rows(records: Records, wanted: RunFilter) -> list[dict[str, Any]]:
    rows = [asdict(row) for row in records.runs(wanted)]
    by_run = {row["run"]: row for row in rows}
    for name, unit in CHARACTERISTICS.items():
        column, uncertainty = column_name(name, unit), column_name(f"{name}_expanded_uncertainty", unit)
        for row in rows:
            row[column] = row[uncertainty] = None
        for value in records.values(name, wanted, virtual_too=True):
            if value.run in by_run:
                by_run[value.run] |= {column: value.value, uncertainty: value.expanded_uncertainty}
    return rows


def column_name(name: str, unit: str) -> str:
    """Return the column of a characteristic: its name with its unit."""
    return f"{name}_{unit.lower().replace('/', '_per_')}"


def defused(cell: Any) -> Any:
    """Return a cell that no spreadsheet takes for a formula: text that begins like one gets a leading apostrophe."""
    if not isinstance(cell, str):
        return cell
    begins = cell.startswith(_BEGINS_A_FORMULA) or cell.lstrip().startswith(_BEGINS_A_FORMULA)
    return f"'{cell}" if begins else cell


def _write_csv(path: Path, rows: list[dict[str, Any]]) -> None:
    names = list(rows[0]) if rows else []
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, names)
    writer.writeheader()
    writer.writerows({name: defused(cell) for name, cell in row.items()} for row in rows)
    write_new_whole(path, text.getvalue().encode())
