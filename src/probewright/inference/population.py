"""The planner's only view of belief: suspects still considered, and what each says a question answers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from probewright.inference.belief import Belief
from probewright.inference.rivals import rivals
from probewright.readings import Question
from probewright.readings.kit import Kit
from probewright.readings.owner import Owner

CONSIDERED = 2e-3  # chosen: probability below which the planner forgets a suspect
# chosen: suspects that the planner thinks of at least where there are that many and none stands out: each of some
# thousands is less probable than CONSIDERED
CROWD = 200
FORGOTTEN = 1e-4  # chosen: no suspect less probable than this is thought of even so
CROWDED = 1000  # chosen: suspects of a belief from which on there is a crowd
LEADS = 0.5  # chosen: from here on the planner thinks of what else the leader could be


@dataclass(frozen=True)
class Table:
    """Chance of each answer bin under each considered suspect.

    chance (suspect, bin), rows summing to one; edges (bin + 1,) in SI, or () for words; flattery in nat: what a
    sample so small makes believe that the answer tells.
    """

    chance: np.ndarray
    edges: np.ndarray
    words: tuple[str, ...] = ()
    flattery: float = 0.0


class Population(Protocol):
    """The suspects still considered, whatever kind of section they belong to."""

    @property
    def belief(self) -> Belief:
        """The belief that was looked at."""

    @property
    def suspects(self) -> tuple[int, ...]:
        """Their indices in the belief, the most probable first."""

    @property
    def kit(self) -> Kit:
        """What the bench has where the next step is taken."""

    @property
    def owner(self) -> Owner:
        """What the owner allowed and refused."""

    @property
    def hasty(self) -> bool:
        """A quick look at what was foreseen: rough, and slow questions are left out."""

    @property
    def asleep(self) -> bool:
        """The fault was not to be seen at the last reading: nothing that comes and goes can be put to the test now."""

    @property
    def chance(self) -> np.ndarray:
        """(suspect,) probability of each, summing to one."""

    def table(self, ask: Question) -> Table:
        """How probable each answer is under each of them."""

    def apart(self, ask: Question) -> np.ndarray:
        """(suspect, suspect) the question sets the two apart."""


def considered(belief: Belief) -> tuple[int, ...]:
    """Indices of the suspects worth a thought, the most probable first: what is unlisted and fits as well as a
    leader stays however rare it is."""
    order = np.argsort(-belief.probability, kind="stable")
    beside = rivals(belief, int(order[0])) if belief.probability[order[0]] > LEADS else ()
    least = CONSIDERED
    if len(order) >= CROWDED:
        least = min(least, max(float(belief.probability[order[CROWD]]), FORGOTTEN))
    return tuple(int(n) for n in order if belief.probability[n] >= least or n in beside)


def told(chance_of_first: Sequence[float], words: tuple[str, str]) -> Table:
    """Two-worded answers (cured or not, same or better) with the chance of the first for each suspect."""
    first = np.asarray(chance_of_first)
    return Table(np.stack([first, 1.0 - first], axis=1), np.zeros(0), words)


def gain(population: Population, table: Table) -> float:
    """Expected gain in nat: how far the answer is expected to narrow the suspects down, beyond what chance makes of
    a small sample."""
    prior = population.chance
    joint = prior[:, None] * table.chance
    marginal = joint.sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        parts = np.where(joint > 0.0, joint * np.log(joint / (prior[:, None] * marginal[None, :])), 0.0)
    return float(max(parts.sum() - table.flattery, 0.0))
