"""Parts used: what was fitted, where it comes from, how it was tested, what became of the old one, where each sits now.

What a line of the bench fitted is in the list by itself. Only what such a line does not say is told here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from probewright.jobs.after_repair import NOT_SAID, PartTold
from probewright.jobs.bench import append, complaint, machine_of, owned, readable, still_open
from probewright.jobs.cases import Case, fold
from probewright.jobs.repairs import Fitting, fittings
from probewright.jobs.seats import Chip, Seats, Swap, seats_of, suspects_of
from probewright.jobs.view import SCHEMA
from probewright.machine.saying import nearest
from probewright.readings.setups import find, whole
from probewright.record import Book
from probewright.units import sentence, with_article

BACK = "own part again"
# Where a part comes from -> as its owner is told.
ORIGINS: Mapping[str, str] = {
    "new": "new", "old stock": "old stock, never used", "pulled": "a used part, out of another machine",
    "donor": "a used part, out of a machine kept for its parts", "remake": "a remake", BACK: "its own part again",
}  # fmt: skip
USED = ("pulled", "donor")
KEPT, BOX, THROWN = "kept for the owner", "in the box", "thrown away"
FATES = (KEPT, BOX, THROWN)
UNTESTED = "untested"
TELLS = ("origin", "state", "source", "was", "words")
OUT_AGAIN = "out again"
ANSWERS = {"followed": "the fault went with the part", "stayed": "the fault stayed with the place",
           "gone": "the fault is gone"}  # fmt: skip
FROM_JOB = re.compile(r"(?i)\bjob\s+(\d{1,9})\b")


@dataclass(frozen=True)
class UsedPart:
    """A part that was fitted.

    event: number of the line that fitted it, or of its own; origin: one of ORIGINS, or "not said"; state: "untested",
        or how it was tested, "" while not said; source: supplier, or donor machine or job; was: what became of the old
        one, "" likewise; where_now: "fitted", "out again", or in whose place it sits; words: whatever else.
    """

    event: int
    at: str
    part: str
    origin: str
    state: str
    source: str
    was: str
    where_now: str
    words: str

    @property
    def is_used(self) -> bool:
        """It has worked in another machine."""
        return self.origin in USED


@dataclass(frozen=True)
class SwapView:
    """Two like parts that changed places, in words."""

    event: int
    at: str
    says: str


@dataclass(frozen=True)
class PartsView:
    """What was fitted, and who sits where.

    seats: of each part that is not where it came from, where it is; suspect: what the exchanges say of the culprit, ""
    without any; used: parts that worked elsewhere before; unsaid: parts of which nobody said where they come from;
    says: for the owner.
    """

    job: int
    parts: tuple[UsedPart, ...]
    swaps: tuple[SwapView, ...]
    seats: tuple[str, ...]
    suspect: str
    used: tuple[str, ...]
    unsaid: tuple[str, ...]
    given: tuple[str, ...]
    says: str
    schema: str = SCHEMA


# What is there --------------------------------------------------------------------------------


def parts_used(case: Case) -> tuple[UsedPart, ...]:
    """Every part that was fitted, in the order in which that was said."""
    return tuple(sorted(_parts(case, seats_of(case)), key=lambda one: one.event))


def added(case: Case) -> frozenset[int]:
    """Numbers of the parts that no line fitted."""
    return frozenset(one.line for one in case.parts_told if one.event == one.line)


def parts_view(book: Book, case: Case) -> PartsView:
    """The list, with who sits where and what was given away to other jobs. BadInput for a practice."""
    owned(case)
    seats = seats_of(case)
    parts = parts_used(case)
    used = tuple(one.part for one in parts if one.is_used and one.where_now)
    unsaid = tuple(one.part for one in parts if one.origin == NOT_SAID)
    return PartsView(
        case.number, parts,
        tuple(SwapView(one.event, one.at, _say_swap(one)) for one in seats.swaps),
        tuple(_seats(seats)), _suspect(seats), used, unsaid, given_away(book, case.number), say_used(parts),
    )  # fmt: skip


def seated(case: Case) -> tuple[str, ...]:
    """Who sits in the place of another, each a sentence for whoever opens the machine next."""
    return tuple(map(sentence, _seats(seats_of(case))))


def _parts(case: Case, seats: Seats) -> Iterator[UsedPart]:
    machine = machine_of(case)
    rare = {whole(one.name, machine) for one in machine.parts.values() if one.rare} if machine is not None else set()
    for one in fittings(case):
        base = PartTold(one.event, one.at, one.event, one.part, BACK if one.back else NOT_SAID)
        told = _told(base, case)
        was = told.was or (f"{KEPT}: it cannot be had again" if one.part in rare and not one.back else "")
        yield _used(replace(told, was=was), _where(one, seats))
    for first in case.parts_told:
        if first.event == first.line:
            yield _used(_told(PartTold(first.event, first.at, first.line, first.part), case), "fitted")


def _told(base: PartTold, case: Case) -> PartTold:
    """What was told last of each thing; what was taken back is as the line alone says it."""
    told: dict[str, Any] = {}
    for one in case.parts_told:
        if (one.line, one.part) == (base.line, base.part):
            told |= {name: said for name in TELLS if (said := getattr(one, name)) is not None}
    return replace(base, **{name: said for name, said in told.items() if said})


def _used(told: PartTold, where: str) -> UsedPart:
    return UsedPart(
        told.line, told.at, told.part, told.origin or NOT_SAID, told.state or "", told.source or "", told.was or "",
        where, told.words or "",
    )  # fmt: skip


def _where(one: Fitting, seats: Seats) -> str:
    """Where what this line fitted is now."""
    place = seats.place_of(Chip(one.part, 0 if one.back else one.event))
    if not place:
        return OUT_AGAIN
    return "fitted" if place == one.part else f"in the place of {place}"


def _say_swap(one: Swap) -> str:
    return f"{one.one} into the place of {one.there}, {one.other} into that of {one.here}: {ANSWERS[one.answer]}"


def _seats(seats: Seats) -> Iterator[str]:
    """Each place whose own part is elsewhere, and who is there."""
    for place, chip in sorted(seats.sits.items()):
        if chip.part != place:
            yield f"in the place of {place} sits {chip}"


def _suspect(seats: Seats) -> str:
    """Which part the fault goes with, and where that is."""
    if not seats.swaps:
        return ""
    found = suspects_of(seats.swaps)
    if found is None:
        return "The exchanges speak against each other: do one of them again, and seat both parts well."
    left, clear = found
    if not left:
        if any(one.answer == "gone" for one in seats.swaps):
            return "The fault went when parts were seated anew: a contact, a socket or a joint is likelier than a part."
        return f"Not {_or(clear)}: the fault stays with the place. Look at the socket, the joints, what lies around."
    where = "; ".join(f"{chip} {_sits(chip, seats)}" for chip in _sorted(left))
    if len(left) > 1:
        return f"{_or(left)}: the one that sat where the fault showed first. Now {where}."
    return f"{_or(left)} is the suspect: the fault goes with it. Now {where}."


def _sits(chip: Chip, seats: Seats) -> str:
    place = seats.place_of(chip)
    if not place:
        return "is out of the machine"
    return "sits in its own place" if place == chip.part else f"sits in the place of {place}"


def _sorted(chips: frozenset[Chip]) -> list[Chip]:
    return sorted(chips, key=lambda one: (one.part, one.event))


def _or(chips: frozenset[Chip]) -> str:
    return " or ".join(str(one) for one in _sorted(chips))


def say_used(parts: tuple[UsedPart, ...]) -> str:
    """For the owner: which are used ones."""
    stay = [one for one in parts if one.where_now != OUT_AGAIN and one.origin != BACK]
    if not stay:
        return "No part was fitted."
    used = [f"{one.part} ({', '.join(filter(None, (one.origin, one.source)))})" for one in stay if one.is_used]
    unsaid = [one.part for one in stay if one.origin == NOT_SAID]
    said = f"Used parts: {', '.join(used)}." if used else ""
    open_ = f"Nobody said yet where {', '.join(unsaid)} come{'s' if len(unsaid) == 1 else ''} from." if unsaid else ""
    return " ".join(filter(None, (said, open_))) or "None of the parts that were fitted is a used one."


def given_away(book: Book, number: int) -> tuple[str, ...]:
    """Parts of this job's machine that other jobs say they were given, in words."""
    jobs = {event.job for event in book.events_of("part told") if _is_from(event.payload.get("source", ""), number)}
    return tuple(
        f"{one.part} to job {job}"
        for job in sorted(jobs)
        for one in parts_used(fold(book.events(job)))
        if _is_from(one.source, number)
    )


def _is_from(source: str, number: int) -> bool:
    named = FROM_JOB.search(source)
    return named is not None and int(named[1]) == number


def donor_named(book: Book, source: str) -> str:
    """A source as an owner reads it: another job by what stands on its machine; whose that is, is nobody's business."""

    def machine(named: re.Match[str]) -> str:
        job = int(named[1])
        told = fold(book.events(job)).intake if job in book.jobs() else None
        return told.model or with_article(told.kind) if told is not None else "another machine"

    return FROM_JOB.sub(machine, source)


# What a person says ---------------------------------------------------------------------------


def tell_part(book: Book, case: Case, part: str, told: Mapping[str, str], now: str, line: int = 0) -> Case:
    """Say of a part in the list where it comes from and so on; a field that is "" is taken back.

    line: number of what fitted it, 0: the last one.

    BadInput for a part that is not in the list, and for what is no origin.
    """
    owned(case)  # also of a closed job: a receipt is found later
    machine = machine_of(case)
    meant = find(part.strip(), machine.parts) if machine is not None else ()
    name = whole(meant[0], machine) if meant else part.strip()
    named = [one for one in parts_used(case) if one.part.casefold() == name.casefold()]
    found = [one for one in named if line in (0, one.event)]
    if not found:
        raise complaint(
            f"{part.strip()!r} was not fitted" + (f" by line {line}" if named else ""),
            "say so on the bench (`fitted a new C12`), or add what is not in the machine file: "
            '`probewright parts --add "mains lead"`',
        )
    one = found[-1]
    return _tell(book, case, one.part, told, now, one.event, one)


def add_part(book: Book, case: Case, part: str, told: Mapping[str, str], now: str, once: str = "") -> Case:
    """A part that no line can fit, for no machine file names it: a mains lead, a belt. once: mark of the form, which
    counts once however often it is sent."""
    still_open(case)
    readable(part)
    if not part.strip():
        raise complaint("the part has no name", "write for example: mains lead")
    if once and any((one.once, one.part) == (once, part.strip()) for one in case.parts_told):
        return case
    machine = machine_of(case)
    if machine is not None and part.strip() in machine.parts:
        raise complaint(f"{part.strip()} is in the machine file", f"enter on the bench `fitted a new {part.strip()}`")
    said = {name: one for name, one in told.items() if one.strip()}
    return _tell(book, case, part.strip(), said, now, 0, None, once)


def drop_part(book: Book, case: Case, event: int, now: str) -> Case:
    """A part that was added by mistake; one that a line fitted goes with that line."""
    still_open(case)
    if event not in added(case):
        by_line = event in {one.event for one in parts_used(case)}
        mend = "take back its line: `probewright reading undo`" if by_line else "see the list: `probewright parts`"
        raise complaint(f"{event} is no part that was added by itself", mend)
    return append(book, case, "part gone", {"line": event}, now)


def _tell(
    book: Book, case: Case, part: str, told: Mapping[str, str], now: str, line: int, known: UsedPart | None,
    once: str = "",
) -> Case:  # fmt: skip
    """Keep what was told, once it is clear; nothing is written where nothing was."""
    said = {name: " ".join(one.split()) for name, one in told.items()}
    if unknown := sorted(set(said) - set(TELLS)):
        raise complaint(f"{unknown[0]!r} is nothing that is told of a part", nearest(unknown[0], TELLS))
    for one in said.values():
        readable(one)
    if (origin := said.get("origin") or "new") not in ORIGINS:
        raise complaint(f"{origin!r} is no origin of a part", nearest(origin, list(ORIGINS)))
    if (was := said.get("was") or KEPT) not in FATES:
        raise complaint(f"{was!r} is nothing that becomes of an old part", nearest(was, FATES))
    if was == THROWN and known is not None and known.was.startswith(f"{KEPT}:") and not said.get("words"):
        raise complaint(f"the old {part} cannot be had again, so it is kept", "if it is gone already, say why in words")
    if named := FROM_JOB.search(said.get("source", "")):
        if int(named[1]) not in book.jobs():
            raise complaint(f"there is no job {named[1]}", "see `probewright job list`")
        if int(named[1]) == case.number:
            raise complaint(f"job {named[1]} is this machine itself", f"its own part is of origin `{BACK}`")
    if not said and line:
        return case
    return append(
        book, case, "part told", {"line": line, "part": part, **said, **({"once": once} if once else {})}, now
    )
