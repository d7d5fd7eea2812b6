"""An owner who wants to be forgotten: their words about themselves go, what was found on the machine stays."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from probewright import __version__
from probewright.jobs.bench import complaint, every_case
from probewright.jobs.cases import Case, fold
from probewright.jobs.view import SCHEMA
from probewright.record import Book

ERASED = "erased"  # kind of the event that says so
TAKES_OVER = ("opening followed", "learned")  # kinds of event that copy another job's lines, which they name
COPIES = (*TAKES_OVER, "layer off")  # kinds in which such copies stand
STANDS_FOR = "the owner"  # what is written in the place of a name
LEAST_LETTERS = 3  # chosen: a shorter name is a place on a board as well
LONG_LETTERS = 6  # chosen: a name that long goes with an ending of two letters too, as of a genitive
PART_LETTERS = 4  # chosen: a part of a name that long is looked for by itself
# Fields, however deep, that hold words as they were typed, or ours with those in them; all others make the findings.
WORDS = frozenset(
    (
        "owner",
        "words",
        "when",
        "inside",
        "boards",
        "left",
        "model",
        "serial",
        "text",
        "says",
        "mend",
        "next",
        "wish",
        "under",
        "what",
        "before",
        "after",
        "name",
        "to",
        "file",
        "cause",
        "did",
        "weak",
        "advice",
        "use",
        "untouched",
        "kept",
        "by",
        "signed",
        "source",
        "said",
        "state",
        "tool",
        "part",
        "meter",
    )
)


@dataclass(frozen=True)
class ErasedView:
    """What was erased. places: entries that were written over, those included that other jobs had taken over from this
    one; left: what a person has to look at; elsewhere: other jobs of the same owner, which are as they were."""

    job: int
    places: int
    left: tuple[str, ...]
    elsewhere: tuple[int, ...]
    schema: str = SCHEMA


def erase_owner(book: Book, case: Case, also: Sequence[str], now: str) -> ErasedView:
    """Take the owner's name out of a job, and every word of `also`: a telephone number, a street, a second name.

    It goes from the intake and from every line, as whole words, also from what other jobs took over from this one;
    readings, findings and times stay. BadInput for a word too short to be told from a place.
    """
    owners = owners_of(book, case)
    words = sorted({one.strip() for one in (*owners, *also) if one.strip()}, key=len, reverse=True)
    if not words:
        raise complaint(f"job {case.number} names no owner", "say what is to be erased: `--also WORDS`")
    if short := next((one for one in words if len(one) < LEAST_LETTERS), None):
        raise complaint(f"{short!r} is too short to be told from a place", f"write {LEAST_LETTERS} letters or more")
    said = re.compile("|".join(map(anywhere, words)), re.IGNORECASE)

    def changed(kind: str, payload: Mapping[str, Any]) -> Mapping[str, Any]:
        bare: dict[str, Any] = without(payload, said)
        return bare | ({"owner": ""} if "owner" in payload else {})

    others = tuple(
        one.number for one in every_case(book)
        if one.number != case.number and one.intake.owner.casefold() in {name.casefold() for name in owners}
    )  # fmt: skip
    places = sum(_erase_copies(book, job, case.number, said, now) for job in book.jobs() if job != case.number)
    places += book.erase(case.number, changed, ERASED, {}, now, __version__)
    return ErasedView(case.number, places, tuple(_left(book, case, words, said, others)), others)


def _erase_copies(book: Book, job: int, source: int, said: re.Pattern[str], now: str) -> int:
    """Take the words out of what a job took over from another one; how many entries were written over.

    Its own owner and lines stay, and it is not said of it that its owner was erased.
    """

    def changed(kind: str, payload: Mapping[str, Any]) -> Mapping[str, Any]:
        return without(payload, said) if kind in COPIES else payload

    events = book.events(job)
    if not any(event.kind in TAKES_OVER and event.payload["job"] == source for event in events):
        return 0
    if all(changed(event.kind, event.payload) == event.payload for event in events):
        return 0
    return book.erase(job, changed, ERASED, {"copies_of": source}, now, __version__)


def owners_of(book: Book, case: Case) -> tuple[str, ...]:
    """Every name that the owner of this job was given, also before it was mended."""
    told = (event.payload.get("owner") for event in book.events(case.number) if event.kind in ("opened", "amended"))
    return tuple(dict.fromkeys(one for one in told if one))


def anywhere(word: str) -> str:
    """A pattern for a word by itself."""
    ending = r"\w{0,2}" if len(word) >= LONG_LETTERS else ""
    return rf"(?<!\w){re.escape(word)}{ending}(?!\w)"


def without(value: Any, said: re.Pattern[str], words: bool = False) -> Any:
    """A value without what is said; words: it stands in a field of words."""
    if isinstance(value, Mapping):
        return {name: without(one, said, name in WORDS) for name, one in value.items()}
    if isinstance(value, list):
        return [without(one, said, words) for one in value]
    return said.sub(STANDS_FOR, value) if words and isinstance(value, str) else value


def _left(
    book: Book, case: Case, words: Iterable[str], said: re.Pattern[str], of_owner: Collection[int]
) -> list[str]:  # fmt: skip
    """What no program can decide: parts of the name that still stand somewhere, and what is on the pictures."""
    events = book.events(case.number)
    found = []
    parts = dict.fromkeys(part for one in words for part in re.findall(rf"\w{{{PART_LETTERS},}}", one))
    for part in parts:
        here = re.compile(anywhere(part), re.IGNORECASE)
        count = sum(bool(here.search(str(event.payload))) for event in events)
        if count:
            found.append(f"“{part}” still stands in {count} entr{'y' if count == 1 else 'ies'}; "
                         f"if that is the owner, erase it too: `--also {part}`")  # fmt: skip
    others = [job for job in book.jobs() if job not in (case.number, *of_owner) and _holds(book, job, said)]
    if others:
        found.append(f"The same words stand in job{'' if len(others) == 1 else 's'} {', '.join(map(str, others))}: "
                     "look whether they mean this owner.")  # fmt: skip
    if fold(events).photos:
        found.append("Nobody has looked at what the photographs show: take away those with a name or an address.")
    found.append("Copies and exports that were made before still hold everything.")
    return found


def _holds(book: Book, job: int, said: re.Pattern[str]) -> bool:
    """Whether anybody's words in a job hold what is said."""
    return any(without(event.payload, said) != event.payload for event in book.events(job))
