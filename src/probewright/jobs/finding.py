"""Jobs found by what was said, read, done and found; steps that were only proposed, marks, digests and sizes that we
keep beside it are passed over."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

from probewright.jobs.bench import TOLD
from probewright.jobs.cases import Case, fold
from probewright.jobs.found import FOUND
from probewright.jobs.papers_said import TOLD as TOLD_OWNER
from probewright.jobs.papers_said import Told
from probewright.jobs.view import SCHEMA
from probewright.record import Book, Hit

MOST = 50  # chosen: who sees more has said too little
# Columns, each with how much a word in it counts: chosen, the rarer words stand in the first.
COLUMNS: Mapping[str, float] = {
    "machine": 10.0, "culprit": 8.0, "decided_by": 6.0, "complaint": 6.0, "ending": 5.0, "owner": 4.0, "readings": 2.0,
    "pictures": 2.0, "file": 1.0,
}  # fmt: skip
SAID = {
    "machine": "machine", "culprit": "it was", "decided_by": "decided by", "complaint": "complaint",
    "ending": "at the end", "owner": "owner", "readings": "noted", "pictures": "picture", "file": "machine file",
}  # fmt: skip
MACHINE, OWNER = ("kind", "model", "serial", "boards", "left"), ("owner",)
ASKED = {
    field: "machine" if field in MACHINE else "owner" if field in OWNER else "complaint"
    for field in ("kind", *TOLD, "ticks")
}
LINE = {"text": "readings", "says": "readings"}
# kind of event -> field of its payload -> column; a chain's and a stage's machine text is ours
SEARCHED: Mapping[str, Mapping[str, str]] = {
    "opened": ASKED, "amended": ASKED, "closed": {"ending": "ending", "words": "ending"},
    "said": LINE, "asked": {"text": "readings"}, "note": LINE, "owner": LINE,
    "chain": {**LINE, "names": "readings"}, "shelf": {**LINE, "names": "readings"},
    "file": {**LINE, "names": "readings", "file": "file", "machine": "file"},
    "photo": {"says": "pictures"}, "photo says": {"says": "pictures"},
    "part told": dict.fromkeys(("part", "origin", "state", "source", "was", "words"), "readings"),
    "safety check": dict.fromkeys(("check", "said", "by", "tool", "words", "left"), "readings"),
    "safety elsewhere": {"by": "readings", "words": "readings"}, "safety mended": {"words": "readings"},
    "tried": {"under": "readings", "words": "readings"},
    "adjusted": dict.fromkeys(("what", "before", "after"), "readings"),
    "consent": {"to": "readings", "words": "readings"},
    "layer off": {"name": "readings", "text": "readings"}, "left over": {"words": "readings"},
    TOLD_OWNER: {field.name: "ending" for field in fields(Told)},
    "left unsafe": {"words": "ending", "signed": "owner"},
    "spot": {"place": "pictures"}, FOUND: {"names": "culprit", "text": "decided_by"},
}  # fmt: skip


@dataclass(frozen=True)
class PieceView:
    """A piece of what was said; hit: it is what was looked for."""

    text: str
    hit: bool


@dataclass(frozen=True)
class WhereView:
    """Where on a job it was said, in words, and what there."""

    where: str
    pieces: tuple[PieceView, ...]


@dataclass(frozen=True)
class FoundJobView:
    """A job that was found, and why. ended: its way to end, "" for an open one; elsewhere: it is of another bench."""

    job: int
    kind: str
    model: str
    words: str
    ended: str
    elsewhere: bool
    why: tuple[WhereView, ...]


@dataclass(frozen=True)
class FoundView:
    """The jobs in which words were said, the best first; more: how many follow them."""

    words: str
    jobs: tuple[FoundJobView, ...]
    more: int
    schema: str = SCHEMA


def find(book: Book, words: str) -> FoundView:
    """The jobs in which all these words, or such that begin so, were said; words in double quotes as they stand.

    Nothing that is typed is a command: signs are passed over. Also what was taken back is found.
    """
    made_up = {event.job for event in book.events_of("opened") if event.payload.get("practice")}
    found = [hit for hit in hits(book, words) if hit.job not in made_up]
    shown = tuple(_view(fold(book.events(hit.job)), hit) for hit in found[:MOST])
    return FoundView(words, shown, len(found) - len(shown))


def hits(book: Book, words: str) -> tuple[Hit, ...]:
    """The same as it comes from the record, practices too."""
    return book.search(words, SEARCHED, COLUMNS)


def find_jobs(book: Book, words: str) -> tuple[int, ...]:
    """The numbers of those jobs, the best first."""
    return tuple(hit.job for hit in hits(book, words))


def _view(case: Case, hit: Hit) -> FoundJobView:
    told = case.intake
    return FoundJobView(
        case.number, told.kind, told.model, told.words, case.ending, bool(told.elsewhere),
        view_where(hit),
    )  # fmt: skip


def view_where(hit: Hit) -> tuple[WhereView, ...]:
    """Why a job was found."""
    return tuple(
        WhereView(SAID[one.column], tuple(PieceView(text, hit) for text, hit in one.pieces)) for one in hit.where
    )
