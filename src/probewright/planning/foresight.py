"""What a quick look may ask: the questions that the last refined look weighed up, answered ahead of time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import singledispatch

from probewright.inference.drawn import DrawnPopulation
from probewright.inference.listed import ListedPopulation
from probewright.inference.population import Population
from probewright.planning.ways import ways
from probewright.prediction.likelihood import weigh_ahead
from probewright.readings import Question


@singledispatch
def foreseen(population: Population) -> Population:
    """The population with the questions noted whose answers are at hand."""
    raise TypeError(f"nothing is known of what is foreseen for {type(population).__name__}")


@foreseen.register
def _(population: DrawnPopulation) -> Population:
    found = [action.ask for action in ways(population).possible() if action.kind == "reading"]
    return replace(population, known=tuple(ask for ask in found if ask is not None))


@foreseen.register
def _(population: ListedPopulation) -> Population:
    """Tables are exact and quick: nothing is left out."""
    return population


@singledispatch
def work_ahead(population: Population, offered: Sequence[Question]) -> Iterator[Question]:
    """Solve now what a quick look at an answer to one of these questions will ask for; step by step."""
    return iter(())


@work_ahead.register
def _(population: DrawnPopulation, offered: Sequence[Question]) -> Iterator[Question]:
    for ask in population.known or ():
        population.table(ask)
        population.apart(ask)
        ways(population).caution(ask)
        yield ask
    for ask in offered:
        for bank in population.belief.laws.banks:
            weigh_ahead(bank, ask)
            yield ask
