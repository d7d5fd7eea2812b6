"""A machine that was here before: found again by its serial number or its owner and model, or as somebody said.

What is needed of the earlier job is put into the new one's own record, so that it stays what it is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import Any

from probewright import __version__
from probewright.jobs.cases import Case, Intake, after, complained_of, fold
from probewright.jobs.culprits import as_compared, has_come_back
from probewright.jobs.found import BEFORE, Before
from probewright.readings.setups import CONTACTS
from probewright.record import Book
from probewright.units import counted

SAID, SERIAL, OWNER = "as said", "same serial number", "same owner and model"
NOT_FOUND = Before(0, "")  # what had been found matches no more


@dataclass(frozen=True)
class BeforeView:
    """Where the machine was before. days: from that job's end to this one's beginning; again: it is the same fault over
    again, so that the repair counts as no cure; says: all of it in words."""

    job: int
    why: str
    days: int
    ending: str
    touched: tuple[str, ...]
    again: bool
    says: str


def link_if_known(book: Book, case: Case, now: str) -> Case:
    """Tie a job to the last one on which this machine was, where that can be told and nobody has said anything.

    What was found by what was told of the machine is looked for again, and is no more where nothing matches now.
    """
    if case.practice or case.intake.elsewhere or (case.before is not None and case.before.why == SAID):
        return case
    nothing = None if case.before is None else NOT_FOUND
    found = next(_met_before(book, case), nothing)
    return case if found is None else keep_before(book, case, found, now)


def _met_before(book: Book, case: Case) -> Iterator[Before]:
    """Closed jobs of this very machine, the last first; the one that it is tied to stays as it was put down."""
    told: dict[int, dict[str, Any]] = {}
    for event in book.events_of("opened", "amended"):
        told.setdefault(event.job, {}).update(event.payload)
    for job in sorted((one for one in told if one < case.number), reverse=True):
        one = told[job]
        if one.get("practice") or one.get("elsewhere"):
            continue
        if why := same_machine(case.intake, Intake(**one)):
            if case.earlier is not None and case.earlier.job == job:
                yield replace(case.earlier, why=why)
            elif (earlier := fold(book.events(job))).closed is not None:
                yield as_before(earlier, why)


def same_machine(one: Intake, other: Intake) -> str:
    """Why two are taken for one machine; "" where they are not."""
    mine, theirs = ([as_compared(words) for words in (i.serial, i.model, i.owner)] for i in (one, other))
    serials, models, owners = zip(mine, theirs, strict=True)
    if one.kind != other.kind or (all(models) and models[0] != models[1]):
        return ""
    if all(serials):
        return SERIAL if serials[0] == serials[1] else ""
    return OWNER if all(models) and all(owners) and owners[0] == owners[1] else ""


def as_before(earlier: Case, why: str, same: bool | None = None) -> Before:
    """What a later job has to know of an earlier one."""
    names, ended = earlier.known.names if earlier.known else {}, earlier.closed or {}
    done = (*earlier.bench.fitted, *earlier.bench.mended)
    touched = (names.get(end, end) for one in done for end in one.removeprefix(CONTACTS).split("~"))
    return Before(
        earlier.number, why, ended.get("ending", ""), ended.get("at", earlier.touched), complained_of(earlier.intake),
        tuple(dict.fromkeys(touched)), same,
    )  # fmt: skip


def keep_before(book: Book, case: Case, before: Before, now: str) -> Case:
    """Put the earlier job into the record of the new one."""
    if before == case.before:
        return case
    return after(case, book.append(case.number, BEFORE, asdict(before), now, __version__))


def view_before(case: Case) -> BeforeView | None:
    """Where the machine was before, None where it was not; nothing but the job's own record is read."""
    before = case.earlier
    if before is None:
        return None
    days = (datetime.fromisoformat(case.opened) - datetime.fromisoformat(before.closed)).days
    again = has_come_back(case)
    done = f"mended {', '.join(before.touched)}, " if before.touched else ""
    ended = f"closed as {before.ending}" if before.ending else "not closed"
    said = f"Job {before.job}, {counted(days, 'day')} ago: {done}{ended}; {_fault(case, again)}"
    return BeforeView(before.job, before.why, days, before.ending, before.touched, again, said)


def _fault(case: Case, again: bool) -> str:
    """What came back, in words."""
    assert case.before is not None
    both = [name for name in complained_of(case.intake) if name in case.before.bad]
    if case.before.same is not None:
        return "the same fault, as said" if again else "another fault, as said"
    if both:
        return f"the same is complained of: {', '.join(both)}"
    return "nobody said what did not work, so it is taken for the same fault" if again else "another function fails now"


def said_before(book: Book, case: Case, job: int, same: bool | None, now: str) -> Case:
    """Somebody says on which job this machine was before, 0 for none; same: whether it is the same fault again.

    ValueError for the job itself or one that does not come before it.
    """
    if job == 0:
        return keep_before(book, case, Before(0, SAID), now)
    if job >= case.number:
        raise ValueError(f"job {job} does not come before job {case.number}")
    earlier = fold(book.events(job))
    if earlier.practice or earlier.intake.elsewhere:
        raise ValueError(f"job {job} was no machine on this bench")
    found = as_before(earlier, SAID, same)
    if case.before is not None and case.before.job == job:
        found = replace(found, why=case.before.why)
    return keep_before(book, case, found, now)
