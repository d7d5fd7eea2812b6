"""A bench that is made up: one machine with a hidden fault, its owner, and a hand with a meter.

The machine is a draw of the same file under another key, so the search never holds it. What the hand
reads errs as the instruments do (`readings.instruments`) and slips as often as `prediction.likelihood` says.
A fault that comes and goes is rehearsed while it shows: that is when a repairer measures.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np

from probewright.hypotheses import NOTHING_WRONG, Suspect
from probewright.hypotheses.mending import repair_item
from probewright.hypotheses.provoking import reaction
from probewright.hypotheses.suspects import pair
from probewright.machine.model import Works
from probewright.planning.actions import AND, AS_BROUGHT, after, cures, items_left
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import Cell, Model, ways_fitted
from probewright.prediction.growing import go_together
from probewright.prediction.latents import SECOND, draw_latents, draw_one, random_stream
from probewright.prediction.likelihood import (
    BY_RATIO,
    FLOOR,
    HONEST,
    LONGEST,
    OPEN_IS_OVER,
    OVER,
    PROBED_FLOOR,
    SHARE_WIDE,
    SHARE_WORDS,
    SHORTEST,
    SLIP,
    SMALLEST,
    chance_of_beep,
    chance_of_share,
)  # fmt: skip
from probewright.prediction.outcomes import chance_of_word, chance_works, neighbours, show
from probewright.prediction.provoking import chances, comes_and_goes
from probewright.readings import SCOPED, Question, Reading, Setup
from probewright.readings.instruments import FEEDING, law


def is_complaint(said: Iterable[Reading]) -> bool:
    """The owner says that something does not work."""
    return any(one.answer != "ok" for one in said)


TOLD = {"none": 0.0, "half": 0.5, "ok": 1.0}  # share of healthy that each word of SHARE_WORDS is entered as


class PretendBench:
    """One made-up machine with this suspect's fault in it.

    model: of the whole file, the hidden suspect included; key: of its tolerances, its severity and the hand;
    tolerance_x: its tolerances are so many times those of the file; every: suspects of the file; hookups: how often the
    probes were placed so far, on which depends how the hand errs next.
    """

    def __init__(self, model: Model, hidden: Suspect, key: str, tolerance_x: float = 1.0) -> None:
        sound = model.suspects[model.index[NOTHING_WRONG]]
        suspects = (hidden, sound) if hidden is not sound else (sound,)
        severity = hidden.faults[0].severity if hidden.faults else None
        which = int(random_stream(key, ("bin",)).integers(severity.bins)) if severity else 0
        ways = ways_fitted(model.machine, hidden)
        fitted = _pick(np.array([chance for _, chance in ways]), random_stream(key, ("boards",)))
        cells = (Cell(0, which, ways[fitted][0]), *(Cell(n, 0, ways[fitted][0]) for n in range(1, len(suspects))))
        keys = model.latents.keys if len(hidden.faults) < 2 else (*model.latents.keys, SECOND)
        latents = replace(model.latents, keys=keys)
        z = draw_latents(latents, key, 1)
        z = np.where(latents.heavy[:, None], tolerance_x, 1.0) * z
        bad = draw_one(key, ("severity", hidden.id), False, 1)
        alone = replace(model, suspects=suspects, cells=cells, latents=latents, job=key)
        self.machine, self.hidden, self.key, self.every = model.machine, hidden, key, model.suspects
        self.bank = Bank(alone, [Span(0, 0, 1)], np.vstack([z, bad]))
        self.hookups = 0

    # What the owner says -------------------------------------------------------------------------

    def owner(self, since: Setup = AS_BROUGHT) -> tuple[Reading, ...]:
        """What the owner says of every function that can be judged, in the order of the file; since: what was
        repaired."""
        found = (self._of_function(works, since) for works in self.machine.works)
        return tuple(reading for reading in found if reading is not None)

    @cached_property
    def felt(self) -> bool:
        """Each of two faults is complained of by itself, the other being mended."""
        alone = [after(self.machine, repair_item(self.machine, one)) for one in self.hidden.faults]
        return len(alone) > 1 and all(since is not None and is_complaint(self.owner(since)) for since in alone)

    def fails(self, since: Setup = AS_BROUGHT) -> bool:
        """Whether something that can be judged really does not work after these repairs, whatever the owner says."""
        setups = [(one, replace(since, stimulus=one.measure.stimulus)) for one in self.machine.works]
        heard = [chance_works(self.bank, one, setup) for one, setup in setups if self._can_tell(one, setup)]
        return any(judged[0] and good[0] < 0.5 for good, judged in heard)

    def _of_function(self, works: Works, since: Setup) -> Reading | None:
        setup = replace(since, stimulus=works.measure.stimulus)
        if not self._can_tell(works, setup):
            return None
        good, judged = chance_works(self.bank, works, setup)
        if not judged[0]:
            return None
        words = list(dict.fromkeys(limit.words for limit in works.limits if limit.words))
        chance = [float(good[0]), *(float(chance_of_word(self.bank, works, one, setup)[0][0]) for one in words)]
        if not words:
            words, chance = ["bad"], [float(good[0]), 1.0 - float(good[0])]
        heard = FLOOR / len(chance) + (1.0 - FLOOR) * np.array(chance) / max(sum(chance), 1e-9)
        done = (*since.replaced, *since.mended)
        stream = random_stream(self.key, ("owner", works.name, *done))
        answer = ["ok", *words][_pick(heard, stream)]
        return Reading(Question("works", works.name, setup=setup), answer, " ".join(("owner:", works.name, *done)))

    def _can_tell(self, works: Works, setup: Setup) -> bool:
        """Where the function it depends on is dead nobody can tell."""
        first = works.only_if_sentence or next((w for w in self.machine.works if w.name == works.only_if), None)
        return first is None or float(chance_works(self.bank, first, setup)[0][0]) > 0.5

    # What the hand reads -------------------------------------------------------------------------

    def answers(self, ask: Question) -> tuple[Reading, ...]:
        """The probes placed once, and what was read; () where this machine cannot be solved there.

        A swap that cures is put back once, and only where that brings the fault back it says anything, twice
        (see `swaps.believed_swaps`): a plug that was moved cures by chance and stays cured.
        """
        match ask.instrument:
            case "provoke":
                return (self._provoked(ask),)
            case "works":
                return self._heard(ask)
            case "swap back":
                return self._put_back(ask)
        shown = show(self.bank, ask)
        if not shown.judged[0] or np.isnan(shown.value[0]):
            return ()
        self.hookups += 1
        hookup = f"hook-up {self.hookups}"
        hand, value = random_stream(self.key, (hookup,)), float(shown.value[0])
        match ask.instrument:
            case "swap":
                slipped = hand.random() < FLOOR
                if value <= 0.5 and slipped:
                    return ()
                once = Reading(ask, "same" if value <= 0.5 or slipped else "cured", hookup)
                return (once,) if once.answer == "same" else (once, replace(once, hookup=f"{hookup}, put back"))
            case "share":
                return (Reading(ask, TOLD[self._level(value, hand)], hookup),)
            case "beep":
                beeps = PROBED_FLOOR + (1.0 - 2.0 * PROBED_FLOOR) * float(chance_of_beep(shown.value)[0])
                return (Reading(ask, "beeps" if hand.random() < beeps else "no beep", hookup),)
        return (Reading(ask, self.metered(ask.instrument, self._slipped(ask, value, hand), hand), hookup),)

    def _heard(self, ask: Question) -> tuple[Reading, ...]:
        """How a function does now; () where nobody can tell."""
        works = next(one for one in self.machine.works if one.name == ask.red)
        found = self._of_function(works, ask.setup)
        return () if found is None else (found,)

    def _put_back(self, ask: Question) -> tuple[Reading, ...]:
        """What the old lead or extra does that was taken out for a good one."""
        shown = show(self.bank, replace(ask, instrument="swap"))
        if not shown.judged[0]:
            return ()
        self.hookups += 1
        hookup = f"hook-up {self.hookups}"
        slipped = random_stream(self.key, (hookup,)).random() < FLOOR
        guilty = bool(shown.value[0] > 0.5)
        return (Reading(ask, "back" if guilty != slipped else "away", hookup),)

    def _provoked(self, ask: Question) -> Reading:
        """What a provocation does: whether this fault answers to it at all is drawn once for its place and way."""
        self.hookups += 1
        law, shy = reaction(self.machine, self.hidden, ask.black, ask.red), comes_and_goes(self.hidden)
        answers = random_stream(self.key, ("answers", ask.red, ask.black)).random() < law.chance
        words = chances(law, answers, shy)
        which = _pick(np.array(list(words.values())), random_stream(self.key, (f"hook-up {self.hookups}",)))
        return Reading(ask, list(words)[which], f"hook-up {self.hookups}")

    def _level(self, share: float, hand: np.random.Generator) -> str:
        """A word for a level, by the law that weighs it."""
        one = np.array([share])
        none, fine = float(chance_of_share(one, 0.0)[0]), 1.0 if share > 1.0 else float(chance_of_share(one, 1.0)[0])
        fine = min(fine, 1.0 - none)
        chance = np.array([none, 1.0 - none - fine, fine])
        return SHARE_WORDS[_pick(PROBED_FLOOR / 3.0 + (1.0 - PROBED_FLOOR) * chance, hand)]

    def _slipped(self, ask: Question, value: float, hand: np.random.Generator) -> float:
        """What really lies between the tips: as meant, or by one of the slips of SLIP."""
        names = ["honest", *SLIP]
        match names[_pick(np.array([HONEST, *SLIP.values()]), hand)]:
            case "neighbour":
                beside = neighbours(self.bank, ask)
                return float(show(self.bank, beside[hand.integers(len(beside))]).value[0]) if beside else value
            case "range":
                return value * (1e3 if hand.random() < 0.5 else 1e-3)
            case "polarity" if ask.instrument == "dc":
                return -value
            case "polarity" if ask.instrument == "diode":
                return float(show(self.bank, replace(ask, red=ask.black, black=ask.red)).value[0])
            case "no contact":
                return np.inf if ask.instrument in OPEN_IS_OVER else 0.0
            case "anything":
                return self._anything(ask.instrument, hand)
        return value

    def _anything(self, instrument: str, hand: np.random.Generator) -> float:
        """A figure from anywhere, drawn from the law of `likelihood.broad_nats`."""
        tool = law(instrument)
        if instrument in BY_RATIO:
            if hand.random() < OVER:
                return np.inf
            seconds = float(SHORTEST * (LONGEST / SHORTEST) ** hand.random())
            return 1.0 / seconds if instrument == "frequency" else seconds
        if SCOPED.get(instrument) == "1":
            return float(np.clip(SHARE_WIDE * hand.standard_cauchy(), tool.low, tool.high))
        if instrument not in FEEDING:
            volts = [abs(p.figures["volts"].nominal) for p in self.machine.parts.values() if p.kind == "source"]
            drawn = max([1.0, *volts]) * float(hand.standard_cauchy())
            return float(np.clip(drawn if tool.low < 0.0 else abs(drawn), tool.low, tool.high))
        if hand.random() < OVER:
            return np.inf
        if instrument == "diode":
            return float(hand.random() * tool.high)
        return float(SMALLEST[instrument] * (tool.high / SMALLEST[instrument]) ** hand.random())

    def metered(self, instrument: str, value: float, hand: np.random.Generator) -> float:
        """What the display shows of this value, V, ohm or F; inf for over-limit.

        Gain and lead errors belong to the instrument and stay for the whole rehearsal; digits and
        noise come anew with every reading.
        """
        tool = law(instrument)
        gain, leads = random_stream(self.key, ("instrument", instrument)).standard_normal(2)
        digits, noise = hand.standard_normal(2)
        if not np.isfinite(value):
            return np.inf
        shared = tool.gain_sd * value * gain + tool.shared_floor_sd * leads
        shown = value + shared + tool.own_gain_sd * value * digits + tool.floor_sd * noise
        if instrument in FEEDING and shown > tool.high:
            return np.inf
        return float(np.clip(shown, tool.low, tool.high))

    # What mending shows --------------------------------------------------------------------------

    def is_cured_by(self, item: str) -> bool:
        """Whether mending this item cures the machine: the fault lies in it, or all that failed works with a new one,
        its figure having been so far off."""
        if cures(self.machine, self.hidden, item):
            return True
        since: Setup | None = AS_BROUGHT
        for one in item.split(AND):
            since = since and after(self.machine, one, since)
        return since is not None and self.fails() and not self.fails(since)

    def mends_one(self, item: str, since: Setup = AS_BROUGHT) -> bool:
        """Whether mending this item takes away one of the faults that the repairs so far left."""
        return any(cures(self.machine, replace(self.hidden, faults=(one,)), item, since) for one in self.hidden.faults)

    def left(self, since: Setup) -> tuple[str, ...]:
        """What is still to be mended after these repairs."""
        return items_left(self.machine, self.hidden, since)


def _pick(chance: np.ndarray, stream: np.random.Generator) -> int:
    """A position, drawn with these chances; they need not sum to one."""
    return int(min(np.searchsorted(np.cumsum(chance), stream.random() * chance.sum()), len(chance) - 1))


def hide_two(model: Model, ids: Sequence[str], key: str) -> Suspect:
    """Two of these suspects that one machine can have, each drawn as often as its chance before any reading says."""
    stream = random_stream(key, ("hidden together",))
    while True:
        one, other = (hide(model, ids, stream) for _ in range(2))
        if go_together(model.machine, one, other):
            return pair(one, other)


def hide(model: Model, ids: Iterable[str], stream: np.random.Generator) -> Suspect:
    """One of these suspects of the model, drawn as often as its chance before any reading says."""
    among = [model.suspects[model.index[one]] for one in ids]
    return among[_pick(np.array([one.prior for one in among]), stream)]
