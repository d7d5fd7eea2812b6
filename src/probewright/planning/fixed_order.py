"""The fixed order of readings that takes the fewest minutes, as far as made-up machines tell.

A fixed order is one list for the whole model of machine, whatever is complained of and whatever was read: what a good
service manual could print. Nothing here knows a machine.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

HAIR = 1e-9  # min; less is rounding
EARLY = 8  # chosen: of so many first readings each is exchanged with any other
SWEEPS = 20  # chosen: rounds of exchange at most; so far none took more than nine


@dataclass(frozen=True)
class Trials:
    """Machines on which orders are tried, each with what every reading said of it.

    prior (trial, cause) natural logarithm of the chance before any reading, -inf where a trial has fewer causes; says
    (trial, reading, cause) what is added to it by the answer that came; truth (trial,) the cause that is true;
    mending (trial, cause) minutes of mending it; minutes (reading + 1, reading) of a reading right
    after another, in the last row where nothing is set up yet; stays (reading,) bool: it leaves the bench as it
    stands. A trial ends when the true cause is held for more probable than `sure`: one that leads wrongly does not pass
    its proof. It ends at the latest after `most` readings; then one cause after the other is mended, the most probable
    first, and what is mended in vain is counted too.
    """

    prior: np.ndarray
    says: np.ndarray
    truth: np.ndarray
    mending: np.ndarray
    minutes: np.ndarray
    stays: np.ndarray
    sure: float
    most: int

    @cached_property
    def count(self) -> int:
        """How many readings there are."""
        return len(self.stays)

    @cached_property
    def _minutes(self) -> list[list[float]]:
        return self.minutes.tolist()

    def clock(self, order: Sequence[int]) -> np.ndarray:
        """(taken,) minutes when so many readings of the order are taken, from none to all."""
        found, stood = [0.0], self.count
        for one in order:
            found.append(found[-1] + self._minutes[stood][one])
            stood = stood if self.stays[one] else one
        return np.array(found)

    def known(self, order: Sequence[int]) -> np.ndarray:
        """(trial, taken, cause) logarithm of the chances, not normalised, after so many readings of the order."""
        steps = np.concatenate([self.prior[:, None, :], self.says[:, list(order)]], axis=1)
        return np.cumsum(steps, axis=1)

    def is_sure(self, known: np.ndarray) -> np.ndarray:
        """(trial, taken) bool: the true cause is more probable than `sure`."""
        true = known[np.arange(len(known)), :, self.truth]
        with np.errstate(over="ignore"):
            against = np.exp(known - true[..., None]).sum(axis=-1)
        return against * self.sure < 1.0

    def in_vain(self, known: np.ndarray) -> np.ndarray:
        """(trial,) minutes of what is mended before what is true; known (trial, cause)."""
        before = known > known[np.arange(len(known)), self.truth][:, None]
        return (self.mending * before).sum(axis=1)


def spent(trials: Trials, order: Sequence[int]) -> np.ndarray:
    """(trial,) minutes that this order takes."""
    taken = list(order)[: trials.most]
    known = trials.known(taken)
    ended = _next(trials.is_sure(known), len(taken) + 1)[:, 0]
    vain = np.where(ended > len(taken), trials.in_vain(known[:, -1]), 0.0)
    return trials.clock(taken)[np.minimum(ended, len(taken))] + vain


def best_order(trials: Trials, starts: Sequence[Sequence[int]] = ()) -> list[int]:
    """The order of all readings with the least mean minutes that was found.

    From a greedy order, and from each of `starts`, one reading at a time is moved to its best place, then whole
    stretches of one set-up, until nothing is gained; the best end counts.
    """
    ends = [improved(trials, start) for start in (greedy(trials), *starts)]
    return min(ends, key=lambda order: round(_mean(trials, order), 9))


def greedy(trials: Trials) -> list[int]:
    """Readings put in one after the other, each time the one and the place that leave the least mean minutes."""
    order: list[int] = []
    left = list(range(trials.count))
    while left and len(order) < trials.most:
        found = [(*best_place(trials, order, one), one) for one in left]
        _, place, one = min(found, key=lambda item: (round(item[0], 9), item[1], item[2]))
        order.insert(place, one)
        left.remove(one)
    return [*order, *left]


def improved(trials: Trials, order: Sequence[int]) -> list[int]:
    """The order after exchanges, no worse than it was."""
    best, least = list(order), _mean(trials, order)
    for _ in range(SWEEPS):
        before = least
        best, least = _each_moved(trials, best, least)
        if least > before - HAIR:
            for other in (*_stretches_moved(trials, best), *_exchanged(best)):
                minutes = _mean(trials, other)
                if minutes < least - HAIR:
                    best, least = other, minutes
        if least > before - HAIR:
            break
    return best


def _each_moved(trials: Trials, order: list[int], least: float) -> tuple[list[int], float]:
    """The order after every reading was moved to its best place, and its mean minutes."""
    for one in range(trials.count):
        rest = [other for other in order if other != one]
        minutes, place = best_place(trials, rest, one)
        if minutes < least - HAIR:
            order, least = [*rest[:place], one, *rest[place:]], minutes
    return order, least


def best_place(trials: Trials, rest: Sequence[int], one: int) -> tuple[float, int]:
    """Least mean minutes with one more reading in this order, and the place it then has.

    Before its place all is known as without it, after its place as with it, whatever the place: two sums serve them
    all.
    """
    without = trials.known(rest)
    with_it = without + trials.says[:, one, None, :]
    end = min(len(rest) + 1, trials.most)
    never = len(rest) + 1
    first = _next(trials.is_sure(without), never)[:, 0]
    nexts = _next(trials.is_sure(with_it), never)
    vain_without, vain_with = trials.in_vain(without[:, min(end, len(rest))]), trials.in_vain(with_it[:, end - 1])
    found = []
    for place in range(len(rest) + 1):
        ended = np.where(first <= place, first, nexts[:, place] + 1)
        vain = np.where(ended > end, vain_without if end <= place else vain_with, 0.0)
        minutes = trials.clock([*rest[:place], one, *rest[place:]])[np.minimum(ended, end)] + vain
        found.append((round(float(minutes.mean()), 12), place))
    return min(found)


def _next(sure: np.ndarray, never: int) -> np.ndarray:
    """(trial, taken) readings taken when it is sure for the first time from there on."""
    at = np.where(sure, np.arange(sure.shape[1]), never)
    return np.minimum.accumulate(at[:, ::-1], axis=1)[:, ::-1]


def _stretches_moved(trials: Trials, order: Sequence[int]) -> Iterator[list[int]]:
    """The orders in which one stretch of readings between two changes of set-up stands elsewhere among the others."""
    least = trials.minutes.min(axis=0)
    stretches: list[list[int]] = []
    for before, one in zip([None, *order], order, strict=False):
        if before is not None and trials.minutes[before, one] <= least[one] + HAIR:
            stretches[-1].append(one)
        else:
            stretches.append([one])
    for n, moved in enumerate(stretches):
        rest = stretches[:n] + stretches[n + 1 :]
        for place in range(len(rest) + 1):
            if place != n:
                yield [one for some in (*rest[:place], moved, *rest[place:]) for one in some]


def _exchanged(order: Sequence[int]) -> Iterator[list[int]]:
    """The orders in which two of the early readings, or an early and a late one, have changed places."""
    for a in range(min(EARLY, len(order))):
        for b in range(a + 1, len(order)):
            other = list(order)
            other[a], other[b] = other[b], other[a]
            yield other


def _mean(trials: Trials, order: Sequence[int]) -> float:
    return float(spent(trials, order).mean())
