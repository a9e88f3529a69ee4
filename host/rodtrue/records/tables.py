"""The tables as they are now. How an older database becomes this stands in `migrations`.

`document` keeps what was saved word for word; the other columns are drawn from it to search by and are never the
only place of a fact. Times are ISO 8601 text as the result has them, so that they sort and read the same everywhere.
"""

from __future__ import annotations

from sqlalchemy import Boolean, Column, Float, ForeignKey, Index, Integer, MetaData, String, Table, Text

metadata = MetaData()

jobs = Table(
    "jobs",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("digest", String(64), nullable=False, unique=True),  # SHA-256 of the document
    Column("saved_at", String(40), nullable=False),
    Column("customer", Text),
    Column("laboratory", Text),
    Column("reference", Text),
    Column("valve_body_serial", Text),
    Column("notes", Text),
    Column("tag", String(80)),  # what the job is for, as `check standard`
    Column("folder", Text),  # where the captures' relative paths begin
    Column("document", Text, nullable=False),
)

runs = Table(
    "runs",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("job_id", Integer, ForeignKey("jobs.id", ondelete="CASCADE"), nullable=False),
    Column("role", String(8), nullable=False),  # as_found, as_left
    Column("taken_at", String(40)),
    Column("unit", Text),
    Column("operator", Text),
    Column("profile", Text, nullable=False),
    Column("drive", String(16)),
    Column("reference", String(16), nullable=False),
    Column("fixture_kind", String(8), nullable=False),
    Column("fixture_id", String(64)),
    Column("calibration", Text),
    Column("profile_details", Text),
    Column("rod_unhooked", Boolean),
    Column("verdict", String(16), nullable=False),
    Column("body_verdict", String(16)),
    Column("rod_error_mm", Float),
    Column("expanded_uncertainty_mm", Float),
    Column("at_most_mm", Float),
    Column("capture_path", Text),
    Column("capture_sha256", String(64)),
    Column("versions", Text, nullable=False),
)

characteristics = Table(
    "characteristics",
    metadata,
    Column("run_id", Integer, ForeignKey("runs.id", ondelete="CASCADE"), primary_key=True),
    Column("name", String(32), primary_key=True),
    Column("value", Float),
    Column("unit", String(16), nullable=False),
    Column("expanded_uncertainty", Float),
    Column("lower_limit", Float),
    Column("upper_limit", Float),
    Column("decision", String(16), nullable=False),
)

findings = Table(
    "findings",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("run_id", Integer, ForeignKey("runs.id", ondelete="CASCADE"), nullable=False),
    Column("code", String(64), nullable=False),
    Column("severity", String(8), nullable=False),
    Column("text", Text, nullable=False),
)

cautions = Table(
    "cautions",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("run_id", Integer, ForeignKey("runs.id", ondelete="CASCADE"), nullable=False),
    Column("code", String(64), nullable=False),
    Column("text", Text, nullable=False),
)

Index("runs_by_time", runs.c.taken_at, runs.c.id)
Index("runs_by_unit", runs.c.unit, runs.c.taken_at)
Index("runs_by_verdict", runs.c.verdict, runs.c.taken_at)
Index("runs_by_job", runs.c.job_id)
Index("findings_by_run", findings.c.run_id)
Index("cautions_by_run", cautions.c.run_id)
