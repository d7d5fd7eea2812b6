"""Which action is worth its minutes most, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG
from probewright.inference.answers import Population, Table, gain, sample
from probewright.inference.belief import Belief
from probewright.inference.lookalikes import LookAlikes
from probewright.inference.rivals import rivals
from probewright.inference.verdict import Verdict, contented
from probewright.planning.actions import Action
from probewright.planning.bench_ahead import begins_shortest
from probewright.planning.minutes import SHORTEST
from probewright.planning.ways import Ways, table_of, ways

# No step up the order of risk while a lower rung still offers this share of the best gain a minute, tells at least
# half as much as that step does, and LEAST_GAIN nat. All chosen: many small steps spend more minutes than one
# change of set-up, after which the next readings are cheap. Looking ahead may still step up from ohms to a live reading
# that needs no care.
WELL_ENOUGH = 0.35
HALF = 0.5
LEAST_GAIN = 0.05
PROOF = 1.0  # nat; chosen: what the proof of a leader is worth, beside what the same reading tells of the others
CLEAR = 0.8  # chosen: look-alikes above this are put to the test instead of split further


@dataclass(frozen=True)
class Choice:
    """An action with what it is expected to bring.

    gain in nat; rate in nat per minute; table: chance of each answer under each suspect of the
    population; why: one of "splits", "measure again", "refute", "verify", "prove", "cure".
    """

    action: Action
    gain: float
    rate: float
    table: Table
    why: str = "splits"


def rank(belief: Belief) -> tuple[Population, list[Choice]]:
    """Every action worth something, best first within the order of risk."""
    population = sample(belief)
    return population, ranked(population)


def ranked(population: Population) -> list[Choice]:
    """The same for a sample at hand."""
    how = ways(population)
    # whether a repair or a swap cured nobody sees while nothing shows, or where nothing was complained of
    unseen: tuple[str, ...] = ("swap", "repair") if population.asleep or contented(population.belief) else ()
    if population.belief.rough:
        unseen += ("repair",)  # nobody takes up the iron on an answer that is to be refined in a moment
    choices = [_weigh(population, how, action) for action in how.possible() if action.kind not in unseen]
    return in_order_of_risk([c for c in choices if c.gain > 1e-4])


def in_order_of_risk(choices: Sequence[Choice]) -> list[Choice]:
    """The best gain a minute first, but no step up while one of a lower rung is still good enough."""
    choices = sorted(choices, key=lambda c: (-c.rate, c.action.minutes, c.action.item))
    if not choices:
        return []
    best = choices[0]
    least = max(HALF * best.gain, LEAST_GAIN)
    enough = [c for c in choices if c.rate >= WELL_ENOUGH * best.rate and c.gain >= least]
    lowest = min((c.action.rung for c in enough), default=choices[0].action.rung)
    first = [c for c in enough if c.action.rung == lowest]
    rest = [c for c in choices if c not in first]
    return [*first, *rest]


def choose(population: Population, verdict: Verdict, classes: Sequence[LookAlikes], ahead: bool = True) -> list[Choice]:
    """What to do next: a surprise is measured again, a leader is put to the test, else what begins the shortest way.

    Once something is located, in the machine or outside, the cure comes first. classes: of look-alikes, the leading
    one first; ahead: False keeps to the best gain a minute.
    """
    urgent = called_for(population, verdict, classes)
    if not urgent:
        how, choices = ways(population), ranked(population)
        if verdict.finding == "located" and not any(c.gain > LEAST_GAIN for c in choices):
            return [*_cure(population, how, how.unproven()), *choices]  # no proof is left to be had
        return _looked_ahead(population, how, classes, choices) if ahead else choices
    seen = {(c.action.kind, c.action.ask, c.action.item) for c in urgent}
    return [*urgent, *(c for c in ranked(population) if (c.action.kind, c.action.ask, c.action.item) not in seen)]


def called_for(population: Population, verdict: Verdict, classes: Sequence[LookAlikes]) -> list[Choice]:
    """The steps that the verdict itself asks for: a surprise measured again, the cure, a leader put to the test; none
    while nothing leads."""
    how, belief, top = ways(population), population.belief, classes[0]
    urgent = [
        replace(_weigh(population, how, how.again(belief.readings[s.reading].question)), why="measure again")
        for s in verdict.surprises
        if s.waits and not population.hasty  # on few draws what looks like a slip may be none
    ]
    if verdict.finding in ("located", "outside"):
        urgent += _cure(population, how) or _proof(population, how)
    elif not urgent and top.probability > CLEAR and not verdict.vague and not population.asleep:
        urgent += _refutation(population, how, top.members[0], verdict.rivals)
        if not urgent and not verdict.verified:
            urgent += _verification(population, how)
    return [c for c in urgent if how.permits(c.action)]


def _looked_ahead(
    population: Population, how: Ways, classes: Sequence[LookAlikes], choices: list[Choice]
) -> list[Choice]:
    """The same choices, first of all the one that begins the shortest way to a cure, where looking ahead pays."""
    actions, tables, gains = [c.action for c in choices], [c.table for c in choices], [c.gain for c in choices]
    best = begins_shortest(population, how, classes, actions, tables, gains)
    return [*choices[best : best + 1], *choices[:best], *choices[best + 1 :]]


def _weigh(population: Population, how: Ways, action: Action) -> Choice:
    """Gain and gain per minute of one action."""
    table = table_of(population, how, action)
    nats = gain(population, table)
    return Choice(action, nats, nats / max(action.minutes, SHORTEST), table)


def _proof(population: Population, how: Ways) -> list[Choice]:
    """The shortest reading that is owed before a rare part is named the cure."""
    leader = population.belief.suspects[population.suspects[0]]
    if not any(how.cures(leader, action.item) for action in how.unproven()):
        return []
    owed = sorted(how.proofs(), key=lambda action: action.minutes)[:1]
    return [replace(_weigh(population, how, action), why="prove") for action in owed]


def _cure(population: Population, how: Ways, offered: Sequence[Action] | None = None) -> list[Choice]:
    """The shortest repair that cures the leading suspect; of an extra that was not swapped yet, its swap for a try.

    offered: repairs to choose from, all that are possible when not given.
    """
    leader = population.belief.suspects[population.suspects[0]]
    offered = how.repairs() if offered is None else offered
    repairs = [action for action in offered if how.cures(leader, action.item)]
    swaps = [action for action in how.possible() if action.kind == "swap" and how.cures(leader, action.item)]
    shortest = sorted(repairs or swaps, key=lambda action: action.minutes)[:1]
    return [replace(_weigh(population, how, action), why="cure") for action in shortest]


def contenders(population: Population, leader: int) -> tuple[int, ...]:
    """What else the leader could be and some step at hand would tell from it: suspects, the best first.

    leader: its index in the belief.
    """
    belief = population.belief
    if belief.suspects[leader].id in (NOTHING_WRONG, NOT_LISTED):
        return ()
    close = rivals(belief, leader)
    told = {n for apart, _ in ways(population).refuting(leader, close) for n in apart} if close else set()
    return tuple(n for n in close if n in told)


def _refutation(population: Population, how: Ways, leader: int, against: tuple[int, ...]) -> list[Choice]:
    """The step that tells the leader from most of what else it could be, for its minutes."""
    found = how.refuting(leader, against) if against else []
    best = sorted(found, key=lambda pair: -len(pair[0]) / max(pair[1].minutes, SHORTEST))[:1]
    return [replace(_weigh(population, how, action), why="refute") for _, action in best]


def _verification(population: Population, how: Ways) -> list[Choice]:
    """The step at which the leader names something sharp and unhealthy. Each of them is a proof: so the one that tells
    most besides for its minutes, of those the sharpest."""
    found = [(sharp, _weigh(population, how, action)) for sharp, action in how.verifying()]
    worth = [(PROOF + one.gain) / max(one.action.minutes, SHORTEST) for _, one in found]
    best = sorted(zip(worth, found, strict=True), key=lambda one: (-round(one[0], 3), -one[1][0]))
    return [replace(one, why="verify") for _, (_, one) in best[:1]]
