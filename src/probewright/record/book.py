"""The book of a bench: jobs opened, events added and handed out, nothing ever changed but to forget an owner."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Collection, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from probewright.errors import BadInput, complaint
from probewright.record.cache import Cache
from probewright.record.events import OPENED, Event, NoSuchJob, OwnEvent, check_stamp, read_payload, write_payload
from probewright.record.index import Hit, Index, joined

if TYPE_CHECKING:
    from types import TracebackType

    from probewright.record.store import Line, OwnLine, Store


def open_book(path: Path) -> Book:
    """The book at this path, made with its folders where missing, brought to the newest schema.

    BadInput for a file that is not a book, was written by a newer probewright, is damaged or
    cannot be written.
    """
    from probewright.record.store import Store  # loads the database library: 0.2 s that `--help` need not wait

    return Book(path, Store(path))


class Book:
    """The lasting record of one bench; a context manager.

    What `open_job` and `append` have returned is on the disk. Several processes and threads may use
    one book. BadInput where the disk refuses or the file is damaged: then nothing was stored.
    """

    def __init__(self, path: Path, store: Store) -> None:
        self.path = path
        self._store = store
        self._cache = Cache(path.with_name(f"{path.name}.cache"))
        self._index = Index(path.with_name(f"{path.name}.index"))

    def __enter__(self) -> Book:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file; the last to do so folds the write-ahead log into it."""
        self._store.close()

    def open_job(self, payload: Mapping[str, Any], at: str, engine: str) -> Event:
        """A new job, with its first event, of kind "opened"."""
        check_stamp(OPENED, at, engine)
        return self._event(self._store.open_job([(OPENED, write_payload(payload), at)], engine))

    def take_in(self, told: Sequence[tuple[str, Mapping[str, Any], str]], engine: str) -> int:
        """A whole job at once, all of it or nothing: kind, payload and time of each event. The number it has here.

        ValueError unless the first is of kind "opened".
        """
        if not told or told[0][0] != OPENED:
            raise ValueError("a job begins with the event `opened`")
        for kind, _, at in told:
            check_stamp(kind, at, engine)
        return self._store.open_job([(kind, write_payload(payload), at) for kind, payload, at in told], engine).job

    def append(self, job: int, kind: str, payload: Mapping[str, Any], at: str, engine: str) -> Event:
        """One more event of a job, safe on the disk. NoSuchJob when the book does not hold the job."""
        check_stamp(kind, at, engine)
        line = self._store.append(job, kind, write_payload(payload), at, engine)
        if line is None:
            raise NoSuchJob(job, str(self.path))
        return self._event(line)

    def erase(
        self, job: int, change: Callable[[str, Mapping[str, Any]], Mapping[str, Any]], kind: str,
        payload: Mapping[str, Any], at: str, engine: str,
    ) -> int:  # fmt: skip
        """Write over what a person wants to be forgotten in a job, and say so in one more event of this kind.

        change: kind of event and its payload -> the payload without it. How many events changed. What was worked
        out and kept beside the book goes too, and the words by which jobs are found; what stands in the write-ahead log
        goes when the book is closed. NoSuchJob when the book does not hold the job; BadInput, and nothing is written,
        where the words by which jobs are found cannot be removed.
        """
        check_stamp(kind, at, engine)
        self._history(job)  # complains of what is damaged before anything is written
        self._index.clear()
        changed = self._store.erase(job, change, kind, write_payload(payload), at, engine)
        self._cache.clear()
        self._index.clear()  # somebody may have searched meanwhile
        if changed is None:
            raise NoSuchJob(job, str(self.path))
        return changed

    def copy_to(self, path: Path) -> None:
        """The whole book as it stands now, as one file that is not there yet; others may go on writing meanwhile."""
        self._store.copy_to(path)

    def check(self) -> None:
        """BadInput unless the whole file is sound, and every event of it can be read."""
        if not self._store.is_whole():
            raise self._damaged("its pages disagree")
        for job in self.jobs():
            self.events(job)
        self.own_events()

    def append_own(self, kind: str, payload: Mapping[str, Any], at: str, engine: str) -> OwnEvent:
        """One more event of the bench itself, safe on the disk."""
        check_stamp(kind, at, engine)
        return self._own_event(self._store.append_own(kind, write_payload(payload), at, engine))

    def own_events(self) -> tuple[OwnEvent, ...]:
        """Every event of the bench itself, in order."""
        return tuple(self._own_event(line) for line in self._store.own())

    def events(self, job: int) -> tuple[Event, ...]:
        """Every event of a job in order. NoSuchJob when the book does not hold it."""
        return tuple(self._event(line) for line in self._history(job))

    def jobs(self) -> tuple[int, ...]:
        """The numbers of all jobs, oldest first."""
        return self._store.jobs()

    def last_events(self, but: Collection[str] = ()) -> tuple[Event, ...]:
        """The last event of every job, oldest job first; but: kinds that are passed over."""
        return tuple(self._event(line) for line in self._store.last_of_each(tuple(but)))

    def events_of(self, *kinds: str) -> tuple[Event, ...]:
        """The events of these kinds in all jobs, by job and number."""
        return tuple(self._event(line) for line in self._store.of_kinds(kinds))

    def search(
        self, words: str, told: Mapping[str, Mapping[str, str]], weights: Mapping[str, float]
    ) -> tuple[Hit, ...]:  # fmt: skip
        """The jobs in which all these words, or words that begin so, were said; the best first.

        told: kind of event -> field of its payload -> the column in which it is looked for; weights: column -> how much
        a word there counts. In those fields names count as said too. BadInput where this SQLite cannot search.
        """

        def texts(job: int) -> dict[str, str]:
            found: dict[str, list[str]] = {column: [] for column in weights}
            for event in self.events(job):
                for field, column in told.get(event.kind, {}).items():
                    found[column] += _said(event.payload.get(field))
            return {column: joined(said) for column, said in found.items()}

        seals = {line.job: _digest([line]) for line in self._store.last_of_each()}
        return self._index.search(words, weights, seals, texts)

    def cached(self, job: int, key: str) -> bytes | None:
        """What was kept under this key, unless the job's history before it is no longer the same."""
        kept = self._cache.get(job, key)
        if kept is None:
            return None
        history = self._history(job)[: kept.events]
        return kept.data if len(history) == kept.events and kept.history == _digest(history) else None

    def keep(self, job: int, key: str, data: bytes) -> None:
        """Put something worked out beside the book. It may be gone at any time, and harms nothing then."""
        history = self._history(job)
        self._cache.put(job, key, len(history), _digest(history), data)

    def _history(self, job: int) -> Sequence[Line]:
        lines = self._store.history(job)
        if not lines:
            raise NoSuchJob(job, str(self.path))
        for number, line in enumerate(lines, start=1):
            if line.number != number:
                raise self._damaged(f"event {number} of job {job} is missing")
        return lines

    def _event(self, line: Line) -> Event:
        payload = self._payload(line.payload, f"event {line.number} of job {line.job}")
        return Event(line.number, line.job, line.kind, payload, line.at, line.engine)

    def _own_event(self, line: OwnLine) -> OwnEvent:
        payload = self._payload(line.payload, f"event {line.number} of the bench itself")
        return OwnEvent(line.number, line.kind, payload, line.at, line.engine)

    def _payload(self, text: str, which: str) -> dict[str, Any]:
        try:
            return read_payload(text)
        except ValueError as problem:
            raise self._damaged(f"{which} cannot be read") from problem

    def _damaged(self, what: str) -> BadInput:
        mend = "keep this file as it is, and go on with your last copy of it"
        return complaint(f"this book is damaged: {what}", mend, self.path)


def _said(value: Any) -> list[str]:
    """Every text and figure in a value, and the names inside it: there they are a person's own."""
    if isinstance(value, dict):
        return [f"{name} {' '.join(_said(one))}".strip() for name, one in value.items()]
    if isinstance(value, list):
        return [said for one in value for said in _said(one)]
    return [] if value is None or isinstance(value, bool) else [str(value)]


def _digest(history: Sequence[Line]) -> str:
    """What tells one history from another, as hexadecimal text."""
    return hashlib.sha256(repr([tuple(line) for line in history]).encode("utf-8")).hexdigest()
