"""What can be done next about a belief and what each step tells, the same for every kind of section."""

from __future__ import annotations

from collections.abc import Sequence
from functools import singledispatch
from typing import Protocol

from probewright.hypotheses import Suspect
from probewright.inference.answers import Population, Table, told
from probewright.inference.drawn import DrawnPopulation
from probewright.inference.listed import ListedPopulation
from probewright.planning.actions import Action
from probewright.planning.bursts import Allowance, Hot
from probewright.planning.circuit_ways import CircuitWays
from probewright.planning.table_ways import TableWays
from probewright.readings import Question

REPAIR_CURES = 0.93  # chosen: a new part is good, fitted right and the diagnosis of its mode complete
REPAIR_BY_CHANCE = 0.02  # chosen: mending the wrong thing moves a plug or a joint, and that helps


class Ways(Protocol):
    """Steps that this bench permits."""

    def possible(self) -> Sequence[Action]:
        """Every step, in a stable order that does not depend on the belief's numbers."""

    def lacking(self) -> Sequence[Action]:
        """Readings that could be taken if this bench had the instrument."""

    def repairs(self) -> Sequence[Action]:
        """Steps that would cure one of the suspects considered."""

    def unproven(self) -> Sequence[Action]:
        """Repairs with a rare part that is not known well enough to be at fault."""

    def proofs(self) -> Sequence[Action]:
        """Readings owed before a rare part is named."""

    def again(self, ask: Question) -> Action:
        """A question that was answered, asked once more."""

    def following(self, then: Action, first: Action) -> float:
        """Minutes of a step where the bench stands as another has left it; then.minutes are as it stands now."""

    def tells(self, action: Action) -> Table:
        """Chance of each answer of a reading, look or swap under each considered suspect."""

    def cures(self, suspect: Suspect, item: str) -> bool:
        """Mending this item cures the suspect."""

    def verifying(self) -> Sequence[tuple[float, Action]]:
        """Steps at which the leading suspect names something sharp and unhealthy, with how sharp."""

    def refuting(self, leader: int, rivals: tuple[int, ...]) -> Sequence[tuple[tuple[int, ...], Action]]:
        """Steps that set a suspect apart from some of these, with from which."""

    def considered(self) -> Sequence[Question]:
        """Questions that make look-alikes."""

    def caution(self, ask: Question | None) -> str | None:
        """Why a step needs care; None: a repair."""

    def carefree(self, ask: Question) -> bool:
        """A reading needs no care, and that is known."""

    def before(self, ask: Question | None) -> Sequence[str]:
        """How what stays charged is emptied before a step (None: a repair), and the meter proved; () if nothing is."""

    def turned(self, ask: Question | None) -> str:
        """What is done to the board, with the power off, to bring a place to hand; "" where nothing is."""

    def undone(self, ask: Question | None) -> Sequence[str]:
        """What was lifted, out or joined for a reading before and is not for this step, as it is put back."""

    def clips(self, ask: Question) -> bool:
        """The probes are clipped on with the power off, because a hand should not be there with it on."""

    def deadly(self) -> Sequence[str]:
        """Places left alone while live, because nobody said that they are trained for it."""

    def is_past(self, ask: Question) -> bool:
        """It was asked before a repair, so that nobody can ask it again."""

    def permits(self, action: Action) -> bool:
        """Neither heat nor danger forbids a step, also one that nobody would think of by itself."""

    def allowance(self, action: Action) -> Allowance | None:
        """What heat leaves of a step with power on; None where nothing limits it."""

    def standing(self, ask: Question) -> Question:
        """The question as the machine stands, with the heatsinks that are off."""

    def hot(self) -> tuple[Hot, ...]:
        """What runs without its heatsink, with its watts."""

    def broken_rule(self) -> str | None:
        """What must not run as it is."""


@singledispatch
def ways(population: Population) -> Ways:
    """The steps that fit the kind of section."""
    raise TypeError(f"no steps are known for {type(population).__name__}")


@ways.register
def _(population: DrawnPopulation) -> Ways:
    return CircuitWays(population)


@ways.register
def _(population: ListedPopulation) -> Ways:
    return TableWays(population)


def table_of(population: Population, how: Ways, action: Action) -> Table:
    """Chance of each answer under each considered suspect: of a repair, whether it cures."""
    if action.kind != "repair":
        return how.tells(action)
    suspects = [population.belief.suspects[n] for n in population.suspects]
    chance = [REPAIR_CURES if how.cures(one, action.item) else REPAIR_BY_CHANCE for one in suspects]
    return told(chance, ("cured", "as before"))
