"""A table for what concerns the bench itself and none of its jobs."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "own",
        sa.Column(
            "number", sa.Integer, sa.CheckConstraint("number >= 1", name="own_from_one"), primary_key=True,
            autoincrement=False,
        ),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("payload", sa.Text, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("engine", sa.Text, nullable=False),
    )  # fmt: skip
