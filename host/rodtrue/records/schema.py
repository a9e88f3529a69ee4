"""Bringing a database to today's schema, and refusing one of a later schema."""

from __future__ import annotations

from importlib.resources import files

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection

from rodtrue.model.errors import InputError


def bring_up_to_date(connection: Connection, where: str) -> None:
    """Run the steps that the database lacks, inside the caller's transaction.

    Raises: InputError for a database that a later version wrote.
    """
    config = Config()
    config.set_main_option("script_location", str(files("rodtrue.records") / "migrations"))
    config.attributes["connection"] = connection
    known = ScriptDirectory.from_config(config)
    present = MigrationContext.configure(connection).get_current_revision()
    if present is not None and present not in {script.revision for script in known.walk_revisions()}:
        raise InputError(
            f"{where}: written by a later version of Rodtrue (schema {present}, this one knows up to "
            f"{known.get_current_head()})",
            "Update Rodtrue on this machine; nothing was changed.",
        )
    if present != known.get_current_head():
        command.upgrade(config, "head")
