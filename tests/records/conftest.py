"""A real PostgreSQL server on loopback, started once a session."""

from __future__ import annotations

import os

import pytest

from records.postgresql import installed_programs, running_server


@pytest.fixture(scope="session")
def postgresql_server():
    programs = installed_programs()
    if programs is None:
        why = "PostgreSQL is not installed (Debian: postgresql); the records in it are untested here"
        if os.environ.get("RODTRUE_REQUIRE_REAL") == "1":
            pytest.fail(why)
        pytest.skip(why)
    with running_server(programs) as server:
        yield server


@pytest.fixture
def postgresql_database(postgresql_server):
    """The URL of a new, empty database."""
    return postgresql_server.new_database()
