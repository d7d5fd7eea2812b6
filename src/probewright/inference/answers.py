"""What may be answered next, whatever the kind of section."""

from __future__ import annotations

from functools import singledispatch

from probewright.inference.belief import AnyLaws, Belief
from probewright.inference.drawn import draw_population
from probewright.inference.listed import list_population
from probewright.inference.population import Population, Table, gain, told
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.table_laws import TableLaws

__all__ = ["Population", "Table", "gain", "sample", "told"]


def sample(belief: Belief) -> Population:
    """The suspects still considered: a sample of draws of a circuit, the causes of a table."""
    return _sample(belief.laws, belief)


@singledispatch
def _sample(laws: AnyLaws, belief: Belief) -> Population:
    raise TypeError(f"no population is known for {type(laws).__name__}")


@_sample.register
def _(laws: Laws, belief: Belief[Laws]) -> Population:
    return draw_population(belief)


@_sample.register
def _(laws: TableLaws, belief: Belief[TableLaws]) -> Population:
    return list_population(belief)
