"""From belief to the view of a job, in the repairer's words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import singledispatch
from typing import Protocol

import numpy as np

from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG
from probewright.inference.answers import Population, sample
from probewright.inference.belief import AnyLaws, Belief
from probewright.inference.drawn import DrawnPopulation
from probewright.inference.explanation import explain
from probewright.inference.fit import Surprise
from probewright.inference.lookalikes import LookAlikes, look_alikes, splitting
from probewright.inference.verdict import Verdict, judge
from probewright.jobs.asking_first import asked_first
from probewright.jobs.circuit_words import CircuitWords
from probewright.jobs.group_words import group_view
from probewright.jobs.heat_words import burst_view, heat_view
from probewright.jobs.table_words import TableWords
from probewright.jobs.view import (
    ActionView,
    BoardView,
    BurstView,
    ClassView,
    EvidenceView,
    FaultView,
    GroupView,
    JobView,
    OutcomeView,
    QualityView,
    RangeView,
    SurpriseView,
    SuspectView,
    WordView,
)  # fmt: skip
from probewright.machine import Machine
from probewright.planning.bursts import Hot
from probewright.planning.choosing import Choice, choose, contenders, ranked
from probewright.planning.circuit_ways import CircuitWays
from probewright.planning.groups import group
from probewright.planning.ways import ways
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.table_laws import TableLaws
from probewright.readings import Question, Reading
from probewright.readings.kit import tool_of
from probewright.units import with_article

SHOWN = 1e-4  # suspects less probable than this are not listed
ACTIONS = 6  # actions shown
STANDING = {NOTHING_WRONG: "with nothing wrong", NOT_LISTED: "with nothing wrong that is listed"}
RAISED = 1.15  # a suspect counts as raised by an answer that multiplies its probability by this


class Words(Protocol):
    """What differs between kinds of section in what is said to the repairer."""

    def say(self, reading: Reading) -> str:
        """A reading in full."""

    def ask(self, ask: Question) -> str:
        """A question as an instruction."""

    def setup(self, ask: Question) -> str:
        """The set-up of a question."""

    def live(self, choice: Choice) -> bool:
        """A step is made with power on."""

    def name(self, n: int) -> str:
        """A suspect, short."""

    def mend(self, item: str) -> str:
        """What a repair of an item is."""

    def healthy(self, choice: Choice) -> RangeView | WordView:
        """What a healthy machine answers."""

    def groups(self, choice: Choice) -> list[tuple[str, np.ndarray]]:
        """Answers gathered under one word each, with their bins (bin,)."""

    def verifies(self, choice: Choice, leader: str) -> str:
        """Why a step would settle it."""

    def refutes(self, choice: Choice, leader: str) -> str:
        """Why a step puts the leader to the test."""

    def again(self, choice: Choice) -> str:
        """Why a step is made once more."""

    def advice(self, reading: Reading) -> str:
        """What to do about a surprise."""

    def split_by(self, population: Population, one: LookAlikes) -> str:
        """The step that tells look-alikes apart."""

    def faults(self, n: int) -> Iterator[FaultView]:
        """Faults of a suspect with how bad they are."""


def tell(machine: Machine | None, belief: Belief, population: Population | None = None) -> JobView:
    """The view of a job after its readings; machine: the file, None while there is none; population: a
    sample of the belief, where one is at hand."""
    words = _words(belief.laws, machine, belief)
    population, verdict, classes, choices = decide(belief, population)
    return JobView(
        verdict.finding,
        belief.rough,
        tuple(words.say(reading) for reading in belief.readings),
        _suspects(words, belief, classes),
        tuple(_class(words, population, n, one) for n, one in enumerate(classes)),
        _steps(words, population, choices),
        tuple(
            SurpriseView(s.reading + 1, s.tail, _advice(words, population, belief.readings[s.reading], s))
            for s in verdict.surprises
        ),
        QualityView(*belief.quality),
        _boards(machine, belief),
        tuple(ways(population).deadly()),
        tuple(heat_view(one, _gives(words, belief, one), machine, population.kit) for one in ways(population).hot()),
        None if belief.rough else _group(words, population, choices),
    )


def _group(words: Words, population: Population, choices: Sequence[Choice]) -> GroupView | None:
    """What is worth reading in one go with the first step; on a table nobody knows where the probes stand."""
    how = ways(population)
    if not isinstance(population, DrawnPopulation) or not isinstance(how, CircuitWays) or how.broken_rule():
        return None
    found = group(population, how, choices)
    if found is None:
        return None
    asks = [how.standing(one.action.ask) for one in found.choices if one.action.ask is not None]
    does, healthy = [words.ask(ask) for ask in asks], [words.healthy(one) for one in found.choices]
    cautions = [how.caution(ask) for ask in asks]
    return group_view(found, asks, does, healthy, cautions, population.belief.laws.model.machine)


def _gives(words: Words, belief: Belief, hot: Hot) -> str:
    """What gives the most watts."""
    if hot.suspect < 0:
        return ""
    return STANDING.get(belief.suspects[hot.suspect].id) or words.name(hot.suspect)


def _boards(machine: Machine | None, belief: Belief) -> tuple[BoardView, ...]:
    """Added boards that nobody knows to be fitted."""
    unsure = [] if machine is None else [one for one in machine.added_boards if one.fitted == "unknown"]
    return tuple(BoardView(one.name, belief.fitted(one.parts)) for one in unsure)


def expect_ahead(machine: Machine | None, belief: Belief, population: Population) -> Iterator[Choice]:
    """Work out what a healthy machine answers to each step of this population, so that it is at hand."""
    words = _words(belief.laws, machine, belief)
    for choice in ranked(population):
        words.healthy(choice)
        words.groups(choice)
        yield choice


@singledispatch
def _words(laws: AnyLaws, machine: Machine | None, belief: Belief) -> Words:
    raise TypeError(f"no words are known for {type(laws).__name__}")


@_words.register
def _(laws: Laws, machine: Machine | None, belief: Belief[Laws]) -> Words:
    return CircuitWords(laws.model.machine if machine is None else machine, belief)


@_words.register
def _(laws: TableLaws, machine: Machine | None, belief: Belief[TableLaws]) -> Words:
    return TableWords(machine, belief)


def decide(
    belief: Belief, population: Population | None = None
) -> tuple[Population, Verdict, list[LookAlikes], list[Choice]]:
    """Classes, finding and next actions of a belief."""
    population, verdict, classes = find(belief, population)
    return population, verdict, classes, choose(population, verdict, classes)


def find(belief: Belief, population: Population | None = None) -> tuple[Population, Verdict, list[LookAlikes]]:
    """Classes and finding of a belief, whatever is done next."""
    population = population or sample(belief)
    classes = look_alikes(population, considered(population))
    return population, judge(belief, classes, contenders(population, classes[0].members[0])), classes


def considered(population: Population) -> Sequence[Question]:
    """Questions that make look-alikes: those asked, and what this bench permits besides."""
    return ways(population).considered()


def _suspects(words: Words, belief: Belief, classes: Sequence[LookAlikes]) -> tuple[SuspectView, ...]:
    weights = explain(belief)
    class_of = {n: number for number, one in enumerate(classes) for n in one.members}
    order = np.argsort(-belief.probability, kind="stable")
    found = []
    for n in (int(n) for n in order if belief.probability[n] >= SHOWN):
        suspect = belief.suspects[n]
        evidence = tuple(
            EvidenceView(k + 1, float(weights.nats[k, n]), f"{_side(float(weights.nats[k, n]))}: {words.say(reading)}")
            for k, reading in enumerate(belief.readings)
        )
        found.append(SuspectView(
            suspect.id, class_of.get(n, -1), float(belief.probability[n]), suspect.prior,
            suspect.handbook if suspect.handbook_source else None,
            suspect.says, suspect.source, suspect.handbook_source,
            tuple(words.faults(n)), any(f.comes_and_goes for f in suspect.faults), suspect.stranger, evidence,
        ))  # fmt: skip
    return tuple(found)


def _side(nats: float) -> str:
    return "for" if nats > 0.1 else "against" if nats < -0.1 else "says little"


def _class(words: Words, population: Population, number: int, one: LookAlikes) -> ClassView:
    ids = tuple(population.belief.suspects[n].id for n in one.members)
    if len(ids) < 2:
        return ClassView(number, one.probability, ids, None)
    return ClassView(number, one.probability, ids, words.split_by(population, one), _beyond(words, population, one))


def _beyond(words: Words, population: Population, one: LookAlikes) -> str | None:
    """The cheapest reading that would tell look-alikes apart and for which this bench lacks the instrument."""
    offered = sorted(ways(population).lacking(), key=lambda action: action.minutes)
    ask = splitting(population, one.members, [action.ask for action in offered if action.ask is not None])
    if ask is None:
        return None
    tool = tool_of(ask.instrument)
    return f"with {with_article(tool)}: {words.ask(ask)}"


def _steps(words: Words, population: Population, choices: Sequence[Choice]) -> tuple[ActionView, ...]:
    """What to do next; where the power must go off first, that before all."""
    shown = _on_card(words, population, choices)
    return _stop(population) + tuple(_action(words, population, n, one) for n, one in enumerate(shown))


def on_card(machine: Machine | None, population: Population, choices: Sequence[Choice]) -> list[Choice]:
    """The steps that the card shows, the first first."""
    return _on_card(_words(population.belief.laws, machine, population.belief), population, choices)


def _on_card(words: Words, population: Population, choices: Sequence[Choice]) -> list[Choice]:
    """The same; where the power must go off first, nothing that wants it on."""
    if ways(population).broken_rule() is not None:
        choices = [one for one in choices if not words.live(one) and one.action.kind != "swap"]
    return list(choices[:ACTIONS])


def _stop(population: Population) -> tuple[ActionView, ...]:
    """Before any diagnosis: power off, where the last reading breaks a power rule of the file."""
    rule = ways(population).broken_rule()
    if rule is None:
        return ()
    return (ActionView(
        "stop", 0, "Switch the power off now.", "", "", "", 0.0, True, WordView("off"), f"{rule}.", (),
        "Caution: running on may destroy parts. Find why before power comes back.",
    ),)  # fmt: skip


def _action(words: Words, population: Population, number: int, choice: Choice) -> ActionView:
    action, ask, how = choice.action, choice.action.ask, ways(population)
    burst = _burst(population, choice)
    stands = how.standing(ask) if ask else None
    groups = _grouped(words, population, choice)
    found = ActionView(
        action.kind, number, _do(words, population, choice), ask.red if ask else action.item,
        ask.instrument if ask else "", words.setup(stands) if stands else "", action.minutes, words.live(choice),
        words.healthy(choice), _why(words, population, choice, groups),
        tuple(OutcomeView(word, chance, _ids(population, rows)) for word, chance, rows in groups),
        how.caution(ask),
        Question("swap", action.item) if action.kind == "swap" and ask is None else ask,
        burst,
        before=tuple(how.before(ask)),
        clips=bool(burst and burst.clipped) or (ask is not None and how.clips(ask)),
        turned=how.turned(ask),
        back=tuple(how.undone(ask)),
    )  # fmt: skip
    open_ = tuple(one for one in action.wishes if not population.owner.allows(one))
    return asked_first(found, open_, action.kind == "repair") if open_ else found


def _burst(population: Population, choice: Choice) -> BurstView | None:
    """How long the power may be on for a step, cold."""
    one = ways(population).allowance(choice.action)
    return None if one is None else burst_view(one.burst(one.cold), one)


def _do(words: Words, population: Population, choice: Choice) -> str:
    if choice.action.ask is not None:
        return words.ask(ways(population).standing(choice.action.ask))
    chance = float(np.sum(population.chance * choice.table.chance[:, 0]))
    mend = words.mend(choice.action.item)
    return f"{mend}: {choice.action.minutes:.0f} min, about {_in_ten(chance)} that it cures."


def _in_ten(chance: float) -> str:
    """A chance as the trade says it."""
    if chance > 0.97:
        return "certain" if chance > 0.995 else "19 in 20"
    return f"{max(1, round(chance * 10))} in 10"


def _ids(population: Population, rows: Iterable[int]) -> tuple[str, ...]:
    return tuple(population.belief.suspects[population.suspects[n]].id for n in rows)


def _why(words: Words, population: Population, choice: Choice, groups: Sequence[tuple[str, float, list[int]]]) -> str:
    """One sentence: what the step is for."""
    leader = words.name(population.suspects[0])
    match choice.why:
        case "measure again":
            return words.again(choice)
        case "refute":
            return words.refutes(choice, leader)
        case "verify":
            return words.verifies(choice, leader)
        case "prove":
            return (
                f"{leader} lies in a rare part, so what hangs on it is lifted first: if its output stays as it is, the"
                " part is at fault; if that changes, the load is."
            )
        case "cure":
            slips = _slips(population.belief)
            but = f" but {'one' if slips == 1 else slips}" if slips else ""
            return f"Every reading{but} is explained by {leader}."
    tells = [[words.name(population.suspects[n]) for n in rows] for _, _, rows in groups if rows]
    if len(tells) >= 2:
        return f"Tells {' and '.join(tells[0][:2])} from {' and '.join(tells[1][:2])}."
    return f"Moves {tells[0][0]} most." if tells else "Tells a little of everything."


def _slips(belief: Belief) -> int:
    """How many readings were more probably taken wrongly."""
    return int(np.sum(belief.weight @ belief.honest < 0.5))


def _grouped(words: Words, population: Population, choice: Choice) -> list[tuple[str, float, list[int]]]:
    """Answers gathered under their words, with their chance and the suspects each raises (positions
    in the population)."""
    table, prior = choice.table, population.chance
    found = []
    for word, bins in words.groups(choice):
        chance = float(np.sum(prior[:, None] * table.chance[:, bins]))
        if chance > 0.005:
            lift = table.chance[:, bins].sum(axis=1) / chance
            rise = np.argsort(-(prior * lift), kind="stable")
            found.append((word, chance, [int(n) for n in rise if lift[n] > RAISED][:3]))
    return sorted(found, key=lambda one: -one[1])


def _advice(words: Words, population: Population, reading: Reading, surprise: Surprise) -> str:
    if surprise.remeasured:
        return "Measured again since; the other reading is believed."
    how = ways(population)
    if surprise.past or how.is_past(reading.question):
        return "Taken before the repair: it cannot be measured again."
    if not how.permits(how.again(reading.question)):
        return (
            "No likely suspect reads that here. It is not read again: this place is left alone, or heat leaves no time."
        )
    return words.advice(reading)
