"""What may be answered next, whatever the kind of section."""

from __future__ import annotations

from dataclasses import replace
from functools import singledispatch

from probewright.inference.belief import AnyLaws, Belief
from probewright.inference.drawn import DrawnPopulation, draw_population, redrawn_population
from probewright.inference.listed import ListedPopulation, list_population
from probewright.inference.population import Population, Table, gain, told
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.table_laws import TableLaws
from probewright.readings.as_told import AsTold
from probewright.readings.kit import UNTOLD, Kit
from probewright.readings.owner import NOT_ASKED, Owner

__all__ = ["Population", "Table", "few", "gain", "sample", "sample_again", "standing_so", "told"]


def sample(belief: Belief, kit: Kit = UNTOLD) -> Population:
    """The suspects still considered: a sample of draws of a circuit, the causes of a table; kit: of this bench."""
    return _sample(belief.laws, belief, kit)


@singledispatch
def _sample(laws: AnyLaws, belief: Belief, kit: Kit) -> Population:
    raise TypeError(f"no population is known for {type(laws).__name__}")


@_sample.register
def _(laws: Laws, belief: Belief[Laws], kit: Kit) -> Population:
    return draw_population(belief, kit)


@_sample.register
def _(laws: TableLaws, belief: Belief[TableLaws], kit: Kit) -> Population:
    return list_population(belief, kit)


@singledispatch
def sample_again(before: Population, belief: Belief) -> Population:
    """The suspects still considered after another reading, from what was sampled before: nothing is solved."""
    raise TypeError(f"no population is known for {type(before).__name__}")


@sample_again.register
def _(before: DrawnPopulation, belief: Belief[Laws]) -> Population:
    return redrawn_population(before, belief) or sample(belief, before.kit)


@sample_again.register
def _(before: ListedPopulation, belief: Belief[TableLaws]) -> Population:
    return list_population(belief, before.kit)


@singledispatch
def standing_so(population: Population, as_told: AsTold, owner: Owner = NOT_ASKED) -> Population:
    """The same sample on a bench that stands as it was told, and where the owner has said so much."""
    return population  # a table has no watts, and nothing in it is taken out


@standing_so.register
def _(population: DrawnPopulation, as_told: AsTold, owner: Owner = NOT_ASKED) -> Population:
    same = (as_told, owner) == (population.as_told, population.owner)
    return population if same else replace(population, as_told=as_told, owner=owner)


@singledispatch
def few(population: Population) -> Population:
    """The same sample with its draws standing for all others, so that another reading is weighed at once."""
    raise TypeError(f"no population is known for {type(population).__name__}")


@few.register
def _(population: DrawnPopulation) -> Population:
    return population.alone


@few.register
def _(population: ListedPopulation) -> Population:
    """Tables are exact and quick as they are."""
    return population
