"""Everything that the next repairer of a machine wants to know, from its record: the technician's record."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from probewright.jobs.bench import machine_of
from probewright.jobs.case_view import BenchView, TaughtRowView
from probewright.jobs.cases import ASKED, UNDONE, Case, Line
from probewright.jobs.fits import heatings, how_often
from probewright.jobs.pacing import AWAY
from probewright.jobs.parts_used import UsedPart, parts_used, seated
from probewright.jobs.proving import AdjustedView, ChangeView, ProveView, TriedView
from probewright.jobs.repairs import repair_lines
from probewright.jobs.safety_checks import SafetyView
from probewright.jobs.swaps import BACK, STAYS, SWAP, swap_ends
from probewright.jobs.taught import healthy_readings, say_rows
from probewright.machine import Machine
from probewright.readings import EXCHANGE, PROVOKE, SAME, Reading, echo, owner, setups, zoning
from probewright.readings.instruments import METERED

LOOKING, SEARCHING, MENDING = "before the first figure", "searching", "from the first repair on"


@dataclass(frozen=True)
class ReadView:
    """One reading. line: it came with; at: UTC, ISO; says: where and what; setup: in words; note: whether the fault
    showed, and whether the line counts, "" as usual."""

    line: int
    at: str
    says: str
    setup: str
    note: str


@dataclass(frozen=True)
class SuspectedView:
    """What was suspected in the end. chance: how sure; part, mode: of its first fault; together: how sure with all that
    read alike, 0 where it stands alone."""

    says: str
    chance: float
    part: str
    mode: str
    together: float = 0.0


@dataclass(frozen=True)
class WordView:
    """The owner's word to something that was asked. at: UTC, ISO; to; words."""

    at: str
    to: str
    words: str


@dataclass(frozen=True)
class SpentView:
    """Minutes of one phase of the work, gaps of more than half an hour left out."""

    phase: str
    minutes: float


@dataclass(frozen=True)
class RecordView:
    """What the next repairer reads.

    kind, when, inside, boards, left: as asked when it came in; symptoms: function and how it did; words: the owner's;
    finding: of the search, "" while that is worked out; suspects: the first three; decisive: the reading that spoke
    most for the first, "" for none; cause: the repairer's own words; readings: all of them; remarks: other lines, as
    typed; unclear: lines that were never made out; repairs: lines that told of them; used: parts; seats: who sits in
    the place of another; hot: part and how
    often its pads were hot; healthy: values of a
    sound machine; spent: minutes by phase; ended: words at the end.
    """

    kind: str
    symptoms: dict[str, str]
    words: str
    when: str
    inside: str
    boards: str
    left: str
    depth: str
    finding: str
    suspects: tuple[SuspectedView, ...]
    decisive: str
    cause: str
    readings: tuple[ReadView, ...]
    remarks: tuple[ReadView, ...]
    unclear: tuple[str, ...]
    dead_ends: tuple[str, ...]
    repairs: tuple[ReadView, ...]
    used: tuple[UsedPart, ...]
    seats: tuple[str, ...]
    hot: tuple[tuple[str, int], ...]
    changes: tuple[ChangeView, ...]
    tries: tuple[TriedView, ...]
    adjusted: tuple[AdjustedView, ...]
    claim: str
    safety: SafetyView
    healthy: tuple[TaughtRowView, ...]
    consents: tuple[WordView, ...]
    spent: tuple[SpentView, ...]
    zones: tuple[str, ...]
    ended: str


def recount(case: Case, view: BenchView | None, proof: ProveView, checks: SafetyView, sound: bool) -> RecordView:
    """The record of a job. view: where its search stands, None while that is worked out; sound: the machine is proven
    to be, so that what it read in the end is healthy."""
    told, machine = case.intake, machine_of(case)
    repairs = tuple(repair_lines(case))
    return RecordView(
        told.kind, dict(told.ticks), told.words, told.when, told.inside, told.boards, told.left,
        case.known.how if case.known else "symptoms",
        view.search.finding if view else "", tuple(_suspected(view)), decisive(view, repairs), case.papers.told.cause,
        tuple(_read(case, machine)), tuple(_remarks(case, repairs)),
        tuple(line.text for line in case.live if line.status == ASKED), tuple(_dead_ends(case, machine)),
        tuple(_repaired(case, repairs)), parts_used(case), seated(case), tuple(_hot(case, machine)),
        proof.changes, proof.tries, proof.adjusted, proof.claim if repairs else "", checks,
        _healthy(case, machine, sound), tuple(_consents(case)),
        tuple(_spent(case, repairs)), tuple(zoning.say(one) for one in case.zones),
        case.closed["words"] if case.closed else "",
    )  # fmt: skip


def _hot(case: Case, machine: Machine | None) -> Iterator[tuple[str, int]]:
    """Parts that came out or went in, or of which it was said by hand, each with how often its pads were hot."""
    parts = dict.fromkeys([*(one.part for one in parts_used(case)), *(one.part for one in case.fits.heated)])
    every = machine.parts.values() if machine is not None else ()
    for part in parts:
        if times := how_often(heatings(case, part, [one.name for one in every if part in (one.name, one.package)])):
            yield part, times


def decisive(view: BenchView | None, repairs: Sequence[Line]) -> str:
    """The reading before any repair that spoke most for the leading suspect; "" where nothing did."""
    if view is None or not view.search.suspects:
        return ""
    begun = repairs[0].event if repairs else None
    spoke = [
        one for one in view.search.suspects[0].evidence
        if one.nats > 0.0 and (begun is None or view.said_by[one.reading - 1] < begun)
    ]  # fmt: skip
    return max(spoke, key=lambda one: one.nats).says.partition(": ")[2] if spoke else ""


def _suspected(view: BenchView | None) -> Iterator[SuspectedView]:
    if view is None:
        return
    for one in view.search.suspects[:3]:
        fault = next(iter(one.faults), None)
        place = (fault.item, fault.mode) if fault else ("", "")
        alike = (some.probability for some in view.search.classes if one.id in some.members and len(some.members) > 1)
        yield SuspectedView(one.says, one.probability, *place, next(alike, 0.0))


def _read(case: Case, machine: Machine | None) -> Iterator[ReadView]:
    """Every reading in job order, those of lines taken back marked."""
    for line in case.lines:
        for one in line.readings:
            notes = [echo.SHOWING[one.showing], "taken back" if line.status == UNDONE else ""]
            yield ReadView(line.event, line.at, echo.answer(one, machine), setups.say(one.question.setup, machine),
                           "; ".join(filter(None, notes)))  # fmt: skip


def _remarks(case: Case, repairs: Sequence[Line]) -> Iterator[ReadView]:
    """Lines without a reading, as typed: neither unclear nor repairs, nor a set-up, which the readings tell."""
    for line in case.live:
        aside = line.status == ASKED or line in repairs or line.known is not None or line.text.startswith("set-up")
        if not line.readings and not aside:
            yield ReadView(line.event, line.at, line.text, "", "")


def _healthy(case: Case, machine: Machine | None, sound: bool) -> tuple[TaughtRowView, ...]:
    """Healthy values: those of a sister, and the machine's own where it is sound."""
    own = case if sound else replace(case, closed=None)
    return say_rows(healthy_readings(own), machine) if case.readings else ()


def _repaired(case: Case, repairs: Sequence[Line]) -> Iterator[ReadView]:
    """Lines of repairs, and what was mended without one, by time."""
    lines = [ReadView(one.event, one.at, one.text, "", "") for one in repairs]
    mended = [ReadView(event, at, f"mended: {words}", "", "") for event, at, words in case.safety_told.mended]
    return iter(sorted((*lines, *mended), key=lambda one: one.line))


def _dead_ends(case: Case, machine: Machine | None) -> Iterator[str]:
    """What was tried and changed nothing, and what was taken back again."""
    ends = swap_ends(case.readings)
    for n, one in enumerate(case.readings):
        ask = one.question
        if ask.instrument == SWAP and one.answer == SAME:
            yield f"another {ask.red}: complaint the same"
        elif ask.instrument == BACK and ends.get(n) == STAYS:
            yield f"another {ask.red} seemed to cure; with the old one the fault stayed away"
        elif ask.instrument == PROVOKE and one.answer == SAME or ask.instrument == EXCHANGE and one.answer == "stayed":
            yield echo.answer(one, machine)
    for line, after in zip(repairs := list(repair_lines(case)), repairs[1:], strict=False):
        if not _seen_to_work(case, line, after):
            yield f"{line.text}: the search went on, until {after.text}"


def _seen_to_work(case: Case, since: Line, until: Line) -> bool:
    """A function was seen to work between two repairs, so that the first was none for nothing."""
    return any(
        one.question.instrument == "works" and one.answer == "ok"
        for line in case.live if since.event < line.event < until.event for one in line.readings
    )  # fmt: skip


def _consents(case: Case) -> Iterator[WordView]:
    """What the owner said yes or no to, by time."""
    said = [WordView(one.at, one.to + (f", up to {one.up_to:g}" if one.up_to is not None else ""), one.words)
            for one in case.consents]  # fmt: skip
    for line in case.asked_owner:
        if line.owner is not None:
            said.append(
                WordView(line.at, f"{line.owner.answer} to {owner.say_wish(line.owner.wish)}", line.owner.words)
            )
    return iter(sorted(said, key=lambda one: one.at))


def _spent(case: Case, repairs: Sequence[Line]) -> Iterator[SpentView]:
    """Minutes by phase; together they are those that `decide` books."""
    found = dict.fromkeys((LOOKING, SEARCHING, MENDING), 0.0)
    before, phase = datetime.fromisoformat(case.opened), LOOKING
    for line in case.lines:
        at = datetime.fromisoformat(line.at)
        minutes = (at - before).total_seconds() / 60.0
        if repairs and line.event >= repairs[0].event:
            phase = MENDING
        elif phase == LOOKING and any(map(_metered, line.readings)):
            phase = SEARCHING
        found[phase] += minutes if 0.0 < minutes <= AWAY else 0.0
        before = at
    return (SpentView(name, minutes) for name, minutes in found.items())


def _metered(one: Reading) -> bool:
    return one.question.instrument in METERED
