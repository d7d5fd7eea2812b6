"""A search on one machine: enter readings, see what is likely and what to do next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from probewright.inference.belief import AnyLaws, Belief, refine, weigh
from probewright.jobs.telling import tell
from probewright.jobs.view import JobView
from probewright.machine import Machine
from probewright.machine.tables import TableSection
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import draw_laws
from probewright.prediction.table_laws import TableLaws
from probewright.readings import Reading


@dataclass(frozen=True)
class Search:
    """A machine, or a symptom table without one, and what was read so far.

    laws: as before any reading, shared by every state of the search; belief: after the readings,
    always worked out from the laws, so the same readings give the same belief.
    """

    machine: Machine | None
    laws: AnyLaws
    belief: Belief

    @property
    def readings(self) -> tuple[Reading, ...]:
        """Readings in the order taken."""
        return self.belief.readings


def open_search(machine: Machine, key: str = "") -> Search:
    """A search on this machine before any reading; key: of the random draws, the machine's name when not given."""
    laws = draw_laws(build_model(machine, key or machine.name))
    return Search(machine, laws, weigh(laws, (), rough=False))


def open_table(section: TableSection) -> Search:
    """A search on a table of causes and tests, before any answer."""
    laws = TableLaws.of(section)
    return Search(None, laws, weigh(laws, (), rough=False))


def quick_look(search: Search, readings: Sequence[Reading]) -> Search:
    """The search with these readings added, on the draws at hand: rough, at once."""
    return Search(search.machine, search.laws, weigh(search.belief.laws, (*search.readings, *readings)))


def enter_readings(search: Search, readings: Sequence[Reading]) -> Search:
    """The search with these readings added: the refined answer."""
    return Search(search.machine, search.laws, refine(weigh(search.laws, (*search.readings, *readings))))


def look(search: Search) -> JobView:
    """What is likely and what to do next."""
    return tell(search.machine, search.belief)
