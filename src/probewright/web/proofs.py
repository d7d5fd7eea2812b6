"""A machine file while it is written: what is wrong with it, its diagrams, what it reads when healthy."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import count
from time import perf_counter

from probewright.drawing import draw
from probewright.errors import BadInput, Complaint
from probewright.jobs.files import check, expect, healthy_laws
from probewright.jobs.functioning import FunctionRow, read_functions
from probewright.jobs.view import ExpectRow, RangeView
from probewright.machine import Machine
from probewright.machine import read as read_machine
from probewright.prediction.circuit_laws import Laws
from probewright.readings import Setup, setups
from probewright.report.text import healthy
from probewright.units import counted, write_reading
from probewright.web.showing import kept_together

POWER_OFF = "power off"
MOST_LETTERS = 250_000  # chosen: five thousand part lines; reading more would keep a bench waiting for many seconds
MOST_DRAWN = 60  # chosen: parts of a section; more take longer to lay out than a person waits while writing
MOST_COMPUTED = 250  # chosen: parts of a machine; more take seconds to solve
NOUGHT = 1e-6  # V, chosen: what no meter at a bench shows is nothing
AT_HAND = 8  # chosen: texts whose answers are kept; a person writes on one or two
LAST_GOOD = 32  # chosen: sessions and jobs whose last readable text is remembered


@dataclass(frozen=True)
class Remark:
    """Something about a text. line, column: counted from 1; serious: it cannot be read so."""

    line: int
    column: int
    says: str
    mend: str
    serious: bool


@dataclass(frozen=True)
class Drawing:
    """A section. svg: its diagram, "" where it has too many parts to be drawn while somebody writes."""

    name: str
    parts: int
    svg: str


@dataclass(frozen=True)
class Place:
    """What a healthy machine reads at a place. points: further names of it; figures: (middle, range) a column."""

    name: str
    points: str
    figures: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Function:
    """A function of the file on the healthy machine. works: None where nobody can say."""

    name: str
    says: str
    middle: str
    range: str
    works: bool | None


@dataclass(frozen=True)
class Found:
    """A text that could be read. at: how the machine stands in the table, of `ways`; note: why there is no table, ""
    where there is one; took: s that it took; last: it is not the text of now but the last that could be read."""

    summary: str
    drawings: tuple[Drawing, ...]
    ways: tuple[str, ...]
    at: str
    setup: str
    columns: tuple[str, ...]
    places: tuple[Place, ...]
    functions: tuple[Function, ...]
    assumed: tuple[str, ...]
    note: str
    took: float
    last: bool = False


@dataclass(frozen=True)
class Proof:
    """What came of a text. found: None when it cannot be read, and nothing was readable before."""

    remarks: tuple[Remark, ...]
    loads: bool
    found: Found | None


class Proofs:
    """Texts looked at, one at a time for each session: the newest wins."""

    def __init__(self) -> None:
        self._turn, self._numbers = threading.Condition(), count(1)
        self._newest: dict[str, int] = {}
        self._busy: set[str] = set()
        self._good: OrderedDict[tuple[str, int], Found] = OrderedDict()

    def remarks(self, who: str, text: str) -> Proof | None:
        """Only what is wrong with the text: at once. None when a newer text came. who: the session."""
        with self._newest_of(who) as go_on:
            return read(text)[0] if go_on() else None

    def look(self, who: str, job: int, text: str, at: str = "") -> Proof | None:
        """All about a text; for one that cannot be read, what the last readable one of this session came to.

        None when a newer text came meanwhile. at: a stimulus of the file, or POWER_OFF; else the first signal.
        """
        with self._newest_of(who) as go_on:
            proof = look(text, at, go_on) if go_on() else None
        if proof is None:
            return None
        if proof.found is not None:
            self._good[who, job] = proof.found
            self._good.move_to_end((who, job))
            while len(self._good) > LAST_GOOD:
                self._good.popitem(last=False)
            return proof
        before = self._good.get((who, job))
        return replace(proof, found=None if before is None else replace(before, last=True))

    @contextmanager
    def _newest_of(self, who: str) -> Iterator[Callable[[], bool]]:
        """Waits for the one that runs, unless a newer one comes; go_on says whether this is still the newest."""
        mine = next(self._numbers)

        def newest() -> bool:
            return self._newest.get(who) == mine

        with self._turn:
            self._newest[who] = mine
            self._turn.notify_all()
            self._turn.wait_for(lambda: who not in self._busy or not newest())
            turn = newest()
            if turn:
                self._busy.add(who)
        if not turn:
            yield newest
            return
        try:
            yield newest
        finally:
            with self._turn:
                self._busy.discard(who)
                if newest():
                    del self._newest[who]
                self._turn.notify_all()


def look(text: str, at: str = "", go_on: Callable[[], bool] = lambda: True) -> Proof | None:
    """All about a text; None as soon as nobody waits for it any more."""
    start = perf_counter()
    proof, machine = read(text)
    if machine is None:
        return proof
    if not go_on():
        return None
    drawings = _drawn(text)
    if not go_on():
        return None
    ways = (*machine.stimuli, POWER_OFF)
    at = at if at in ways else next((one.name for one in machine.stimuli.values() if one.frequency), "")
    summary = f"{counted(len(machine.parts), 'part')}, {counted(len(machine.nets), 'net')}"
    found = Found(summary, drawings, ways, at, "", (), (), (), machine.assumed, "", 0.0)
    if len(machine.parts) > MOST_COMPUTED:
        note = f"{len(machine.parts)} parts are too many to compute while you write"
        return replace(proof, found=replace(found, note=note, took=perf_counter() - start))
    remarks, laws, functions = _computed(text)
    if not laws.base.middle.solved(Setup()).rest.solved[0]:
        found = replace(found, note="no operating point was found, so there is no figure to show")
    else:
        setup = Setup(power="off") if at == POWER_OFF else Setup(power="on", stimulus=at)
        columns, places = _table(machine, setup, laws)
        found = replace(
            found, setup=setups.say(setup, machine), columns=columns, places=places,
            functions=tuple(_function(one) for one in functions),
        )  # fmt: skip
    return replace(proof, remarks=remarks, found=replace(found, took=perf_counter() - start))


def read(text: str) -> tuple[Proof, Machine | None]:
    """The text read, with the file's own warnings; nothing is drawn or computed."""
    if not text.strip():
        return Proof((), False, None), None
    if len(text) > MOST_LETTERS:
        says = f"this text has {len(text)} letters; a machine file has at most {MOST_LETTERS}"
        return Proof((Remark(1, 1, says, "put in the text of one machine only", True),), False, None), None
    try:
        machine = _machine(text)
    except BadInput as bad:
        return Proof(tuple(_serious(one) for one in bad.complaints), False, None), None
    return Proof(tuple(Remark(w.line, w.column, w.text, w.mend, False) for w in machine.warnings), True, None), machine


def _serious(one: Complaint) -> Remark:
    return Remark(one.line, one.column, one.text, one.mend, True)


@lru_cache(maxsize=AT_HAND)
def _machine(text: str) -> Machine:
    return read_machine(text)


@lru_cache(maxsize=AT_HAND)
def _drawn(text: str) -> tuple[Drawing, ...]:
    """Each section, or the whole machine where it has none."""
    machine = _machine(text)
    found = []
    for section in machine.sections or (None,):
        parts = sum(1 for one in machine.parts.values() if section is None or one.section == section)
        svg = draw(machine, section=section).svg if parts <= MOST_DRAWN else ""
        found.append(Drawing(section or machine.name, parts, svg))
    return tuple(found)


@lru_cache(maxsize=AT_HAND)
def _computed(text: str) -> tuple[tuple[Remark, ...], Laws, tuple[FunctionRow, ...]]:
    """Every warning, the healthy machine, and what its functions come to."""
    machine = _machine(text)
    laws = healthy_laws(machine)
    warnings = check(machine, laws).warnings
    solved = laws.base.middle.solved(Setup()).rest.solved[0]
    remarks = tuple(Remark(one.line, one.column, one.text, one.mend, False) for one in warnings)
    return remarks, laws, read_functions(laws) if solved else ()


def _table(machine: Machine, setup: Setup, laws: Laws) -> tuple[tuple[str, ...], tuple[Place, ...]]:
    """What every place reads: the instruments that were used, and a row for each place."""
    kinds = {"dc": "Direct volts", "pp": "Peak to peak", "ohms": "Ohms"}
    by_place: dict[str, dict[str, ExpectRow]] = {}
    for row in expect(machine, setup, laws).rows:
        by_place.setdefault(row.place, {})[row.kind] = row
    used = [kind for kind in kinds if any(kind in row for row in by_place.values())]
    names: dict[str, list[str]] = {}
    for point in machine.points.values():
        if point.name != point.place:
            names.setdefault(machine.net_of(point.place), []).append(point.name)
    rows = [
        Place(place, ", ".join(names.get(place, ())), tuple(_figures(rows[kind]) for kind in used))
        for place, rows in by_place.items()
    ]
    return tuple(kinds[kind] for kind in used), tuple(rows)


def _figures(row: ExpectRow | FunctionRow) -> tuple[str, str]:
    """Middle and range; both say so where a level is known as a ratio only."""
    low, mid, high = (0.0 if abs(one) < NOUGHT else one for one in (row.low, row.mid, row.high))
    said = healthy(RangeView(low, high, row.unit)) if low or high else write_reading(0.0, row.unit)
    middle = write_reading(mid, row.unit)
    return ("", said) if said == "not known yet" else (kept_together(middle), kept_together(said))


def _function(row: FunctionRow) -> Function:
    return Function(row.name, row.says, *_figures(row), row.works)
