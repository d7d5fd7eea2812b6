"""Somebody beside the made-up bench who knows what is hidden, and counts steps on the card that nobody should make.

It is judged by its own draws and its own figures of the standard: nothing of `planning.danger`, which writes the
cautions, is used.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from probewright.inference.belief import Belief
from probewright.machine.model import GROUND
from probewright.planning.actions import Action
from probewright.planning.ways import Ways
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import Model
from probewright.prediction.outcomes import bare_volts
from probewright.readings import PROVOKE, Question, Setup

# V d.c., V rms: IEC 62368-1, Ed. 3, 5.2.2.2, table 4; of both together the shares of the two limits are added
ES1, ES2 = (60.0, 30.0), (120.0, 50.0)
STILL_THOUGHT_OF = 1e-6  # chosen: a suspect less probable than this does not count (docs/method.md, Danger)
NEVER_LIVE, UNTRAINED = "off limits with power on", "can kill, and nobody is trained"
UNWARNED, UNDERTOLD = "can hurt, and no caution", "can kill, and the caution does not say so"


@dataclass(frozen=True)
class Watched:
    """Steps on the cards of a rehearsal. live: with power on; hurting: of these and of what is exchanged, at places
    that can hurt; unsafe: those that nobody should make as they stand, each with why."""

    live: int = 0
    hurting: int = 0
    unsafe: tuple[str, ...] = ()

    def __add__(self, more: Watched) -> Watched:
        """Both together."""
        return Watched(self.live + more.live, self.hurting + more.hurting, self.unsafe + more.unsafe)


class Onlooker:
    """Knows every suspect of the file, in the middle of its tolerances and of each of its severities.

    trained: whoever works here may touch live what can kill.
    """

    def __init__(self, model: Model, trained: bool) -> None:
        self.machine, self.model, self.trained = model.machine, model, trained
        spans = [Span(cell, cell, cell + 1) for cell in range(len(model.cells))]
        self.every = Bank(model, spans, np.zeros((len(model.latents.keys) + 1, len(spans))))
        self.closed = {self.machine.net_of(place) for place in self.machine.never_live}

    def watch(self, card: Sequence[Action], how: Ways, belief: Belief, truth: Bank) -> Watched:
        """What is on a card; how: of whoever wrote it, with its cautions; truth: the machine on the bench, its first
        variant."""
        live = [one.ask for one in card if one.ask is not None and one.kind in HANDS_ON and _is_live(one.ask.setup)]
        asks = [*live, *(one.ask for one in card if one.ask is not None and one.kind == "swap")]
        hurting = [ask for ask in asks if self.hurts(ask, belief, truth)]
        found = ((ask, self.wrong(ask, how.caution(ask) if ask in hurting else None, belief, truth)) for ask in asks)
        return Watched(len(live), len(hurting), tuple(f"{ask.red}: {why}" for ask, why in found if why))

    def wrong(self, ask: Question, caution: str | None, belief: Belief, truth: Bank) -> str:
        """Why nobody should do that with this caution; "" where it may be done."""
        off = ask.instrument == "swap"  # it is made with the power off
        if not off and self.closed & set(self.touched(ask)):
            return NEVER_LIVE
        if not off and not self.trained and self.kills(ask):
            return UNTRAINED
        if not self.hurts(ask, belief, truth):
            return ""
        if "up to" not in (caution or ""):
            return UNWARNED
        deadly = self.hurts(ask, belief, truth, ES2) and "can kill" not in (caution or "")
        return UNDERTOLD if deadly else ""

    def hurts(self, ask: Question, belief: Belief, truth: Bank, limits: tuple[float, float] = ES1) -> bool:
        """The machine on the bench, or a suspect that is still thought of, has more than these limits there."""
        shares = self.share(self.every, ask, limits)[self._thought_of(belief)]
        return bool(self.share(truth, ask, limits)[0] > 1.0 or np.any(shares > 1.0))

    def _thought_of(self, belief: Belief) -> np.ndarray:
        """(cell,) bool: cells of suspects that are still thought of."""
        ids = {one.id for one, p in zip(belief.suspects, belief.probability, strict=True) if p > STILL_THOUGHT_OF}
        return np.array([self.model.suspects[cell.suspect].id in ids for cell in self.model.cells])

    def kills(self, ask: Question) -> bool:
        """A sound machine has more than ES2 there, to ground."""
        ends = (end for end in self.touched(ask) if end != GROUND)
        cell = self.model.healthy_cell
        return any(self._between(self.every, end, GROUND, ask.setup, ES2)[cell] > 1.0 for end in ends)

    def share(self, bank: Bank, ask: Question, limits: tuple[float, float]) -> np.ndarray:
        """(variant,) the highest share of the limits that a hand or a probe meets, node to node or to ground; nought
        where the machine was not solved."""
        found = [self._between(bank, one, other, ask.setup, limits) for one, other in self._pairs(ask)]
        return np.max(found, axis=0) if found else np.zeros(bank.size)

    def _between(self, bank: Bank, red: str, black: str, setup: Setup, limits: tuple[float, float]) -> np.ndarray:
        found, stimulus = np.zeros(bank.size), self.machine.stimuli.get(setup.stimulus)
        for quantity, limit in zip(("dc", "rms"), limits, strict=True):
            if quantity == "rms" and stimulus is not None and stimulus.playing:
                continue  # whatever it plays: nobody knows how loud
            shown = bare_volts(bank, Question(quantity, red, black, setup))
            found += np.where(shown.judged & np.isfinite(shown.value), shown.value, 0.0) / limit
        return found

    def _pairs(self, ask: Question) -> Iterator[tuple[str, str]]:
        ends = [end for end in self.touched(ask) if end != GROUND]
        yield from ((end, GROUND) for end in ends)
        if ask.instrument not in UNDER_THE_HAND and len(ends) > 1:
            yield ends[0], ends[1]

    def touched(self, ask: Question) -> tuple[str, ...]:
        """Nets that the probes are put on, or those of a part, all units of its case, that a hand comes near."""
        machine, item = self.machine, ask.red.removeprefix("near ")
        if ask.instrument not in UNDER_THE_HAND:
            return (machine.net_of(ask.red), machine.net_of(ask.black))
        units = (part for part in machine.parts.values() if item in (part.name, part.package))
        return tuple(net for net in {net for part in units for net in part.pins.values()} if not net.startswith("nc:"))


HANDS_ON = ("reading", "provoke")  # with the power on, if the set-up says so; a swap and a repair are made with it off
UNDER_THE_HAND = (PROVOKE, "swap")  # a hand comes near all of the part


def _is_live(setup: Setup) -> bool:
    """Something feeds the machine."""
    return setup.power == "on" or bool(setup.supplied)
