"""Steps that cannot be taken back: only with a yes of the owner, and for a rare part only with more proof."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from probewright.hypotheses import Suspect
from probewright.inference.belief import Belief
from probewright.inference.drawn import DrawnPopulation
from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, Machine, Part
from probewright.prediction.circuit_laws import Laws
from probewright.readings import Question, Setup
from probewright.readings.owner import new, out
from probewright.readings.setups import is_soldered, parts_called

# A part that cannot be had again is worth some thirty ordinary ones: at 0.97 one new part in thirty is fitted in vain,
# at the 0.9 of any other one in ten. Chosen.
RARE_SURE = 0.97
LOAD_RIVAL = 0.005  # chosen: chance of a fault in its load from which on the load is lifted before a rare part is named
LOADS = 2  # chosen: parts of its load lifted, the likeliest first


def is_rare(machine: Machine, item: str) -> bool:
    """A part, or any unit of a case, that the file says is rare."""
    return any(machine.parts[name].rare for name in parts_called(machine, item))


def wishes(machine: Machine, items: Sequence[str], ask: Question | None, now: Setup | None) -> tuple[str, ...]:
    """What the owner is asked before a repair of these items, or before a reading for which a part is taken out.

    now: how the bench stands; what is out already was asked before.
    """
    if ask is None:
        return tuple(new(item) for item in items if is_rare(machine, item))
    gone = set(now.unplugged) if now is not None else set()
    parts = [machine.parts[name] for name in ask.setup.unplugged if name not in gone and name in machine.parts]
    soldered = [part.package or part.name for part in parts if is_soldered(part.name, machine)]
    return tuple(dict.fromkeys(out(item) for item in soldered))


# A rare part ----------------------------------------------------------------------------------------


def is_proven(belief: Belief[Laws], item: str, cured: Sequence[bool]) -> bool:
    """A rare part is known to be at fault well enough for a new one: it is nearly certain, and no part of its load that
    might pull it down is still unlifted. cured (suspect,): what a new one would cure."""
    chance = sum(float(one) for one, here in zip(belief.probability, cured, strict=True) if here)
    return chance >= RARE_SURE and not loads(belief, item)


def loads(belief: Belief[Laws], item: str) -> list[tuple[str, str]]:
    """Legs of what hangs on the output of a rare part and may be its fault, with the net: the likeliest first; none
    that was read with its leg lifted, or with the part out, already."""
    machine = belief.laws.model.machine
    doubt = {part: _doubt(belief, part) for part in machine.parts}
    off = {name for one in belief.readings for name in _off(one.question.setup)}
    found = [
        (f"{part.name}.{pin}", net)
        for net in outputs(machine, item)
        for part in machine.parts.values()
        for pin, at in part.pins.items()
        if at == net and _hangs(part, machine, item) and doubt[part.name] >= LOAD_RIVAL and part.name not in off
    ]
    return sorted(found, key=lambda one: -doubt[one[0].rpartition(".")[0]])[:LOADS]


def outputs(machine: Machine, item: str) -> list[str]:
    """Nets that a part, or all units of a case, drive."""
    units = [machine.parts[name] for name in parts_called(machine, item)]
    pins = ((part, pin) for part in units for pin in part.pins if pin == "out" or pin == KINDS[part.kind].holds)
    return [net for net in dict.fromkeys(part.pins[pin] for part, pin in pins) if net != GROUND]


def load_lifts(population: DrawnPopulation, item: str, live: Setup) -> Iterator[Question]:
    """Volts at the output of a rare part with power on, one leg of its load lifted."""
    for leg, net in loads(population.belief, item):
        yield Question("dc", net, setup=replace(live, lifted=tuple(sorted({*live.lifted, leg}))))


def _hangs(part: Part, machine: Machine, item: str) -> bool:
    """A soldered part of two legs, another one than this: one leg of it can be lifted."""
    mine = part.name in parts_called(machine, item)
    return len(part.pins) == 2 and part.role == "part" and not part.rare and not mine and not KINDS[part.kind].feeds


def _doubt(belief: Belief[Laws], part: str) -> float:
    return sum(float(p) for p, one in zip(belief.probability, belief.suspects, strict=True) if _lies_in(one, part))


def _lies_in(suspect: Suspect, part: str) -> bool:
    return any(fault.item == part for fault in suspect.faults)


def _off(setup: Setup) -> set[str]:
    return {*setup.unplugged, *(leg.rpartition(".")[0] for leg in setup.lifted)}
