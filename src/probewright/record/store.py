"""The book on the disk: lines of text in and out, each write one transaction."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, NamedTuple

from sqlalchemy import URL, Connection, Engine, Select, create_engine, func, insert, inspect, select, tuple_
from sqlalchemy import event as hook
from sqlalchemy.exc import DBAPIError

from probewright.errors import complaint
from probewright.record.erasing import Change, write_over
from probewright.record.schema import MARK, STEPS, event, mark, own

PATIENCE = 10  # s, chosen: a neighbour writes in milliseconds, a sleepy disk wakes in a few seconds
TRIES = 20  # chosen: processes that may turn on the write-ahead log of a new book at once

# What the database says (a piece of it) -> what is wrong, how to mend it.
TROUBLES = (
    ("not a database", "this is not a book of jobs", "name another file, or move this one out of the way"),
    ("malformed", "this book is damaged", "keep this file as it is, and go on with your last copy of it"),
    ("readonly", "this book cannot be written", "make the file and its folder writable, or name another place"),
    ("unable to open", "this book cannot be opened", "make the file and its folder writable, or name another place"),
    ("locked", f"another program has held this book for {PATIENCE} s", "close that program, then say it again"),
    ("full", "the disk is full and nothing was stored", "make room on the disk, then say it again"),
    ("disk I/O", "the disk refused and nothing was stored", "make room or try another disk, then say it again"),
)


class Line(NamedTuple):
    """One row of the table of events; payload is JSON text."""

    job: int
    number: int
    kind: str
    payload: str
    at: str
    engine: str


class OwnLine(NamedTuple):
    """One row of the bench's own table; payload is JSON text."""

    number: int
    kind: str
    payload: str
    at: str
    engine: str


OWN = tuple(own.c[name] for name in OwnLine._fields)
WHOLE = tuple(event.c[name] for name in Line._fields)


class Store:
    """Lines of events in one SQLite file, written in a write-ahead log that is forced to the disk."""

    def __init__(self, path: Path) -> None:
        self._path = path
        _make_folders(path)
        self._engine = _engine(path)
        try:
            with _told(path):
                self._ready()
        except BaseException:
            self._engine.dispose()
            raise

    def close(self) -> None:
        """Close every connection; the last one anywhere folds the log into the file."""
        self._engine.dispose()

    def open_job(self, told: Sequence[tuple[str, str, str]], engine: str) -> Line:
        """The first lines of a new job, all or none; its number is one above the highest. told: kind, payload and time
        of each. The first of them comes back."""
        with self._writing() as connection:
            job = (connection.scalar(select(func.max(event.c.job))) or 0) + 1
            lines = [Line(job, number, *one, engine) for number, one in enumerate(told, start=1)]
            return [_put(connection, line) for line in lines][0]

    def append(self, job: int, kind: str, payload: str, at: str, engine: str) -> Line | None:
        """The next line of a job; None when there is no such job."""
        with self._writing() as connection:
            highest = connection.scalar(select(func.max(event.c.number)).where(event.c.job == job))
            return None if highest is None else _put(connection, Line(job, highest + 1, kind, payload, at, engine))

    def erase(self, job: int, change: Change, kind: str, payload: str, at: str, engine: str) -> int | None:
        """Payloads of one job written over, and a line that says so, both or neither; how many changed.

        None when there is no such job.
        """
        with self._writing() as connection:
            query = select(*WHOLE).where(event.c.job == job).order_by(event.c.number)
            lines = [Line._make(row) for row in connection.execute(query)]
            if not lines:
                return None
            changed = write_over(connection, lines, change)
            _put(connection, Line(job, lines[-1].number + 1, kind, payload, at, engine))
            return changed

    def copy_to(self, path: Path) -> None:
        """Everything as it stands at one moment into a new file, whole; others may go on writing meanwhile."""
        with self._reading() as connection, closing(sqlite3.connect(path)) as file:
            here = connection.connection.driver_connection
            assert isinstance(here, sqlite3.Connection)
            here.backup(file)
            file.execute("PRAGMA journal_mode=PERSIST")  # anything but a log: a copy is one file

    def is_whole(self) -> bool:
        """Whether every page of the file agrees with the others."""
        with self._reading() as connection:
            return connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"

    def append_own(self, kind: str, payload: str, at: str, engine: str) -> OwnLine:
        """One more line about the bench itself."""
        with self._writing() as connection:
            highest = connection.scalar(select(func.max(own.c.number))) or 0
            line = OwnLine(highest + 1, kind, payload, at, engine)
            connection.execute(insert(own).values(line._asdict()))
            return line

    def own(self) -> Sequence[OwnLine]:
        """The lines about the bench itself, in order."""
        with self._reading() as connection:
            return [OwnLine._make(row) for row in connection.execute(select(*OWN).order_by(own.c.number))]

    def history(self, job: int) -> Sequence[Line]:
        """The lines of one job in order."""
        return self._read(select(*WHOLE).where(event.c.job == job).order_by(event.c.number))

    def last_of_each(self, but: Sequence[str] = ()) -> Sequence[Line]:
        """The last line of every job; but: kinds that are passed over."""
        last = select(event.c.job, func.max(event.c.number)).where(event.c.kind.not_in(but)).group_by(event.c.job)
        return self._read(select(*WHOLE).where(tuple_(event.c.job, event.c.number).in_(last)).order_by(event.c.job))

    def of_kinds(self, kinds: Sequence[str]) -> Sequence[Line]:
        """The lines of these kinds, by job and number."""
        return self._read(select(*WHOLE).where(event.c.kind.in_(kinds)).order_by(event.c.job, event.c.number))

    def jobs(self) -> tuple[int, ...]:
        """The numbers of all jobs."""
        with self._reading() as connection:
            return tuple(connection.scalars(select(event.c.job).distinct().order_by(event.c.job)))

    def _read(self, query: Select[Any]) -> list[Line]:
        with self._reading() as connection:
            return [Line._make(row) for row in connection.execute(query)]

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        with _told(self._path), self._engine.connect() as connection:
            yield connection

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        # the lock is taken before the highest number is read, so that no number is given twice
        with _told(self._path), self._engine.execution_options(begin="BEGIN IMMEDIATE").begin() as connection:
            yield connection

    def _ready(self) -> None:
        """Refuse a stranger untouched, then turn on the log and take the missing steps."""
        with self._reading() as connection:
            _step(self._path, connection)
        self._write_ahead()
        with self._writing() as connection:
            if _step(self._path, connection) != STEPS[-1]:
                from probewright.record.migrations import upgrade  # 0.15 s, once in the life of a schema

                upgrade(connection)

    def _write_ahead(self) -> None:
        """Keep a write-ahead log; a disk that cannot keeps the older journal, as safe and slower."""
        for _ in range(TRIES):
            try:
                with self._engine.execution_options(begin="").connect() as connection:
                    connection.exec_driver_sql("PRAGMA journal_mode=WAL")
                return
            except DBAPIError as problem:
                if "locked" not in str(problem.orig):
                    raise
            with self._writing():  # waits for the neighbour who is turning it on
                pass


def _put(connection: Connection, line: Line) -> Line:
    connection.execute(insert(event).values(line._asdict()))
    return line


def _step(path: Path, connection: Connection) -> str | None:
    """The step a book stands at, None for an empty file; BadInput for what is not ours or newer."""
    tables = set(inspect(connection).get_table_names())
    if not tables:
        return None
    if not {MARK, event.name} <= tables:
        raise complaint("this is a database, but not a book of jobs", "name another file", path)
    step = connection.scalar(select(mark.c.version_num))
    if step not in STEPS:
        raise complaint(f"this book was written by a newer probewright (step {step})", "install the newest one", path)
    return str(step)


def _engine(path: Path) -> Engine:
    engine = create_engine(URL.create("sqlite", database=str(path.absolute())), connect_args={"timeout": PATIENCE})
    hook.listen(engine, "connect", _set_up)
    hook.listen(engine, "begin", _begin)
    return engine


def _set_up(connection: Any, _: Any) -> None:
    """What every connection is told first."""
    connection.isolation_level = None  # the driver begins nothing by itself: see `_begin`
    connection.execute("PRAGMA foreign_keys=ON")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("PRAGMA secure_delete=ON")  # what was erased is no longer in the file
    connection.execute("PRAGMA fullfsync=ON")  # macOS alone: an fsync there stops at the drive's own memory
    # The log is folded in when the last connection closes, never beside a writer: SQLite before 3.51.3 can
    # then, very rarely, lose pages (its "WAL-reset bug").
    connection.execute("PRAGMA wal_autocheckpoint=0")


def _begin(connection: Connection) -> None:
    if word := connection.get_execution_options().get("begin", "BEGIN"):
        connection.exec_driver_sql(word)


def _make_folders(path: Path) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise complaint(
            f"the folder of this book cannot be made: {problem.strerror}", "name another place", path
        ) from problem


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Troubles of file and disk become complaints; a slip of our own stays what it is."""
    try:
        yield
    except DBAPIError as problem:
        for said, text, mend in TROUBLES:
            if said in str(problem.orig):
                raise complaint(text, mend, path) from problem
        raise
