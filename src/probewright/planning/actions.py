"""Everything that could be done next on this bench."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from probewright.hypotheses import Fault, Suspect
from probewright.inference.drawn import DrawnPopulation
from probewright.machine.chains import played_sources
from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, Machine, Part
from probewright.planning.minutes import change, minutes, rung
from probewright.planning.parting import out_and_back, parted, put_back
from probewright.prediction.likelihood import METERED, is_weighed
from probewright.readings import Question, Reading, Setup
from probewright.readings.setups import absent

AND = " and "  # between two items mended in one go
TESTED = 60  # chosen: tests at single parts, and suspects to be mended, thought of in a machine of many areas
NARROWED = 0.8  # chosen: chance of a node from which on power is switched off for ohms to ground


@dataclass(frozen=True)
class Action:
    """One thing to do: a reading, a swap of an extra, or a repair.

    kind: "reading", "swap" or "repair"; ask: the question (for a repair, none); item: what is
    swapped or repaired; minutes: with every change of set-up; rung: index of minutes.RUNGS.
    """

    kind: str
    ask: Question | None
    item: str
    minutes: float
    rung: int


def bench_now(readings: tuple[Reading, ...]) -> tuple[Setup | None, str]:
    """Set-up and instrument as the last metered reading left them, with the parts that are new since."""
    new = fitted(readings)
    for reading in reversed(readings):
        if reading.question.instrument in (*METERED, "share", "beep"):
            return replace(reading.question.setup, replaced=new), reading.question.instrument
    return (Setup(replaced=new) if new else None), ""


def fitted(readings: tuple[Reading, ...]) -> tuple[str, ...]:
    """Parts that are new, by the set-up of the last reading."""
    return readings[-1].question.setup.replaced if readings else ()


def possible(population: DrawnPopulation) -> list[Action]:
    """All actions, in a stable order that does not depend on the belief's numbers."""
    belief = population.belief
    now, last = bench_now(belief.readings)
    machine = belief.laws.model.machine
    taken = {reading.question for reading in belief.readings}
    whole = put_back(machine, now) if now else Setup()
    live = replace(whole, power="on", hertz=0.0, sister=False)
    found: list[Action] = []
    chain = belief.laws.model.playing
    asks = (
        _along(machine, population, live)
        if chain
        else [
            *_live(machine, population, live),
            *_near(population, _unpowered(machine, live)),
            *_capacitors(machine, belief.readings, live),
        ]
    )
    for ask in asks:
        if ask not in taken and _allowed(machine, ask):
            spent = minutes(ask.instrument) + change(now, ask.setup, ask.instrument, last)
            found.append(Action("reading", ask, ask.red, spent + _slip_minutes(ask), rung(ask.instrument)))
    if not chain:
        found += _parted(population, live, taken)
    swapped = {r.question.red for r in belief.readings if r.question.instrument == "swap"}
    to_swap = [
        part.name
        for part in machine.parts.values()
        if part.role == "extra" and not part.known_good and part.name not in swapped
    ]
    for name in to_swap:
        found.append(Action("swap", Question("swap", name, setup=live), name, minutes("swap"), rung("swap")))
    found += [one for one in _repairs(population, fitted(belief.readings)) if one.item not in to_swap]
    return found  # exchanging an extra for a try comes before its repair, and is as quick


def _parted(population: DrawnPopulation, live: Setup, taken: set[Question]) -> Iterator[Action]:
    """Readings of the likeliest parts by themselves."""
    now, last = bench_now(population.belief.readings)
    for ask, row in parted(population, live):
        if ask not in taken:
            spent = minutes(ask.instrument) + change(now, ask.setup, ask.instrument, last) + out_and_back(now, ask, row)
            yield Action("reading", ask, ask.red, spent, rung(row))


def _repairs(population: DrawnPopulation, new: tuple[str, ...]) -> Iterator[Action]:
    """Repairs of each item that is still suspected and, where one machine has two faults, of both at once."""
    machine, suspects = population.belief.laws.model.machine, population.belief.suspects
    thought_of = population.suspects[:TESTED] if population.belief.laws.model.by_areas else population.suspects
    left = [items_left(machine, suspects[n], new) for n in thought_of]
    alone = dict.fromkeys((item,) for items in left for item in items)
    for items in dict.fromkeys((*alone, *(items for items in left if len(items) > 1))):
        rows = [_repair_row(machine, item) for item in items]
        yield Action("repair", None, AND.join(items), sum(minutes(row) for row in rows), max(rung(row) for row in rows))


def items_left(machine: Machine, suspect: Suspect, new: tuple[str, ...]) -> tuple[str, ...]:
    """What is to be mended of a suspect once these parts are new: a new part brings new joints too."""
    left = [fault for fault in suspect.faults if fault.again or not _is_new(machine, fault, new)]
    return tuple(dict.fromkeys(repair_item(machine, fault) for fault in left))


def _is_new(machine: Machine, fault: Fault, new: tuple[str, ...]) -> bool:
    cases = {machine.parts[part].package for part in new} - {""}
    return any(_mends(machine, part, repair_item(machine, fault)) for part in (*new, *cases))


def _mends(machine: Machine, item: str, what: str) -> bool:
    """Mending the one mends the other: it, what belongs to it, or whatever joins the same two nets."""
    if what == item or what.startswith(f"{item}."):
        return True
    ends = [{machine.net_of(end) for end in one.split("~")} for one in (item, what) if "~" in one]
    return len(ends) == 2 and ends[0] == ends[1]


def _live(machine: Machine, population: DrawnPopulation, setup: Setup) -> Iterator[Question]:
    """Volts at every net and, where a joint is suspected, at the pins on both sides of it; signals
    at each stimulus that puts one on."""
    places = [*_nets(machine), *_doubted_joints(population)]
    signals = [name for name, stimulus in machine.stimuli.items() if stimulus.frequency]
    quiet = [name for name, stimulus in machine.stimuli.items() if not stimulus.frequency]
    for place in dict.fromkeys(places):
        if not _is_place(machine, place):
            continue
        for name in dict.fromkeys(
            [setup.stimulus, *quiet] if setup.stimulus not in signals else [setup.stimulus, *quiet]
        ):
            yield Question("dc", place, setup=replace(setup, stimulus=name))
        for name in signals:
            for hertz in dict.fromkeys([0.0, *_other_hertz(population, name)]):
                yield Question("pp", place, setup=replace(setup, stimulus=name, hertz=hertz))


def _other_hertz(population: DrawnPopulation, stimulus: str) -> list[float]:
    """Other frequencies that the person put on with this stimulus."""
    return [r.question.setup.hertz for r in population.belief.readings if r.question.setup.stimulus == stimulus]


def _along(machine: Machine, population: DrawnPopulation, setup: Setup) -> Iterator[Question]:
    """A chain: its signal at every place, as a share and in volts, and direct volts where they tell;
    with power off ohms across what may have opened, and from a node to ground where something may hang.

    No ohms across blocks, capacitors, or what can be swapped: they say nothing there.
    """
    playing = next((replace(setup, stimulus=one.name) for one in machine.stimuli.values() if one.playing), setup)
    measured = {r.question.red for r in population.belief.readings if r.question.instrument in ("pp", "rms")}
    silent = {part.pins["supply"] for part in machine.parts.values() if part.kind == "block"}
    silent |= {machine.parts[name].pins["plus"] for name in played_sources(machine)}
    for place in dict.fromkeys([*_nets(machine), *_doubted_joints(population)]):
        if not _is_place(machine, place):
            continue
        direct = Question("dc", place, setup=playing)
        if is_weighed(machine, direct):
            yield direct
        if machine.net_of(place) not in silent:
            yield Question("pp", place, setup=playing)
            if place not in measured:
                yield Question("share", place, setup=playing)
    off = replace(setup, power="off", stimulus="")
    doubted = _doubted_nodes(machine, population)
    yield from (Question("ohms", net, setup=off) for net in _nets(machine) if net in doubted)
    yield from (ask for ask in _unpowered(machine, setup) if _is_plain(machine.parts[ask.red.rpartition(".")[0]]))


def _doubted_nodes(machine: Machine, population: DrawnPopulation) -> set[str]:
    """Nets on which, or in a part on which, the fault is all but certain to lie: there ohms may split."""
    beside: dict[str, float] = {}
    for n, chance in zip(population.suspects, population.chance, strict=True):
        for net in {net for fault in population.belief.suspects[n].faults for net in _nets_of(machine, fault.item)}:
            beside[net] = beside.get(net, 0.0) + float(chance)
    return {net for net, chance in beside.items() if chance > NARROWED}


def _nets_of(machine: Machine, item: str) -> tuple[str, ...]:
    """Nets that an item touches: its own, or those of its part."""
    part = machine.parts.get(item) or machine.parts.get(item.rpartition(".")[0])
    return tuple(part.pins.values()) if part else (item,)


def _is_plain(part: Part) -> bool:
    """A meter on its two ends says how it is."""
    return part.role != "extra" and part.kind != "capacitor"


def _nets(machine: Machine) -> list[str]:
    return [net for net in machine.nets if net != GROUND and not net.startswith("nc:")]


def _faults(population: DrawnPopulation) -> Iterator[Fault]:
    """Faults of the suspects still considered."""
    for n in population.suspects:
        yield from population.belief.suspects[n].faults


def _doubted_joints(population: DrawnPopulation) -> list[str]:
    return [f.item for f in _faults(population) if f.mode.startswith("joint")]


def _is_place(machine: Machine, place: str) -> bool:
    """A net or a part's own pin (a case's shared pin is named by the net it is on)."""
    return place in machine.nets or place.rpartition(".")[0] in machine.parts


def _unpowered(machine: Machine, setup: Setup) -> Iterator[Question]:
    """With power off: ohms across every part of two pins, and the diode range across every junction, both ways."""
    off = replace(setup, power="off", stimulus="")
    for part in machine.parts.values():
        kind = KINDS[part.kind]
        if len(kind.pins) == 2 and not kind.feeds and len(set(part.pins.values())) == 2:
            yield Question("ohms", f"{part.name}.{kind.pins[0]}", f"{part.name}.{kind.pins[1]}", off)
        for anode, cathode in kind.junctions:
            for red, black in ((anode, cathode), (cathode, anode)):
                yield Question("diode", f"{part.name}.{red}", f"{part.name}.{black}", off)


def _near(population: DrawnPopulation, asks: Iterator[Question]) -> list[Question]:
    """In a machine of many areas, of tests at single parts those at the parts most suspected: of all others a test says
    that they are sound."""
    found, model = list(asks), population.belief.laws.model
    if not model.by_areas:
        return found
    doubt: dict[str, float] = {}
    for n, chance in zip(population.suspects, population.chance, strict=True):
        for item in {place for fault in population.belief.suspects[n].faults for place in fault.item.split("~")}:
            part = item if item in model.machine.parts else item.rpartition(".")[0]
            doubt[part] = doubt.get(part, 0.0) + float(chance)
    kept = sorted(found, key=lambda ask: -doubt.get(ask.red.rpartition(".")[0], 0.0))[:TESTED]
    return [ask for ask in found if ask in kept]


def _capacitors(machine: Machine, readings: tuple[Reading, ...], setup: Setup) -> Iterator[Question]:
    """What an ESR meter and a capacitance meter say of each capacitor, once this bench has shown that it has one."""
    off = replace(setup, power="off", stimulus="")
    at_hand = {reading.question.instrument for reading in readings} & {"esr", "farads"}
    for part in machine.parts.values():
        if part.kind == "capacitor":
            yield from (Question(one, f"{part.name}.1", f"{part.name}.2", off) for one in sorted(at_hand))


def _allowed(machine: Machine, ask: Question) -> bool:
    """Places the file puts off limits with power on are never proposed, nor those of a board that is not there."""
    if any(_is_absent(machine, place) for place in (ask.red, ask.black)):
        return False
    if ask.setup.power == "off":
        return True
    off_limits = {machine.net_of(place) if _known(machine, place) else place for place in machine.never_live} | set(
        machine.never_live
    )
    return not ({ask.red, ask.black, machine.net_of(ask.red), machine.net_of(ask.black)} & off_limits)


def _is_absent(machine: Machine, place: str) -> bool:
    """A pin of an added board that this machine does not have, or a net with no other pins."""
    gone = absent(machine)
    part = place.rpartition(".")[0]
    pins = [] if part or not gone else machine.pins_on(place)
    return part in gone or bool(pins) and all(one in gone for one, _ in pins)


def _known(machine: Machine, place: str) -> bool:
    return place in machine.nets or place in machine.points or place.rpartition(".")[0] in machine.parts


def _slip_minutes(ask: Question) -> float:
    """A live probe on a chip's own pin is charged for the chance of a slip."""
    return minutes("inner pin") if "." in ask.red and ask.setup.power == "on" else 0.0


def repair_item(machine: Machine, fault: Fault) -> str:
    """What is exchanged or mended to cure a fault: a part, its case, a joint, a pair of places, a net."""
    part = machine.parts.get(fault.item)
    return part.package if part is not None and part.package else fault.item


def cures(machine: Machine, suspect: Suspect, item: str, new: tuple[str, ...] = ()) -> bool:
    """Mending this item, or these ("C12 and R5"), cures the suspect where these parts are new already."""
    items = items_left(machine, suspect, new)
    return bool(items) and all(any(_mends(machine, one, what) for one in item.split(AND)) for what in items)


def _repair_row(machine: Machine, item: str) -> str:
    """Row of the minutes table for mending an item."""
    part: Part | None = machine.parts.get(item)
    if part is not None and part.role == "extra":
        return "repair extra"
    if part is not None:
        if part.kind == "block":
            return "repair block"
        return "repair package" if part.kind in KINDS and KINDS[part.kind].units_share else "repair two pins"
    if any(p.package == item for p in machine.parts.values()):
        return "repair package"
    return "repair bridge" if "~" in item or item in machine.nets else "repair joint"
