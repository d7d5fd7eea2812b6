"""A search on one machine: enter readings, see what is likely and what to do next."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import chain

from probewright.hypotheses.usual import NOTHING_FOUND, Usual
from probewright.inference.answers import Population, few, sample, sample_again, standing_so
from probewright.inference.belief import AnyLaws, Belief, Extremes, weigh
from probewright.inference.layers import refine_deep
from probewright.jobs.telling import expect_ahead, tell
from probewright.jobs.view import JobView
from probewright.machine import Machine
from probewright.machine.tables import TableSection
from probewright.planning.foresight import foreseen, work_ahead
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import draw_laws
from probewright.prediction.table_laws import TableLaws
from probewright.readings import DRAWN, SCOPED, Look, Question, Reading, as_wired
from probewright.readings.as_told import NOT_TOLD, AsTold
from probewright.readings.cooling import Bare
from probewright.readings.kit import UNTOLD, Kit
from probewright.readings.owner import NOT_ASKED, Owner


@dataclass(frozen=True)
class Search:
    """A machine, or a symptom table without one, and what was read so far.

    laws: as before any reading, shared by every state of the search; belief: after the readings,
    always worked out from the laws, so the same readings give the same belief; kit: what the bench has; as_told: how it
    stands by what was told since; owner: what the owner allowed and refused; before: the refined search that a rough
    one came from.
    """

    machine: Machine | None
    laws: AnyLaws
    belief: Belief
    kit: Kit = UNTOLD
    as_told: AsTold = NOT_TOLD
    owner: Owner = NOT_ASKED
    before: Search | None = field(default=None, compare=False, repr=False)

    @property
    def readings(self) -> tuple[Reading, ...]:
        """Readings in the order taken."""
        return self.belief.readings

    @cached_property
    def population(self) -> Population:
        """The sample of the belief that the next step is chosen with; what it answers is kept with it."""
        return standing_so(sample(self.belief, self.kit), self.as_told, self.owner)

    @cached_property
    def few(self) -> Population:
        """The same sample with its draws standing for all others: where a reading that was not foreseen is weighed."""
        return few(self.population)

    def extremes(self, ask: Question) -> Extremes:
        """The middle and the most that a question would show; a rough search knows no less than the one before it."""
        here = self.population.belief.extremes(ask)
        before = None if self.before is None else self.before.population.belief.extremes(ask)
        return before if before is not None and before.most > here.most else here

    @cached_property
    def view(self) -> JobView:
        """What is likely and what to do next, worked out once."""
        return tell(self.machine, self.belief, self.population)


def open_search(
    machine: Machine, key: str = "", without: Collection[str] = (), kit: Kit = UNTOLD, usual: Usual = NOTHING_FOUND
) -> Search:
    """A search on this machine before any reading; key: of the random draws, the machine's name when not given;
    without: ids of suspects it does not know of; kit: what this bench has; usual: what it has found so far."""
    laws = draw_laws(build_model(machine, key or machine.name, without, usual))
    return Search(machine, laws, weigh(laws, (), rough=False), kit)


def open_table(section: TableSection, kit: Kit = UNTOLD) -> Search:
    """A search on a table of causes and tests, before any answer."""
    laws = TableLaws.of(section)
    return Search(None, laws, weigh(laws, (), rough=False), kit)


def quick_look(search: Search, readings: Sequence[Reading]) -> Search:
    """The search with these readings added, on draws at hand: rough, at once."""
    as_told = told_by(readings) if readings else search.as_told
    return weigh_anew(search, (*search.readings, *readings), as_told)


def enter_readings(search: Search, readings: Sequence[Reading]) -> Search:
    """The search with these readings added: the refined answer."""
    as_told = told_by(readings) if readings else search.as_told
    return refine_anew(search, (*search.readings, *readings), as_told)


def look(search: Search) -> JobView:
    """What is likely and what to do next."""
    return search.view


def glance(search: Search, before: Search) -> JobView:
    """What is likely and what to do next, at once and rough: the questions that were weighed up for `before`,
    weighed anew. search: a quick look at what `before`, a refined answer, became.

    Nothing is solved for a question that `prepare` has foreseen. A reading is not asked for again
    here: on so few draws what looks like a slip may be none.
    """
    start = next((one for one in (before.few, before.population) if one.belief.laws is search.belief.laws), None)
    if start is None:
        raise ValueError("a glance is for a quick look at what `before` became; these draws are others")
    population = standing_so(sample_again(foreseen(start), search.belief), search.as_told, search.owner)
    return tell(search.machine, search.belief, population)


def prepare(search: Search, go_on: Callable[[], bool] = lambda: True) -> None:
    """Work ahead, so that `quick_look` and `glance` at an answer to what is offered have nothing left to solve.

    It changes no answer, only when it comes. search: a refined answer; the steps of its `look` are
    made ready, the first first. go_on: asked between steps; False leaves the rest for when it is needed.
    """
    offered = [action.ask for action in look(search).actions if action.ask is not None]
    known = foreseen(search.few)
    for _ in chain(expect_ahead(search.machine, known.belief, known), work_ahead(known, offered)):
        if not go_on():
            return


def weigh_anew(search: Search, readings: Sequence[Reading], as_told: AsTold | None = None) -> Search:
    """The search after these readings alone: rough, whatever was read before; as_told: as in `refine_anew`.

    All draws weigh them where what was read before has solved all that they ask for, as when a reading
    is taken back; else the few draws of the sample do.
    """
    as_told = told_by(readings) if as_told is None else as_told
    readings = as_weighed(readings)
    solved = {_solved_for(reading.question) for reading in search.readings}
    at_hand = all(_solved_for(reading.question) in solved for reading in readings)
    laws = search.belief.laws if at_hand else search.few.belief.laws
    return replace(search, belief=weigh(laws, readings, wake=False), as_told=as_told, before=search)


def told_by(readings: Sequence[Reading]) -> AsTold:
    """What the last reading itself tells of the bench: what ran without its heatsink."""
    return AsTold(bare=tuple(Bare(part, clip) for part, clip in (readings[-1].question.setup.bare if readings else ())))


def as_weighed(readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """The readings without what changes no volts."""
    return tuple(
        replace(one, question=replace(one.question, setup=as_wired(one.question.setup)))
        if one.question.setup.bare
        else one
        for one in readings
    )


def _solved_for(ask: Question) -> Question:
    """What is solved for a question: volts for the whole set-up at once, anything else for itself alone."""
    return replace(ask, red="", black="", look=Look()) if ask.instrument in ("dc", "pp", "rms", DRAWN, *SCOPED) else ask


def refine_anew(search: Search, readings: Sequence[Reading], as_told: AsTold | None = None) -> Search:
    """The refined search after these readings alone; what was solved before is used again and changes nothing.

    as_told: how the bench stands by what was told since, as at the last reading when not given.
    """
    as_told = told_by(readings) if as_told is None else as_told
    belief = refine_deep(weigh(search.laws, as_weighed(readings)))
    return replace(search, belief=belief, as_told=as_told, before=None)
