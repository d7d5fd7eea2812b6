"""The one table: what happened to each job, in order."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "event",
        sa.Column("job", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("payload", sa.Text, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("engine", sa.Text, nullable=False),
        sa.CheckConstraint("job >= 1", name="job_from_one"),
        sa.CheckConstraint("number >= 1", name="number_from_one"),
    )
