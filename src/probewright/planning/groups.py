"""Readings worth taking in one go: one sitting with the power off, or one spell with it on.

The first is the step of today. After it comes each time the reading of the same set-up that tells most a minute, given
what the earlier ones will have said, as long as nothing in another set-up would tell more. What readings tell together
is worked out on the draws of one sample, so that what two of them have in common is counted once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from probewright.hypotheses import NOT_LISTED
from probewright.inference.drawn import DrawnPopulation
from probewright.planning.actions import Action
from probewright.planning.bench_ahead import answers_of
from probewright.planning.bursts import Allowance, spent
from probewright.planning.choosing import Choice
from probewright.planning.circuit_ways import CircuitWays
from probewright.planning.minutes import SHORTEST
from probewright.planning.problem import entropic
from probewright.planning.reach import lies
from probewright.prediction.likelihood import HONEST
from probewright.readings import is_live
from probewright.readings.boards import TOP

MOST = 4  # chosen: readings in one go, a hand's worth: more clips are in each other's way, more figures are mixed up
COMMON = 16.0  # chosen: draws of a suspect at which what two readings have in common counts half; cells of both
THOUGHT = 24  # chosen: readings of the same set-up thought of, those that tell most by themselves
OTHERS = 8  # chosen: steps in other set-ups that a further reading is held against, those of the best rate
LEAST = 0.02  # nat, chosen: a reading that adds less is not worth a line in a list
UNPOWERED, BURST, POWERED = "unpowered", "burst", "powered"


# What readings tell together -----------------------------------------------------------------------


@dataclass(frozen=True)
class Said:
    """What one reading may say. rows (variant, answer) chance of each answer, rows summing to one; flattery in nat:
    what a sample so small makes believe that it tells."""

    rows: np.ndarray
    flattery: float = 0.0


@dataclass(frozen=True)
class Together:
    """What some readings tell of which suspect it is.

    member (variant,) position of its suspect; joint (variant, cell) chance of each draw with each set of answers;
    flattery in nat, of all of them.
    """

    member: np.ndarray
    joint: np.ndarray
    flattery: float = 0.0

    @classmethod
    def nothing(cls, member: np.ndarray, weight: np.ndarray) -> Together:
        """Nothing read yet. weight (variant,) summing to one."""
        return cls(member, weight[:, None])

    def after(self, said: Said) -> Together:
        """With one more reading: given a draw, each reading is as it is whatever the others say."""
        joint = (self.joint[:, :, None] * said.rows[:, None, :]).reshape(len(self.member), -1)
        return Together(self.member, joint, self.flattery + said.flattery)

    @cached_property
    def nats(self) -> float:
        """What all of them are expected to tell: mutual information of suspect and answers, in nat."""
        order = np.argsort(self.member, kind="stable")
        begins = np.flatnonzero(np.diff(self.member[order], prepend=-1))
        joint = np.add.reduceat(self.joint[order], begins)
        told = entropic(joint).sum() - entropic(joint.sum(axis=0)).sum() - entropic(joint.sum(axis=1)).sum()
        return max(float(told) - self.flattery, 0.0)


def said_of(population: DrawnPopulation, choice: Choice) -> Said:
    """What a step may say, in few answers: of a figure each draw its own, else what the table has for its suspect."""
    ask, table = choice.action.ask, choice.table
    fell = population.fell(ask) if choice.action.kind == "reading" and ask is not None else None
    if fell is None:
        return Said(table.chance[population.member], table.flattery)
    label = answers_of(table.chance, population.chance)
    answer = label[np.minimum(fell, len(label) - 1)]
    rows = _with_slips(population, answer, int(label[-1]) + 1)
    return Said(leaned(rows, population.member, population.weight, population.different), table.flattery)


def leaned(rows: np.ndarray, member: np.ndarray, weight: np.ndarray, different: np.ndarray) -> np.ndarray:
    """(variant, answer) chances of each draw, leaned on those of its suspect where few draws stand for it.

    Of two readings on n draws of one suspect nobody can tell by chance from in common: the answers of few draws seem to
    go together where nothing does. So each draw counts n / (n + COMMON) of itself, the rest of its suspect.

    rows (variant, answer); member, weight (variant,); different (suspect,) how many different draws stand for each.
    """
    order = np.argsort(member, kind="stable")
    begins = np.flatnonzero(np.diff(member[order], prepend=-1))
    whole = np.add.reduceat((weight[:, None] * rows)[order], begins)
    mean = whole / np.maximum(np.add.reduceat(weight[order], begins), 1e-300)[:, None]
    own = (different / (different + COMMON))[member][:, None]
    return own * rows + (1.0 - own) * mean[np.searchsorted(np.unique(member), member)]


def _with_slips(population: DrawnPopulation, answer: np.ndarray, count: int) -> np.ndarray:
    """(variant, answer) chances: some answers come from anywhere, and what is not in the file answers anything."""
    rows = np.full((len(answer), count), (1.0 - HONEST) / count)
    rows[np.arange(len(answer)), answer] += HONEST
    suspects = population.belief.suspects
    unlisted = np.array([suspects[n].id == NOT_LISTED for n in population.suspects])[population.member]
    rows[unlisted] = 0.5 * rows[unlisted] + 0.5 / count
    return rows


# Which ones -----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Group:
    """Readings in one go, the step of today first.

    kind: "unpowered", "burst" (clips fitted with the power off, then one spell of power) or "powered"; gains: nat that
    each adds to those before it; minutes: of all; allowance: what heat leaves, None where nothing limits it.
    """

    kind: str
    choices: tuple[Choice, ...]
    gains: tuple[float, ...]
    minutes: float
    allowance: Allowance | None

    @property
    def apart(self) -> float:
        """Minutes of the same readings, the bench set up anew for each."""
        return sum(one.action.minutes for one in self.choices)

    @property
    def gain(self) -> float:
        """Nat that all of them are expected to tell."""
        return sum(self.gains)


def group(population: DrawnPopulation, how: CircuitWays, choices: Sequence[Choice], most: int = MOST) -> Group | None:
    """What to read in one go with the step of today; None where that stands alone. choices: the best first."""
    first = choices[0] if choices else None
    if first is None or first.why != "splits" or first.action.kind != "reading" or population.hasty:
        return None
    if any(not population.owner.allows(wish) for wish in first.action.wishes):
        return None  # the owner is asked first
    rest = [one for one in choices[1:] if one.action != first.action]
    beside = [one for one in rest if is_beside(first.action, one.action, how.now.side)]
    others = [one for one in rest if not is_beside(first.action, one.action, how.now.side)][:OTHERS]
    beside = sorted(beside, key=lambda one: -one.gain)[:THOUGHT]
    bench, told = _Bench(how), _Told.of(population, first, (*beside, *others))
    while len(told.choices) < most:
        taken = [one.action for one in told.choices]
        left = [one for one in beside if one.action not in taken and bench.allows(told.choices, one)]
        further = [told.with_(one) for one in left]
        rates = [one.gains[-1] / max(bench.added(told.choices, one.choices[-1]), SHORTEST) for one in further]
        elsewhere = [told.with_(one).gains[-1] / bench.alone(told.choices, one) for one in others]
        best = int(np.argmax(np.round(rates, 9))) if rates else -1
        if best < 0 or further[best].gains[-1] < LEAST or rates[best] < max(elsewhere, default=0.0):
            break
        told = further[best]
    if len(told.choices) < 2:
        return None
    actions = [one.action for one in told.choices]
    return Group(bench.kind(actions), told.choices, told.gains, bench.minutes(actions), how.together(actions))


def is_beside(first: Action, then: Action, side: str = TOP) -> bool:
    """A reading that needs nothing changed on the bench after another one, and no step up in the order of risk. side:
    of the board that lies up before the first."""
    if then.kind != "reading" or first.ask is None or then.ask is None:
        return False
    side = lies(side, first.side)
    return then.ask.setup == first.ask.setup and lies(side, then.side) == side and then.rung <= first.rung


@dataclass(frozen=True)
class _Told:
    """Some choices with what they tell together, and nat that each adds to those before it.

    said: what each that is thought of may say, by its identity: a choice has arrays, and is no key.
    """

    said: Mapping[int, Said]
    choices: tuple[Choice, ...]
    together: Together
    gains: tuple[float, ...]

    @classmethod
    def of(cls, population: DrawnPopulation, first: Choice, others: Sequence[Choice]) -> _Told:
        nothing = Together.nothing(population.member, population.weight)
        said = {id(one): said_of(population, one) for one in (first, *others)}
        return cls(said, (), nothing, ()).with_(first)

    def with_(self, one: Choice) -> _Told:
        together = self.together.after(self.said[id(one)])
        added = max(float(together.nats - self.together.nats), 0.0)
        return _Told(self.said, (*self.choices, one), together, (*self.gains, added))


@dataclass(frozen=True)
class _Bench:
    """Minutes and seconds of readings in one go."""

    how: CircuitWays

    def allows(self, taken: Sequence[Choice], one: Choice) -> bool:
        """Heat leaves the time for one more in the same burst, and no lead hangs free from a place that can hurt."""
        actions = [each.action for each in (*taken, one)]
        if any(each.ask is not None and self.how.clips(each.ask) for each in actions):
            return False
        heat = self.how.together(actions)
        return heat is None or heat.allowed

    def added(self, taken: Sequence[Choice], one: Choice) -> float:
        """Minutes that one more takes, with its clip and the longer cooling."""
        actions = [each.action for each in taken]
        return self.minutes([*actions, one.action]) - self.minutes(actions)

    def alone(self, taken: Sequence[Choice], one: Choice) -> float:
        """Minutes of a step after these, with the change of set-up that it needs."""
        return max(self.how.following(one.action, taken[-1].action), SHORTEST)

    def minutes(self, actions: Sequence[Action]) -> float:
        """Minutes of all of them: the set-up changed once, clips and cooling as for one burst."""
        each = [actions[0].minutes, *(self.how.following(b, a) for a, b in zip(actions, actions[1:], strict=False))]
        kit = self.how.population.kit
        plain = sum(each) - sum(spent(self.how.allowance(one), 1, kit) for one in actions)
        return plain + spent(self.how.together(actions), len(actions), kit)

    def kind(self, actions: Sequence[Action]) -> str:
        """What sort of sitting it is."""
        asks = [one.ask for one in actions if one.ask is not None]
        if not is_live(asks[0].setup):
            return UNPOWERED
        heat = self.how.together(actions)
        return BURST if heat is not None and heat.clipped else POWERED
