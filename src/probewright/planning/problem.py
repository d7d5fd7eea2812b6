"""What to do next as a problem by itself: states, steps that tell or cure, and what moving the bench costs.

Nothing here knows a machine. A bench, a symptom table and a table typed by hand all become a `Problem`; `ahead` looks
for its best plan.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

NONE_STANDS = -1  # nothing is set up yet, or a step takes the bench as it stands
HAIR = 1e-9  # chances closer than this are the same: rounding, no more
SCATTER = 1e-13  # the same of a mean square: chances of which the weighted mean square differs no more are the same


@dataclass(frozen=True)
class Step:
    """Something that can be done once.

    minutes: without any change of set-up; chance (state, outcome), rows summing to one; says: a word for each
    outcome; stand: the set-up it needs, an index of Problem.change, or NONE_STANDS; cures: its first outcome ends
    everything, as nothing is broken any more.
    """

    name: str
    minutes: float
    chance: np.ndarray
    says: tuple[str, ...]
    stand: int = NONE_STANDS
    cures: bool = False


@dataclass(frozen=True)
class Problem:
    """States of which one is true, and the steps that may be taken.

    prior (state,) summing to one; group (state,) number of the look-alikes it belongs to; closing (state,) minutes
    that are left once it is named; change (stand + 1, stand) minutes from one set-up to another, the last row from
    a bench on which nothing is set up; stood: how the bench stands, as Step.stand; sure: from this chance on a
    group is named, and it ends; to_cure: it ends with a cure, whatever is named; others: nat per minute that steps
    which are not among these would bring, at any moment.
    """

    prior: np.ndarray
    steps: tuple[Step, ...]
    group: np.ndarray
    closing: np.ndarray
    change: np.ndarray
    stood: int = NONE_STANDS
    sure: float = 1.0
    to_cure: bool = False
    others: float = 0.0

    @cached_property
    def chance(self) -> np.ndarray:
        """(step, outcome, state) of every step; outcomes that a step does not have are never seen."""
        most = max((len(one.says) for one in self.steps), default=1)
        found = np.zeros((len(self.steps), most, len(self.prior)))
        for row, one in zip(found, self.steps, strict=True):
            row[: len(one.says)] = one.chance.T
        return found

    @cached_property
    def goes_on(self) -> np.ndarray:
        """(step, outcome) False where that outcome is a cure."""
        found = np.ones(self.chance.shape[:2], bool)
        found[[one.cures for one in self.steps], 0] = False
        return found

    @cached_property
    def cures(self) -> np.ndarray:
        """(step,) bool."""
        return np.array([one.cures for one in self.steps], bool)

    @cached_property
    def minutes(self) -> np.ndarray:
        """(stand + 1, step) minutes of each step where the bench stands so, the last row where nothing is set up."""
        own, stand = np.array([one.minutes for one in self.steps]), self.stand
        moved = np.zeros((len(self.change), len(self.steps)))
        moved[:, stand >= 0] = self.change[:, stand[stand >= 0]]
        return own + moved

    @cached_property
    def stand(self) -> np.ndarray:
        """(step,) the set-up that each needs."""
        return np.array([one.stand for one in self.steps], int)

    @cached_property
    def squares(self) -> np.ndarray:
        """(state, step x outcome) chances squared."""
        return (self.chance**2).reshape(-1, len(self.prior)).T.copy()

    def by_group(self, states: np.ndarray) -> np.ndarray:
        """(..., group) sums of what is given for each (..., state)."""
        groups = np.unique(self.group)
        if len(groups) == len(self.group):
            return states
        return states @ (self.group[:, None] == groups).astype(float)

    @property
    def begin(self) -> Moments:
        """Nothing done yet."""
        weight = self.prior / self.prior.sum()
        return Moments(weight[None], np.ones((1, len(self.steps)), bool), np.array([self.stood]))


@dataclass(frozen=True)
class Moments:
    """Some moments of a search side by side.

    weight (moment, state) chance of each state, rows summing to one; left (moment, step) steps not taken yet; stood
    (moment,) how the bench stands.
    """

    weight: np.ndarray
    left: np.ndarray
    stood: np.ndarray

    def __len__(self) -> int:
        return len(self.weight)

    def one(self, n: int) -> Moments:
        """One of them by itself."""
        return Moments(self.weight[n : n + 1], self.left[n : n + 1], self.stood[n : n + 1])


@dataclass(frozen=True)
class Weighed:
    """What each step would bring at some moments.

    joint (moment, step, outcome, state); chance (moment, step, outcome); minutes (moment, step) with changes of
    set-up; unsure (moment,) entropy of the groups in nat; gain (moment, step) in nat, how far that is expected to
    fall; share (moment, step) of all that is to be resolved which the step is expected to resolve; useful (moment,
    step) it can still tell or cure anything; done (moment,) nothing more is to be done.
    """

    moments: Moments
    joint: np.ndarray
    chance: np.ndarray
    minutes: np.ndarray
    unsure: np.ndarray
    gain: np.ndarray
    share: np.ndarray
    useful: np.ndarray
    done: np.ndarray

    @property
    def rate(self) -> np.ndarray:
        """(moment, step) share per minute; -inf for a step that is of no use."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(self.useful, self.share / self.minutes, -np.inf)


def weigh(problem: Problem, moments: Moments) -> Weighed:
    """Chances, minutes and gain of every step at these moments.

    The gain is the mutual information of group and outcome, where a cure leaves nothing unsure: with f(x) = x log x,
    H = -sum f(p(g)), and H after a step = sum f(p(y)) - sum f(p(g, y)) over the outcomes y that go on. Of H it
    resolves the share gain / H; where a cure is the end, a step that may cure resolves its chance to.
    """
    weight = moments.weight
    joint = problem.chance * weight[:, None, None, :]
    chance = joint.sum(axis=-1)
    spread = entropic(problem.by_group(joint)).sum(axis=-1) - entropic(chance)
    unsure = -entropic(problem.by_group(weight)).sum(axis=-1)
    gain = np.maximum(unsure[:, None] + (spread * problem.goes_on).sum(axis=-1), 0.0)
    share = gain / np.where(unsure > HAIR, unsure, 1.0)[:, None]
    if problem.to_cure:
        share = np.where(problem.cures, chance[..., 0], share)
    useful = moments.left & _of_use(problem, weight, chance)
    done = _done(problem, weight, useful)
    return Weighed(moments, joint, chance, problem.minutes[moments.stood], unsure, gain, share, useful, done)


def _of_use(problem: Problem, weight: np.ndarray, chance: np.ndarray) -> np.ndarray:
    """(moment, step) some states that are left would answer differently; for a cure, one of them may be cured.

    Where two groups are left, a step that tells any two states apart tells two of different groups apart: a third
    state cannot answer as both of them.
    """
    scatter = (weight @ problem.squares).reshape(chance.shape) - chance**2
    tells = (scatter > SCATTER).any(axis=-1)
    return np.where(problem.cures, chance[..., 0] > 0.0, tells) if problem.to_cure else tells


def _done(problem: Problem, weight: np.ndarray, useful: np.ndarray) -> np.ndarray:
    """(moment,) a group is named, or nothing is left that could name one, or cure."""
    if problem.to_cure:
        return ~(useful & problem.cures).any(axis=1)
    named = problem.by_group(weight).max(axis=1) >= problem.sure - HAIR
    return named | ~useful.any(axis=1)


def after(problem: Problem, seen: Weighed, moment: np.ndarray, step: np.ndarray, outcome: np.ndarray) -> Moments:
    """The moments that follow: of each (one,) moment, after this step came out so."""
    weight = seen.joint[moment, step, outcome]
    left = seen.moments.left[moment]
    left[np.arange(len(step)), step] = False
    stand = problem.stand[step]
    stood = np.where(stand == NONE_STANDS, seen.moments.stood[moment], stand)
    return Moments(weight / weight.sum(axis=1, keepdims=True), left, stood)


def entropic(x: np.ndarray) -> np.ndarray:
    """x log x, nought at nought."""
    return x * np.log(np.where(x > 0.0, x, 1.0))
