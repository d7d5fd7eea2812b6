"""Who says which reading comes next in a rehearsal: this program, or one of the orders that it is compared with.

All of them share the machine, the belief, the finding that ends it, and the steps that the finding itself asks for: a
surprise measured again, a leader put to the test and verified. Only what comes before those differs. On demand the
others follow their list alone.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from probewright.errors import complaint
from probewright.inference.answers import Population
from probewright.inference.lookalikes import LookAlikes
from probewright.inference.verdict import Verdict
from probewright.jobs.telling import on_card
from probewright.machine import Machine
from probewright.machine.model import Works
from probewright.machine.saying import nearest
from probewright.planning.actions import Action, plainly, step
from probewright.planning.choosing import called_for, choose
from probewright.planning.usual_orders import (
    Path,
    one_by_one,
    passes,
    round_about,
    signal_path,
    supply_path,
    symptom_list,
)
from probewright.planning.ways import ways
from probewright.prediction.cells import Model
from probewright.prediction.latents import random_stream
from probewright.readings import Question, Reading

OURS = "ours"
Tried = Collection[tuple[str, str]]  # kind and item of steps that were in vain


class Order(Protocol):
    """What comes next, while nothing is decided."""

    def card(self, population: Population, verdict: Verdict, classes: Sequence[LookAlikes]) -> list[Action]:
        """All that is offered at once, for somebody who looks on."""

    def next(
        self, population: Population, verdict: Verdict, classes: Sequence[LookAlikes], tried: Tried
    ) -> Action | None:
        """The next step; None where there is none left."""


class Ours:
    """The first step on the card that was not tried in vain."""

    def __init__(self) -> None:
        self._of: Population | None = None
        self._card: list[Action] = []

    def card(self, population: Population, verdict: Verdict, classes: Sequence[LookAlikes]) -> list[Action]:
        """What the card shows."""
        if self._of is not population:
            choices = choose(population, verdict, classes)
            self._of, self._card = population, [one.action for one in on_card(None, population, choices)]
        return self._card

    def next(
        self, population: Population, verdict: Verdict, classes: Sequence[LookAlikes], tried: Tried
    ) -> Action | None:
        """The card, without what was tried in vain."""
        return next((one for one in self.card(population, verdict, classes) if (one.kind, one.item) not in tried), None)


@dataclass
class Listed:
    """Readings one after the other as they stand in a list, each once.

    alone: nothing else is measured; else what the finding asks for comes first.
    """

    left: list[Question]
    alone: bool = field(default=False, kw_only=True)

    def card(self, population: Population, verdict: Verdict, classes: Sequence[LookAlikes]) -> list[Action]:
        """Nothing: who goes by a list looks at no card."""
        return []

    def next(
        self, population: Population, verdict: Verdict, classes: Sequence[LookAlikes], tried: Tried
    ) -> Action | None:
        """What the finding asks for, else the next of the list that was not taken and is permitted."""
        called = [] if self.alone else [one.action for one in called_for(population, verdict, classes)]
        asked = (one for one in called if one.kind == "reading" and (one.kind, one.item) not in tried)
        return next(asked, None) or self._from_list(population)

    def _from_list(self, population: Population) -> Action | None:
        belief = population.belief
        machine = belief.laws.model.machine
        taken = {plainly(machine, one.question) for one in belief.readings}
        self.left = [ask for ask in self.left if plainly(machine, ask) not in taken]
        while self.left:
            ask = self._first(population)
            self.left.remove(ask)
            action = step(population, ask)  # type: ignore[arg-type]  # rehearsals have a machine file
            if ways(population).permits(action):
                return action
        return None

    def _first(self, population: Population) -> Question:
        return self.left[0]


@dataclass
class Halving(Listed):
    """First the furthest rail; where that is bad the way to it is halved, else the way of the signal that is complained
    of; then comes what is round the stage where it is lost.

    supply: the way to the furthest rail; signal: that of what is complained of.
    """

    supply: Path
    signal: Path
    machine: Machine

    def _first(self, population: Population) -> Question:
        rail = self.supply.readings(self.left).get(len(self.supply.nets) - 1)
        if rail is not None:
            return rail
        judged = self._judged(population, self.supply)
        way = self.supply if False in judged.values() else self.signal
        good, bad = _between(self._judged(population, way), len(way.nets) - 1)
        inside = {place: ask for place, ask in way.readings(self.left).items() if good < place < bad}
        if inside:
            return inside[min(inside, key=lambda place: (abs(2 * place - good - bad), place))]
        return round_about(self.machine, self.left, {way.nets[max(good, 0)], way.nets[bad]})[0]

    def _judged(self, population: Population, way: Path) -> dict[int, bool]:
        """Position on a way -> whether what was read there last passes for good."""
        found = {}
        for reading in population.belief.readings:
            for place, ask in way.readings([reading.question]).items():
                found[place] = passes(float(reading.answer), population.belief.laws.middling([ask])[0])
        return found


def _between(judged: Mapping[int, bool], end: int) -> tuple[int, int]:
    """Positions of the last good place before the first bad one, -1 for none, and of that: the end, where none is."""
    bad = min((place for place, good in judged.items() if not good), default=end)
    return max((place for place, good in judged.items() if good and place < bad), default=-1), bad


# By name -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Start:
    """What an order begins with. permitted: readings and swaps that this bench permits before anything is known, in the
    order in which the program thinks of them; best: the best fixed order of them; key: of what is drawn; complained:
    functions that the owner says do not work, all of them where he complains of none; alone: as in `Listed`."""

    model: Model
    permitted: Callable[[], Sequence[Question]]
    best: Callable[[], Sequence[Question]]
    key: str
    complained: Sequence[Works]
    alone: bool = False


def _best_fixed(start: Start) -> Order:
    return Listed(list(start.best()), alone=start.alone)


def _half_split(start: Start) -> Order:
    machine, asks = start.model.machine, list(start.permitted())
    supply = supply_path(machine)
    signal = signal_path(machine, start.complained[0]) if start.complained else supply
    if not signal.nets:
        return Listed(asks, alone=start.alone)
    return Halving(asks, supply, signal, machine, alone=start.alone)


def _symptom_list(start: Start) -> Order:
    return Listed(symptom_list(start.model.machine, start.permitted(), start.complained), alone=start.alone)


def _one_by_one(start: Start) -> Order:
    return Listed(one_by_one(start.model.machine, start.permitted(), failing(start.model)), alone=start.alone)


def _random(start: Start) -> Order:
    asks = start.permitted()
    turn = random_stream(start.key, ("order",)).permutation(len(asks))
    return Listed([asks[n] for n in turn], alone=start.alone)


ORDERS: Mapping[str, Callable[[Start], Order]] = {
    OURS: lambda start: Ours(),
    "best_fixed": _best_fixed,
    "half_split": _half_split,
    "symptom_list": _symptom_list,
    "one_by_one": _one_by_one,
    "random": _random,
}


def named(said: str) -> tuple[str, ...]:
    """Names of orders as typed, "best_fixed, random" or "all"; ours among them always. BadInput for one not known."""
    names = tuple(ORDERS) if said.strip() == "all" else tuple(filter(None, (one.strip() for one in said.split(","))))
    for name in names:
        if name not in ORDERS:
            mend = nearest(name, tuple(ORDERS), f"write all, or some of {', '.join(ORDERS)}")
            raise complaint(f"{name!r} is no order of readings", mend)
    return tuple(one for one in ORDERS if one == OURS or one in names)


def failing(model: Model) -> dict[str, float]:
    """Part -> chance of what is suspected in it before any reading; a case counts for each of its units."""
    found: dict[str, float] = {}
    for suspect in model.suspects:
        items = {end for fault in suspect.faults for end in fault.item.split("~")}
        names = {item if item in model.machine.parts else item.rpartition(".")[0] for item in items}
        for part in model.machine.parts.values():
            if part.name in names or part.package in items:
                found[part.name] = found.get(part.name, 0.0) + suspect.prior
    return found


def complained(machine: Machine, said: Sequence[Reading]) -> list[Works]:
    """Functions that the owner says do not work; all where he complains of none."""
    bad = {one.question.red for one in said if one.question.instrument == "works" and one.answer != "ok"}
    return [one for one in machine.works if one.name in bad] or list(machine.works)
