"""A circuit's suspects, readings and steps in the repairer's words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from probewright.hypotheses.mending import repair_item
from probewright.hypotheses.strangers import JOINS
from probewright.inference.belief import Belief, weighted_quantiles
from probewright.inference.lookalikes import LookAlikes, splitting
from probewright.inference.population import Population
from probewright.jobs.learnt import healthy_now
from probewright.jobs.view import OPEN, FaultView, RangeView, WordView
from probewright.machine import Machine
from probewright.planning.actions import AND
from probewright.planning.choosing import Choice
from probewright.planning.ways import ways
from probewright.prediction.circuit_laws import Laws
from probewright.readings import PROVOKE, Question, Reading, echo
from probewright.readings.instruments import unit_of
from probewright.readings.setups import say as say_setup
from probewright.units import without_capital, write_reading

# What mends a part, by mode and kind of part ("" any kind), where it is not a new one. Common practice, no source.
MENDS = {
    ("backwards", ""): "Turn {} round",
    ("backwards", "capacitor"): "Fit a new {}, the right way round",
    ("left-out", ""): "Fit {}, which was left out",
    ("decade-up", ""): "Fit {} with its right value",
    ("decade-down", ""): "Fit {} with its right value",
    ("wrong-type", ""): "Fit {} of the right type",
    ("wrong-type-high", ""): "Fit {} of the right type",
    ("wrong-type-low", ""): "Fit {} of the right type",
    ("contact-resistance", ""): "Clean the contact of {}, or exchange it",
    ("contact-resistance", "track"): "Bridge {} with a wire",
    ("contact-resistance", "wire"): "Replace the wire {}",
    ("contact-resistance", "lead"): "Fit a new {}",
    ("contact-resistance", "fuse"): "Clean the holder of {}, or fit a new one",
    ("open", "track"): "Bridge {} with a wire",
    ("open", "wire"): "Replace the wire {}",
    ("make-resistance", ""): "Clean the contacts of {}, or exchange it",
    ("break-resistance", ""): "Clean the contacts of {}, or exchange it",
    ("track-contact", ""): "Clean the track of {}, or exchange it",
    ("wrong-setting", ""): "Set {} as it should be",
    ("lifted-pad", ""): "Mend the pad of {} with a wire",
    ("not-reaching", ""): "Join {} to the next part with a wire",
    ("surface-leak", ""): "Clean the board between {}",
}


@dataclass(frozen=True)
class CircuitWords:
    """What to say of a belief about a machine file's circuit."""

    machine: Machine
    belief: Belief[Laws]

    def say(self, reading: Reading) -> str:
        """A reading in full."""
        return echo.say(reading, self.machine)

    def ask(self, ask: Question) -> str:
        """A question as an instruction."""
        return echo.ask(ask, self.machine)

    def setup(self, ask: Question) -> str:
        """The set-up of a question."""
        return say_setup(ask.setup, self.machine)

    def live(self, choice: Choice) -> bool:
        """Probes go on with power on."""
        ask = choice.action.ask
        powered = ask is not None and (ask.setup.power == "on" or bool(ask.setup.supplied))
        return powered and choice.action.kind in ("reading", "provoke")

    def name(self, n: int) -> str:
        """A suspect as it is listed, in quotes, for it stands inside a sentence."""
        return f"“{self.belief.suspects[n].says}”"

    def mend(self, item: str) -> str:
        """What a repair of an item is, or of two ("C12 and R5")."""
        if AND in item:
            first, *more = [self.mend(one) for one in item.split(AND)]
            return AND.join([first, *map(without_capital, more)])
        part = self.machine.parts.get(item)
        mode = self._likeliest_mode(item)
        if said := MENDS.get((mode, part.kind if part else ""), MENDS.get((mode, ""))):
            return said.format(item.replace("~", " and "))
        if "~" in item:
            return f"Clear the bridge between {item.replace('~', ' and ')}"
        if item in self.machine.parts or any(p.package == item for p in self.machine.parts.values()):
            return f"Fit a new {item}"
        return f"Find what hangs on {item} and take it off" if item in self.machine.nets else f"Resolder {item}"

    def _likeliest_mode(self, item: str) -> str:
        """How the item is thought to have gone wrong; "" where no suspect lies in it."""
        order = np.argsort(-self.belief.probability, kind="stable")
        faults = (fault for n in order for fault in self.belief.suspects[n].faults)
        return next((fault.mode for fault in faults if repair_item(self.machine, fault) == item), "")

    def healthy(self, choice: Choice) -> RangeView | WordView:
        """What a healthy machine answers."""
        ask = choice.action.ask
        if ask is None:
            return WordView("cured")
        if ask.instrument in ("swap", PROVOKE):
            return WordView("same")
        if ask.instrument == "share":
            return WordView("ok")
        now = healthy_now(self.belief, ask)
        return RangeView(now.low, now.high, unit_of(ask.instrument))

    def groups(self, choice: Choice) -> list[tuple[str, np.ndarray]]:
        """Answers gathered below, within and above the healthy range (or the two words): bins (bin,)."""
        table, ask = choice.table, choice.action.ask
        if table.words:
            return [
                (echo.ANSWERED.get(word, word) if ask and ask.instrument == PROVOKE else word, np.array([n]))
                for n, word in enumerate(table.words)
            ]
        assert ask is not None
        now = healthy_now(self.belief, ask)
        low, _, high = (
            self.belief.laws.healthy(ask, quick=True) if ask.instrument == "ohms" else (now.low, 0.0, now.high)
        )
        middle = 0.5 * (table.edges[:-1] + table.edges[1:])  # answers are foretold by the quick ohmmeter too
        side = np.where(middle < low, 0, np.where(middle > high, 2, 1))
        below, above = (write_reading(one, unit_of(ask.instrument)) for one in _ends(now.low, now.high))
        words = (f"below {below}", f"{below} to {above}", f"above {above}")
        return [(words[n], np.flatnonzero(side == n)) for n in range(3)]

    def verifies(self, choice: Choice, leader: str) -> str:
        """Why a step would settle it."""
        if any(reading.question == choice.action.ask for reading in self.belief.readings):
            return f"Place the probes anew. If it is {leader}, it reads the same again. That would settle it."
        return f"If it is {leader}, this place reads something sharp and unhealthy. That would settle it."

    def refutes(self, choice: Choice, leader: str) -> str:
        """Why a step puts the leader to the test."""
        return f"So far a fault that nobody listed could read as {leader} does. This place tells the two apart."

    def again(self, choice: Choice) -> str:
        """Why a reading is taken once more."""
        return "This reading does not fit what the others say. Place the probes anew and read it again."

    def advice(self, reading: Reading) -> str:
        """What to do about a surprise."""
        return (
            f"No likely suspect reads that here. Place the probes anew and measure again: {self.ask(reading.question)}"
        )

    def split_by(self, population: Population, one: LookAlikes) -> str:
        """The cheapest step outside the questions considered that tells members apart."""
        if out := self._with_it_out(one):
            return f"take {out} out and measure between its empty pads: what is still there is not {out}"
        offered = sorted(
            (a for a in ways(population).possible() if a.kind == "reading" and a.ask and a.ask.setup.power == "off"),
            key=lambda a: a.minutes,
        )
        ask = splitting(population, one.members, [a.ask for a in offered if a.ask is not None])
        if ask is not None:
            return f"{'ohmmeter: ' if ask.instrument == 'ohms' else ''}{self.ask(ask)}"
        items = [f.item.split(".")[0] for n in one.members for f in self.belief.suspects[n].faults]
        parts = [item for item in items if item in self.machine.parts]
        if parts:
            return f"lift one leg of {parts[0]} and measure it by itself"
        if not items:
            return "more readings"
        return f"lift what is on {items[0].replace('~', ' and ')}, one leg at a time, and read again"

    def _with_it_out(self, one: LookAlikes) -> str:
        """The part to take out where it reads like something else between the same nets; "" if there is none."""
        suspects = [self.belief.suspects[n] for n in one.members]
        other = any(fault.mode == JOINS for suspect in suspects if suspect.stranger for fault in suspect.faults)
        first = next((fault.item for suspect in suspects if not suspect.stranger for fault in suspect.faults), "")
        return first if other and first in self.machine.parts else ""

    def faults(self, n: int) -> Iterator[FaultView]:
        """Faults of a suspect with the middle of what is believed of their severity."""
        laws = self.belief.laws
        here = np.flatnonzero((self.belief.suspect_of == n) & (self.belief.weight > 0.0))
        here = here[np.argsort(laws.cell_of[here], kind="stable")]
        cells, z = laws.cell_of[here], laws.latents_of(here)
        by_cell = [laws.model.severities(int(c), z[:, cells == c]) for c in np.unique(cells)]
        for number, fault in enumerate(self.belief.suspects[n].faults):
            if fault.severity is None or not here.size:
                yield FaultView(fault.item, fault.mode, None, "")
                continue
            value = np.concatenate([one[number] for one in by_cell])
            middle = float(weighted_quantiles(value, self.belief.weight[here], (0.5,))[0])
            yield FaultView(fault.item, fault.mode, middle, fault.severity.unit)


def _ends(low: float, high: float) -> tuple[float, float]:
    """The ends of a healthy range as an answer is held against them: of one too wide to be shown, in round figures."""
    return (float(f"{low:.2g}"), float(f"{high:.2g}")) if high > OPEN * abs(low) > 0.0 else (low, high)
