"""What was said on each job, as words to be found again: a file beside the book that anyone may throw away.

Scripts that put no space between words are taken letter by letter, so that a word is found wherever its letters stand
in a row. It is brought up to date when somebody searches, job by job: a job whose last event is another one is read
anew. Erased words go with the whole file. Full-text search is SQLite's FTS5.
"""

from __future__ import annotations

import re
import sqlite3
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from probewright.errors import BadInput, Complaint

PATIENCE = 0.2  # s, chosen: another search brings it up to date; meanwhile this one reads the book without it
MOST_PIECES = 32  # chosen: nobody types more words than that
AROUND = 12  # words of a snippet, chosen: what fits in two lines of a narrow screen
HIT, END = "\x01", "\x02"  # round what was found
PIECE = re.compile(r'"([^"]*)"|(\S+)')
WORD = re.compile(r"[^\W_]+")
# Thai, Lao, Burmese, Khmer, Japanese and Chinese: Unicode 15.1, Blocks.txt, from memory.
UNSPACED = re.compile(
    "([\u0e00-\u0eff\u1000-\u109f\u1780-\u17ff\u3040-\u30ff\u31f0-\u31ff\u3400-\u4dbf\u4e00-\u9fff\uf900-\ufaff\uff66-\uff9f"
    "\U00020000-\U0003ffff])"
)
GAP = "\u200b"  # zero width space: parts words for FTS5, and shows nowhere
USING = "fts5"
KNOWN = "CREATE TABLE known (job INTEGER PRIMARY KEY, seal TEXT NOT NULL)"

Texts = Callable[[int], Mapping[str, str]]  # job -> what was said, by column
T = TypeVar("T")


@dataclass(frozen=True)
class Snippet:
    """A piece of what was said. column: which; pieces: text, and whether it is what was looked for."""

    column: str
    pieces: tuple[tuple[str, bool], ...]


@dataclass(frozen=True)
class Hit:
    """A job in which all words are. rank: the higher the better; where: each column that holds any."""

    job: int
    rank: float
    where: tuple[Snippet, ...]


class Index:
    """One disposable file. Broken: removed and made anew. Busy or not to be written: a search does without it."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def search(
        self, words: str, weights: Mapping[str, float], seals: Mapping[int, str], texts: Texts
    ) -> tuple[Hit, ...]:
        """The jobs in which all these words are, the best first.

        weights: column -> how much a word there counts; seals: job -> what tells its history from another. BadInput
        where this SQLite cannot search.
        """
        asked = as_asked(words)
        if not asked:
            return ()

        def find(file: sqlite3.Connection) -> tuple[Hit, ...]:
            _bring_up(file, weights, seals, texts)
            return tuple(_hits(file, asked, weights, seals))

        found = self._tried(find, weights)
        if found is not None:
            return found
        with closing(sqlite3.connect(":memory:")) as file:
            _make(file, weights, self._path)
            return find(file)

    def clear(self) -> None:
        """Know nothing any more. BadInput where the file can neither be removed nor emptied."""
        if self._remove():
            return
        try:
            with closing(sqlite3.connect(self._path, timeout=PATIENCE)) as file:
                file.execute("BEGIN EXCLUSIVE")  # nobody puts words into it meanwhile
                self._path.write_bytes(b"")
        except (sqlite3.Error, OSError) as problem:
            text = f"the words by which jobs are found cannot be removed: {problem}"
            mend = "close what else has this file open, and remove it; nothing is lost with it"
            raise BadInput(Complaint(str(self._path), 1, 1, text, mend)) from problem

    def _remove(self) -> bool:
        """Whether the file is gone."""
        for path in (self._path, self._path.with_name(f"{self._path.name}-journal")):
            try:
                path.unlink(missing_ok=True)
            except OSError:
                return False
        return True

    def _tried(self, act: Callable[[sqlite3.Connection], T], weights: Mapping[str, float]) -> T | None:
        for _ in range(2):  # the second time on a new file
            try:
                with self._opened(weights) as file:
                    return act(file)
            except sqlite3.OperationalError as problem:
                if "no such column" not in str(problem) and "no such table" not in str(problem):
                    return None
                self._remove()
            except sqlite3.DatabaseError:
                self._remove()
        return None

    @contextmanager
    def _opened(self, weights: Mapping[str, float]) -> Iterator[sqlite3.Connection]:
        with closing(sqlite3.connect(self._path, timeout=PATIENCE)) as file, file:
            file.execute("PRAGMA synchronous=OFF")
            file.execute("PRAGMA secure_delete=ON")
            if _columns(file) != tuple(weights):
                if _columns(file):
                    raise sqlite3.DatabaseError("of another version")
                _make(file, weights, self._path)
            yield file


def as_asked(words: str) -> str:
    """What is looked for, as FTS5 wants it: every word, or its beginning; words in double quotes as they stand.

    Only letters and figures reach it, so that nothing a person types is taken for a command. "" where nothing is left.
    """
    pieces = []
    for quoted, bare in PIECE.findall(_plain(words))[:MOST_PIECES]:
        if found := WORD.findall(quoted or bare):
            pieces.append(f'"{" ".join(found)}"' + ("" if quoted else "*"))
    return " AND ".join(pieces)


def _plain(text: str) -> str:
    """Text as the index takes it: one way of writing each letter, nothing that is no text, a gap round each letter of a
    script without spaces."""
    clean = unicodedata.normalize("NFC", text).encode("utf-8", "replace").decode("utf-8").replace("\0", " ")
    return UNSPACED.sub(rf"{GAP}\1{GAP}", clean)


def _make(file: sqlite3.Connection, weights: Mapping[str, float], path: Path) -> None:
    columns = ", ".join(weights)
    try:
        file.execute(f"CREATE VIRTUAL TABLE spoken USING {USING}({columns}, tokenize='unicode61 remove_diacritics 2')")
    except sqlite3.OperationalError as problem:
        if "no such module" in str(problem):
            text = "the SQLite of this Python cannot search (it has no FTS5)"
            raise BadInput(
                Complaint(str(path), 1, 1, text, "take a Python from python.org or your system")
            ) from problem
        raise
    file.execute(KNOWN)


def _columns(file: sqlite3.Connection) -> tuple[str, ...]:
    return tuple(row[1] for row in file.execute("PRAGMA table_info(spoken)"))


def _bring_up(file: sqlite3.Connection, weights: Mapping[str, float], seals: Mapping[int, str], texts: Texts) -> None:
    """Read the jobs anew that are not as they are known."""
    known = dict(file.execute("SELECT job, seal FROM known"))
    names, marks = ", ".join(("rowid", *weights)), ", ".join("?" * (len(weights) + 1))
    for job, seal in seals.items():
        if known.get(job) != seal:
            said = texts(job)
            row = (job, *(_plain(said.get(column, "")) for column in weights))
            file.execute(f"INSERT OR REPLACE INTO spoken ({names}) VALUES ({marks})", row)
            file.execute("INSERT OR REPLACE INTO known (job, seal) VALUES (?, ?)", (job, seal))


def _hits(file: sqlite3.Connection, asked: str, weights: Mapping[str, float], seals: Iterable[int]) -> Iterator[Hit]:
    snippets = ", ".join(f"snippet(spoken, {n}, '{HIT}', '{END}', '…', {AROUND})" for n in range(len(weights)))
    rank = f"bm25(spoken, {', '.join(f'{weight:g}' for weight in weights.values())})"
    query = f"SELECT rowid, {rank} AS far, {snippets} FROM spoken WHERE spoken MATCH ? ORDER BY far, rowid"
    here = set(seals)
    for job, far, *found in file.execute(query, (asked,)):
        if job in here:  # a book put back may have fewer
            where = (Snippet(name, _pieces(text)) for name, text in zip(weights, found, strict=True) if HIT in text)
            yield Hit(job, -far, tuple(where))


def _pieces(text: str) -> tuple[tuple[str, bool], ...]:
    """A snippet taken apart at its marks."""
    found: list[tuple[str, bool]] = []
    for number, part in enumerate(text.replace(GAP, "").split(HIT)):
        hit, end, after = part.partition(END) if number else ("", "", part)
        found += [(hit, True)] if end else []
        found += [(after, False)] if after else []
    return tuple(found)


def joined(said: Sequence[str]) -> str:
    """What was said in one column, each on its own line, each once."""
    return "\n".join(dict.fromkeys(said))
