"""Handing a machine back: what its owner is told, in plain words and exactly as strong as the record.

Four papers are made from a job: the owner's page, the technician's record, an estimate and a bill. Nothing is
computed here but what other rooms say; a paper that was handed over is put down with the digest of its text.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime, timedelta
from decimal import Decimal
from hashlib import sha256

from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG, Fault, symptoms
from probewright.hypotheses.modes import PLACES
from probewright.jobs.bench import append, brought_here, complaint, machine_of, owned, readable
from probewright.jobs.billing import BillView, bill, decided, estimate, estimate_for, money, terms_of, way_on, ways_on
from probewright.jobs.case_view import BenchView
from probewright.jobs.cases import Case, complained_of
from probewright.jobs.culprits import say_again
from probewright.jobs.deciding import DecisionView
from probewright.jobs.endings import CAME_BACK, MENDED, OVER, SIGNED, EndingView, cured_once, ending, shown_guilty
from probewright.jobs.papers_said import HANDED, TOLD, Handed, Told
from probewright.jobs.parts_used import BACK, ORIGINS, OUT_AGAIN, UNTESTED, UsedPart, donor_named, parts_used, seated
from probewright.jobs.proving import AdjustedView, ChangeView, ProveView, prove
from probewright.jobs.recounting import RecordView, recount
from probewright.jobs.safety_checks import TO_BE_DONE, SafetyView, safety
from probewright.jobs.strips import explained, troubles
from probewright.jobs.view import SCHEMA, SuspectView
from probewright.jobs.ways_to_end import PARKED, REPAIRED, RETURNED
from probewright.machine.saying import nearest
from probewright.planning.overload import items_of
from probewright.readings.setups import mended_in_words
from probewright.record import Book
from probewright.units import percent, sentence, with_article

OWNER, RECORD, ESTIMATE, BILL = "owner", "record", "estimate", "bill"
PAPERS = (OWNER, RECORD, ESTIMATE, BILL)
ALL_BUT_SURE, LIKELY = 0.9, 0.5  # chosen: how sure a cause is before it is told as one, and as the likeliest
MOST_NAMED = 2  # chosen: parts on the owner's page; more are nothing to them


@dataclass(frozen=True)
class FittedView:
    """A part that was fitted. kind: of part, "" where no file knows it; used: it served before; says: new or used, and
    where from; culprit: it is what was wrong, by the readings."""

    part: str
    kind: str
    used: bool
    says: str
    culprit: bool


@dataclass(frozen=True)
class WarrantyView:
    """What is promised. days: 0 where no repair is claimed; until: UTC, ISO; works: repaired functions that were seen
    to work, none while the repair is not proven; work: parts and joints."""

    days: int
    until: str
    works: tuple[str, ...]
    work: tuple[str, ...]


@dataclass(frozen=True)
class OwnersView:
    """What the owner's page says, in the order of the page.

    told: their own words; bad: what did not work; found: what was wrong and why; did: what was done; fitted: parts;
    seats: who sits in the place of another; changes: places read before and after; claim: what may be claimed, as
    strong as the tries; untested: what was not touched, tried or seen to work; safety: None where nothing was mended
    and nothing checked; options: ways to go on, with their price, where it was not repaired; warranty: None where the
    bench gives none; sign: the owner signs that they know.
    """

    told: str
    when: str
    bad: tuple[str, ...]
    found: tuple[str, ...]
    did: tuple[str, ...]
    fitted: tuple[FittedView, ...]
    seats: tuple[str, ...]
    changes: tuple[ChangeView, ...]
    adjusted: tuple[AdjustedView, ...]
    tried: tuple[str, ...]
    claim: str
    untested: tuple[str, ...]
    safety: SafetyView | None
    options: tuple[str, ...]
    kept: tuple[str, ...]
    weak: str
    advice: str
    use: str
    warranty: WarrantyView | None
    sign: bool


@dataclass(frozen=True)
class HandOverView:
    """One paper of a job. paper: "owner", "record", "estimate" or "bill"; at: UTC, ISO, when it was made; ending: the
    form it follows; owners, record, sums: what that paper says, the others None; open_: what is not known yet; handed:
    what was handed over before; digest: SHA-256 of its text, "" before it has one; apart: what of what was taken apart
    is not as it was, and what was said of it."""

    job: int
    paper: str
    at: str
    machine: str
    serial: str
    owner: str
    opened: str
    closed: str
    head: str
    ending: EndingView
    owners: OwnersView | None
    record: RecordView | None
    sums: BillView | None
    open_: tuple[str, ...]
    handed: tuple[Handed, ...]
    digest: str = ""
    apart: tuple[str, ...] = ()
    schema: str = SCHEMA


# What is said ---------------------------------------------------------------------------------


def tell_owner(book: Book, case: Case, told: Mapping[str, str], now: str) -> Case:
    """Write for the owner: cause, what was done, weak parts, advice, use. A closed job takes it too. BadInput."""
    brought_here(case)
    known = [one.name for one in fields(Told)]
    for name, words in told.items():
        if name not in known:
            raise complaint(f"{name!r} is nothing that an owner is told", nearest(name, known))
        readable(words)
    new = {name: words.strip() for name, words in told.items()}
    if all(getattr(case.papers.told, name) == words for name, words in new.items()):
        return case
    return append(book, case, TOLD, new, now)


def hand(book: Book, case: Case, view: HandOverView, text: str, made: str, now: str, once: str = "") -> Case:
    """Put down that a paper was handed over, with the digest of its text. made: "page", "html" or "pdf"; once: mark of
    the form, which counts once however often it is sent.

    BadInput as for `may_be_handed`.
    """
    brought_here(case)
    may_be_handed(view)
    if was_handed(case, once):
        return case
    told = {"paper": view.paper, "form": view.ending.form, "digest": digest(text), "made": made}
    return append(book, case, HANDED, {**told, "once": once} if once else told, now)


def was_handed(case: Case, once: str) -> bool:
    """Whether a paper was handed over by this very form already."""
    return bool(once) and any(one.once == once for one in case.papers.handed)


def may_be_handed(view: HandOverView) -> None:
    """Refuse a bill above what the owner agreed to: their word comes first. BadInput."""
    if view.paper == BILL and view.sums is not None and view.sums.over:
        sums, terms = view.sums, view.sums.terms
        raise complaint(
            f"this bill is {money(sums.sums.gross, terms)}, agreed were {money(sums.ceiling or Decimal(0), terms)}",
            "ask the owner, and keep their word with the new sum: `probewright decide`; or charge less",
        )


def digest(text: str) -> str:
    """SHA-256 of a text, hexadecimal."""
    return sha256(text.encode("utf-8")).hexdigest()


# What a paper says ----------------------------------------------------------------------------


def hand_over(book: Book, case: Case, view: BenchView | None, paper: str, now: str) -> HandOverView:
    """One paper of a job. view: where its search stands, None while that is worked out. BadInput for a practice, or a
    paper that is not known."""
    owned(case)
    named_paper(paper)
    terms = terms_of(book, case)
    decision = decided(book, case, view)
    proof, checks = prove(case), safety(case)
    worked = bool(parts_used(case) or mended(case))
    form = _came_back(book, case, ending(case, proof, checks.standing, _costs(book, case, decision), worked))
    sums = bill(book, case) if paper == BILL else estimate(book, case, decision) if paper == ESTIMATE else None
    owners = _owners(book, case, view, form, proof, checks, decision, now) if paper == OWNER else None
    record = recount(case, view, proof, checks, form.form == REPAIRED and not form.again) if paper == RECORD else None
    return HandOverView(
        case.number, paper, now, _machine(case), case.intake.serial, case.intake.owner,
        case.opened, case.closed["at"] if case.closed else "", terms.head, form, owners, record, sums,
        (*(_missing(case, view) if paper == OWNER else ()), *(sums.open_ if sums else ())), case.papers.handed,
        apart=tuple(_apart(case)),
    )  # fmt: skip


def _came_back(book: Book, case: Case, form: EndingView) -> EndingView:
    """The form of a job whose machine was brought again with the same says so, and in its heading."""
    said = say_again(book, case.number)
    if not said:
        return form
    return replace(form, title=f"{form.title}, but it came back", says=(*form.says, said), again=True)


def named_paper(paper: str) -> None:
    """BadInput for a paper that is not known."""
    if paper not in PAPERS:
        raise complaint(f"{paper!r} is no paper that is handed over", nearest(paper, PAPERS))


def _apart(case: Case) -> Iterator[str]:
    """What is not as it was before it was taken apart, each a sentence, with what somebody said of it."""
    found = troubles(case.strip, machine_of(case))
    yield from map(sentence, found)
    if found and (said := explained(case.strip)):
        yield f"Said of it: {said}"


def _machine(case: Case) -> str:
    model, kind = case.intake.model, case.intake.kind
    return f"{model} ({kind})" if model and kind.casefold() not in model.casefold() else model or kind


def _costs(book: Book, case: Case, decision: DecisionView) -> Decimal | None:
    """What the repair would have cost in all; None where no way was named."""
    return estimate(book, case, decision).sums.gross if way_on(decision) else None


def _owners(
    book: Book, case: Case, view: BenchView | None, form: EndingView, proof: ProveView, checks: SafetyView,
    decision: DecisionView, now: str,
) -> OwnersView:  # fmt: skip
    told, used = case.papers.told, parts_used(case)
    lead, worked = leading(view), bool(used or mended(case))
    guilty = frozenset[str]() if form.again else _culprits(case, view, lead, form.form)
    fitted = tuple(_fitted(book, case, used, guilty))
    return OwnersView(
        told=case.intake.words,
        when=case.intake.when,
        bad=complained_of(case.intake),
        found=tuple(_found(case, form.form, view, lead, form.again and worked)),
        did=tuple(_did(case, form.form)),
        fitted=fitted,
        seats=seated(case),
        changes=proof.changes,
        adjusted=proof.adjusted,
        tried=tuple(one.says for one in proof.tries if one.since),
        claim=proof.claim if proof.standing != "not repaired" else "",
        untested=tuple(_untested(case, proof, checks, worked)),
        safety=checks if worked or checks.history else None,
        options=tuple(_options(book, case, decision, form.form)),
        kept=tuple(_kept(told, used)),
        weak=told.weak,
        advice=told.advice,
        use=told.use,
        warranty=_warranty(book, case, form.form, proof, fitted, now),
        sign=form.form in SIGNED and case.closed is not None,
    )


def _missing(case: Case, view: BenchView | None) -> Iterator[str]:
    """What would make the owner's page better."""
    if view is None or view.search.rough:
        yield "how sure the diagnosis is, is still being worked out"
    if not case.papers.told.cause:
        yield "why it failed, in your words: --cause"
    if case.closed is None:
        yield "how the job ends: `probewright job close`"


def leading(view: BenchView | None) -> SuspectView | None:
    """The suspect that the readings speak for most, None where none is a fault of this machine or nothing is known."""
    if view is None:
        return None
    return next((one for one in view.search.suspects if one.id not in (NOTHING_WRONG, NOT_LISTED)), None)


def _found(
    case: Case, form: str, view: BenchView | None, lead: SuspectView | None, failed: bool
) -> Iterator[str]:  # fmt: skip
    """What was wrong and why: the repairer's words, then what the readings say and how surely. failed: it was worked
    on, and came back with the same."""
    words = [case.papers.told.cause, "" if _is_worked_on(form) else _ended(case), *_guilty(case)]
    yield from filter(None, words)
    if view is None or lead is None or view.case.depth == "symptoms" or not case.readings:
        if not any(words):
            so_far = "found" if case.readings else "looked for"
            yield (
                f"The cause was not {so_far} by measuring." if case.closed else f"The cause has not been {so_far} yet."
            )
        return
    alike = next((one for one in view.search.classes if lead.id in one.members), None)
    chance = alike.probability if alike else lead.probability
    members = alike.members if alike else ()
    named = _plainly_named(case, [lead, *(one for one in view.search.suspects if one.id in members and one != lead)])
    if failed:
        yield f"The readings spoke most for this, but after the repair the same came back: {named}."
    elif chance > ALL_BUT_SURE and view.search.finding == "located":
        yield f"The readings say: {named} ({percent(chance)} sure)."
        if bad := complained_of(case.intake):
            yield f"That accounts for what did not work: {', '.join(bad)}."
    elif chance > LIKELY:
        yield f"The readings speak most for this, but were not checked through: {named} ({percent(chance)})."
    else:
        yield f"The cause was not found for certain. The likeliest is: {named} ({percent(chance)})."


def _plainly_named(case: Case, suspects: Sequence[SuspectView]) -> str:
    """Suspects as an owner reads them: the parts, whatever is wrong with them, two and how many more."""
    machine = machine_of(case)
    parts = machine.parts if machine is not None else {}

    def part(item: str) -> str:
        return f"{item}, {with_article(parts[item].kind)}"

    def name(one: SuspectView) -> str:
        items = [fault.item for fault in one.faults if fault.item in parts]
        return " and ".join(map(part, items)) if items and len(items) == len(one.faults) else one.says

    names = list(dict.fromkeys(map(name, suspects)))
    more = len(names) - MOST_NAMED
    others = [f"{more} more"] if more > 0 else []
    return ", or ".join([*names[:MOST_NAMED], *others]) + (" together" if len(names) > 1 else "")


def _guilty(case: Case) -> Iterator[str]:
    """What was swapped and was found to be it, or taken for it."""
    for one in shown_guilty(case):
        yield f"With another {one} the fault was gone, and with the old one it came back."
    yield from (f"With another {one} the fault was gone; the old one was not tried again." for one in cured_once(case))


def _did(case: Case, form: str) -> Iterator[str]:
    """What was done: the repairer's words, what was mended in place, their words at the end."""
    if case.papers.told.did:
        yield case.papers.told.did
    yield from map(sentence, mended(case))
    if _is_worked_on(form) and _ended(case):
        yield _ended(case)


def mended(case: Case) -> list[str]:
    """What was mended without a new part, in words."""
    return [*mended_in_words(case.bench.mended, machine_of(case)), *(words for _, _, words in case.safety_told.mended)]


def _is_worked_on(form: str) -> bool:
    """The words at the end tell what was done; else what was found."""
    return form in (*MENDED, CAME_BACK)


def _ended(case: Case) -> str:
    return str(case.closed["words"]) if case.closed and case.ending != PARKED else ""


def _culprits(case: Case, view: BenchView | None, lead: SuspectView | None, form: str) -> frozenset[str]:
    """Parts and cases that may be called what was wrong: one was located, or led and with a new one the fault is proven
    gone. Of a joint no part is."""
    if view is None or lead is None:
        return frozenset()
    located = view.search.finding == "located" and lead.probability > ALL_BUT_SURE
    cured = form == REPAIRED and lead.probability > LIKELY
    machine, faults = machine_of(case), lead.faults if located or cured else ()
    if machine is None:
        return frozenset(one.item for one in faults)
    parts = (items_of(machine, Fault(one.item, one.mode)) for one in faults if one.mode not in PLACES)
    return frozenset().union(*parts)


def _fitted(book: Book, case: Case, used: Sequence[UsedPart], guilty: frozenset[str]) -> Iterator[FittedView]:
    """Every part that stays in the machine and was not its own; a donor job is named by its machine."""
    machine = machine_of(case)
    kinds = {name: one.kind for name, one in machine.parts.items()} if machine is not None else {}
    for one in used:
        if one.where_now == OUT_AGAIN or one.origin == BACK:
            continue
        origin = ORIGINS.get(one.origin, "its source was not noted")
        source = donor_named(book, one.source)
        state = f"tested ({one.state})" if one.state not in ("", UNTESTED) else one.state
        says = ", ".join(filter(None, (origin, source and f"from {source}", state)))
        yield FittedView(one.part, kinds.get(one.part, ""), one.is_used, says, one.part in guilty)


def _untested(case: Case, proof: ProveView, checks: SafetyView, worked: bool) -> Iterator[str]:
    """What nobody touched, tried or saw work, so that nothing is said of it."""
    if proof.standing != "not repaired":
        yield from (f"{name}: did not work when it came, and was not seen to work since" for name in proof.unseen)
    heard = {one.question.red.casefold() for one in case.readings if one.question.instrument == "works"}
    untried = [name for name in _functions(case) if name not in case.intake.ticks and name.casefold() not in heard]
    if untried:
        yield f"nobody tried: {', '.join(untried)}"
    if checks.standing == TO_BE_DONE and not worked:
        yield "its safety was not checked"
    if case.papers.told.untouched:
        yield case.papers.told.untouched


def _functions(case: Case) -> Sequence[str]:
    """What such a machine does: by its file, else by its kind."""
    machine = machine_of(case)
    works = [one.name for one in machine.works] if machine is not None else []
    named = {case.known.functions.get(tick, tick) for tick in case.intake.ticks} if case.known else set()
    return [one for one in works if one not in named] if works else symptoms.functions(case.intake.kind)


def _options(book: Book, case: Case, decision: DecisionView, form: str) -> Iterator[str]:
    """Ways to go on, where it was handed back unrepaired: each with the sum to rely on; of a cause that is no mere
    guess also what it comes to if all goes well."""
    for one in ways_on(decision) if form in (RETURNED, OVER) else ():
        costs = estimate_for(book, case, decision, one)
        wait = f", {one.wait:g} days to wait" if one.wait else ""
        price, lucky = money(costs.sums.gross, costs.terms), ""
        if costs.lucky is not None:
            price = f"in nine cases of ten no more than {price}, searching on included"
            lucky = f" ({money(costs.lucky, costs.terms)} if all goes well)" if decision.right >= LIKELY else ""
        yield f"{one.name}: {price}{lucky}{wait}; it works afterwards in {percent(one.cured)}"


def _kept(told: Told, used: Sequence[UsedPart]) -> Iterator[str]:
    """Original parts and what became of them, in sentences."""
    for one in used:
        if one.was and one.origin != BACK:
            yield f"The old {one.part}: {one.was.replace('the owner', 'you')}"
    if told.kept:
        yield f"Your original parts: {told.kept}"


def _warranty(
    book: Book, case: Case, form: str, proof: ProveView, fitted: Sequence[FittedView], now: str
) -> WarrantyView | None:
    """What is promised: what was fitted and done and, once that is proven, the repaired function, for so many days, and
    nothing else."""
    days = int(terms_of(book, case).warranty)
    if not days:
        return None
    seen = (name for name in complained_of(case.intake) if name not in proof.unseen)
    works = tuple(seen) if proof.standing == "proven" else ()
    work = (*(one.part for one in fitted), *mended(case))
    if form not in MENDED or not (works or work):
        return WarrantyView(0, "", (), ())
    begins = datetime.fromisoformat(case.closed["at"] if case.closed else now)
    return WarrantyView(days, (begins + timedelta(days=days)).isoformat(timespec="seconds"), works, work)
