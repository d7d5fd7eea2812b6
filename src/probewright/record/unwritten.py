"""A book that takes events and writes none, to see whether all of a command can be kept before any of it is."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from probewright.record.book import Book
from probewright.record.events import Event, OwnEvent, check_stamp, read_payload, write_payload


class Unwritten(Book):
    """Another book as it stands, with events behind it that are gone with this object."""

    def __init__(self, book: Book) -> None:
        super().__init__(book.path, book._store)
        self._added: dict[int, int] = {}
        self._own: list[OwnEvent] = []

    def append(self, job: int, kind: str, payload: Mapping[str, Any], at: str, engine: str) -> Event:
        """One more event of a job, numbered as if it was written. NoSuchJob when the book holds no such job."""
        check_stamp(kind, at, engine)
        self._added[job] = self._added.get(job, 0) + 1
        number = len(self.events(job)) + self._added[job]
        return Event(number, job, kind, read_payload(write_payload(payload)), at, engine)

    def append_own(self, kind: str, payload: Mapping[str, Any], at: str, engine: str) -> OwnEvent:
        """One more event of the bench itself, seen by `own_events` of this object alone."""
        check_stamp(kind, at, engine)
        number = len(self.own_events()) + 1
        self._own.append(OwnEvent(number, kind, read_payload(write_payload(payload)), at, engine))
        return self._own[-1]

    def own_events(self) -> tuple[OwnEvent, ...]:
        """Every event of the bench itself, those that were not written last."""
        return (*super().own_events(), *self._own)
