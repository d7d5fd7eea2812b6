"""Provocations worth a try: tap, bend, press, warm or chill, where what is suspected most comes and goes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from probewright.hypotheses.provoking import AROUND
from probewright.inference.drawn import DrawnPopulation
from probewright.inference.population import Table
from probewright.machine.model import Machine
from probewright.planning.danger import nets_reached, off_limits
from probewright.prediction.provoking import chances_next, comes_and_goes
from probewright.readings import COMES, GOES, PROVOKE, SAME, Question, Setup

LEAD = 0.5  # chosen: share of the belief on faults that come and go from which on provoking is offered
PLACES = 8  # chosen: parts that are offered, those of the likeliest suspects
TIMES = 3  # chosen: once more to take the chance out, and once more where the two differ; then it tells no more
ON_A_ZONE = ("tap", "flex")  # a knock and a bend are felt all round
ON_ONE_PART = ("press", "warm", "cold")
WORDS = (COMES, GOES, SAME)


def is_shy(population: DrawnPopulation) -> bool:
    """Faults that come and go lead."""
    suspects = population.belief.suspects
    shy = [comes_and_goes(suspects[n]) for n in population.suspects]
    return float(sum(chance for chance, one in zip(population.chance, shy, strict=True) if one)) > LEAD


def provocations(machine: Machine, population: DrawnPopulation, live: Setup) -> Iterator[Question]:
    """Each way at each of the likeliest parts, with power on; nothing where no fault that comes and goes leads."""
    if not is_shy(population):
        return
    done = [(r.question.red, r.question.black) for r in population.belief.readings if r.question.instrument == PROVOKE]
    setup = replace(live, power="on", supplied=(), hertz=0.0, sister=False)
    for part in _parts(machine, population):
        for how in (*ON_A_ZONE, *ON_ONE_PART):
            place = f"{AROUND}{part}" if how in ON_A_ZONE else part
            if done.count((place, how)) < TIMES:
                yield Question(PROVOKE, place, how, setup)


def _parts(machine: Machine, population: DrawnPopulation) -> tuple[str, ...]:
    """Parts or cases in which the likeliest suspects lie, the likeliest first.

    Extras are swapped, not tapped, and what is on a net that is never to be touched live is left alone.
    """
    found: dict[str, None] = {}
    closed = off_limits(machine)
    for n in population.suspects:
        for fault in population.belief.suspects[n].faults:
            name = fault.item if fault.item in machine.parts else fault.item.partition("~")[0].rpartition(".")[0]
            part = machine.parts.get(name)
            if part is None or part.role == "extra":
                continue
            case = part.package or part.name  # a hand comes near every unit of it
            if not nets_reached(machine, Question(PROVOKE, case)) & closed:
                found.setdefault(case)
    return tuple(found)[:PLACES]


def answers(population: DrawnPopulation, ask: Question) -> Table:
    """How probable it is that the fault comes, goes or stays, under each considered suspect."""
    belief = population.belief
    said = [str(r.answer) for r in belief.readings if _same(r.question, ask)]
    suspects = [belief.suspects[n] for n in population.suspects]
    law = chances_next(belief.laws.model.machine, suspects, ask, said)
    chance = np.array([[one[word] for word in WORDS] for one in law])
    if population.asleep:  # what is not to be seen cannot be seen to go
        chance[:, 2] += chance[:, 1]
        chance[:, 1] = 0.0
    return Table(chance, np.zeros(0), WORDS)


def _same(one: Question, other: Question) -> bool:
    return (one.instrument, one.red, one.black) == (other.instrument, other.red, other.black)
