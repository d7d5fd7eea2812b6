"""The record: what was acknowledged is there, whole, in order and unchanged, whatever happened in between."""

from __future__ import annotations

import re
import sqlite3
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.dialects import postgresql

from benchmarks.soak_record import soak
from conftest import ROOT
from probewright.errors import BadInput
from probewright.record import Book, NoSuchJob, NotPlain, index, open_book, store
from probewright.record.migrations import HERE, upgrade
from probewright.record.schema import MARK, STEPS, event, metadata

ROOM = ROOT / "src" / "probewright" / "record"
NOW = "2026-11-25T13:00:00+00:00"
ENGINE = "0.1.0"
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)
PAYLOADS = st.dictionaries(st.text(), PLAIN, max_size=4)
fresh_each_time = settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture
def book(tmp_path: Path):
    with open_book(tmp_path / "bench" / "jobs.book") as opened:
        yield opened


def again(book: Book) -> Book:
    """The same book as another process would find it."""
    return open_book(book.path)


def run(script: str, *arguments: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", script, *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)


def complaint(caught: pytest.ExceptionInfo[BadInput]) -> str:
    return str(caught.value.complaints[0])


def change(path: Path, *statements: str) -> None:
    """What a failing disk or another program may do to a file."""
    with closing(sqlite3.connect(path)) as file, file:
        for statement in statements:
            file.execute(statement)


# What is written comes back.


@fresh_each_time
@given(payloads=st.lists(PAYLOADS, min_size=1, max_size=4))
def test_every_payload_comes_back_as_it_was(book: Book, payloads: list[dict]):
    first = book.open_job(payloads[0], NOW, ENGINE)
    said = [first, *(book.append(first.job, "said", one, NOW, ENGINE) for one in payloads[1:])]
    with again(book) as other:
        assert list(other.events(first.job)) == said
    assert [one.payload for one in said] == payloads
    assert [repr(one.payload) for one in said] == [repr(one) for one in payloads]  # 1 is not 1.0, and order stays


@fresh_each_time
@given(choices=st.lists(st.integers(0, 3), max_size=12))
def test_numbers_run_from_one_without_a_gap_in_every_job(book: Book, choices: list[int]):
    before = len(book.jobs())
    jobs = [book.open_job({"nth": n}, NOW, ENGINE).job for n in range(4)]
    assert jobs == [before + 1, before + 2, before + 3, before + 4]
    for place, choice in enumerate(choices):
        book.append(jobs[choice], "said", {"place": place}, NOW, ENGINE)
    for nth, job in enumerate(jobs):
        events = book.events(job)
        assert [one.number for one in events] == list(range(1, len(events) + 1))
        assert [one.payload["place"] for one in events[1:]] == [p for p, c in enumerate(choices) if c == nth]
        assert {one.job for one in events} == {job}


def test_an_event_carries_what_was_said_of_it(book: Book):
    book.open_job({"kind": "mixer"}, NOW, "0.1.0")
    later = book.append(1, "said", {"text": "R31 left leg 2,6"}, "2026-11-25T13:05:00Z", "0.2.0")
    assert (later.number, later.job, later.kind, later.at, later.engine) == (
        2,
        1,
        "said",
        "2026-11-25T13:05:00Z",
        "0.2.0",
    )
    assert book.events(1)[0].kind == "opened"
    assert book.last_events() == (later,)


def test_a_kind_from_a_later_engine_is_kept_and_handed_out(book: Book):
    book.open_job({}, NOW, ENGINE)
    payload = {"waves": [[0.0, 1.5], [0.1, -1.5]], "deep": {"er": None}}
    book.append(1, "traced with a thing not yet made", payload, NOW, "9.0.0")
    with again(book) as other:
        assert other.events(1)[1].kind == "traced with a thing not yet made"
        assert other.events(1)[1].payload == payload


def found(book: Book, words: str) -> list[int]:
    """Where it was said, whatever the field."""
    told = {"opened": {"model": "machine", "owner": "machine", "ticks": "machine", "text": "said"},
            "said": {"text": "said", "readings": "said"}}  # fmt: skip
    return [one.job for one in book.search(words, told, {"machine": 4.0, "said": 1.0})]


def test_a_byte_that_was_not_text_and_a_null_are_kept(book: Book):
    typed = b"12 rail 11\xff8 \x00 v\xc3\xb6llig tot".decode("utf-8", "surrogateescape")
    book.open_job({"text": typed}, NOW, ENGINE)
    with again(book) as other:
        assert other.events(1)[0].payload["text"] == typed
        assert found(other, typed) == found(other, "vollig tot") == [1]


def test_a_payload_handed_out_is_a_copy(book: Book):
    told = {"list": [1, 2]}
    event = book.open_job(told, NOW, ENGINE)
    told["list"].append(3)
    event.payload["list"].append(4)
    assert book.events(1)[0].payload == {"list": [1, 2]}


@pytest.mark.parametrize(
    "payload", [{"volts": float("inf")}, {"volts": float("nan")}, {"deep": [{"set": {1}}]}, {3: "three"}, {"b": b"x"}]
)
def test_what_json_would_change_in_silence_is_not_taken(book: Book, payload: dict):
    with pytest.raises(NotPlain):
        book.open_job(payload, NOW, ENGINE)
    assert book.jobs() == ()


@pytest.mark.parametrize("at", ["2026-11-25T13:00:00", "2026-11-25T14:00:00+01:00", "yesterday"])
def test_only_utc_is_a_time(book: Book, at: str):
    with pytest.raises(ValueError):
        book.open_job({}, at, ENGINE)
    assert book.jobs() == ()


def test_a_job_that_is_not_there_is_named(book: Book):
    for act in (
        lambda: book.events(7),
        lambda: book.append(7, "said", {}, NOW, ENGINE),
        lambda: book.keep(7, "belief", b""),
    ):
        with pytest.raises(NoSuchJob, match=f"there is no job 7 in {re.escape(str(book.path))}") as caught:
            act()
        assert caught.value.job == 7
    assert book.jobs() == ()


def test_jobs_are_found_by_what_was_said_in_them(book: Book):
    book.open_job({"model": "Fernside LM-2", "owner": "Möller & Söhne"}, NOW, ENGINE)
    book.open_job({"model": "Fernside DS-3", "ticks": {"left": "bad"}}, NOW, ENGINE)
    book.append(2, "said", {"text": 'the "left" one\n11,8', "readings": [{"answer": 2.625}]}, NOW, ENGINE)
    assert found(book, "fernside") == [1, 2]
    assert found(book, "MÖLLER & s") == found(book, "moller so") == [1]
    assert found(book, '"LEFT" one\n') == [2]
    assert found(book, "2.625") == [2]
    assert found(book, "100 %") == []
    assert found(book, "model") == []  # the name of a field was not said by anyone
    assert found(book, "left bad fern") == [2]


@fresh_each_time
@given(words=st.text() | st.text("\"*()^:+-~{}[]'\\ ORNEAD", max_size=12))
def test_nothing_that_is_typed_is_a_command(book: Book, words: str):
    if not book.jobs():
        book.open_job({"text": "one left OR right near NOT"}, NOW, ENGINE)
    assert found(book, words) in ([], [1])


@pytest.mark.parametrize(
    ("words", "jobs"),
    [("OR", [1]), ("left OR silent", []), ("left NOT hum", []), ('"is left"', [1]), ('"left is"', []), ('"unclosed', []),
     ("*", []), ("NEAR(left)", []), ("machine:left", []), ("sil*", [2]), ("dc-dc", [2]), ("c1", [2]), ('"c1"', [])],
)  # fmt: skip
def test_words_are_looked_for_as_they_are(book: Book, words: str, jobs: list[int]):
    book.open_job({"text": "what is left, or right; hum"}, NOW, ENGINE)
    book.open_job({"text": "silent dc-dc, C12 open"}, NOW, ENGINE)
    assert found(book, words) == jobs


def test_what_is_found_is_ranked_and_shown(book: Book):
    book.open_job({"text": " ".join(["dull"] * 60) + " hum " + " ".join(["dull"] * 60)}, NOW, ENGINE)
    book.open_job({"model": "hum"}, NOW, ENGINE)
    told = {"opened": {"model": "machine", "text": "said"}}
    first, second = book.search("HU", told, {"machine": 4.0, "said": 1.0})
    assert (first.job, second.job) == (2, 1) and first.rank > second.rank
    assert [(one.column, one.pieces) for one in first.where] == [("machine", (("hum", True),))]
    (before, hit, after) = second.where[0].pieces
    assert hit == ("hum", True) and before[0].startswith("…dull") and len(before[0] + after[0]) < 100


def test_a_search_knows_what_came_since_and_survives_its_file(book: Book):
    book.open_job({"text": "quiet"}, NOW, ENGINE)
    assert found(book, "quiet hum") == []
    book.append(1, "said", {"text": "hum"}, NOW, ENGINE)
    assert found(book, "quiet hum") == [1]
    index = book.path.with_name("jobs.book.index")
    for harm in (b"no database " * 500, index.read_bytes()[:5000]):
        index.write_bytes(harm)
        assert found(book, "hum") == [1]
    with closing(sqlite3.connect(index, isolation_level=None)) as holder:
        holder.execute("BEGIN EXCLUSIVE")
        assert found(book, "hum") == [1]
        holder.execute("ROLLBACK")
    assert [one.job for one in book.search("hum", {"said": {"text": "other"}}, {"other": 1.0})] == [1]


def test_an_index_of_another_book_is_not_believed(book: Book):
    for text in ("hum", "hiss"):
        book.open_job({"text": text}, NOW, ENGINE)
    assert found(book, "hiss") == [2]
    book.close()
    book.path.unlink()
    with again(book) as restored:
        restored.open_job({"text": "crackle"}, NOW, ENGINE)
        assert found(restored, "hiss") == found(restored, "hum") == [] and found(restored, "crackle") == [1]


def test_what_is_erased_is_found_no_more_and_in_no_byte(book: Book):
    book.open_job({"text": "word of Calder " * 500}, NOW, ENGINE)
    assert found(book, "calder") == [1]
    assert b"calder" in book.path.with_name("jobs.book.index").read_bytes().lower()
    book.erase(
        1, lambda _, payload: {"text": payload["text"].replace("Calder", "the owner")}, "erased", {}, NOW, ENGINE
    )
    assert found(book, "calder") == [] and found(book, "owner") == [1]
    assert not [one.name for one in book.path.parent.glob("jobs.book.index*") if b"alder" in one.read_bytes()]


def test_a_sqlite_without_full_text_search_is_told(book: Book, monkeypatch: pytest.MonkeyPatch):
    book.open_job({"text": "hum"}, NOW, ENGINE)
    monkeypatch.setattr(index, "USING", "fts5_that_is_not_there")
    with pytest.raises(BadInput, match="cannot search"):
        found(book, "hum")


def test_events_of_a_kind_come_from_every_job(book: Book):
    for owner in "ab":
        book.open_job({"owner": owner}, NOW, ENGINE)
    book.append(1, "closed", {}, NOW, ENGINE)
    book.append(2, "said", {}, NOW, ENGINE)
    kinds = [(one.job, one.number, one.kind) for one in book.events_of("closed", "opened")]
    assert kinds == [(1, 1, "opened"), (1, 2, "closed"), (2, 1, "opened")]
    assert [(one.job, one.number) for one in book.last_events()] == [(1, 2), (2, 2)]


# Nothing is lost.


def test_no_line_of_the_room_changes_or_removes_a_row():
    erasing = ROOM / "erasing.py"  # an owner forgotten: the one place, and it says so in the record
    code = "\n".join(one.read_text("utf-8") for one in ROOM.rglob("*.py") if one != erasing)
    assert re.findall(r"\b(?:delete|drop|truncate)\w*\b", erasing.read_text("utf-8").replace("secure_delete", "")) == []
    assert re.findall(r"\b(?:update|delete|drop|truncate)\w*\b", code, re.I) == []
    replacing = [one.name for one in ROOM.rglob("*.py") if "REPLACE" in one.read_text("utf-8")]
    assert sorted(replacing) == ["cache.py", "index.py"]  # which may be thrown away whole


def test_every_connection_forces_each_commit_to_the_disk(book: Book):
    with closing(sqlite3.connect(book.path)) as file:
        file.execute("PRAGMA synchronous=OFF")  # whatever the house where it was built prefers
        store._set_up(file, None)
        said = {
            name: file.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("journal_mode", "synchronous", "foreign_keys", "wal_autocheckpoint")
        }
    assert said == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "wal_autocheckpoint": 0}


def test_a_closed_book_is_one_file(book: Book):
    book.open_job({}, NOW, ENGINE)
    assert book.path.with_name("jobs.book-wal").stat().st_size > 0
    book.close()
    assert [one.name for one in book.path.parent.iterdir()] == ["jobs.book"]


def test_killed_at_any_moment_nothing_acknowledged_is_lost(tmp_path: Path):
    tally = soak(20, tmp_path)
    assert tally.lost == []
    assert tally.kills == 20
    assert tally.acknowledged > 100
    assert tally.found >= tally.acknowledged


AT_ONCE = """
import os, sys, time
from pathlib import Path
import probewright.record.migrations, probewright.record.store
from probewright.record import open_book

def write(path, start, events):
    while time.monotonic() < start:
        pass
    with open_book(path) as book:
        book.open_job({}, "2026-11-25T13:00:00Z", "0")
        for number in range(events):
            book.append(1, "said", {"number": number}, "2026-11-25T13:00:00Z", "0")

failed, events = 0, int(sys.argv[1])
for path in map(Path, sys.argv[2:]):
    start, children = time.monotonic() + 0.02, []
    for _ in range(6):
        child = os.fork()
        if not child:
            write(path, start, events)
            os._exit(0)
        children.append(child)
    failed += sum(os.waitpid(child, 0)[1] != 0 for child in children)
sys.exit(failed)
"""


def test_processes_at_once_give_no_number_twice(tmp_path: Path):
    answer = run(AT_ONCE, 20, tmp_path / "jobs.book")
    assert answer.returncode == 0, answer.stderr
    with open_book(tmp_path / "jobs.book") as book:
        assert book.jobs() == (1, 2, 3, 4, 5, 6)
        assert sorted(one.payload["number"] for one in book.events(1)[1:]) == sorted([*range(20)] * 6)


def test_processes_at_once_make_one_book(tmp_path: Path):
    paths = [tmp_path / f"{n}.book" for n in range(8)]
    answer = run(AT_ONCE, 0, *paths)
    assert answer.returncode == 0, answer.stderr
    for path in paths:
        with open_book(path) as book:
            assert book.jobs() == (1, 2, 3, 4, 5, 6)


def test_a_neighbour_turning_on_the_log_is_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Where two turn it on together, SQLite refuses one at once, however patient it was told to be."""
    refusals, make = iter([True, True]), store._engine

    def refuse(_, statement: str, *__: object) -> None:
        if "journal_mode" in statement and next(refusals, False):
            raise sqlite3.OperationalError("database is locked")

    def refusing(path: Path) -> sa.Engine:
        engine = make(path)
        sa.event.listen(engine, "do_execute", refuse)
        return engine

    monkeypatch.setattr(store, "_engine", refusing)
    with open_book(tmp_path / "jobs.book") as book:
        assert book.open_job({}, NOW, ENGINE).job == 1
        assert next(refusals, None) is None
        assert book.path.with_name("jobs.book-wal").exists()


def test_threads_at_once_give_no_number_twice(book: Book):
    book.open_job({}, NOW, ENGINE)
    with ThreadPoolExecutor(6) as pool:
        said = list(pool.map(lambda n: book.append(1, "said", {"n": n}, NOW, ENGINE), range(60)))
    assert sorted(one.number for one in said) == list(range(2, 62))
    assert sorted(said, key=lambda one: one.number) == list(book.events(1)[1:])


FULL_DISK = """
import resource, sys
from pathlib import Path
from probewright.errors import BadInput
from probewright.record import open_book

now = "2026-11-25T13:00:00Z"
book = open_book(Path(sys.argv[1]))
book.open_job({}, now, "0")
_, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, hard))
count = 1
try:
    while count < 1000:
        count = book.append(1, "said", {"text": "x" * 3000}, now, "0").number
except BadInput as problem:
    print(problem)
assert len(book.events(1)) == count
resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
print(count, book.append(1, "said", {"text": "room again"}, now, "0").number)
"""


def test_a_full_disk_is_told_and_takes_nothing_with_it(tmp_path: Path):
    answer = run(FULL_DISK, tmp_path / "jobs.book")
    assert answer.returncode == 0, answer.stderr
    told, numbers = answer.stdout.splitlines()
    assert "nothing was stored; make room" in told
    last, next_one = map(int, numbers.split())
    assert 10 < last < 1000
    assert next_one == last + 1
    with open_book(tmp_path / "jobs.book") as book:
        assert [len(one.payload["text"]) for one in book.events(1)[1:]] == [3000] * (last - 1) + [10]


# What is not a book, or no longer one, is refused and left alone.


def test_a_text_file_is_refused_and_left_alone(tmp_path: Path):
    notes = tmp_path / "notes.book"
    notes.write_text("R31 left leg 2.6\n" * 100)
    with pytest.raises(BadInput) as caught:
        open_book(notes)
    assert complaint(caught).startswith(f"{notes}:1:1: this is not a book of jobs; name another file")
    assert notes.read_text() == "R31 left leg 2.6\n" * 100


def test_another_programs_database_is_refused_and_left_alone(tmp_path: Path):
    other = tmp_path / "stock.db"
    change(other, "CREATE TABLE event (what TEXT)", "INSERT INTO event VALUES ('a sale')")
    before = other.read_bytes()
    with pytest.raises(BadInput) as caught:
        open_book(other)
    assert "this is a database, but not a book of jobs; name another file" in complaint(caught)
    assert other.read_bytes() == before


def test_a_book_from_a_newer_engine_is_refused_and_left_alone(book: Book):
    book.open_job({}, NOW, ENGINE)
    book.close()
    change(book.path, f"UPDATE {MARK} SET version_num = '0099'")
    before = book.path.read_bytes()
    with pytest.raises(BadInput) as caught:
        open_book(book.path)
    assert "newer probewright (step 0099); install the newest one" in complaint(caught)
    assert book.path.read_bytes() == before


@pytest.mark.parametrize(
    ("name", "said"), [("", "this book cannot be opened"), ("file/jobs.book", "the folder of this book cannot be made")]
)
def test_a_place_that_cannot_hold_a_book_is_told(tmp_path: Path, name: str, said: str):
    (tmp_path / "file").write_text("a file, not a folder")
    with pytest.raises(BadInput) as caught:
        open_book(tmp_path / name)
    assert said in complaint(caught)
    assert "name another place" in complaint(caught)


def test_a_book_that_may_only_be_read_is_told(book: Book, monkeypatch: pytest.MonkeyPatch):
    allowed = store._set_up

    def only_reading(connection: sqlite3.Connection, record: object) -> None:
        allowed(connection, record)
        connection.execute("PRAGMA query_only=ON")

    monkeypatch.setattr(store, "_set_up", only_reading)
    with pytest.raises(BadInput) as caught:
        again(book)
    assert "this book cannot be written; make the file and its folder writable" in complaint(caught)


def test_a_book_held_by_another_program_is_told(book: Book, monkeypatch: pytest.MonkeyPatch):
    book.open_job({}, NOW, ENGINE)
    monkeypatch.setattr(store, "PATIENCE", 0.1)
    with closing(sqlite3.connect(book.path, isolation_level=None)) as holder:
        holder.execute("BEGIN IMMEDIATE")
        with pytest.raises(BadInput) as caught:
            again(book)
        holder.execute("ROLLBACK")
    assert "another program has held this book" in complaint(caught)
    assert len(book.events(1)) == 1


@pytest.mark.parametrize(
    ("harm", "said"),
    [
        ("UPDATE event SET payload = substr(payload, 1, 9) WHERE number = 2", "event 2 of job 1 cannot be read"),
        ("UPDATE event SET payload = '[1]' WHERE number = 3", "event 3 of job 1 cannot be read"),
        ("DELETE FROM event WHERE number = 2", "event 2 of job 1 is missing"),
    ],
)
def test_a_harmed_event_is_told_and_never_passed_over(book: Book, harm: str, said: str):
    book.open_job({"text": "no sound"}, NOW, ENGINE)
    for text in ("12 rail 11.8", "9 rail 0"):
        book.append(1, "said", {"text": text}, NOW, ENGINE)
    change(book.path, harm)
    with pytest.raises(BadInput) as caught:
        book.events(1)
    assert f"this book is damaged: {said}; keep this file as it is" in complaint(caught)


def test_a_torn_file_is_told(book: Book):
    book.open_job({}, NOW, ENGINE)
    for _ in range(20):
        book.append(1, "said", {"text": "x" * 2000}, NOW, ENGINE)
    book.close()
    whole = book.path.read_bytes()
    book.path.write_bytes(whole[:4096] + b"\x55" * (len(whole) - 4096))
    with pytest.raises(BadInput) as caught, open_book(book.path) as torn:
        torn.events(1)
    assert "this book is damaged; keep this file as it is" in complaint(caught)


# Old books, other databases.


def first_schema(path: Path) -> None:
    """A book as the first schema left it, with two jobs in it."""
    engine = store._engine(path)
    with engine.begin() as connection:
        upgrade(connection, to="0001")
        connection.exec_driver_sql(
            "INSERT INTO event VALUES (1, 1, 'opened', '{\"kind\":\"mixer\"}', ?, '0.1.0'),"
            " (1, 2, 'said', '{\"text\":\"left ok\"}', ?, '0.1.0'), (2, 1, 'opened', '{}', ?, '0.1.0')",
            (NOW, NOW, NOW),
        )
    engine.dispose()


def indexes(path: Path) -> set[str]:
    with closing(sqlite3.connect(path)) as file:
        return {name for (name,) in file.execute("SELECT name FROM sqlite_master WHERE type = 'index' AND sql > ''")}


def test_a_book_of_the_first_schema_opens_under_the_newest(tmp_path: Path):
    path = tmp_path / "old.book"
    first_schema(path)
    assert indexes(path) == set()
    with open_book(path) as book:
        assert [one.payload for one in book.events(1)] == [{"kind": "mixer"}, {"text": "left ok"}]
        assert book.append(1, "said", {"text": "right half"}, NOW, ENGINE).number == 3
        assert book.open_job({}, NOW, ENGINE).job == 3
    assert indexes(path) == {"event_by_kind"}
    with open_book(path) as book:
        assert [len(book.events(job)) for job in book.jobs()] == [3, 1, 1]


def test_a_step_that_fails_leaves_the_book_as_it_was(tmp_path: Path):
    path, steps = tmp_path / "old.book", tmp_path / "steps" / "versions"
    first_schema(path)
    steps.mkdir(parents=True)
    for one in (HERE / "versions").glob("step_*.py"):
        (steps / one.name).write_text(one.read_text("utf-8"))
    (steps / "step_9999_bad.py").write_text(
        f"from alembic import op\nimport sqlalchemy as sa\nrevision = '9999'\ndown_revision = '{STEPS[-1]}'\n"
        "def upgrade():\n    op.add_column('event', sa.Column('mood', sa.Text))\n    raise RuntimeError('half way')\n"
    )
    engine = store._engine(path)
    with pytest.raises(RuntimeError, match="half way"), engine.begin() as connection:
        upgrade(connection, folder=steps.parent)
    engine.dispose()
    with closing(sqlite3.connect(path)) as file:
        assert file.execute(f"SELECT version_num FROM {MARK}").fetchall() == [("0001",)]
        assert "mood" not in {row[1] for row in file.execute("PRAGMA table_info(event)")}
    assert indexes(path) == set()
    with open_book(path) as book:
        assert len(book.events(1)) == 2


def test_the_steps_lead_to_the_table_that_the_code_speaks_of(book: Book):
    scripts = ScriptDirectory(str(HERE))
    assert tuple(one.revision for one in scripts.walk_revisions())[::-1] == STEPS
    engine = store._engine(book.path)
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"version_table": MARK})
        assert context.get_current_revision() == STEPS[-1]
        assert compare_metadata(context, metadata) == []
    engine.dispose()


def test_postgresql_is_not_shut_out():
    """Compiled for it, not run on it: no word of SQLite in what makes, reads or writes the table."""
    dialect = postgresql.dialect()
    made = str(sa.schema.CreateTable(event).compile(dialect=dialect))
    assert "PRIMARY KEY (job, number)" in made
    assert "SERIAL" not in made
    query = sa.select(*store.WHOLE).where(event.c.kind.in_(["opened"])).order_by(event.c.job)
    assert "event.kind IN" in str(query.compile(dialect=dialect))
    sqlite_only = re.compile(r"PRAGMA|BEGIN|exec_driver_sql|sqlite")
    said = [one.name for one in ROOM.rglob("*.py") if sqlite_only.search(one.read_text("utf-8"))]
    assert sorted(said) == ["cache.py", "index.py", "store.py"]


# Light to open.


def loaded(script: str, *arguments: object) -> set[str]:
    """The top names of all modules a process holds after this script."""
    ending = "\nimport sys; print(*sorted({name.partition('.')[0] for name in sys.modules}))"
    answer = run(script + ending, *arguments)
    assert answer.returncode == 0, answer.stderr
    return set(answer.stdout.split())


def test_the_room_is_imported_without_the_database_library():
    names = loaded("import probewright.record")
    assert "probewright" in names
    assert names & {"sqlalchemy", "alembic", "numpy", "ruamel"} == set()


def test_an_old_job_opens_without_any_physics(book: Book):
    book.open_job({}, NOW, ENGINE)
    script = """
import sys
from pathlib import Path
from probewright.record import open_book
with open_book(Path(sys.argv[1])) as book:
    assert len(book.events(1)) == 1
rooms = {name for name in sys.modules if name.startswith("probewright.")}
assert {name.split(".")[1] for name in rooms} == {"record", "errors"}, rooms
"""
    names = loaded(script, book.path)
    assert "sqlalchemy" in names
    assert names & {"numpy", "alembic", "ruamel"} == set()


# What is kept beside the book may go at any time.


@pytest.fixture
def kept(book: Book) -> Path:
    """The cache file of a book with one thing kept for job 1."""
    book.open_job({"text": "no sound"}, NOW, ENGINE)
    book.keep(1, "belief", b"worked out " * 1000)
    return book.path.with_name("jobs.book.cache")


def test_what_was_kept_is_handed_out_to_the_same_key_alone(book: Book, kept: Path):
    assert kept.exists()
    book.append(1, "said", {"text": "12 rail 0"}, NOW, ENGINE)
    book.open_job({}, NOW, ENGINE)
    assert book.cached(1, "belief") == b"worked out " * 1000
    assert book.cached(1, "plan") is None
    assert book.cached(2, "belief") is None
    book.keep(1, "belief", b"")
    assert book.cached(1, "belief") == b""


def test_a_cache_thrown_away_changes_nothing_but_time(book: Book, kept: Path):
    before = book.events(1)
    kept.unlink()
    assert book.cached(1, "belief") is None
    assert not kept.exists()  # looking makes no file
    assert book.events(1) == before
    book.keep(1, "belief", b"anew")
    assert book.cached(1, "belief") == b"anew"


@pytest.mark.parametrize(
    "harm",
    [
        lambda data: b"not a database at all " * 500,
        lambda data: data[:4096] + b"\x55" * (len(data) - 4096),
        lambda data: data.replace(b"worked out", b"worked 0ut", 1),
        lambda data: data[: len(data) // 2],
    ],
    ids=["text", "torn", "one letter", "short"],
)
def test_a_broken_cache_is_removed_and_made_anew(book: Book, kept: Path, harm):
    data = kept.read_bytes()
    harmed = harm(data)
    assert harmed != data
    kept.write_bytes(harmed)
    assert book.cached(1, "belief") is None
    book.keep(1, "belief", b"anew")
    assert book.cached(1, "belief") == b"anew"
    assert len(book.events(1)) == 1


def test_a_cache_of_another_history_is_not_believed(book: Book, kept: Path, tmp_path: Path):
    """A copy of the book was put back, and the job went on otherwise."""
    book.append(1, "said", {"text": "12 rail 0"}, NOW, ENGINE)
    book.keep(1, "after 2", b"a dead rail")
    book.close()
    book.path.unlink()
    with again(book) as restored:
        restored.open_job({"text": "no sound"}, NOW, ENGINE)
        assert restored.cached(1, "belief") == b"worked out " * 1000
        assert restored.cached(1, "after 2") is None
        restored.append(1, "said", {"text": "12 rail 11.8"}, NOW, ENGINE)
        assert restored.cached(1, "after 2") is None


def test_a_busy_cache_is_left_alone(book: Book, kept: Path):
    with closing(sqlite3.connect(kept, isolation_level=None)) as holder:
        holder.execute("BEGIN EXCLUSIVE")
        assert book.cached(1, "belief") is None
        book.keep(1, "belief", b"anew")
        holder.execute("ROLLBACK")
    assert book.cached(1, "belief") == b"worked out " * 1000


def test_a_cache_that_cannot_be_made_does_no_harm(book: Book):
    book.open_job({}, NOW, ENGINE)
    book.path.with_name("jobs.book.cache").mkdir()
    book.keep(1, "belief", b"worked out")
    assert book.cached(1, "belief") is None
    assert len(book.events(1)) == 1
