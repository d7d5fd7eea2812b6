"""More than one fault: when no single suspect explains, or a repair did not cure, pairs join the belief."""

from __future__ import annotations

from functools import singledispatch

import numpy as np

from probewright.inference.belief import AnyLaws, Belief, LawsT, refine, weigh
from probewright.inference.circuit_fit import find_surprises, joint_tail, metered, stood, uncured
from probewright.inference.lookalikes import LookAlikes
from probewright.inference.verdict import TAIL
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.growing import grow, is_plain, second_ones

PAIRS = 16  # chosen: pairs drawn at most; each costs as much as one more suspect, and a bench has hundreds
MOST = 64  # chosen: the same once a repair did not cure, when what is left is a search of its own among all suspects
LIVING = 6  # chosen: suspects of which a second fault is thought; a card shows as many steps
SLIPS = 2  # chosen: one reading is a slip now and then, two of one job are rather a second fault


def refine_deep(belief: Belief[LawsT]) -> Belief[LawsT]:
    """Belief on draws put where the readings are, with suspects of two faults where single ones do not do."""
    found = refine(belief)
    return _deepened(belief.laws, belief, found)


@singledispatch
def _deepened(laws: AnyLaws, before: Belief, found: Belief) -> Belief:
    """Tables have the causes they have."""
    return found


@_deepened.register
def _(laws: Laws, before: Belief[Laws], found: Belief[Laws]) -> Belief[Laws]:
    """Where levels are known as ratios only, no figure is sharp enough to tell one fault from two."""
    if laws.model.playing or not is_short(found):
        return found
    draws = _living(found)
    rows, cells = len(laws.model.latents.keys) + 1, [int(n) for n in found.laws.cell_of[draws]]
    living = list(found.laws.latents_of(draws)[:rows].T)
    most = MOST if uncured(found) and not laws.model.in_time else PAIRS  # each is followed in time there: minutes
    more = second_ones(laws, found.readings, living, cells, most, found.laws.ring_of(draws))
    return refine(weigh(grow(laws, more), found.readings)) if more else found


def is_short(belief: Belief[Laws]) -> bool:
    """No single suspect does: the leading one fits badly or only with slips, or a repair did not cure."""
    if not metered(belief):
        return False  # nothing sharp was read: words alone tell no one fault from two
    leader = int(np.argmax(belief.probability))
    slips = {one.reading for one in find_surprises(belief)}
    believed = {r.question for n, r in enumerate(belief.readings) if n not in slips}
    open_ = [belief.readings[n].question for n in slips if belief.readings[n].question not in believed]
    return (
        uncured(belief)
        or belief.suspects[leader].unlisted
        or len(open_) >= SLIPS  # at two places, or at one place twice; one that another reading put right is done with
        or joint_tail(belief, LookAlikes((leader,), float(belief.probability[leader]))) < TAIL
    )


def _living(belief: Belief[Laws]) -> np.ndarray:
    """The most probable suspects with a fault, and before any repair too: the draw (variant of the laws) of each that
    the readings favour most."""
    laws = belief.laws
    earlier = [n for n, r in enumerate(belief.readings) if not any(stood(r))]
    before = weigh(laws, [belief.readings[n] for n in earlier]) if len(earlier) < len(belief.readings) else belief
    found: dict[int, int] = {}
    for one in (belief, before):
        order = [int(n) for n in np.argsort(-one.probability, kind="stable") if is_plain(belief.suspects[n])]
        for n in order[:LIVING]:
            favour = np.where(one.suspect_of == n, one.log_weight, -np.inf)
            found.setdefault(n, int(np.argmax(favour)))
    return np.array(list(found.values()))
