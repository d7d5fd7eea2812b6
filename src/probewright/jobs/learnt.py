"""What a place should read where nobody knew beforehand: learnt from the good channel and other readings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from probewright.inference.belief import Belief, weighted_quantiles
from probewright.machine import Machine
from probewright.machine.chains import equal_places, played_sources
from probewright.machine.model import GROUND
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.likelihood import is_exact
from probewright.prediction.outcomes import FAINT
from probewright.readings import Question, Setup
from probewright.readings.instruments import FEEDING, unit_of
from probewright.units import write_reading

SHARES = (0.025, 0.5, 0.975)  # low, middle and high: 19 in 20 lie between
NARROWED = 0.5  # chosen: standard deviation over that before any reading, below which a level is learnt
TIED = 0.3  # chosen: correlation of two levels beforehand from which one tells of the other
ABOUT = 4.0  # chosen: high over low up to which one figure is said: a factor of two either way
NARROWS = 0.5  # chosen: share of its variance that a prediction loses to count as narrowed
HEARD = 1e-3  # V, chosen: below this a signal counts as none


@dataclass(frozen=True)
class Range:
    """What a place reads if nothing is wrong, in the unit of the question; learnt_from: index of the reading."""

    low: float
    mid: float
    high: float
    learnt_from: int | None = None


@dataclass(frozen=True)
class Worth:
    """The one unknown worth measuring: a question, the places it foretells, and why in a sentence."""

    ask: Question
    foretells: tuple[str, ...]
    why: str


def healthy_now(belief: Belief[Laws], ask: Question) -> Range:
    """What the place would read if nothing were wrong, after the readings.

    Where every figure is known it is what sound machines read. Else each draw is asked what it
    would show without its fault, so that whatever narrowed the draws narrows the answer.
    """
    laws = belief.laws
    if not (laws.model.unknown or laws.model.unsure_boards) or ask.instrument in FEEDING:
        return Range(*laws.healthy(ask))
    outcome, weight = laws.unharmed(ask), _honest_weight(belief)
    use = outcome.judged & (weight > 0.0)
    if not use.any():
        return Range(*laws.healthy(ask))
    low, mid, high = (float(one) for one in weighted_quantiles(outcome.value[use], weight[use], SHARES))
    return Range(low, mid, high, _teacher(belief, ask) if laws.model.unknown else None)


def _honest_weight(belief: Belief[Laws]) -> np.ndarray:
    """(draw,) weights as if the readings that are trusted were certainly no slips: a figure shown to a
    person should not be as wide as anything just because one probe in thirty slips."""
    kept = [n for n in range(len(belief.readings)) if _trusted(belief, n)]
    return np.asarray(belief.weight * np.prod(belief.honest[:, kept], axis=1))


def _level(value: np.ndarray) -> np.ndarray:
    """Natural logarithm of a level."""
    return np.log(np.maximum(np.abs(value), FAINT))


def _teacher(belief: Belief[Laws], ask: Question) -> int | None:
    """Index of the reading that told most of this place: the equal place of another channel first.

    None where the place is as open as before any reading.
    """
    laws = belief.laws
    before = _level(laws.unharmed(ask).value[: laws.base.size])
    now = _level(laws.unharmed(ask).value)
    spread = float(np.sqrt(np.cov(now, aweights=_honest_weight(belief))))
    if spread > NARROWED * float(np.std(before)):
        return None
    told = {}
    for n, reading in enumerate(belief.readings):
        if not is_exact(laws.model.machine, reading) or not _trusted(belief, n):
            continue
        level = _level(laws.unharmed(reading.question).value[: laws.base.size])
        if np.std(level) > 0.0:
            told[n] = abs(float(np.corrcoef(before, level)[0, 1]))
    equal = equal_places(laws.model.machine, ask.red)
    own = {n for n in told if belief.readings[n].question == ask}
    ranked = sorted(told, key=lambda n: (n not in own, belief.readings[n].question.red not in equal, -told[n]))
    return next((n for n in ranked if told[n] > TIED), None)


def _trusted(belief: Belief[Laws], n: int) -> bool:
    """The reading is more probably as said than a slip."""
    return float(np.sum(belief.weight * belief.honest[:, n])) > 0.5


def say_range(belief: Belief[Laws], ask: Question, known: Range) -> str:
    """ "about 1.1 V, learnt from the left channel"; "not known yet" where nothing was learnt."""
    unit = unit_of(ask.instrument)
    if known.learnt_from is None and belief.laws.model.unknown and known.high > ABOUT * known.low:
        return "not known yet"
    low, mid, high = (write_reading(float(f"{value:.2g}"), unit) for value in (known.low, known.mid, known.high))
    words = f"about {mid}" if known.high <= ABOUT * known.low else f"{low} to {high}"
    if known.learnt_from is None or belief.readings[known.learnt_from].question == ask:
        return words
    return (
        f"{words}, learnt from {_whence(belief.laws.model.machine, ask, belief.readings[known.learnt_from].question)}"
    )


def _whence(machine: Machine, ask: Question, told: Question) -> str:
    """The other channel, when the reading was of the equal place there; else the place itself."""
    if told.red in equal_places(machine, ask.red):
        label = channel_of(machine, told.red)
        return label if any(word in label for word in ("voice", "channel")) else f"the {label} channel"
    if told.red == ask.red and told.setup != ask.setup:
        return "the same place in another set-up"
    return told.red


def channel_of(machine: Machine, place: str) -> str:
    """Label of the channel a place belongs to; "" when all share it."""
    name = place.rpartition(".")[0]
    parts = [name] if name in machine.parts else [part for part, _ in machine.pins_on(place)]
    marks = {machine.parts[part].channel for part in parts} - {""}
    return machine.channels.get(marks.pop(), "") if len(marks) == 1 else ""


def unknown_worth_measuring(belief: Belief[Laws]) -> Worth | None:
    """The one unknown level whose measurement narrows the open predictions most; None when all are known.

    Each candidate is what a probe would really find there, fault and all, so a place that may be
    dead is worth less than its equal on a channel that plays.
    """
    laws = belief.laws
    if not laws.model.unknown:
        return None
    asks = list(_levels(laws.model.machine, belief))
    weight = _honest_weight(belief) / _honest_weight(belief).sum()
    healthy = np.stack([_level(laws.unharmed(ask).value) for ask in asks])
    found = np.stack([np.log(np.maximum(laws.outcome(ask).value, HEARD)) for ask in asks])
    lost = _explained(healthy, found, weight)
    open_ = np.average((healthy - (healthy @ weight)[:, None]) ** 2, axis=1, weights=weight)
    measured = {reading.question.red for reading in belief.readings if is_exact(laws.model.machine, reading)}
    score = np.array([-1.0 if ask.red in measured else float(lost[n] @ open_) for n, ask in enumerate(asks)])
    best = int(np.argmax(score))
    foretold = [n for n in np.argsort(-lost[best]) if lost[best][n] > NARROWS and open_[n] > np.log(ABOUT) ** 2 / 4.0]
    places = tuple(asks[n].red for n in foretold if n != best)
    return Worth(asks[best], places, _reason(laws.model.machine, asks[best], places)) if places else None


def _levels(machine: Machine, belief: Belief[Laws]) -> Iterator[Question]:
    """Signal questions at every net but the rails and what plays."""
    silent = {part.pins["supply"] for part in machine.parts.values() if part.kind == "block"}
    silent |= {machine.parts[name].pins["plus"] for name in played_sources(machine)}
    playing = next((one.name for one in machine.stimuli.values() if one.playing), "")
    for net in machine.nets:
        if net != GROUND and not net.startswith("nc:") and net not in silent:
            yield Question("pp", net, setup=replace(_live_setup(belief), stimulus=playing))


def _live_setup(belief: Belief[Laws]) -> Setup:
    """The set-up of the last reading taken with power on; as typed before any."""
    live = (r.question.setup for r in reversed(belief.readings) if r.question.setup.power == "on")
    return replace(next(live, Setup()), hertz=0.0, sister=False)


def _explained(healthy: np.ndarray, found: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """(candidate, place) share of the variance of ln healthy (place, draw) that ln found (candidate, draw) explains."""

    def centred(rows: np.ndarray) -> np.ndarray:
        return np.asarray(rows - (rows @ weight)[:, None])

    one, other = centred(found), centred(healthy)
    common = (one * weight) @ other.T
    own, theirs = np.sum(weight * one**2, axis=1), np.sum(weight * other**2, axis=1)
    return np.asarray(common**2 / np.maximum(own[:, None] * theirs[None, :], FAINT))


def _reason(machine: Machine, ask: Question, places: Sequence[str]) -> str:
    """Why this one."""
    equal = [place for place in equal_places(machine, ask.red) if place in places]
    if equal:
        label = channel_of(machine, equal[0])
        return f"It tells what the {label} channel should read at the same place, and {len(places) - 1} places more."
    return f"It tells what {len(places)} other places should read."
