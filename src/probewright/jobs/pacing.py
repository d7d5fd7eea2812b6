"""How this bench differs from a usual one: what was told of it, and what the stamps of its jobs say of its minutes."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from probewright import __version__
from probewright.jobs.cases import COUNTS, Case
from probewright.machine import Machine
from probewright.planning.minutes import Stand, changes, held, minutes, rows
from probewright.planning.reach import side_of, side_up
from probewright.readings import PROVOKE
from probewright.readings.boards import TOP
from probewright.readings.kit import Kit, tool_of
from probewright.record import Book

TOLD, PACED = "kit", "paced"  # kinds of event in the bench's own table
QUICK, AWAY = 0.05, 30.0  # min; chosen: between two lines less is copied from a note, more is no single step
MOSTLY = 0.7  # chosen: share of the time that a step is usually good for, from which on the whole gap speaks for it
APART = 0.5  # chosen: standard deviation of the logarithm between benches; half or double are rare
SCATTER = 0.8  # chosen: the same of one gap about what this bench usually needs


@dataclass(frozen=True)
class Pace:
    """What gaps between lines say of one step: how many, and the mean logarithm of minutes taken over usual ones."""

    gaps: int
    over: float

    def minutes(self, row: str) -> float:
        """The usual figure moved towards what the gaps say, the further the more there are (normal errors of the
        logarithm, with a normal prior)."""
        share = self.gaps * APART**2 / (self.gaps * APART**2 + SCATTER**2)
        return minutes(row) * math.exp(share * self.over)


@dataclass(frozen=True)
class Own:
    """has: instruments as told last, None where nobody said; trained: see Kit; told: minutes by row; seen: by row, all
    jobs together."""

    has: frozenset[str] | None
    trained: bool
    told: Mapping[str, float]
    seen: Mapping[str, Pace]


def kit_of(book: Book) -> Kit:
    """What this bench has, and its minutes where they are other than usual."""
    own = own_of(book)
    return Kit(own.has, {**{row: pace.minutes(row) for row, pace in own.seen.items()}, **own.told}, own.trained)


def own_of(book: Book) -> Own:
    """What the book holds of the bench itself."""
    has: frozenset[str] | None = None
    trained = False
    told: dict[str, float | None] = {}
    by_job: dict[int, Mapping[str, tuple[int, float]]] = {}
    known = rows()
    for event in book.own_events():
        if event.kind == TOLD:
            has = has if event.payload["has"] is None else frozenset(event.payload["has"])
            told |= event.payload["minutes"]
            trained = trained if event.payload["trained"] is None else bool(event.payload["trained"])
        elif event.kind == PACED:  # a job that is closed once more is learnt from anew
            by_job[event.payload["job"]] = event.payload["rows"]
    seen: dict[str, Pace] = {}
    for paced in by_job.values():
        for row, (count, over) in paced.items():
            was = seen.get(row, Pace(0, 0.0))
            total = was.gaps + count
            seen[row] = Pace(total, (was.gaps * was.over + count * over) / total)
    return Own(
        has,
        trained,
        {row: value for row, value in told.items() if value is not None and row in known},
        {row: pace for row, pace in seen.items() if row in known},
    )


def learn_pace(book: Book, case: Case, machine: Machine | None, now: str) -> None:
    """Keep what the stamps of a closed job say of this bench."""
    if paced := paces(case, machine):
        told = {row: [pace.gaps, pace.over] for row, pace in paced.items()}
        book.append_own(PACED, {"job": case.number, "rows": told}, now, __version__)


def paces(case: Case, machine: Machine | None) -> dict[str, Pace]:
    """What the stamps of a job say of the minutes of each step."""
    found: dict[str, list[float]] = defaultdict(list)
    for row, over in _gaps(case, machine):
        found[row].append(over)
    return {row: Pace(len(one), sum(one) / len(one)) for row, one in sorted(found.items())}


def _gaps(case: Case, machine: Machine | None) -> Iterator[tuple[str, float]]:
    """For each line of readings that came soon after another: the step that took most of the time between, and the
    logarithm of minutes taken over minutes usual."""
    lines = [line for line in case.live if line.status == COUNTS and line.readings and line.capture is None]
    side, asked = TOP, ""
    for before, line in zip(lines, lines[1:], strict=False):
        last, ask = before.readings[-1].question, line.readings[0].question
        if machine is not None:
            side, asked = side_up(machine, before.readings, side), side_of(machine, ask)
        took = (datetime.fromisoformat(line.at) - datetime.fromisoformat(before.at)).total_seconds() / 60.0
        if not (QUICK <= took <= AWAY and tool_of(ask.instrument) and last.instrument != PROVOKE):
            continue
        stood = Stand(last.setup, last.instrument if tool_of(last.instrument) else "", side)
        there = stood.reading(ask.setup, ask.instrument, asked)
        steps = [ask.instrument] * len(line.readings) + list(changes(stood, there))
        usual = sum(minutes(row) for row in steps)
        for row in dict.fromkeys(steps):
            if steps.count(row) * minutes(row) >= MOSTLY * usual:
                yield held(row), math.log(took / usual)
