"""A database of the first schema becomes today's; one of a later schema is left alone."""

import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from sqlalchemy import create_engine, inspect

from records.made_up_jobs import job
from rodtrue.model.errors import InputError
from rodtrue.records import RunFilter, open_records
from rodtrue.records.tables import metadata

FIRST = Path(__file__).parents[1] / "data" / "records" / "first_schema.sql"


@pytest.fixture
def first(tmp_path):
    file = tmp_path / "first.sqlite"
    database = sqlite3.connect(file)
    database.executescript(FIRST.read_text())
    database.close()
    return file


def test_jobs_of_the_first_schema_are_all_there_afterwards(first):
    with open_records(str(first)) as records:
        assert records.count() == 4
        assert records.job(1).as_found.unit == "invented unit 1"
        assert records.job(2).reference == "order 2"
        assert [value.value for value in records.values("slope", RunFilter())] == [11.1] * 4
        assert {row.tag for row in records.runs()} == {None}
        records.save(job(3), tag="check standard")
        assert records.count(RunFilter(tag="check standard")) == 2


@pytest.mark.parametrize("start", ["new", "first"])
def test_the_steps_end_at_the_tables_that_the_program_uses(start, tmp_path, request):
    file = tmp_path / "new.sqlite" if start == "new" else request.getfixturevalue("first")
    open_records(str(file)).close()
    engine = create_engine(f"sqlite:///{file}")
    seen = inspect(engine)
    for table in metadata.sorted_tables:
        assert {c["name"] for c in seen.get_columns(table.name)} == set(table.columns.keys())
        assert {i["name"] for i in seen.get_indexes(table.name)} >= {i.name for i in table.indexes}
    engine.dispose()


def test_postgresql_ends_at_the_same_tables(postgresql_database):
    open_records(postgresql_database).close()
    engine = create_engine(postgresql_database.replace("postgresql://", "postgresql+psycopg://"))
    seen = inspect(engine)
    for table in metadata.sorted_tables:
        assert {c["name"] for c in seen.get_columns(table.name)} == set(table.columns.keys())
    engine.dispose()


def test_a_database_of_a_later_schema_is_refused_unchanged(tmp_path):
    file = tmp_path / "later.sqlite"
    open_records(str(file)).close()
    database = sqlite3.connect(file)
    database.execute("UPDATE alembic_version SET version_num = '9999'")
    database.commit()
    database.close()
    before = file.read_bytes()
    with pytest.raises(InputError, match="later version of Rodtrue"):
        open_records(str(file))
    assert file.read_bytes() == before


KILLED = """
import os, signal, sys
from alembic import op
real, seen = op.create_index, []
def create_index(*words, **named):
    seen.append(words)
    if len(seen) == int(sys.argv[2]):
        os.kill(os.getpid(), signal.SIGKILL)
    return real(*words, **named)
op.create_index = create_index
from rodtrue.records import open_records
open_records(sys.argv[1])
"""


@pytest.mark.parametrize("at", [1, 2, 3])
def test_a_migration_killed_midway_leaves_the_old_database_whole(first, at):
    killed = subprocess.run([sys.executable, "-c", KILLED, str(first), str(at)], timeout=60, check=False)
    assert killed.returncode == -9
    database = sqlite3.connect(first)
    assert database.execute("SELECT version_num FROM alembic_version").fetchall() == [("0001",)]
    assert "tag" not in [row[1] for row in database.execute("PRAGMA table_info(jobs)")]
    database.close()
    with open_records(str(first)) as records:
        assert records.count() == 4
