"""What may be concluded from a belief and how well its leading class fits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import singledispatch

import numpy as np

from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG
from probewright.inference.belief import AnyLaws, Belief
from probewright.inference.circuit_fit import fit_circuit
from probewright.inference.fit import Fit, Surprise
from probewright.inference.lookalikes import LookAlikes
from probewright.inference.table_fit import fit_table
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.table_laws import TableLaws

SURE = 0.9  # a class above this may be called located (docs/method.md)
MOST_PLACES = 3  # chosen: a class that lies in more places than these names a region, not a place
NEARLY_ALL = 0.95  # chosen: share of a class that its places must cover; the rest of them does not count
LEADS = 0.5  # more probable than all others together
TAIL = 0.01  # a joint tail below this says that nothing in the file explains the readings


@dataclass(frozen=True)
class Verdict:
    """finding: located, undecided, unexplained, outside, not_shown or healthy; tail: joint tail
    probability of the readings under the leading class; verified: some reading, foretold before it
    was taken, was sharp and unhealthy (or, for healthy, two readings agreed); rivals (suspect,): strangers for
    unlisted faults that fit the readings as well as the leader, and that some reading would tell from it; places: the
    parts, bridges and nets that nearly all of the leading class lies in, the likeliest first."""

    finding: str
    tail: float
    verified: bool
    surprises: tuple[Surprise, ...]
    rivals: tuple[int, ...] = ()
    places: tuple[str, ...] = ()

    @property
    def vague(self) -> bool:
        """The leading class lies in too many places to be one."""
        return len(self.places) > MOST_PLACES


def judge(belief: Belief, classes: Sequence[LookAlikes], rivals: tuple[int, ...] = ()) -> Verdict:
    """The finding that the readings allow; rivals (suspect,): as in Verdict."""
    fit = _fit(belief.laws, belief, classes[0])
    found = Verdict("undecided", fit.tail, fit.verified, fit.surprises, rivals, _places(belief, classes[0]))
    return replace(found, finding=_finding(belief, classes[0], fit, found))


def _finding(belief: Belief, top: LookAlikes, fit: Fit, so_far: Verdict) -> str:
    ids = {belief.suspects[n].id for n in top.members}
    if fit.tail < TAIL or (NOT_LISTED in ids and top.probability > LEADS):
        # words of the owner alone tell no two faults from one that nobody listed: something has to be read first, and
        # has to speak for it
        spoken = fit.tail < TAIL or fit.unlisted > LEADS
        return "unexplained" if spoken and not fit.words_alone else "undecided"
    if belief.suspects[top.members[0]].unlisted:
        whole = sum(belief.probability[n] for n, one in enumerate(belief.suspects) if one.unlisted)
        return "unexplained" if whole > SURE and not so_far.rivals else "undecided"
    if fit.over or top.probability <= SURE or not fit.verified or so_far.rivals or any(s.waits for s in fit.surprises):
        return "undecided"
    if NOTHING_WRONG in ids:
        # it meets the bar by itself, or faults that read like a sound machine are still in play
        if belief.probability[belief.laws.model.index[NOTHING_WRONG]] <= SURE:
            return "undecided"
        return "not_shown" if complaint(belief) else "healthy"
    if so_far.vague:
        return "undecided"
    return "outside" if fit.outside else "located"


def _places(belief: Belief, top: LookAlikes) -> tuple[str, ...]:
    """The parts, bridges and nets that nearly all of the chance of these look-alikes lies in, the likeliest first."""
    share: dict[str, float] = {}
    for n in top.members:
        for fault in belief.suspects[n].faults:
            place = fault.item if "~" in fault.item else fault.item.partition(".")[0]
            share[place] = share.get(place, 0.0) + float(belief.probability[n])
    likeliest = sorted(share, key=lambda one: -share[one])
    before = np.cumsum([0.0, *(share[one] for one in likeliest)])
    return tuple(one for one, covered in zip(likeliest, before, strict=False) if covered < NEARLY_ALL * before[-1])


@singledispatch
def _fit(laws: AnyLaws, belief: Belief, top: LookAlikes) -> Fit:
    raise TypeError(f"no fit is known for {type(laws).__name__}")


@_fit.register
def _(laws: Laws, belief: Belief[Laws], top: LookAlikes) -> Fit:
    return fit_circuit(belief, top)


@_fit.register
def _(laws: TableLaws, belief: Belief[TableLaws], top: LookAlikes) -> Fit:
    return fit_table(belief, top)


def complaint(belief: Belief) -> bool:
    """The owner says that something does not work."""
    return any(r.question.instrument == "works" and r.answer != "ok" for r in belief.readings)


def contented(belief: Belief) -> bool:
    """The owner says of something that it works, and of nothing that it does not."""
    return any(r.question.instrument == "works" for r in belief.readings) and not complaint(belief)
