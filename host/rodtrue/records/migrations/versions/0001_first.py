"""Jobs, runs, characteristics, findings and cautions, as first kept."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    op.create_table(
        "jobs",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("digest", sa.String(64), nullable=False, unique=True),
        sa.Column("saved_at", sa.String(40), nullable=False),
        sa.Column("customer", sa.Text),
        sa.Column("laboratory", sa.Text),
        sa.Column("reference", sa.Text),
        sa.Column("valve_body_serial", sa.Text),
        sa.Column("notes", sa.Text),
        sa.Column("document", sa.Text, nullable=False),
    )
    op.create_table(
        "runs",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("job_id", sa.Integer, sa.ForeignKey("jobs.id", ondelete="CASCADE"), nullable=False),
        sa.Column("role", sa.String(8), nullable=False),
        sa.Column("taken_at", sa.String(40)),
        sa.Column("unit", sa.Text),
        sa.Column("operator", sa.Text),
        sa.Column("profile", sa.Text, nullable=False),
        sa.Column("drive", sa.String(16)),
        sa.Column("reference", sa.String(16), nullable=False),
        sa.Column("fixture_kind", sa.String(8), nullable=False),
        sa.Column("fixture_id", sa.String(64)),
        sa.Column("calibration", sa.Text),
        sa.Column("profile_details", sa.Text),
        sa.Column("rod_unhooked", sa.Boolean),
        sa.Column("verdict", sa.String(16), nullable=False),
        sa.Column("body_verdict", sa.String(16)),
        sa.Column("rod_error_mm", sa.Float),
        sa.Column("expanded_uncertainty_mm", sa.Float),
        sa.Column("at_most_mm", sa.Float),
        sa.Column("capture_path", sa.Text),
        sa.Column("capture_sha256", sa.String(64)),
        sa.Column("versions", sa.Text, nullable=False),
    )
    op.create_table(
        "characteristics",
        sa.Column("run_id", sa.Integer, sa.ForeignKey("runs.id", ondelete="CASCADE"), primary_key=True),
        sa.Column("name", sa.String(32), primary_key=True),
        sa.Column("value", sa.Float),
        sa.Column("unit", sa.String(16), nullable=False),
        sa.Column("expanded_uncertainty", sa.Float),
        sa.Column("lower_limit", sa.Float),
        sa.Column("upper_limit", sa.Float),
        sa.Column("decision", sa.String(16), nullable=False),
    )
    op.create_table(
        "findings",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("run_id", sa.Integer, sa.ForeignKey("runs.id", ondelete="CASCADE"), nullable=False),
        sa.Column("code", sa.String(64), nullable=False),
        sa.Column("severity", sa.String(8), nullable=False),
        sa.Column("text", sa.Text, nullable=False),
    )
    op.create_table(
        "cautions",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("run_id", sa.Integer, sa.ForeignKey("runs.id", ondelete="CASCADE"), nullable=False),
        sa.Column("code", sa.String(64), nullable=False),
        sa.Column("text", sa.Text, nullable=False),
    )
    op.create_index("runs_by_job", "runs", ["job_id"])
    op.create_index("findings_by_run", "findings", ["run_id"])
    op.create_index("cautions_by_run", "cautions", ["run_id"])
