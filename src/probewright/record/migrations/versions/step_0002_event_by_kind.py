"""An index over the kinds: a list of jobs asks for all that were opened, closed and reopened."""

from __future__ import annotations

from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the index."""
    op.create_index("event_by_kind", "event", ["kind", "job", "number"])
