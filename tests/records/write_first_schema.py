"""Writes tests/data/records/first_schema.sql: a database as the first schema kept it. Run once, then only kept."""

from __future__ import annotations

import sqlite3
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from alembic import command
from alembic.config import Config
from sqlalchemy import create_engine, insert

from records.made_up_jobs import job
from rodtrue.records.rows import caution_rows, characteristic_rows, document_of, finding_rows, run_row, runs_of
from rodtrue.records.tables import cautions, characteristics, findings, jobs, runs


def write(path: Path) -> None:
    """Write the database as SQL text, two jobs in it."""
    with TemporaryDirectory() as folder:
        file = Path(folder) / "first.sqlite"
        engine = create_engine(f"sqlite:///{file}")
        with engine.begin() as connection:
            config = Config()
            config.set_main_option("script_location", "rodtrue:records/migrations")
            config.attributes["connection"] = connection
            command.upgrade(config, "0001")
            for number in (1, 2):
                _save_as_then(connection, number)
        engine.dispose()
        plain = sqlite3.connect(file)
        path.write_text("\n".join(plain.iterdump()) + "\n")
        plain.close()


def _save_as_then(connection, number):
    kept = job(number)
    document, digest = document_of(kept)
    row = {"digest": digest, "saved_at": "2026-10-15T10:00:00+00:00", "customer": kept.customer, "document": document}
    connection.execute(insert(jobs).values(id=number, reference=kept.reference, **row))
    for place, (role, result) in enumerate(runs_of(kept)):
        run_id = 10 * number + place
        connection.execute(insert(runs).values(id=run_id, job_id=number, **run_row(role, result)))
        for table, rows in (
            (characteristics, characteristic_rows(run_id, result)),
            (findings, finding_rows(run_id, result)),
            (cautions, caution_rows(run_id, result)),
        ):
            connection.execute(insert(table), rows)


if __name__ == "__main__":
    write(Path(sys.argv[1]))
