"""Machines made up to try fixed orders of readings on, and the order that does best on them.

They are drawn as those of rehearsals are, under keys of their own. What an answer says of each cause is put in a table
beforehand, by bins of the answer, so that thousands of orders are tried in seconds.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, cast

import numpy as np

from probewright.hypotheses.mending import repair_item
from probewright.inference.answers import Table
from probewright.inference.belief import weigh
from probewright.inference.drawn import DrawnPopulation, draw_population
from probewright.inference.lookalikes import LookAlikes, look_alikes
from probewright.jobs.orders import failing
from probewright.jobs.telling import considered
from probewright.planning.actions import reading_from, repair_minutes, step
from probewright.planning.choosing import CLEAR
from probewright.planning.fixed_order import Trials, best_order
from probewright.planning.minutes import Stand
from probewright.planning.reach import side_of
from probewright.planning.usual_orders import one_by_one, symptom_list
from probewright.planning.ways import table_of, ways
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.likelihood import SHARE_WORDS
from probewright.readings import Question, Reading

if TYPE_CHECKING:
    from probewright.jobs.pretend_bench import PretendBench
    from probewright.jobs.rehearsing import Rehearsals

MACHINES = 200  # chosen: machines that orders are tried on
RAREST = 1e-12  # a class no rarer than this has a logarithm


def best_fixed(rehearsals: Rehearsals) -> tuple[Question, ...]:
    """The fixed order of all that is permitted that takes the fewest minutes on machines made up for it."""
    asks, machine = rehearsals.permitted, rehearsals.machine
    usual = (symptom_list(machine, asks, machine.works), one_by_one(machine, asks, failing(rehearsals.model)))
    order = best_order(trials(rehearsals), [[asks.index(ask) for ask in one] for one in usual])
    return tuple(asks[n] for n in order)


def trials(rehearsals: Rehearsals, count: int = MACHINES) -> Trials:
    """So many machines, with what every reading says on each."""
    asks, laws = rehearsals.permitted, cast(Laws, rehearsals.search().laws)
    heard: dict[tuple[Reading, ...], Heard] = {}
    made: list[tuple[PretendBench, Heard]] = []
    for number in range(count):
        bench = rehearsals.bench(number, "trial")
        said = bench.owner()
        if said not in heard:
            population = draw_population(weigh(laws, said), rehearsals.terms.kit)
            heard[said] = Heard(population, tuple(look_alikes(population, considered(population))), {})
        if heard[said].holding(rehearsals.truths(bench.hidden)) is not None:  # else no order comes to it
            made.append((bench, heard[said]))
    most = max(len(one.classes) for one in heard.values())
    return Trials(
        prior=np.stack([_padded(one.prior, most, -np.inf) for _, one in made]),
        says=np.stack([_said(one, bench, asks, most) for bench, one in made]),
        truth=np.array([one.holding(rehearsals.truths(bench.hidden)) for bench, one in made]),
        mending=np.stack([_padded(one.mending, most, 0.0) for _, one in made]),
        minutes=_minutes(rehearsals, asks), stays=np.array([ask.instrument == "swap" for ask in asks]),
        sure=CLEAR, most=rehearsals.terms.most,
    )  # fmt: skip


@dataclass(frozen=True)
class Heard:
    """What is believed after an owner's words: the sample of it, its look-alikes, and what their answers would be."""

    population: DrawnPopulation
    classes: tuple[LookAlikes, ...]
    tables: dict[Question, Table]

    @cached_property
    def prior(self) -> np.ndarray:
        """(class,) natural logarithm of the chance of each."""
        return np.log(np.maximum([one.probability for one in self.classes], RAREST))

    @cached_property
    def mending(self) -> np.ndarray:
        """(class,) minutes of mending all that the look-alikes lie in."""
        machine, suspects = self.population.belief.laws.model.machine, self.population.belief.suspects
        items = (
            {repair_item(machine, fault) for n in one.members for fault in suspects[n].faults} for one in self.classes
        )
        return np.array(
            [sum(repair_minutes(machine, item, self.population.kit) for item in sorted(some)) for some in items]
        )

    def holding(self, truths: Collection[str]) -> int | None:
        """Number of the look-alikes that hold one of these suspects; None where none of them does."""
        held = ({self.population.belief.suspects[n].id for n in one.members} for one in self.classes)
        return next((number for number, ids in enumerate(held) if ids & set(truths)), None)

    def says(self, ask: Question, reading: Reading | None) -> np.ndarray:
        """(class,) what an answer adds to the logarithm of each chance; nothing where there is none to be had."""
        if ask not in self.tables:
            self.tables[ask] = self._table(ask)
        table = self.tables[ask]
        n = None if reading is None else bin_of(table, reading)
        return np.zeros(len(self.classes)) if n is None else table.chance[:, n]

    def _table(self, ask: Question) -> Table:
        """The answers of a reading with the logarithm of the chance of each, (class, bin)."""
        table = table_of(self.population, ways(self.population), step(self.population, ask))
        share, place = self.population.chance, {suspect: row for row, suspect in enumerate(self.population.suspects)}
        rows = [[place[suspect] for suspect in one.members] for one in self.classes]
        chance = [share[some] @ table.chance[some] / share[some].sum() for some in rows]
        return replace(table, chance=np.log(chance))


def bin_of(table: Table, reading: Reading) -> int | None:
    """Column of a table that an answer falls into; None where the table has no such answers."""
    match table.words:
        case ("better", "same"):
            return 1 if reading.answer == "same" else 0
        case words if words == SHARE_WORDS:
            return round(2.0 * float(reading.answer))
        case ():
            last = len(table.edges) - 2
            return int(np.clip(np.searchsorted(table.edges, float(reading.answer), "right") - 1, 0, last))
    return None


def _said(heard: Heard, bench: PretendBench, asks: Sequence[Question], most: int) -> np.ndarray:
    """(reading, class) what the answers of one machine say, each from one placing of the probes."""
    answers = [next(iter(bench.answers(ask)), None) for ask in asks]
    return np.stack([_padded(heard.says(ask, one), most, 0.0) for ask, one in zip(asks, answers, strict=True)])


def _padded(row: np.ndarray, size: int, empty: float) -> np.ndarray:
    return np.concatenate([row, np.full(size - len(row), empty)])


def _minutes(rehearsals: Rehearsals, asks: Sequence[Question]) -> np.ndarray:
    """(reading + 1, reading) minutes of each right after another, last where nothing is set up."""
    kit, begun = rehearsals.terms.kit, cast(DrawnPopulation, rehearsals.search().population)
    machine = begun.belief.laws.model.machine
    stood = [*(Stand().reading(one.setup, one.instrument, side_of(machine, one)) for one in asks), Stand()]

    def spent(now: Stand, ask: Question) -> float:
        return (step(begun, ask) if ask.instrument == "swap" else reading_from(machine, now, ask, kit)).minutes

    return np.array([[spent(now, ask) for ask in asks] for now in stood])
