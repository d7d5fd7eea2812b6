"""The leading part by itself: one leg lifted and measured across, or taken out and its empty pads measured.

What lies beside a part on the board reads as the part does. The only reading that tells them apart is one without
the other, and the leg has to come out for the new part anyway.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations

from probewright.hypotheses import Fault
from probewright.hypotheses.mending import nets_joined
from probewright.hypotheses.modes import units_in
from probewright.inference.drawn import DrawnPopulation
from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, Machine, Part
from probewright.planning.minutes import minutes
from probewright.readings import Question, Setup, is_live
from probewright.readings.kit import UNTOLD, Kit

LIFT, TAKE_OUT, TAKE_OUT_CASE = "lift a leg", "take out", "take out case"  # rows of data/minutes.csv
LIKELY = 0.3  # chosen: chance that the fault lies in or across a part from which on it is worth a hot iron
AT_ONCE = 2  # chosen: parts thought of at a time, the most probable first: each is a set-up of its own to solve


def parted(population: DrawnPopulation, setup: Setup) -> Iterator[tuple[Question, str]]:
    """Questions about the likeliest parts by themselves, power off, each with its row of the minutes table.

    setup: as the bench stands, otherwise kept.
    """
    machine = population.belief.laws.model.machine
    off = replace(setup, power="off", stimulus="", hertz=0.0)
    for part in _likely(machine, population):
        if len(part.pins) == 2:
            lifted = replace(off, lifted=(f"{part.name}.{next(iter(part.pins))}",))
            yield from ((ask, LIFT) for ask in _across(part, lifted))
        else:
            units = units_in(machine, part.package or part.name)
            out = replace(off, unplugged=tuple(sorted(one.name for one in units)))
            row = TAKE_OUT_CASE if part.package or len(part.pins) > 3 else TAKE_OUT
            yield from ((ask, row) for ask in _pads(machine, units, population, out))


def out_and_back(now: Setup | None, ask: Question, row: str, kit: Kit = UNTOLD) -> float:
    """Minutes to get the part out and back, besides those of the reading; none where it is out already."""
    stands = now is not None and (now.lifted, now.unplugged) == (ask.setup.lifted, ask.setup.unplugged)
    return 0.0 if stands else minutes(row, kit)


def put_back(machine: Machine, setup: Setup) -> Setup:
    """The set-up with the board whole again: what is lifted, out, joined or loaded with power off was only to be
    measured."""
    if setup.power == "on":
        return setup
    kept = tuple(name for name in setup.unplugged if machine.parts[name].role != "part")
    return replace(setup, lifted=(), unplugged=kept, linked=(), loaded=())


def _likely(machine: Machine, population: DrawnPopulation) -> list[Part]:
    """The parts that come out, in or across which the fault lies most probably."""
    return suspected(machine, population)[:AT_ONCE]


def suspected(machine: Machine, population: DrawnPopulation) -> list[Part]:
    """Parts that come out, in or across which the fault may well lie, the likeliest first."""
    chance: dict[str, float] = {}
    for n, share in zip(population.suspects, population.chance, strict=True):
        for name in {name for fault in population.belief.suspects[n].faults for name in _parts_at(machine, fault)}:
            chance[name] = chance.get(name, 0.0) + float(share)
    likely = [name for name in machine.parts if chance.get(name, 0.0) > LIKELY and _comes_out(machine.parts[name])]
    return [machine.parts[name] for name in sorted(likely, key=lambda name: -chance[name])]


def _comes_out(part: Part) -> bool:
    """A part on the board that a soldering iron takes out; a stage known from outside is none."""
    return part.role == "part" and part.kind != "block" and not KINDS[part.kind].feeds


def _parts_at(machine: Machine, fault: Fault) -> set[str]:
    """Parts that a fault lies in, or that lie between the two places it joins."""
    named = {end.partition(".")[0] for end in fault.item.split("~")} & set(machine.parts)
    nets = nets_joined(machine, fault.item)
    return named | {part.name for part in machine.parts.values() if len(nets) == 2 and nets <= set(part.pins.values())}


def _across(part: Part, lifted: Setup) -> Iterator[Question]:
    """What is measured across a part of two pins by itself: also what a bench for parts has, for capacitors."""
    kind = KINDS[part.kind]
    red, black = (f"{part.name}.{pin}" for pin in part.pins)
    for anode, cathode in kind.junctions:
        yield Question("diode", f"{part.name}.{anode}", f"{part.name}.{cathode}", lifted)
        yield Question("diode", f"{part.name}.{cathode}", f"{part.name}.{anode}", lifted)
    if not kind.junctions:
        tools = ("farads", "esr", "ohms") if part.kind == "capacitor" else ("ohms",)
        yield from (Question(tool, red, black, lifted) for tool in tools)


def as_lifted(machine: Machine, told: Setup | None) -> Iterator[Question]:
    """What is measured across parts of which somebody has just said that a leg is lifted."""
    if told is None or is_live(told):
        return
    for name in dict.fromkeys(leg.rpartition(".")[0] for leg in told.lifted):
        part = machine.parts.get(name)
        if part is not None and _comes_out(part) and len(part.pins) == 2:
            yield from _across(part, replace(told, stimulus="", hertz=0.0))


def _pads(machine: Machine, units: Sequence[Part], population: DrawnPopulation, out: Setup) -> Iterator[Question]:
    """Ohms between the empty pads that some suspect still considered joins."""
    nets = dict.fromkeys(net for unit in units for net in unit.pins.values() if not net.startswith("nc:"))
    faults = [fault for n in population.suspects for fault in population.belief.suspects[n].faults]
    joined = [nets_joined(machine, fault.item) for fault in faults]
    for a, b in combinations(nets, 2):
        if {a, b} in joined:
            red, black = (b, a) if a == GROUND else (a, b)
            yield Question("ohms", red, black, out)
