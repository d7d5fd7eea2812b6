"""What may be concluded, and which readings are surprising."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG
from probewright.inference.belief import Belief, weigh
from probewright.inference.lookalikes import LookAlikes
from probewright.prediction.latents import below
from probewright.prediction.likelihood import spread

SURE = 0.9  # a class above this may be called located (docs/method.md)
TAIL = 0.01  # a joint tail below this says that nothing in the file explains the readings
SURPRISE = 0.5  # a reading more probably slipped than not
SHARP = 5.0  # standard deviations between healthy and suspect that make a reading a verification


@dataclass(frozen=True)
class Surprise:
    """A reading that the leading explanation does not give. tail: chance of one so far off."""

    reading: int
    tail: float
    remeasured: bool


@dataclass(frozen=True)
class Verdict:
    """finding: located, undecided, unexplained, outside, not_shown or healthy; tail: joint tail
    probability of the readings under the leading class; verified: some reading, foretold before it
    was taken, was sharp and unhealthy (or, for healthy, some reading was taken at all)."""

    finding: str
    tail: float
    verified: bool
    surprises: tuple[Surprise, ...]


def judge(belief: Belief, classes: Sequence[LookAlikes]) -> Verdict:
    """The finding that the readings allow."""
    top = classes[0]
    surprises = find_surprises(belief)
    tail = joint_tail(belief, top)
    open_ = [s for s in surprises if not s.remeasured]
    ids = {belief.suspects[n].id for n in top.members}
    verified = is_verified(belief, top)
    if tail < TAIL or (NOT_LISTED in ids and top.probability > 0.5):
        return Verdict("unexplained", tail, verified, surprises)
    if top.probability <= SURE or open_ or not verified:
        return Verdict("undecided", tail, verified, surprises)
    if NOTHING_WRONG in ids:
        # it meets the bar by itself, or faults that read like a sound machine are still in play
        if belief.probability[belief.laws.model.index[NOTHING_WRONG]] <= SURE:
            return Verdict("undecided", tail, verified, surprises)
        return Verdict("healthy" if not complaint(belief) else "not_shown", tail, verified, surprises)
    parts = belief.laws.model.machine.parts
    items = {f.item for n in top.members for f in belief.suspects[n].faults}
    outside = all(item in parts and parts[item].role == "extra" for item in items)
    return Verdict("outside" if outside else "located", tail, verified, surprises)


def complaint(belief: Belief) -> bool:
    """The owner says that something does not work."""
    return any(r.question.instrument == "works" and r.answer != "ok" for r in belief.readings)


def metered(belief: Belief) -> list[int]:
    """Indices of the readings with a finite figure from an instrument."""
    return [
        n
        for n, r in enumerate(belief.readings)
        if r.question.instrument not in ("works", "swap") and isinstance(r.answer, float) and np.isfinite(r.answer)
    ]


def find_surprises(belief: Belief) -> tuple[Surprise, ...]:
    """Readings that were more probably a slip, with their tail under the posterior.

    A surprise counts as measured again when another hook-up asked the same question.
    """
    found = []
    for n in metered(belief):
        reading = belief.readings[n]
        honest = float(np.sum(belief.weight * belief.honest[:, n]))
        if honest < SURPRISE:
            again = any(
                m != n and r.question == reading.question and r.hookup != reading.hookup
                for m, r in enumerate(belief.readings)
            )
            found.append(Surprise(n, _tail_of(belief, n), again))
    return tuple(found)


def _tail_of(belief: Belief, n: int) -> float:
    """Chance of an honest reading so far from what is expected, both sides."""
    reading = belief.readings[n]
    shown = belief.laws.outcome(reading.question).value
    value = float(reading.answer)
    off = np.abs(value - shown) / np.hypot(*spread(reading, value))
    return float(np.sum(belief.weight * _two_sided(off)))


def _two_sided(off: np.ndarray) -> np.ndarray:
    """Chance of a standard normal farther out than `off`; bound good to a few per cent far out."""
    return np.maximum(2.0 * (1.0 - below(np.minimum(off, 8.5))), 1e-16)


def joint_tail(belief: Belief, top: LookAlikes) -> float:
    """Chance that honest readings of the leading class lie as far off as these did, all together.

    Sum of squares over the readings not held to be slips, against the chi-square law; averaged
    over the class's draws.
    """
    rows = [n for n in metered(belief) if float(np.sum(belief.weight * belief.honest[:, n])) >= SURPRISE]
    if not rows:
        return 1.0
    chosen = np.isin(belief.suspect_of, top.members) & (belief.weight > 0.0)
    total = np.zeros(int(chosen.sum()))
    for n in rows:
        reading = belief.readings[n]
        value = float(reading.answer)
        shown = belief.laws.outcome(reading.question).value[chosen]
        total += ((value - shown) / np.hypot(*spread(reading, value))) ** 2
    weight = belief.weight[chosen] / belief.weight[chosen].sum()
    return float(np.sum(weight * chi_square_tail(total, len(rows))))


def chi_square_tail(total: np.ndarray, freedom: int) -> np.ndarray:
    """Chance that a chi-square of this many degrees of freedom exceeds `total`.

    Wilson and Hilferty's cube root (PNAS 17, 1931), good to about 1e-3 for any freedom.
    """
    share = 2.0 / (9.0 * freedom)
    return 1.0 - below(((np.minimum(total, 1e6) / freedom) ** (1.0 / 3.0) - (1.0 - share)) / np.sqrt(share))


def is_verified(belief: Belief, top: LookAlikes) -> bool:
    """Some metered reading was foretold: the class already led, said something sharp and
    unhealthy, and the reading agreed. For "nothing wrong", any two agreeing readings do."""
    rows = [n for n in metered(belief) if float(np.sum(belief.weight * belief.honest[:, n])) >= SURPRISE]
    if any(belief.suspects[m].id == NOTHING_WRONG for m in top.members):
        return len(rows) >= 2
    for n in rows:
        reading = belief.readings[n]
        before = weigh(belief.laws, belief.readings[:n])
        chosen = np.isin(before.suspect_of, top.members)
        lead = float(before.weight[chosen].sum())
        if lead < 0.5:
            continue
        value = float(reading.answer)
        _, healthy, _ = belief.laws.healthy(reading.question)
        low, middle, high = before.quantiles(reading.question, chosen, (0.16, 0.5, 0.84))
        error = float(np.hypot(*spread(reading, value)))
        sd = float(np.hypot(error, 0.5 * (high - low)))
        if abs(middle - healthy) > SHARP * sd and abs(value - middle) < 3.0 * sd:
            return True
    return False
