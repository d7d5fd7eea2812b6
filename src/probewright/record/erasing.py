"""The one place where a line of the record is written over: a person's data goes, and that it went is put down.

A book is only ever added to. But a person may ask to be forgotten, and then the words themselves must go, from
the file and not from the view alone; see decision 0029.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, bindparam, update

from probewright.record.events import read_payload, write_payload
from probewright.record.schema import event

if TYPE_CHECKING:
    from probewright.record.store import Line

Change = Callable[[str, Mapping[str, Any]], Mapping[str, Any]]


def write_over(connection: Connection, lines: Sequence[Line], change: Change) -> int:
    """Put what `change` makes of a kind and its payload in the place of each payload of these lines; how many differ.

    SQLite writes nought over what is left free (secure_delete, see `store._set_up`); the write-ahead log holds
    the words until whoever has the book open closes it.
    """
    rows = []
    for line in lines:
        payload = write_payload(change(line.kind, read_payload(line.payload)))
        if payload != line.payload:
            rows.append({"of_job": line.job, "of_number": line.number, "payload": payload})
    if rows:
        here = (event.c.job == bindparam("of_job")) & (event.c.number == bindparam("of_number"))
        connection.execute(update(event).where(here).values(payload=bindparam("payload")), rows)
    return len(rows)
