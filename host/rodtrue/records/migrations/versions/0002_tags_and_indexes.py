"""Jobs get a tag (check standards) and the folder of their captures; lists stay quick with many runs."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    op.add_column("jobs", sa.Column("tag", sa.String(80)))
    op.add_column("jobs", sa.Column("folder", sa.Text))
    op.create_index("runs_by_time", "runs", ["taken_at", "id"])
    op.create_index("runs_by_unit", "runs", ["unit", "taken_at"])
    op.create_index("runs_by_verdict", "runs", ["verdict", "taken_at"])
