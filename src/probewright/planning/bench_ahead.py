"""The best few steps at the bench, looked at some steps ahead: which of them begins the shortest way to a cure?

One step of gain is often good enough. It pays to look further where two steps promise nearly the same, where the best
needs the bench changed, where it is a hot iron or a repair, and where ohms still tell something but a probe on the
running machine may end the search sooner.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import islice

import numpy as np

from probewright.inference.answers import Population, Table
from probewright.inference.lookalikes import LookAlikes
from probewright.inference.verdict import SURE
from probewright.planning.actions import Action
from probewright.planning.ahead import value_of
from probewright.planning.minutes import SHORTEST, Stand, rung
from probewright.planning.parting import LIFT
from probewright.planning.problem import NONE_STANDS, Problem, Step, entropic, weigh
from probewright.planning.ways import Ways

FEW = 5  # chosen: steps that may come first
STEPS = 12  # chosen: steps thought of in all, those of most gain in the minutes that they take by themselves
CLASSES = 16  # chosen: look-alikes told apart, the most probable
NOTHING = 1e-4  # nat; chosen: neighbouring answers that tell no more apart are one
ANSWERS = 4  # chosen: answers of one step told apart; what they tell is hardly less
PLIES = (1, 1, 1, 1)  # chosen: behind the first step the rule of one step, so far; the rest is estimated
OTHERS = 0.35  # chosen: what was not thought of brings this share of the best rate now, whatever is found
CLEARLY = 0.9  # chosen: another step comes first if it saves a tenth of the minutes; less is within the error
NEAR = 0.8  # chosen: a rate of this share of the best is nearly the same
MOVING = ("reading", "provoke")  # kinds of step that leave the bench as they need it
UNPOWERED, PASSIVE = "unpowered", "passive probing"  # from the one up to the other the shorter way may decide
WORTH = 0.35  # chosen: a step of less than this share of the best rate does not come first


def begins_shortest(
    population: Population, how: Ways, classes: Sequence[LookAlikes], actions: Sequence[Action],
    tables: Sequence[Table], gains: Sequence[float],
) -> int:  # fmt: skip
    """Which action comes first, by its position: the first of them, unless another begins a shorter way to a cure.

    actions: the best first; tables: chance of each answer (suspect, bin) of each; gains: of each in nat.
    """
    rates = [nats / max(one.minutes, SHORTEST) for one, nats in zip(actions, gains, strict=True)]
    first = may_begin(how, actions, rates)
    if len(first) < 2 or not pays(how, [actions[n] for n in first], [rates[n] for n in first]):
        return 0
    telling = sorted(set(range(len(actions))) - set(first), key=lambda n: -gains[n])[: 2 * STEPS]
    others = sorted(telling, key=lambda n: -gains[n] / max(how.following(actions[n], actions[n]), SHORTEST))
    thought = [*first, *others[: STEPS - len(first)]]
    problem = bench_problem(population, how, classes, [actions[n] for n in thought], [tables[n] for n in thought])
    problem = replace(problem, others=OTHERS * rates[0])
    steps = np.arange(len(first))
    spent = value_of(problem, weigh(problem, problem.begin), np.zeros(len(first), int), steps, PLIES)[0, steps]
    best = int(np.argmin(np.round(spent, 6)))
    return first[best] if spent[best] < CLEARLY * spent[0] else 0


def may_begin(how: Ways, actions: Sequence[Action], rates: Sequence[float]) -> list[int]:
    """Positions of the few that may come first: the first, and what stands no higher in the order of risk; where it is
    read with the power off, live readings too that need no care."""
    found = [n for n, rate in enumerate(rates) if n and rate >= WORTH * rates[0]]
    lower = (n for n in sorted(found, key=lambda n: -rates[n]) if _is_as_safe(how, actions[n], actions[0]))
    return [0, *islice(lower, FEW - 1)] if actions else []


def _is_as_safe(how: Ways, one: Action, first: Action) -> bool:
    """It stands no higher than another, or that one is read with the power off and this one needs no care at all."""
    passive = {first.kind, one.kind} == {"reading"} and first.rung == rung(UNPOWERED) and one.rung <= rung(PASSIVE)
    return one.rung <= first.rung or (passive and one.ask is not None and how.carefree(one.ask))


def pays(how: Ways, first: Sequence[Action], rates: Sequence[float]) -> bool:
    """Another step is nearly as good as the first or stands higher, or that one needs the bench changed, is a hot iron,
    or a repair."""
    best, tie = first[0], any(rate >= NEAR * rates[0] for rate in rates[1:])
    higher = any(one.rung > best.rung for one in first)
    return tie or higher or best.kind == "repair" or best.rung >= rung(LIFT) or moves(how, best)


def moves(how: Ways, action: Action) -> bool:
    """The bench has to be changed for a step."""
    return action.minutes > how.following(action, action)


def bench_problem(
    population: Population, how: Ways, classes: Sequence[LookAlikes], actions: Sequence[Action], tables: Sequence[Table]
) -> Problem:
    """What stands before the repairer, without anything of the machine: a state is a class of look-alikes, a set-up
    is how a step leaves the bench."""
    share = _members(population, classes)
    prior = share.sum(axis=1)
    rows = [(share / prior[:, None]) @ one.chance for one in tables]
    stands = {_stand(one): one for one in actions if one.kind in MOVING}
    number = {key: n for n, key in enumerate(stands)}
    steps = tuple(
        Step(one.item, max(how.following(one, one), SHORTEST), *_told(one, row, prior),
             number.get(_stand(one), NONE_STANDS), one.kind == "repair")
        for one, row in zip(actions, rows, strict=True)
    )  # fmt: skip
    change = _changes(how, list(stands.values()))
    return Problem(prior / prior.sum(), steps, np.arange(len(prior)), _closing(actions, rows), change, sure=SURE)


def _stand(action: Action) -> Stand | None:
    """How a step leaves the bench; None where it leaves it as it stands."""
    return Stand(action.ask.setup, action.ask.instrument, action.side) if action.ask and action.kind in MOVING else None


def _changes(how: Ways, each: Sequence[Action]) -> np.ndarray:
    """(stand + 1, stand) minutes from one to another, one step standing for each; the last row from the bench now."""
    own = np.array([how.following(one, one) for one in each])
    moved = [[how.following(then, one) for then in each] for one in each]
    change = np.array([*moved, [one.minutes for one in each]]).reshape(len(each) + 1, len(each)) - own
    return np.maximum(change, 0.0)


def _members(population: Population, classes: Sequence[LookAlikes]) -> np.ndarray:
    """(class, suspect) chance of each suspect in its class."""
    place = {n: k for k, n in enumerate(population.suspects)}
    share = np.zeros((min(len(classes), CLASSES), len(place)))
    for row, one in zip(share, classes, strict=False):
        members = [place[n] for n in one.members]
        row[members] = population.chance[members]
    return share[share.sum(axis=1) > 0.0]


def _told(action: Action, row: np.ndarray, prior: np.ndarray) -> tuple[np.ndarray, tuple[str, ...]]:
    """(class, answer) chances of a step, and a word for each answer."""
    chance = row if action.kind == "repair" else gathered(row, prior)
    return chance, tuple(map(str, range(chance.shape[1])))


def _closing(actions: Sequence[Action], rows: Sequence[np.ndarray]) -> np.ndarray:
    """(class,) minutes of the shortest repair among these that cures each class more often than not; else nought."""
    cures = [(one.minutes, row[:, 0] > 0.5) for one, row in zip(actions, rows, strict=True) if one.kind == "repair"]
    least = np.full(len(rows[0]), np.inf)
    for spent, cured in cures:
        least = np.where(cured, np.minimum(least, spent), least)
    return np.where(np.isfinite(least), least, 0.0)


def gathered(chance: np.ndarray, prior: np.ndarray, most: int = ANSWERS) -> np.ndarray:
    """(class, answer) chances with neighbouring answers put together until there are no more than `most`, each time
    those that tell least apart.

    chance (class, bin); prior (class,). Together two answers tell less by sum f(a) + f(b) - f(a + b) over the joint
    chances, less the same over their sums; f(x) = x log x.
    """
    return _fewer(chance * prior[:, None], most)[0] / prior[:, None]


def answers_of(chance: np.ndarray, prior: np.ndarray, most: int = ANSWERS) -> np.ndarray:
    """(bin,) which of the answers of `gathered` each bin became."""
    return _fewer(chance * prior[:, None], most)[1]


def _fewer(joint: np.ndarray, most: int) -> tuple[np.ndarray, np.ndarray]:
    """Joint chances (class, answer) with neighbours put together, and (bin,) which answer each bin became."""
    close = np.flatnonzero(_lost(joint) < NOTHING)
    label = _begins(joint.shape[1], close)
    joint = _together(joint, close)
    while (count := joint.shape[1]) > most:
        lost = np.concatenate([[np.inf], _lost(joint), [np.inf]])
        pairs = np.flatnonzero((lost[1:-1] < lost[:-2]) & (lost[1:-1] <= lost[2:]))
        least = pairs[np.argsort(lost[pairs + 1], kind="stable")][: count - most]
        label = _begins(count, least)[label]
        joint = _together(joint, least)
    return joint, label


def _begins(count: int, bins: np.ndarray) -> np.ndarray:
    """(count,) where each of so many bins lands if each of these is put together with the next."""
    begins = np.ones(count, int)
    begins[bins + 1] = 0
    return np.cumsum(begins) - 1


def _together(joint: np.ndarray, bins: np.ndarray) -> np.ndarray:
    """The joint chances with each of these bins put together with the next."""
    begins = np.ones(joint.shape[1], bool)
    begins[bins + 1] = False
    return np.add.reduceat(joint, np.flatnonzero(begins), axis=1)


def _lost(joint: np.ndarray) -> np.ndarray:
    """(bin - 1,) nat lost if each bin is put together with the next."""
    with_sum = np.vstack([joint, -joint.sum(axis=0)])
    parts = entropic(np.abs(with_sum))
    both = entropic(np.abs(with_sum[:, :-1] + with_sum[:, 1:]))
    less = parts[:, :-1] + parts[:, 1:] - both
    return less[:-1].sum(axis=0) - less[-1]
