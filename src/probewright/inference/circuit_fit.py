"""How well a class of suspects fits the metered readings of a circuit."""

from __future__ import annotations

import numpy as np

from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG
from probewright.hypotheses.mending import is_repaired
from probewright.inference.belief import Belief, weigh
from probewright.inference.fit import LED, SURPRISE, Fit, Surprise
from probewright.inference.lookalikes import LookAlikes
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.latents import below
from probewright.prediction.likelihood import EAR, is_exact, spread
from probewright.prediction.outcomes import CHANGED
from probewright.readings import Question, Reading, Setup
from probewright.readings.powering import is_at_limit

SPAN = (0.16, 0.5, 0.84)  # one standard deviation of a normal law to either side of the middle
NEAR = 3.0  # chosen: standard deviations within which a reading agrees with what was foretold
SHARP = 5.0  # standard deviations between healthy and suspect that make a reading a verification


def fit_circuit(belief: Belief[Laws], top: LookAlikes) -> Fit:
    """Surprises, joint tail and verification of the readings under the leading class."""
    parts = belief.laws.model.machine.parts
    items = {f.item for n in top.members for f in belief.suspects[n].faults}
    outside = all(item in parts and parts[item].role == "extra" for item in items)
    over = is_over(belief, top.members[0])
    return Fit(
        find_surprises(belief), joint_tail(belief, top), is_verified(belief, top), outside, over, not metered(belief),
        unlisted_as_measured(belief, top),
    )  # fmt: skip


def unlisted_as_measured(belief: Belief[Laws], top: LookAlikes) -> float:
    """Chance of something that is not in the file, what the owner said before any repair left out; nought where that
    does not lead anyway.

    One wrong word of two makes it likely before anything was read, for it may sound like anything.
    """
    place = belief.laws.model.index[NOT_LISTED]
    if place not in top.members:
        return 0.0
    heard = [r for r in belief.readings if r.question.instrument != "works" or any(stood(r))]
    return float(weigh(belief.laws, heard, wake=False).probability[place])


def uncured(belief: Belief) -> bool:
    """Something does not work after the last repair, or draws all that its supply gives."""
    if not belief.readings:
        return False
    since = stood(belief.readings[-1])
    fails = (r for r in belief.readings if is_at_limit(r) or (r.question.instrument == "works" and r.answer != "ok"))
    return any(since) and any(stood(r) == since for r in fails)


def is_over(belief: Belief[Laws], suspect: int) -> bool:
    """A suspect is repaired, every fault of it, and something still does not work."""
    faults, last = belief.suspects[suspect].faults, belief.readings[-1].question.setup if belief.readings else Setup()
    machine = belief.laws.model.machine
    return bool(faults) and uncured(belief) and all(is_repaired(machine, fault, last) for fault in faults)


def metered(belief: Belief[Laws]) -> list[int]:
    """Indices of the readings with a finite figure from an instrument, foretold to its error."""
    return [n for n, r in enumerate(belief.readings) if is_exact(belief.laws.model.machine, r)]


def _exact(reading: Reading) -> bool:
    """A finite figure, no bound: "less than 3 V" lies off nothing."""
    return isinstance(reading.answer, float) and bool(np.isfinite(reading.answer)) and reading.bound is None


def find_surprises(belief: Belief[Laws]) -> tuple[Surprise, ...]:
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
            found.append(Surprise(n, _tail_of(belief, n), again, stood(reading) != stood(belief.readings[-1])))
    return tuple(found)


def stood(reading: Reading) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What was new and mended when a reading was taken."""
    return reading.question.setup.replaced, reading.question.setup.mended


def _tail_of(belief: Belief[Laws], n: int) -> float:
    """Chance of an honest reading so far from what is expected, both sides."""
    reading = belief.readings[n]
    shown = belief.laws.outcome(reading.question, reading.sitting).value
    value = float(reading.answer)
    off = np.abs(value - shown) / np.hypot(*spread(reading, value))
    return float(np.sum(belief.weight * _two_sided(off)))


def _two_sided(off: np.ndarray) -> np.ndarray:
    """Chance of a standard normal farther out than `off`; bound good to a few per cent far out."""
    return np.maximum(2.0 * (1.0 - below(np.minimum(off, 8.5))), 1e-16)


def joint_tail(belief: Belief[Laws], top: LookAlikes) -> float:
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
        shown = belief.laws.outcome(reading.question, reading.sitting).value[chosen]
        total += ((value - shown) / np.hypot(*spread(reading, value))) ** 2
    weight = belief.weight[chosen] / belief.weight[chosen].sum()
    return float(np.sum(weight * chi_square_tail(total, len(rows))))


def chi_square_tail(total: np.ndarray, freedom: int) -> np.ndarray:
    """Chance that a chi-square of this many degrees of freedom exceeds `total`.

    Wilson and Hilferty's cube root (PNAS 17, 1931), good to about 1e-3 for any freedom.
    """
    share = 2.0 / (9.0 * freedom)
    return 1.0 - below(((np.minimum(total, 1e6) / freedom) ** (1.0 / 3.0) - (1.0 - share)) / np.sqrt(share))


def is_verified(belief: Belief[Laws], top: LookAlikes) -> bool:
    """Some metered reading, or a share by eye or ear, was foretold: the class already led, said
    something sharp and unhealthy, and the reading agreed. For "nothing wrong", any two agreeing
    readings do."""
    shares = [n for n, r in enumerate(belief.readings) if r.question.instrument == "share" and _exact(r)]
    rows = [n for n in [*metered(belief), *shares] if float(np.sum(belief.weight * belief.honest[:, n])) >= SURPRISE]
    if any(belief.suspects[m].id == NOTHING_WRONG for m in top.members):
        return len(rows) >= 2
    return any(_foretold(belief, n, top) for n in sorted(rows))


def _foretold(belief: Belief[Laws], n: int, top: LookAlikes) -> bool:
    """The class led before reading n, named a figure sharply and far from healthy, and it came."""
    reading = belief.readings[n]
    before = weigh(belief.laws, belief.readings[:n])
    chosen = np.isin(before.suspect_of, top.members)
    if float(before.weight[chosen].sum()) < LED:
        return False
    value = float(reading.answer)
    low, middle, high = before.quantiles(reading.question, chosen, SPAN, reading.sitting)
    if not np.isfinite((low, middle, high)).all():
        return False  # it named no figure there, but "over the range" or "never"
    sd = float(np.hypot(_error(reading, value), 0.5 * (high - low)))
    return _ill(before, reading.question, chosen, middle) > SHARP * sd and abs(value - middle) < NEAR * sd


def _error(reading: Reading, value: float) -> float:
    """Standard deviation of a reading of about this value, in its own unit (a share: of healthy)."""
    return (
        EAR * max(value, CHANGED)
        if reading.question.instrument == "share"
        else float(np.hypot(*spread(reading, value)))
    )


def _ill(belief: Belief[Laws], ask: Question, chosen: np.ndarray, middle: float) -> float:
    """How far from healthy the chosen draws are at a place, in the unit of the answer.

    Where levels are known as ratios only, or a board may be there or not, each draw is compared with itself unharmed.
    """
    if ask.instrument == "share":
        return abs(middle - 1.0)
    if not (belief.laws.model.unknown or belief.laws.model.unsure_boards):
        return float(abs(middle - belief.laws.healthy(ask)[1]))
    gap = np.abs(belief.laws.outcome(ask).value - belief.laws.unharmed(ask).value)[chosen]
    order = np.argsort(gap)
    steps = np.cumsum(belief.weight[chosen][order])
    return float(gap[order][np.searchsorted(steps, SPAN[0] * steps[-1])])
