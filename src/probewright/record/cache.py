"""What was worked out once, beside the book: a file anyone may throw away at any time.

Nothing here is forced to the disk, and nothing here can harm: what cannot be read was never kept.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

# Beside a book in use a wait is never worth it: working it out again is.
PATIENCE = 0.2  # s, chosen

TABLE = """
CREATE TABLE IF NOT EXISTS kept (
    job INTEGER NOT NULL, key TEXT NOT NULL, events INTEGER NOT NULL, history TEXT NOT NULL,
    seal TEXT NOT NULL, data BLOB NOT NULL, PRIMARY KEY (job, key)
)
"""
GET = "SELECT events, history, seal, data FROM kept WHERE job = ? AND key = ?"
PUT = "INSERT OR REPLACE INTO kept (job, key, events, history, seal, data) VALUES (?, ?, ?, ?, ?, ?)"

T = TypeVar("T")


@dataclass(frozen=True)
class Kept:
    """Something kept, with how many events the job had then and the digest of those."""

    events: int
    history: str
    data: bytes


class Cache:
    """One disposable file. Broken: removed and made anew. Busy, full or not to be written: left alone."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def get(self, job: int, key: str) -> Kept | None:
        """What is kept under this key and arrives unharmed."""
        return self._path.exists() and self._tried(lambda file: _get(file, job, key)) or None

    def put(self, job: int, key: str, events: int, history: str, data: bytes) -> None:
        """Keep something, in place of what stood under the key."""
        row = (job, key, events, history, _seal(data), data)
        self._tried(lambda file: file.execute(PUT, row))

    def clear(self) -> None:
        """Keep nothing any more."""
        self._remove()

    def _tried(self, act: Callable[[sqlite3.Connection], T]) -> T | None:
        for _ in range(2):  # the second time on a new file
            try:
                with self._opened() as file:
                    return act(file)
            except sqlite3.OperationalError:
                return None
            except (sqlite3.DatabaseError, _Harmed):
                self._remove()
        return None

    @contextmanager
    def _opened(self) -> Iterator[sqlite3.Connection]:
        with closing(sqlite3.connect(self._path, timeout=PATIENCE)) as file, file:
            file.execute("PRAGMA synchronous=OFF")
            file.execute(TABLE)
            yield file

    def _remove(self) -> None:
        for path in (self._path, self._path.with_name(f"{self._path.name}-journal")):
            try:
                path.unlink(missing_ok=True)
            except OSError:  # it stays broken, and is as good as not there
                return


class _Harmed(Exception):
    """Data that is not what was kept."""


def _get(file: sqlite3.Connection, job: int, key: str) -> Kept | None:
    row = file.execute(GET, (job, key)).fetchone()
    if row is None:
        return None
    events, history, seal, data = row
    if not isinstance(data, bytes) or seal != _seal(data):
        raise _Harmed
    return Kept(events, history, data)


def _seal(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
