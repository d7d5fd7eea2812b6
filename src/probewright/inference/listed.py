"""The causes of a table that are still considered, and what they answer to its tests."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from probewright.inference.belief import Belief
from probewright.inference.population import Table, considered
from probewright.prediction.table_laws import TableLaws
from probewright.readings import Question
from probewright.readings.kit import UNTOLD, Kit
from probewright.readings.owner import NOT_ASKED

APART = 0.25  # chosen: a test that would answer otherwise in a quarter of all cases sets two causes apart


@dataclass(frozen=True)
class ListedPopulation:
    """The causes above a small probability, as they are: suspects are their indices in the belief."""

    belief: Belief[TableLaws]
    suspects: tuple[int, ...]
    kit: Kit = UNTOLD
    hasty = False  # tables are exact at once
    owner = NOT_ASKED  # and nothing in them is taken out

    @property
    def asleep(self) -> bool:
        """A table knows no faults that come and go."""
        return False

    @property
    def chance(self) -> np.ndarray:
        """(suspect,) probability of each considered cause, summing to one."""
        kept = self.belief.probability[list(self.suspects)]
        return kept / kept.sum()

    def table(self, ask: Question) -> Table:
        """Chance of each word of a test, asked now; where nothing is known, that of all others together."""
        rows = filled(self.belief.laws.chance(ask, self.belief.readings), self.belief.probability)
        return Table(rows[list(self.suspects)], np.zeros(0), self.belief.laws.model.tests[ask.red].outcomes)

    def apart(self, ask: Question) -> np.ndarray:
        """(suspect, suspect) the chances of the words differ by more than APART in all."""
        prior = np.exp(self.belief.laws.log_prior)
        rows = filled(self.belief.laws.chance(ask), prior)[list(self.suspects)]
        return 0.5 * np.abs(rows[:, None] - rows).sum(axis=2) > APART


def list_population(belief: Belief[TableLaws], kit: Kit = UNTOLD) -> ListedPopulation:
    """The causes still considered; kit: of the bench where the next step is taken."""
    return ListedPopulation(belief, considered(belief), kit)


def filled(rows: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """(suspect, outcome) rows in which those that are unknown take the mean of the others, by weight
    (suspect,); even chances where nobody knows."""
    known = ~np.isnan(rows[:, 0])
    total = weight[known].sum()
    mean = weight[known] @ rows[known] / total if total > 0.0 else np.full(rows.shape[1], 1.0 / rows.shape[1])
    return np.where(known[:, None], rows, mean)
