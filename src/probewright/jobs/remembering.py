"""What this bench has learnt from its closed jobs, in one view: usual culprits, healthy values, minutes, cures."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from probewright.errors import BadInput
from probewright.hypotheses.priors import old_machine
from probewright.hypotheses.suspects import suspects_of
from probewright.hypotheses.usual import TABLE_WEIGHS, Usual, factor, kind_of, moved
from probewright.jobs.bench import every_case, machine_of
from probewright.jobs.case_view import PaceView
from probewright.jobs.cases import Case
from probewright.jobs.culprits import as_compared, has_come_back, keep_culprits, proved, usual_in
from probewright.jobs.equipping import view_kit
from probewright.jobs.found import Found
from probewright.jobs.proving import standing_of
from probewright.jobs.taught import healthy_readings
from probewright.jobs.view import SCHEMA
from probewright.jobs.ways_to_end import REPAIRED
from probewright.planning.proof import highest_chance
from probewright.record import Book

LITTLE = 0.1  # chosen: less of a culprit, as a look-alike of it, is worth no line
SURE = 0.975  # of each end, so that 95 % lie between: as of every other interval


@dataclass(frozen=True)
class MovedView:
    """How far this bench has moved one kind and mode. usual, here: rate of one part by the tables and by this bench, a
    small film resistor 1; moved: here over usual; found: culprits; expected: that the tables expect in those jobs."""

    kind: str
    mode: str
    usual: float
    here: float
    moved: float
    found: float
    expected: float
    jobs: int


@dataclass(frozen=True)
class StockView:
    """A stock fault: a part of one model that was the culprit before. jobs: of that model; moved: how many times
    likelier than by the tables it is in the next one, its kind and itself together."""

    model: str
    item: str
    mode: str
    found: float
    jobs: int
    moved: float


@dataclass(frozen=True)
class TeachingView:
    """Jobs of one model that can teach healthy values, and how many they have. job: to see them on."""

    model: str
    jobs: tuple[int, ...]
    values: int


@dataclass(frozen=True)
class BackView:
    """A repaired machine that came back with the same. job: that repaired it; again: on which it came back."""

    job: int
    again: int
    days: int


@dataclass(frozen=True)
class CureView:
    """Repairs that held so far. repaired: proven ones, and those that came back; unproven: others that ended as
    repaired, which count for nothing; low, high: between which the share that hold lies, 95 % sure; 0 and 1 without
    any."""

    repaired: int
    unproven: int
    back: int
    low: float
    high: float
    again: tuple[BackView, ...]


@dataclass(frozen=True)
class LearntView:
    """What the bench has learnt. jobs: in which a culprit was proved; minutes: steps whose minutes were learnt."""

    jobs: int
    culprits: tuple[MovedView, ...]
    stock: tuple[StockView, ...]
    healthy: tuple[TeachingView, ...]
    minutes: tuple[PaceView, ...]
    cures: CureView
    schema: str = SCHEMA


def learnt(book: Book, now: str) -> LearntView:
    """What this bench has learnt; jobs that an earlier version closed are learnt from now."""
    return learnt_of(book, [catch_up(book, case, now) for case in every_case(book)])


def learnt_of(book: Book, cases: Sequence[Case]) -> LearntView:
    """The same of jobs that were caught up on: nothing is written."""
    proofs, cured = proved(book), cures(cases)
    usual = usual_in(proofs, {}, "")
    return LearntView(
        usual.jobs, tuple(_moved(usual)), tuple(_stock(proofs, cases)), tuple(_teaching(cases, cured)),
        tuple(one for one in view_kit(book).paces if one.learnt is not None), cured,
    )  # fmt: skip


def catch_up(book: Book, case: Case, now: str) -> Case:
    """A repaired job that nothing was learnt from yet is learnt from; a file that no longer loads teaches nothing."""
    if not is_behind(case):
        return case
    try:
        return keep_culprits(book, case, machine_of(case), now)
    except BadInput:
        return case


def is_behind(case: Case) -> bool:
    """It is closed as repaired and nothing was learnt from it yet."""
    return case.found is None and not case.intake.elsewhere and case.ending == REPAIRED


def _moved(usual: Usual) -> Iterator[MovedView]:
    """Each kind and mode, those found first, then by how far they moved."""
    ranked = sorted(usual.kinds.items(), key=lambda one: (-one[1].found, moved(TABLE_WEIGHS, one[1]), one[0]))
    for (kind, mode), tally in ranked:
        row = old_machine(kind)
        rate, times = row.weight_of(row.modes).get(mode, 0.0), moved(TABLE_WEIGHS, tally)
        yield MovedView(kind, mode, rate, rate * times, times, tally.found, tally.expected, usual.jobs)


def _stock(proofs: Mapping[int, Found], cases: Sequence[Case]) -> Iterator[StockView]:
    """Parts that were the culprit in some model, the most often found first."""
    of_model = {one.number: as_compared(one.intake.model) for one in cases}
    last = {of_model[one.number]: one for one in cases if one.number in proofs and one.intake.model.strip()}
    rows = [row for case in last.values() for row in _of_model(usual_in(proofs, of_model, case.intake.model), case)]
    yield from sorted(rows, key=lambda one: (-one.found, -one.moved, one.model, one.item))


def _of_model(usual: Usual, case: Case) -> Iterator[StockView]:
    machine = machine_of(case)
    if machine is None:
        return
    own = [(one, kind_of(machine, one.faults[0])) for one in suspects_of(machine) if one.faults]
    whole = sum(one.prior for one, kind in own if kind)
    for one, kind in own:
        fault = one.faults[0]
        if kind and (found := usual.items.get((fault.item, fault.mode))):
            times = factor(usual, kind, fault.item, fault.mode, one.prior / whole)
            yield StockView(case.intake.model.strip(), fault.item, fault.mode, found, usual.alike, times)


def _teaching(cases: Sequence[Case], cured: CureView) -> Iterator[TeachingView]:
    """Models of which sound machines were read; a repair that came back teaches nothing."""
    names: dict[str, str] = {}
    values: defaultdict[str, dict[int, int]] = defaultdict(dict)
    back = {one.job for one in cured.again}
    for case in cases:
        key = as_compared(case.intake.model)
        if key and case.number not in back and (count := len(healthy_readings(case))):
            names[key] = case.intake.model.strip()
            values[key][case.number] = count
    for key, by_job in sorted(values.items()):
        yield TeachingView(names[key], tuple(by_job), sum(by_job.values()))


def cures(cases: Sequence[Case]) -> CureView:
    """How many proven repairs held so far, and between what the share lies that hold: Clopper and Pearson."""
    own = [case for case in cases if not case.intake.elsewhere]
    mended = {case.number: case for case in own if case.ending == REPAIRED}
    back: Mapping[int, BackView] = {
        case.earlier.job: BackView(case.earlier.job, case.number, _days(case.earlier.closed, case.opened))
        for case in reversed(own)
        if case.earlier is not None and case.earlier.job in mended and has_come_back(case)
    }
    proven = [job for job, case in mended.items() if job in back or standing_of(case) == "proven"]
    low, high = share_held(len(proven), len(back))
    again = tuple(back[job] for job in sorted(back))
    return CureView(len(proven), len(mended) - len(proven), len(back), low, high, again)


def share_held(repaired: int, back: int) -> tuple[float, float]:
    """Ends of the share of repairs that hold, 95 % sure."""
    if not repaired:
        return 0.0, 1.0
    return 1.0 - highest_chance(back, repaired, SURE), highest_chance(repaired - back, repaired, SURE)


def _days(earlier: str, later: str) -> int:
    return (datetime.fromisoformat(later) - datetime.fromisoformat(earlier)).days


def told_of(view: LearntView) -> tuple[tuple[MovedView, ...], tuple[StockView, ...], str]:
    """Kinds and stock faults worth showing, and the rest in a sentence."""
    shown = tuple(one for one in view.culprits if one.found >= LITTLE)
    others = [one.moved for one in view.culprits if one.found < LITTLE]
    stock = tuple(one for one in view.stock if one.found >= LITTLE)
    said = f"{len(others)} other kinds and modes of those machines were hardly ever it: the furthest fell to x"
    return shown, stock, f"{said}{min(others):.2f}." if others else ""
