"""Opening a database, and saying in words what stands in the way."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DatabaseError, InterfaceError, NoSuchModuleError, OperationalError

from rodtrue.data_folder import data_folder
from rodtrue.model.errors import FixtureError, InputError, RodtrueError

WAIT_FOR_OTHERS_S = 10
DATABASE_FILE = "records.sqlite"


def database_url(named: str | None) -> str:
    """Return the URL of what a person named: a URL, a file, or nothing, which is the file in the data folder.

    Raises: InputError for a file whose name would end at its question mark.
    """
    if named is not None and "://" in named:
        return named.replace("postgresql://", "postgresql+psycopg://", 1).replace(
            "postgres://", "postgresql+psycopg://", 1
        )
    file = data_folder() / DATABASE_FILE if named is None else Path(named).expanduser()
    if "?" in str(file):
        raise InputError(f"records: {file} has a question mark in its name", "Name a file without one.")
    return f"sqlite:///{file}"


def connect(url: str) -> Engine:
    """Return an engine; SQLite's folder is made. Raises: InputError for a URL that names nothing usable."""
    try:
        address = make_url(url)
        if address.get_backend_name() not in ("sqlite", "postgresql"):
            raise InputError(
                f"records: {address.get_backend_name()} is not a database this works with",
                "Name a file, or a URL that begins with postgresql://.",
            )
        if address.get_backend_name() == "sqlite" and address.database:
            if not address.database.startswith("file:"):  # SQLite's own form names its file itself
                Path(address.database).parent.mkdir(parents=True, exist_ok=True)
            engine = create_engine(address, connect_args={"timeout": WAIT_FOR_OTHERS_S})
            _begin_by_hand(engine)
            return engine
        return create_engine(address, pool_pre_ping=True, connect_args={"connect_timeout": WAIT_FOR_OTHERS_S})
    except (ArgumentError, NoSuchModuleError, ValueError) as error:
        raise InputError(
            f"records: {named_safely(url)} is no database URL", "Give postgresql://user@host/name."
        ) from error
    except ModuleNotFoundError as error:
        raise InputError(
            "records: the driver for PostgreSQL is not installed", "Install it: pip install 'rodtrue[postgresql]'."
        ) from error
    except OSError as error:
        raise InputError(
            f"records: the folder of {named_safely(url)} cannot be made ({error.strerror})",
            "Name another file with --records, or set RODTRUE_DATA to a folder of yours.",
        ) from error


def named_safely(url: str) -> str:
    """Return the URL as it may be shown: as a person would type it without a password, a file as its path."""
    try:
        address = make_url(url)
    except (ArgumentError, ValueError):
        return "what was given"
    if address.get_backend_name() == "sqlite":
        return address.database or "memory"
    kind, name = address.get_backend_name(), address.database
    return URL.create(
        kind, username=address.username, host=address.host, port=address.port, database=name
    ).render_as_string()


@contextmanager
def trouble_in_words(url: str, doing: str) -> Iterator[None]:
    """Turn the database's errors into ours while `doing` something.

    Raises: InputError (a file locked, read-only, full or broken), FixtureError (a server that does not answer).
    """
    try:
        yield
    except RodtrueError:
        raise
    except (DatabaseError, InterfaceError) as error:
        where = named_safely(url)
        reason = " ".join(str(error.orig or error).split())
        address = make_url(url)
        if address.get_backend_name() != "sqlite":
            what, next_step = _of_server(address, reason)
            raise FixtureError(f"{where}: {what}, while {doing}", f"{next_step} Nothing was half-written.") from error
        raise InputError(f"{where}: {_plainly(reason, error)} while {doing}", _what_next(reason)) from error


def _of_server(address: URL, reason: str) -> tuple[str, str]:
    """Return what a PostgreSQL server's complaint means, and what to do; never with a password."""
    host, port, user = address.host or "this computer", address.port or 5432, address.username or "you"
    for part, what, next_step in (
        ("Connection refused", f"no server answers at {host}, port {port}", "Start it, or check host and port."),
        ("timeout expired", f"{host}, port {port}, does not answer", "Check the network and that the server runs."),
        ("resolve host", f"no computer named {host} is known here", "Check the name and the network."),
        ("translate host", f"no computer named {host} is known here", "Check the name and the network."),
        ("No such file", f"no server runs at {host}", "Start it, or name its host in the URL."),
        ("password", f"the server does not let {user} in", "Put the password into .pgpass or PGPASSWORD."),
        ("authentication failed", f"the server does not let {user} in", "Check the user and what the server allows."),
        (
            f'database "{address.database}" does not exist',
            f"the server has no database {address.database}",
            "Make it once: createdb, as docs/lab.md shows.",
        ),
        ("permission denied", f"{user} may not do that there", "Make the user the database's owner."),
        ("terminat", "the server broke the connection off", "Try again once it runs."),
        ("server closed", "the server broke the connection off", "Try again once it runs."),
        ("connection is closed", "the server broke the connection off", "Try again once it runs."),
    ):
        if part in reason:
            return what, next_step
    told = reason.replace(str(address.password), "...") if address.password else reason
    return f"the server failed ({told})", "Check that it runs and is reached."


def _plainly(reason: str, error: Exception) -> str:
    for part, words in (
        ("locked", "locked by another program"),
        ("readonly", "read-only"),
        ("read-only", "read-only"),
        ("disk is full", "the disk is full"),
        ("unable to open", "cannot be opened"),
        ("not a database", "is not a database of records"),
        ("malformed", "is damaged"),
        ("disk I/O", "the disk fails"),
        ("already exists", "holds another program's tables"),
    ):
        if part in reason:
            return words
    kind = "refused" if isinstance(error, OperationalError) else "failed"
    return f"{kind} ({reason})"


def _what_next(reason: str) -> str:
    if "locked" in reason:
        return "Close what else has it open, then try again; nothing was half-written."
    if "not a database" in reason or "malformed" in reason:
        return "Restore a backup: rodtrue records restore; leave the damaged file aside."
    return "Free or unlock the place, or name another file with --records; nothing was half-written."


def _begin_by_hand(engine: Engine) -> None:
    """Make SQLite's transactions ours: tables change inside them too, and a writer waits at the start, not midway."""

    @event.listens_for(engine, "connect")
    def _connected(connection: Any, _record: Any) -> None:
        connection.isolation_level = None
        connection.execute("PRAGMA foreign_keys = ON")

    @event.listens_for(engine, "begin")
    def _begun(connection: Any) -> None:
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
