"""The plan of least expected minutes: looked for to the end where that can be afforded, else some steps ahead."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from probewright.planning.problem import HAIR, Moments, Problem, Weighed, after, weigh
from probewright.planning.sameness import in_order

MOST = 3_000_000  # chosen: figures of one ply, a tenth of a second; beyond them the rest is estimated
AFFORDED = 6_000_000  # chosen: figures that a search to the end may weigh, some seconds
BESIDES = 500  # figures, roughly what a moment takes whatever its size
# chosen: steps tried at each ply, those of most share a minute, where the end is out of reach: further on the rule of
# one step is followed to the end
BREADTHS = (6, 3)
RARE = 3e-3  # chosen: chance of a moment below which one step of gain is good enough


@dataclass(frozen=True)
class Plan:
    """What to do at a moment, and after each outcome.

    step: index, None at an end; states: indices of those still possible, the most probable first; minutes: of the
    step with its change of set-up; expected: minutes from here to the end; branches: outcome, its chance, and the
    plan from there, None after a cure.
    """

    step: int | None
    states: tuple[int, ...]
    minutes: float
    expected: float
    branches: tuple[tuple[int, float, Plan | None], ...] = ()


@dataclass(frozen=True)
class Found:
    """The plan for a problem. exact: no plan takes less; one_step: expected minutes of the rule of one step, each
    time what resolves most a minute; least: no plan takes less than this."""

    plan: Plan
    exact: bool
    one_step: float
    least: float


class TooLarge(Exception):
    """The end is out of reach."""


def solve(problem: Problem, afforded: int = AFFORDED) -> Found:
    """The best plan where weighing `afforded` figures suffices to prove it, else by looking some steps ahead. In which
    order states and steps were given decides nothing."""
    tidy, states, steps = in_order(problem)
    search = Exhaustive(tidy, afforded // (BESIDES + tidy.chance.size))
    try:
        search.least(tidy.begin)
    except TooLarge:
        return looked_ahead(problem)
    plan = follow(tidy, tidy.begin, search.best)
    return Found(_as_given(plan, states, steps), True, by_one_step(tidy).expected, plan.expected)


def looked_ahead(problem: Problem, breadths: Sequence[int] = BREADTHS) -> Found:
    """The plan that tries some steps at the first plies and follows the rule of one step from there; at each moment
    anew."""
    tidy, states, steps = in_order(problem)
    to_the_end = (*breadths, *(1 for _ in problem.steps))
    one_step = by_one_step(tidy)
    plan = follow(tidy, tidy.begin, lambda seen, reached: _first(tidy, seen, to_the_end if reached > RARE else (1,)))
    best = min(plan, one_step, key=lambda one: one.expected)
    return Found(_as_given(best, states, steps), False, one_step.expected, float(Bound(problem).of(problem.begin)[0]))


def by_one_step(problem: Problem) -> Plan:
    """The plan that takes each time the step of which most is expected a minute."""
    return follow(problem, problem.begin, lambda seen, _: _first(problem, seen, (1,)))


def _first(problem: Problem, seen: Weighed, breadths: Sequence[int]) -> int:
    """The step that begins the best of what was tried."""
    return int(np.argmin(np.round(values(problem, seen, breadths)[0], 9)))


def follow(problem: Problem, moment: Moments, choose: Callable[[Weighed, float], int], reached: float = 1.0) -> Plan:
    """The plan of a rule that names a step; moment: one, come to with chance `reached`."""
    seen = weigh(problem, moment)
    states = tuple(int(n) for n in np.argsort(-moment.weight[0], kind="stable") if moment.weight[0, n] > 0.0)
    rest = float(moment.weight[0] @ problem.closing)
    if seen.done[0]:
        return Plan(None, states, 0.0, rest)
    step = choose(seen, reached)
    minutes, branches = float(seen.minutes[0, step]), []
    for outcome in np.flatnonzero(seen.chance[0, step]).tolist():
        chance = float(seen.chance[0, step, outcome])
        on = problem.goes_on[step, outcome]
        then = follow(problem, one_after(problem, seen, step, outcome), choose, reached * chance) if on else None
        branches.append((outcome, chance, then))
    expected = minutes + sum(chance * then.expected for _, chance, then in branches if then)
    return Plan(step, states, minutes, expected, tuple(branches))


def one_after(problem: Problem, seen: Weighed, step: int, outcome: int) -> Moments:
    """The moment after the first of those weighed, where a step came out so."""
    return after(problem, seen, np.array([0]), np.array([step]), np.array([outcome]))


def _as_given(plan: Plan, states: np.ndarray, steps: np.ndarray) -> Plan:
    """A plan told in the indices of the problem as it was given."""
    branches = tuple((n, chance, then and _as_given(then, states, steps)) for n, chance, then in plan.branches)
    step = None if plan.step is None else int(steps[plan.step])
    return Plan(step, tuple(int(states[n]) for n in plan.states), plan.minutes, plan.expected, branches)


# Some steps ahead ----------------------------------------------------------------------------


def values(problem: Problem, seen: Weighed, breadths: Sequence[int]) -> np.ndarray:
    """(moment, step) expected minutes to the end if this step comes first; inf for those not looked into.

    breadths: how many steps are tried at each ply, those of most share a minute; after the last the rest is estimated.
    """
    rate = np.where(seen.done[:, None], -np.inf, seen.rate)
    tried = min(breadths[0], rate.shape[1])
    order = np.argsort(-np.round(rate, 9), axis=1, kind="stable")[:, :tried]
    moment, step = np.repeat(np.arange(len(order)), tried), order.ravel()
    real = rate[moment, step] > -np.inf
    return value_of(problem, seen, moment[real], step[real], breadths[1:])


def value_of(
    problem: Problem, seen: Weighed, moment: np.ndarray, step: np.ndarray, breadths: Sequence[int]
) -> np.ndarray:
    """(moment, step) the same for given (one,) moments and steps, inf for all others."""
    worth = np.full(seen.gain.shape, np.inf)
    if not len(step):
        return worth
    chance = seen.chance[moment, step]
    row, outcome = np.nonzero((chance > 0.0) & problem.goes_on[step])
    later = expected(problem, after(problem, seen, moment[row], step[row], outcome), breadths)
    to_come = np.bincount(row, chance[row, outcome] * later, len(step))
    worth[moment, step] = seen.minutes[moment, step] + to_come
    return worth


def expected(problem: Problem, moments: Moments, breadths: Sequence[int]) -> np.ndarray:
    """(moment,) expected minutes from here to the end."""
    seen = weigh(problem, moments)
    if not breadths or len(moments) * problem.chance.size > MOST or seen.done.all():
        return estimate(problem, seen)
    best = values(problem, seen, breadths).min(axis=1)
    return np.where(seen.done, estimate(problem, seen), np.minimum(best, by_others(problem, seen)))


def estimate(problem: Problem, seen: Weighed) -> np.ndarray:
    """(moment,) minutes to the end, roughly: all that is to be resolved, at the best rate at hand."""
    rest = seen.moments.weight @ problem.closing
    best = seen.rate.max(axis=1, initial=-np.inf)
    with np.errstate(divide="ignore"):
        ahead = np.where(seen.done | (best <= 0.0), rest, rest + 1.0 / np.maximum(best, HAIR))
    return np.minimum(ahead, by_others(problem, seen))


def by_others(problem: Problem, seen: Weighed) -> np.ndarray:
    """(moment,) minutes to the end with steps that are not among these; inf where there are none."""
    if not problem.others:
        return np.full(len(seen.moments), np.inf)
    return seen.moments.weight @ problem.closing + seen.unsure / problem.others


# To the end ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Bound:
    """Minutes that no plan can do without.

    Where outcomes are certain, a plan that names a group is a code of the groups: its questions are no fewer than
    those of Huffman's code (Proceedings of the IRE 40, 1952), and each takes the minutes of the shortest at least.
    Towards a cure, whatever is true needs the shortest step that may cure it.
    """

    problem: Problem

    @cached_property
    def own(self) -> np.ndarray:
        """(step,) minutes of each without any change of set-up."""
        return np.array([one.minutes for one in self.problem.steps])

    @cached_property
    def counts(self) -> bool:
        """Questions can be counted: nothing is named before it is sure, and nothing is left to chance."""
        chance = self.problem.chance
        return not self.problem.to_cure and self.problem.sure >= 1.0 and bool(np.isin(chance, (0.0, 1.0)).all())

    @cached_property
    def ends(self) -> np.ndarray:
        """(state, end) one where a state belongs to an end: groups that no step tells apart, or that the same step
        cures, may have one end in common."""
        problem, label = self.problem, list(self.problem.group)
        same = [problem.chance[:, :, n].tobytes() for n in range(len(label))]
        cured = problem.chance[problem.cures, 0] > 0.0
        for a in range(len(label)):
            for b in range(a):
                if same[a] == same[b] or bool((cured[:, a] & cured[:, b]).any()):
                    label = [label[b] if one == label[a] else one for one in label]
        return (np.array(label)[:, None] == np.unique(label)).astype(float)

    def of(self, moments: Moments) -> np.ndarray:
        """(moment,) at least so many minutes to the end; of a moment that is no end."""
        if self.problem.to_cure:
            each = np.where(self.problem.chance[:, 0] > 0.0, self.own[:, None], np.inf)[self.problem.cures]
            each = np.where(moments.left[:, self.problem.cures, None], each, np.inf).min(axis=1, initial=np.inf)
            return (np.where(np.isfinite(each), each, 0.0) * moments.weight).sum(axis=1)
        shortest = np.where(moments.left, self.own, self.own.max()).min(axis=1)
        rest = 0.0 if self.problem.cures.any() else moments.weight @ self.problem.closing
        return shortest * self.questions(moments.weight) + rest

    def questions(self, weight: np.ndarray) -> np.ndarray:
        """(moment,) least mean number of questions; weight (moment, state)."""
        if not self.counts:
            return np.zeros(len(weight))
        return np.array([huffman(row, self.problem.chance.shape[1]) for row in weight @ self.ends])


def huffman(weight: Sequence[float] | np.ndarray, ways: int) -> float:
    """Mean length of the shortest code with an alphabet of so many letters, for words of these weights."""
    heap = sorted(float(one) for one in weight if one > 0.0)
    if len(heap) < 2:
        return 0.0
    heap = [0.0] * (-(len(heap) - 1) % (ways - 1)) + heap if ways > 2 else heap
    total = 0.0
    while len(heap) > 1:
        together = sum(heapq.heappop(heap) for _ in range(max(ways, 2)))
        total += together
        heapq.heappush(heap, together)
    return total


@dataclass
class Exhaustive:
    """A search of all plans, each moment once: what cannot be better than the best so far is left out."""

    problem: Problem
    afforded: int
    known: dict[bytes, tuple[float, int | None]] = field(default_factory=dict)  # at least so many minutes; best step

    @cached_property
    def bound(self) -> Bound:
        """What no plan can do without."""
        return Bound(self.problem)

    def best(self, seen: Weighed, reached: float = 1.0) -> int:
        """The best step at a moment; `least` has come by there."""
        step = self.known[_key(seen)][1]
        assert step is not None, "only the moments of the best plan were looked into to the end"
        return step

    def least(self, moment: Moments, limit: float = np.inf) -> float:
        """Least expected minutes from a moment to the end; where that is `limit` or more, some minutes from `limit`
        up to it."""
        seen = weigh(self.problem, moment)
        if seen.done[0]:
            return float(moment.weight[0] @ self.problem.closing)
        key = _key(seen)
        low, step = self.known.get(key, (0.0, None))
        if step is not None or low >= limit:
            return low
        if len(self.known) >= self.afforded:
            raise TooLarge
        best, step = limit, None
        for branching in self._promising(seen):
            if branching.low >= best - HAIR:
                break
            minutes = self._through(branching, best)
            if minutes < best - HAIR:
                best, step = minutes, branching.step
        self.known[key] = (best, step)
        return best

    def _promising(self, seen: Weighed) -> list[_Branching]:
        """The useful steps with what may follow each, the one that takes the least minutes at least first."""
        steps = np.flatnonzero(seen.useful[0])
        chance = seen.chance[0, steps]
        row, outcome = np.nonzero((chance > 0.0) & self.problem.goes_on[steps])
        moments = after(self.problem, seen, np.zeros(len(row), int), steps[row], outcome)
        parts = chance[row, outcome] * self.bound.of(moments)
        low = seen.minutes[0, steps] + np.bincount(row, parts, len(steps))
        found = []
        for n in np.argsort(np.round(low, 9), kind="stable"):
            mine = np.flatnonzero(row == n).tolist()
            ways = [(moments.one(k), float(chance[n, outcome[k]]), float(parts[k])) for k in mine]
            found.append(_Branching(int(steps[n]), float(low[n]), ways))
        return found

    def _through(self, branching: _Branching, limit: float) -> float:
        """Least expected minutes with this step first, or some minutes from `limit` up to them."""
        minutes = branching.low
        for moment, chance, part in branching.ways:
            others = minutes - part
            minutes = others + chance * self.least(moment, (limit - others) / chance)
            if minutes >= limit - HAIR:
                break
        return minutes


@dataclass(frozen=True)
class _Branching:
    """A step, the minutes to the end that it takes at least, and what may follow: the moment, its chance, its part of
    those minutes."""

    step: int
    low: float
    ways: list[tuple[Moments, float, float]]


def _key(seen: Weighed) -> bytes:
    """Moments with the same chances, the same useful steps left and the same set-up are one."""
    one = seen.moments
    return b"".join((np.round(one.weight[0], 10).tobytes(), seen.useful[0].tobytes(), bytes(one.stood.data)))
