"""The steps that bring a book of any age to the newest schema, each with its mark."""

from __future__ import annotations

from pathlib import Path

from alembic.migration import MigrationContext
from alembic.operations import Operations
from alembic.script import ScriptDirectory
from sqlalchemy import Connection

from probewright.record.schema import MARK

HERE = Path(__file__).parent


def upgrade(connection: Connection, to: str = "head", folder: Path = HERE) -> None:
    """Take the steps that are missing, in the transaction the caller began: all of them or none."""
    scripts = ScriptDirectory(str(folder))
    context = MigrationContext.configure(connection, opts={"version_table": MARK})
    done = context.get_current_revision() or "base"
    with Operations.context(context):
        for step in reversed(list(scripts.iterate_revisions(to, done))):
            step.module.upgrade()
            context.stamp(scripts, step.revision)
