"""Usual culprits: what a job proves by its repair, and what all closed jobs of the book prove together.

A culprit is what was located and mended in a job that ended as repaired, as long as the machine did not come back with
the same. Nothing here needs the circuit solved.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping

from probewright import __version__
from probewright.hypotheses import Suspect
from probewright.hypotheses.mending import is_repaired
from probewright.hypotheses.suspects import made_of, suspects_of
from probewright.hypotheses.usual import Tally, Usual, Way, expected, kind_of
from probewright.jobs.cases import Case, after, complained_of, fold
from probewright.jobs.found import BEFORE, FOUND, USUAL, Culprit, Found, keep_found, keep_usual, kept_found
from probewright.jobs.heard_again import shows_still
from probewright.jobs.ways_to_end import REPAIRED
from probewright.machine.model import Machine
from probewright.readings import Setup
from probewright.readings.setups import CONTACTS
from probewright.record import Book

NAMED = 0.5  # chosen: what was mended was likelier the culprit than all else together, and the cure says so too


def found_in(case: Case, machine: Machine | None) -> Found:
    """What was located and mended on a job, by its machine file; nothing where no file or no repair tells, and where
    the fault was met again after it."""
    since = None if machine is None or shows_still(case) else mended_on(case, machine)
    if machine is None or since is None or not (since.replaced or since.mended):
        return Found()
    by_table = suspects_of(machine)
    listed = {one.id: one for one in by_table}
    named = list(_named(case, listed))
    cured = [(one, sure) for one, sure in named if is_mended(machine, one, since)]
    if sum(sure for _, sure in cured) < NAMED:
        if len((*since.replaced, *since.mended)) != 1:
            return Found()  # several were mended, and nothing tells which of them it was
        cured = [(one, one.prior) for one in by_table if is_mended(machine, one, since)]
    culprits = tuple(_culprits(machine, cured))
    proved_ = min(sum(one.share for one in culprits), 1.0)  # what is of no kind, like a bridge, teaches nothing here
    whole = expected(machine, by_table) if culprits else {}
    line, text = _decisive(case)
    return Found(culprits, {way: proved_ * share for way, share in whole.items()}, line, text)


def mended_on(case: Case, machine: Machine) -> Setup:
    """What was fitted and mended by the last line, on the names of the machine file; what that does not know is left
    out."""
    names, bench = case.known.names if case.known else {}, case.bench
    fitted = (names.get(one, one) for one in bench.fitted)
    mended = ("~".join(names.get(end, end) for end in one.split("~")) for one in bench.mended)
    return Setup(
        replaced=tuple(one for one in fitted if one in machine.parts),
        mended=tuple(one for one in mended if all(_is_known(end, machine) for end in one.split("~"))),
    )


def _is_known(place: str, machine: Machine) -> bool:
    if place.startswith(CONTACTS):
        return place.removeprefix(CONTACTS) in machine.parts
    try:
        machine.net_of(place)
    except KeyError:
        return False
    return True


def _named(case: Case, listed: Mapping[str, Suspect]) -> Iterator[tuple[Suspect, float]]:
    """The suspects that were shown last, with how sure it was."""
    for name, _, sure in (case.shown or {}).get("suspects", ()):
        try:
            yield made_of(listed, name), sure
        except KeyError:  # of a stranger, or of a file that is another one now
            continue


def is_mended(machine: Machine, suspect: Suspect, since: Setup) -> bool:
    """Whether a repair took away all that a suspect is."""
    return bool(suspect.faults) and all(is_repaired(machine, fault, since) for fault in suspect.faults)


def _culprits(machine: Machine, cured: list[tuple[Suspect, float]]) -> Iterator[Culprit]:
    """Each fault of each suspect that the repair took away, by how sure it was; all faults of one are one culprit."""
    whole, shares = sum(sure for _, sure in cured), defaultdict[tuple[str, str, str], float](float)
    for suspect, sure in cured:
        for fault in suspect.faults:
            if kind := kind_of(machine, fault):
                shares[fault.item, fault.mode, kind] += sure / whole / len(suspect.faults)
    for (item, mode, kind), share in shares.items():
        yield Culprit(item, mode, kind, round(share, 6))


def _decisive(case: Case) -> tuple[int, str]:
    """The line before the repair that spoke most for what was shown last, and its text; 0 where none is known."""
    mended = next((line.event for line in case.live if line.bench and (line.bench.fitted or line.bench.mended)), 0)
    texts = {line.event: line.text for line in case.live if line.event < mended}
    return next(((event, texts[event]) for event in (case.shown or {}).get("by", ()) if event in texts), (0, ""))


def keep_culprits(book: Book, case: Case, machine: Machine | None, now: str) -> Case:
    """Put down what a job proves, where it proves anything or once did."""
    found = found_in(case, machine)
    if found == case.found or (not found.culprits and case.found is None):
        return case
    return after(case, book.append(case.number, FOUND, keep_found(found), now, __version__))


# All jobs together ---------------------------------------------------------------------------


def proved(book: Book) -> dict[int, Found]:
    """What each job proves that is closed as repaired and did not come back."""
    found = {event.job: kept_found(event.payload) for event in book.events_of(FOUND)}
    holds = repaired(book) - set(came_back(book))
    return {job: one for job, one in found.items() if job in holds and one.counts and one.culprits}


def repaired(book: Book) -> set[int]:
    """The jobs that are closed as repaired."""
    ended: dict[int, str] = {}
    for event in book.events_of("closed", "reopened"):
        ended[event.job] = event.payload.get("ending", "")
    return {job for job, ending in ended.items() if ending == REPAIRED}


def came_back(book: Book) -> dict[int, int]:
    """The jobs whose machine was brought again with the same, each with the first job on which it was."""
    linked = dict.fromkeys(event.job for event in book.events_of(BEFORE))
    cases = (fold(book.events(job)) for job in linked)
    again = [(case.earlier.job, case.number) for case in cases if case.earlier is not None and has_come_back(case)]
    return dict(sorted(again, reverse=True))


def say_again(book: Book, job: int) -> str:
    """ "It came back with the same fault, as job 2."; "" where it did not."""
    again = came_back(book).get(job)
    return f"It came back with the same fault, as job {again}." if again else ""


def has_come_back(case: Case) -> bool:
    """Whether this job is the last one over again: as somebody said, else unless another function is complained of."""
    before = case.earlier
    if before is None or before.same is not None:
        return before is not None and bool(before.same)
    bad = set(complained_of(case.intake))
    return not (bad and before.bad) or bool(bad & set(before.bad))


def models(book: Book) -> dict[int, str]:
    """The model of each job, as it is compared."""
    found: dict[int, str] = {}
    for event in book.events_of("opened", "amended"):
        if "model" in event.payload:
            found[event.job] = as_compared(event.payload["model"])
    return found


def as_compared(words: str) -> str:
    """Words by which machines and owners are known again."""
    return " ".join(words.split()).casefold()


def usual_of(book: Book, model: str) -> Usual:
    """What this bench has found so far, and what in machines of this model, "" for none."""
    return usual_in(proved(book), models(book), model)


def usual_in(proofs: Mapping[int, Found], of_model: Mapping[int, str], model: str) -> Usual:
    """The same of what the jobs prove; of_model: the model of each."""
    kinds: dict[Way, Tally] = {}
    items: defaultdict[Way, float] = defaultdict(float)
    alike = [job for job in proofs if model and of_model.get(job) == as_compared(model)]
    for job, found in proofs.items():
        for way, share in found.expected.items():
            kinds[way] = kinds.get(way, Tally()).plus(Tally(expected=share))
        for one in found.culprits:
            way = one.kind, one.mode
            kinds[way] = kinds.get(way, Tally()).plus(Tally(found=one.share))
            if job in alike:
                items[one.item, one.mode] += one.share
    of_alike = sum(sum(proofs[job].expected.values()) for job in alike)
    return Usual(len(proofs), kinds, len(alike), dict(items), of_alike)


def pin_usual(book: Book, case: Case, now: str) -> Case:
    """Put what the bench has found so far into a job's own record, so that it stays what it is when others end."""
    usual = usual_of(book, case.intake.model)
    if case.practice or case.intake.elsewhere or usual == case.usual:
        return case
    return after(case, book.append(case.number, USUAL, keep_usual(usual), now, __version__))
