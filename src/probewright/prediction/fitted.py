"""What sound machines show where a circuit was added, with it and without it, draw by draw."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, replace

import numpy as np

from probewright.machine.kinds import KINDS
from probewright.machine.model import Machine, Measure, Works
from probewright.prediction.bank import Bank, Solved
from probewright.prediction.circuit_laws import Laws
from probewright.prediction.heating import is_solved
from probewright.prediction.outcomes import broken, frequency, healthy_value, quantity, works_value
from probewright.prediction.stress import borne
from probewright.readings import Setup
from probewright.simulation import heating
from probewright.simulation.alternating import small_signal
from probewright.simulation.meters import Shown

ENDS = (0.025, 0.975)  # 19 in 20 sound machines lie between
TENTHS = 10  # chosen: frequencies a decade at which a band is looked at; between them it is drawn straight
LOWEST, HIGHEST = 0.1, 1e8  # Hz, chosen: below and above it nothing at a bench is asked
DOWN = 0.5**0.5  # 3 dB
ASIDE = 4.0  # chosen: no sound machine's band ends so many times beyond the middling one's
TINY = 1e-9  # V: nothing can be divided by less

Look = Callable[[Bank], Shown]


@dataclass(frozen=True)
class Spread:
    """A figure over sound machines. low, high: 19 in 20 lie between; middle: of the middling machine; draws (draw,):
    each machine's own."""

    low: float
    middle: float
    high: float
    draws: np.ndarray

    def share(self, low: float, high: float) -> float:
        """How many of the machines lie from low to high, 0..1."""
        return float(np.mean((self.draws >= low) & (self.draws <= high)))

    def less(self, by: float) -> Spread:
        """All of it less a figure."""
        return Spread(self.low - by, self.middle - by, self.high - by, self.draws - by)

    def times(self, by: float) -> Spread:
        """All of it times a figure above nought."""
        return Spread(self.low * by, self.middle * by, self.high * by, self.draws * by)


def spread(laws: Laws, look: Look) -> Spread | None:
    """What sound machines show; None where hardly any could be solved, or the middling one was not."""
    shown, middle = look(laws.sound), look(laws.base.middle)
    draws = shown.value[shown.judged & np.isfinite(shown.value)]
    if draws.size < 2 or not middle.judged[0]:
        return None
    low, high = np.quantile(draws, ENDS, method="nearest")
    return Spread(float(low), float(middle.value[0]), float(high), draws)


def middling(laws: Laws, look: Look) -> float | None:
    """What the middling machine alone shows, for what takes long; None where it could not be solved."""
    shown = look(laws.base.middle)
    return float(shown.value[0]) if shown.judged[0] else None


def reads(measure: Measure, setup: Setup | None = None) -> Look:
    """A quantity at a place. setup: gives all but the stimulus."""
    return lambda bank: quantity(bank, measure, setup or Setup())


def over(one: Look, other: Look) -> Look:
    """One figure as a share of another in the same machine."""

    def look(bank: Bank) -> Shown:
        top, bottom = one(bank), other(bank)
        there = np.abs(bottom.value) > TINY
        return Shown(top.value / np.where(there, bottom.value, 1.0), top.judged & bottom.judged & there)

    return look


def minus(one: Look, other: Look) -> Look:
    """The difference of two figures in the same machine."""

    def look(bank: Bank) -> Shown:
        first, second = one(bank), other(bank)
        return Shown(first.value - second.value, first.judged & second.judged)

    return look


def one(bank: Bank) -> Shown:
    """1, in every machine."""
    return Shown(np.ones(bank.size), np.ones(bank.size, bool))


def without(setup: Setup, parts: Collection[str]) -> Setup:
    """The set-up with these parts out."""
    return replace(setup, unplugged=tuple(sorted({*setup.unplugged, *parts})))


def bears(part: str, what: str, setup: Setup) -> Look:
    """What a part has to bear of one thing, in its unit; not judged where nobody can say."""

    def look(bank: Bank) -> Shown:
        unknown = Shown(np.zeros(bank.size), np.zeros(bank.size, bool))
        return borne(bank, part, setup).get(what, unknown)

    return look


def amps(net: str, parts: Collection[str], setup: Setup) -> Look:
    """A that these parts take from a net, at rest."""

    def of_one(solved: Solved, name: str, machine: Machine) -> np.ndarray:
        pins = heating.pin_volts(solved.circuit, solved.batch, name, solved.rest.volts)
        kind = KINDS[machine.parts[name].kind]
        into = heating.amps_into(kind, pins, heating.figures_of(solved.circuit, solved.batch, name))
        return np.asarray(sum(into[pin] for pin, on in machine.parts[name].pins.items() if on == net and pin in into))

    def look(bank: Bank) -> Shown:
        solved, machine = bank.solved(setup), bank.model.machine
        mine = [one for one in parts if net in machine.parts[one].pins.values() and is_solved(bank, one, setup)]
        whole = sum((of_one(solved, one, machine) for one in mine), np.zeros(bank.size))
        return Shown(np.asarray(whole), solved.rest.solved)

    return look


def band(laws: Laws, out: str, into: str, setup: Setup, upper: bool) -> Spread | None:
    """Hz at which what passes from one place to another is 3 dB down, above or below the stimulus's own frequency.

    None without a signal, and where it does not fall so far up to HIGHEST, down to LOWEST. The middling machine is
    asked first, the others only up to ASIDE times beyond it.
    """
    first = middling(laws, _corner(out, into, setup, HIGHEST if upper else LOWEST))
    if first is None or first in (HIGHEST, LOWEST):
        return None
    return spread(laws, _corner(out, into, setup, first * ASIDE if upper else first / ASIDE))


def _corner(out: str, into: str, setup: Setup, end: float) -> Look:
    """The same in every machine, looked for from the stimulus's own frequency to `end`, which stands for what lies
    beyond."""

    def look(bank: Bank) -> Shown:
        own = frequency(bank, setup)
        if not own:
            return Shown(np.zeros(bank.size), np.zeros(bank.size, bool))
        solved = bank.solved(setup)
        hertz = np.geomspace(own, end, max(2, round(abs(np.log10(end / own)) * TENTHS)) + 1)
        first, passes = _passes(solved, out, into, own), np.ones((len(hertz), bank.size))
        for n, one in enumerate(hertz[1:], 1):
            passes[n] = _passes(solved, out, into, float(one)) / np.maximum(first, TINY)
        return Shown(_falls(hertz, passes, end), solved.rest.solved & (first > TINY))

    return look


def _passes(solved: Solved, out: str, into: str, hertz: float) -> np.ndarray:
    """(variant,) share of the volts at one place that another one has, at this frequency."""
    volts = small_signal(solved.circuit, solved.batch, solved.rest, hertz).volts
    there = np.abs(solved.circuit.volts_at(into, solved.batch, volts))
    return np.asarray(np.abs(solved.circuit.volts_at(out, solved.batch, volts)) / np.maximum(there, TINY))


def _falls(hertz: np.ndarray, passes: np.ndarray, end: float) -> np.ndarray:
    """(variant,) Hz where passes (hertz, variant) first falls through DOWN, straight between two, in logarithms."""
    below = passes < DOWN
    at = np.argmax(below, axis=0)
    found = np.full(passes.shape[1], end)
    for variant in np.flatnonzero(below.any(axis=0)):
        n = at[variant]
        ends = np.log(np.maximum(passes[n - 1 : n + 1, variant], TINY))
        share = (ends[0] - np.log(DOWN)) / (ends[0] - ends[1])
        found[variant] = np.exp(np.log(hertz[n - 1]) + share * np.log(hertz[n] / hertz[n - 1]))
    return found


def holds(laws: Laws, was: Laws, works: Works, setup: Setup) -> bool | None:
    """Whether a function works in the middling machine, healthy being what it was; None where nobody can tell."""
    shown, healthy = works_value(laws.base.middle, works, setup), healthy_value(was.base.middle, works)
    if not shown.judged[0]:
        return None
    good = np.prod([1.0 - broken(shown.value, limit, healthy)[0] for limit in works.limits])
    return bool(good >= 0.5)
