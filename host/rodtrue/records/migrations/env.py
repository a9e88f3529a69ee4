"""Runs the steps on the connection that `rodtrue.records.schema` hands in."""

from alembic import context

context.configure(connection=context.config.attributes["connection"], transactional_ddl=True)
context.run_migrations()
