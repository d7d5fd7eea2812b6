"""The two tables of a book, and the steps by which they came to be."""

from __future__ import annotations

from typing import Any

from sqlalchemy import CheckConstraint, Column, Index, Integer, MetaData, Table, Text

MARK = "book_step"  # the table in which the newest step stands
STEPS = ("0001", "0002", "0003")  # the files in migrations/versions: read here, opening a book needs no Alembic

metadata = MetaData()


def _told() -> tuple[Column[Any], ...]:
    """What every event says; a column belongs to one table."""
    return tuple(Column(name, Text, nullable=False) for name in ("kind", "payload", "at", "engine"))


# Payload is text and not a JSON column: what was written comes back letter for letter on every database.
event = Table(
    "event",
    metadata,
    Column("job", Integer, CheckConstraint("job >= 1", name="job_from_one"), primary_key=True, autoincrement=False),
    Column(
        "number", Integer, CheckConstraint("number >= 1", name="number_from_one"), primary_key=True, autoincrement=False
    ),
    *_told(),
    Index("event_by_kind", "kind", "job", "number"),
)

# What concerns the bench and no job of it.
own = Table(
    "own",
    metadata,
    Column(
        "number", Integer, CheckConstraint("number >= 1", name="own_from_one"), primary_key=True, autoincrement=False
    ),
    *_told(),
)

mark = Table(MARK, MetaData(), Column("version_num", Text))
