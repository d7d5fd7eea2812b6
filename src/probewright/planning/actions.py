"""Everything that could be done next on this bench."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from probewright.hypotheses import Fault, Suspect
from probewright.hypotheses.mending import is_repaired, nets_joined, repair_item, takes_away
from probewright.inference.drawn import DrawnPopulation
from probewright.machine.chains import played_sources
from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, Machine, Part
from probewright.machine.stimuli import followed
from probewright.planning.asking import is_rare, load_lifts, wishes
from probewright.planning.danger import deadly, nets_reached, off_limits
from probewright.planning.minutes import Stand, change, minutes, rung
from probewright.planning.parting import LIFT, as_lifted, out_and_back, parted, put_back, suspected
from probewright.planning.provoking import provocations
from probewright.planning.reach import PROBED, is_closed, side_of, side_up, slips
from probewright.prediction.likelihood import is_weighed
from probewright.prediction.outcomes import show
from probewright.prediction.timed import at_hand, happens_once, plain_stimuli
from probewright.readings import SCOPED, Look, Question, Reading, Setup, is_live
from probewright.readings.kit import ALTERNATING, Kit
from probewright.readings.owner import new, out
from probewright.readings.setups import absent, parts_called

AND = " and "  # between two items mended in one go
TESTED = 60  # chosen: tests at single parts, and suspects to be mended, thought of in a machine of many areas
AS_BROUGHT = Setup()  # nothing repaired yet
FEW_RUNS = 200  # chosen: draws that are followed in time to choose by what they show, where none were followed before
REPEATING = ("dc", "pp", "top", "valley", "frequency")  # of what repeats; top and valley say which side clips
VISIBLE, SOME = 0.05, 0.05  # chosen: V that a trace moves by to be no line, and share of the draws in which it does
NARROWED = 0.8  # chosen: chance of a node from which on power is switched off for ohms to ground


@dataclass(frozen=True)
class Action:
    """One thing to do: a reading, a swap of an extra, a provocation, or a repair.

    kind: "reading", "swap", "provoke" or "repair"; ask: the question (for a repair, none); item: what is
    swapped or repaired; minutes: with every change of set-up; rung: index of minutes.RUNGS; wishes: what the owner must
    have said yes to before; side: of the board that it is done from, "" for any, see reach.
    """

    kind: str
    ask: Question | None
    item: str
    minutes: float
    rung: int
    wishes: tuple[str, ...] = ()
    side: str = ""


def bench_now(machine: Machine, readings: Sequence[Reading]) -> Stand:
    """As the last metered reading left it, with what was repaired since; whoever has seen what works after a repair
    has the power on."""
    since, side = repaired(readings), side_up(machine, readings)
    for reading in reversed(readings):
        stood = reading.question.setup
        if reading.question.instrument == "works" and since != Setup() and repaired((reading,)) == since:
            return Stand(stood, side=side)
        if reading.question.instrument in PROBED:
            setup = replace(reading.question.setup, replaced=since.replaced, mended=since.mended)
            return Stand(setup, reading.question.instrument, side)
    return Stand(since if since != Setup() else None, side=side)


def bench_of(population: DrawnPopulation) -> Stand:
    """As lines have told of it since the last reading, else as that left it."""
    belief, told = population.belief, population.as_told
    left = bench_now(belief.laws.model.machine, belief.readings)
    return replace(left, setup=left.setup if told.setup is None else told.setup, side=told.side or left.side)


def repaired_by_now(population: DrawnPopulation) -> Setup:
    """Parts that are new and what was mended in place, also since the last reading, and nothing else of the set-up."""
    told = population.as_told.setup
    return repaired(population.belief.readings) if told is None else repairs_of(told)


def repaired(readings: Sequence[Reading]) -> Setup:
    """Parts that are new and what was mended in place, by the set-up of the last reading, and nothing else of it."""
    return repairs_of(readings[-1].question.setup if readings else Setup())


def repairs_of(setup: Setup) -> Setup:
    """What of a set-up are repairs."""
    return Setup(replaced=setup.replaced, mended=setup.mended)


def possible(population: DrawnPopulation) -> list[Action]:
    """All actions, in a stable order that does not depend on the belief's numbers."""
    belief, kit = population.belief, population.kit
    machine = belief.laws.model.machine
    now = bench_of(population)
    taken = {plainly(machine, reading.question) for reading in belief.readings}
    shown = {ask.instrument for ask in taken}
    live = _live_setup(machine, now.setup)
    found: list[Action] = []
    is_deadly = _warily(population)
    is_harmless = harmless(population, is_deadly)
    chain = belief.laws.model.playing
    asks = (
        _along(machine, population, live)
        if chain
        else [
            *_live(machine, population, live),
            *_in_time(machine, population, live),
            *(_live(machine, population, _switched_on(machine, live)) if live.power == "off" else ()),
            *_near(population, unpowered(machine, live)),
            *capacitor_tests(machine, live),
        ]
    )
    for ask in dict.fromkeys(asks):
        if plainly(machine, ask) not in taken and is_harmless(ask) and kit.reads(ask.instrument, shown):
            found.append(reading_from(machine, now, ask, kit))
    if not chain:
        asked = {reading.question for reading in belief.readings}
        found += _parted(population, now, replace(live, supplied=()), asked)
        lifted = as_lifted(machine, population.as_told.setup)
        alone = [ask for ask in lifted if is_harmless(ask) and not kit.lacks(ask.instrument)]
        found = [one for one in found if one.ask is None or not any(_in_circuit(one.ask, ask) for ask in alone)]
        found += [reading_from(machine, now, ask, kit) for ask in alone if ask not in taken]
        powered = live if live.power == "on" else _switched_on(machine, live)
        found += [one for one in _unloaded(population, now, powered) if one.ask and is_harmless(one.ask)]
        asks = (ask for ask in provocations(machine, population, powered) if not is_deadly(ask))
        found += [_provoking(ask, now.setup, kit) for ask in asks]
    swapped = {r.question.red for r in belief.readings if r.question.instrument == "swap"}
    to_swap = [
        part.name
        for part in machine.parts.values()
        if part.role == "extra" and not part.known_good and part.name not in swapped
    ]
    # exchanging an extra for a try comes before its repair, and is as quick
    found += [_swapping(Question("swap", name, setup=live), kit) for name in to_swap]
    found += [one for one in _repairs(population, repaired_by_now(population)) if one.item not in to_swap]
    found = [_asking(one, machine, now.setup) for one in found]
    return [one for one in found if not _touched(one) & population.owner.no]


def _in_circuit(ask: Question, alone: Question) -> bool:
    """It measures what another measures with a leg lifted."""
    return (ask.instrument, ask.red, ask.black) == (alone.instrument, alone.red, alone.black)


def _touched(action: Action) -> set[str]:
    """What of a step an owner may have refused: what is asked for it, and the old part out and a new one in of any
    repair, asked for or not."""
    items = action.item.split(AND) if action.kind == "repair" else ()
    return {*action.wishes, *(wish(item) for item in items for wish in (new, out))}


def _asking(action: Action, machine: Machine, now: Setup | None) -> Action:
    """The step with what the owner has to be asked before it; of a rare part it cannot be undone."""
    items = action.item.split(AND)
    needed = wishes(machine, items, action.ask, now)
    if not needed:
        return action
    gone = [action.item] if action.ask is None else list(action.ask.setup.unplugged)
    rare = any(is_rare(machine, item) for one in gone for item in one.split(AND))
    return replace(action, wishes=needed, rung=rung("irreversible") if rare else action.rung)


def step(population: DrawnPopulation, ask: Question) -> Action:
    """A reading or a swap from where the bench stands now, whether or not anybody would think of it."""
    machine, kit = population.belief.laws.model.machine, population.kit
    if ask.instrument == "swap":
        return _swapping(ask, kit)
    return reading_from(machine, bench_of(population), ask, kit)


def reading_from(machine: Machine, now: Stand, ask: Question, kit: Kit) -> Action:
    """A reading, the bench standing so."""
    side = side_of(machine, ask)
    there = now.reading(ask.setup, ask.instrument, side)
    spent = minutes(ask.instrument, kit) + change(now, there, kit) + slip_minutes(machine, ask, kit)
    return Action("reading", ask, ask.red, spent, _rung(ask), side=side)


def _swapping(ask: Question, kit: Kit) -> Action:
    return Action("swap", ask, ask.red, minutes("swap", kit), rung("swap"))


def plainly(machine: Machine, ask: Question) -> Question:
    """The question without a stimulus that leaves everything as it is: with it and without it, one reading."""
    return replace(ask, setup=replace(ask.setup, stimulus="")) if ask.setup.stimulus in plain_stimuli(machine) else ask


def _parted(population: DrawnPopulation, now: Stand, live: Setup, taken: set[Question]) -> Iterator[Action]:
    """Readings of the likeliest parts by themselves."""
    machine, kit = population.belief.laws.model.machine, population.kit
    for ask, row in parted(population, live):
        if ask not in taken and not kit.lacks(ask.instrument) and not is_closed(machine, ask):
            yield _with_iron(reading_from(machine, now, ask, kit), now, row, kit)


def _unloaded(population: DrawnPopulation, now: Stand, live: Setup) -> Iterator[Action]:
    """The output of a rare part that is suspected, with what hangs on it lifted."""
    machine, kit = population.belief.laws.model.machine, population.kit
    rare = [part for part in suspected(machine, population) if part.rare]
    for item in dict.fromkeys(part.package or part.name for part in rare):
        for ask in load_lifts(population, item, live):
            yield _with_iron(reading_from(machine, now, ask, kit), now, LIFT, kit)


def _with_iron(reading: Action, now: Stand, row: str, kit: Kit) -> Action:
    """A reading for which a leg is lifted or a part comes out."""
    assert reading.ask is not None
    spent = reading.minutes + out_and_back(now.setup, reading.ask, row, kit)
    return replace(reading, minutes=spent, rung=rung(row))


def _provoking(ask: Question, now: Setup | None, kit: Kit) -> Action:
    spent = minutes(ask.black, kit) + change(Stand(now), Stand(ask.setup), kit)
    return Action("provoke", ask, ask.red, spent, rung(ask.black))


def _live_setup(machine: Machine, now: Setup | None) -> Setup:
    """The set-up for live readings, this machine's own: the bench supply that feeds it as it stands, else power on and
    the board whole."""
    if now is None:
        return Setup()
    if now.power == "off" and now.supplied:
        return replace(now, hertz=0.0, sister=False)
    return replace(put_back(machine, now), power="on", hertz=0.0, sister=False)


def _switched_on(machine: Machine, fed: Setup) -> Setup:
    """The same with the bench supply taken off, the board whole and the machine's own power on."""
    return replace(put_back(machine, fed), power="on", supplied=())


def _rung(ask: Question) -> int:
    """Place in the order of risk: what a bench supply with its limit feeds comes before the machine's own power."""
    limited = ask.setup.power == "off" and ask.setup.supplied
    return rung("limited power") if limited else rung(ask.instrument)


def _repairs(population: DrawnPopulation, since: Setup) -> Iterator[Action]:
    """Repairs of each item that is still suspected and, where one machine has two faults, of both at once; whatever
    joins the same two nets is mended by one."""
    machine, suspects = population.belief.laws.model.machine, population.belief.suspects
    thought_of = population.suspects[:TESTED] if population.belief.laws.model.by_areas else population.suspects
    left = [items_left(machine, suspects[n], since) for n in thought_of]
    alone = dict.fromkeys((item,) for items in left for item in items)
    every = dict.fromkeys((*alone, *(items for items in left if len(items) > 1)))
    once: dict[tuple[frozenset[str] | str, ...], tuple[str, ...]] = {}
    for items in every:
        once.setdefault(tuple(frozenset(nets_joined(machine, item)) or item for item in items), items)
    for items in once.values():
        spent = sum(repair_minutes(machine, item, population.kit) for item in items)
        yield Action("repair", None, AND.join(items), spent, max(rung(repair_row(machine, item)) for item in items))


def repair_minutes(machine: Machine, item: str, kit: Kit) -> float:
    """What mending one item takes on this bench."""
    return minutes(repair_row(machine, item), kit)


def items_left(machine: Machine, suspect: Suspect, since: Setup) -> tuple[str, ...]:
    """What is to be mended of a suspect after the repairs of a set-up: a new part brings new joints too."""
    left = [fault for fault in suspect.faults if not is_repaired(machine, fault, since)]
    return tuple(dict.fromkeys(repair_item(machine, fault) for fault in left))


def _live(machine: Machine, population: DrawnPopulation, setup: Setup) -> Iterator[Question]:
    """Volts at every net and, where a joint is suspected, at the pins on both sides of it; signals
    at each stimulus that puts one on."""
    places = [*board_nets(machine), *_doubted_joints(population)]
    signals = [name for name, stimulus in machine.stimuli.items() if stimulus.frequency and setup.power == "on"]
    quiet = [name for name, one in machine.stimuli.items() if not one.frequency and not _is_once(machine, name)]
    if followed(machine, "").in_time and setup.power == "on" and (plain := plain_stimuli(machine)):
        quiet = [name for name in quiet if name not in plain or name == plain[0]]
        setup = replace(setup, stimulus=plain[0] if setup.stimulus in ("", *plain) else setup.stimulus)
    for place in dict.fromkeys(places):
        if not machine.has_place(place):
            continue
        for name in dict.fromkeys(
            [setup.stimulus, *quiet] if setup.stimulus not in signals else [setup.stimulus, *quiet]
        ):
            yield Question("dc", place, setup=replace(setup, stimulus=name))
        for name in signals:
            for hertz in dict.fromkeys([0.0, *_other_hertz(population, name)]):
                sized = _sized_by(population.kit, hertz or machine.stimuli[name].frequency)
                yield Question(sized, place, setup=replace(setup, stimulus=name, hertz=hertz))


def _sized_by(kit: Kit, hertz: float) -> str:
    """How this bench measures the size of a signal: on a scope; without one by a meter, as high as that goes."""
    return "rms" if not kit.reads("pp") and hertz <= ALTERNATING else "pp"


def _is_once(machine: Machine, stimulus: str) -> bool:
    """What it does happens once, from a switch-on or to a step: no meter settles on it."""
    return happens_once(known) if (known := followed(machine, stimulus)).in_time else False


def _in_time(machine: Machine, population: DrawnPopulation, setup: Setup) -> Iterator[Question]:
    """What an oscilloscope shows at every net where something moves in time: of what repeats its mean, size, highest
    and lowest volts and frequency, of what happens once when it goes through a level; and what a function is judged by.

    Only where it costs little: the draws have been followed there, or there are few of them. A quick look asks what
    was foreseen.
    """
    if population.known is not None:
        yield from (ask for ask in population.known if population.belief.laws.takes_time(ask))
        return
    plain = plain_stimuli(machine)
    typed = [setup.stimulus] if setup.stimulus in plain else plain[:1] or [""]
    names = [*typed, *(name for name in machine.stimuli if name not in plain)]
    names = [name for name in names if followed(machine, name).in_time]
    for name in names if setup.power == "on" else ():
        there, way = replace(setup, stimulus=name), followed(machine, name)
        few = len(np.unique(population.bank.stands_for)) <= FEW_RUNS
        if not (few or at_hand(population.bank, there, way)):
            continue
        for net in board_nets(machine):
            if happens_once(way):
                yield from _once(population, net, there)
            elif _moves(population, net, there):
                yield from (Question(one, net, setup=there) for one in REPEATING)
                yield from _named(machine, net, there)
            else:
                yield Question("dc", net, setup=there)


def _moves(population: DrawnPopulation, net: str, setup: Setup) -> bool:
    """Some of the draws show a trace there that is no line."""
    shown = population.answer(Question("pp", net, setup=setup))
    return bool(np.mean((shown.value > VISIBLE) & shown.judged) > SOME)


def _named(machine: Machine, net: str, setup: Setup) -> Iterator[Question]:
    """What a function is judged by at this net, with the oscilloscope set as the function says."""
    for one in (measure for works in machine.works for measure in (works.measure, works.second) if measure):
        if one.place == net and one.stimulus == setup.stimulus and one.quantity in SCOPED:
            yield Question(one.quantity, net, one.other, setup, Look(level=one.level, window=one.window))


def _once(population: DrawnPopulation, net: str, setup: Setup) -> Iterator[Question]:
    """When a net goes through the level that a function names, else half of what it ends at or begins at."""
    machine, bank = population.belief.laws.model.machine, population.belief.laws.base.middle
    named = list(_named(machine, net, setup))
    yield from named
    top, last, drift = (float(show(bank, Question(q, net, setup=setup)).value[0]) for q in ("top", "last", "drift"))
    if any(ask.instrument in ("rise", "fall") for ask in named) or top < VISIBLE:
        return
    fell = last < 0.5 * top or drift < -VISIBLE
    yield Question("fall" if fell else "rise", net, setup=setup, look=Look(level=float(f"{0.5 * top:.2g}")))


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
    for place in dict.fromkeys([*board_nets(machine), *_doubted_joints(population)]):
        if not machine.has_place(place):
            continue
        direct = Question("dc", place, setup=playing)
        if is_weighed(machine, direct):
            yield direct
        if machine.net_of(place) not in silent:
            yield Question("pp", place, setup=playing)
            if place not in measured:
                yield Question("share", place, setup=playing)
    off = replace(setup, power="off", stimulus="", supplied=())
    doubted = _doubted_nodes(machine, population)
    yield from (Question("ohms", net, setup=off) for net in board_nets(machine) if net in doubted)
    yield from (ask for ask in unpowered(machine, setup) if _is_plain(machine.parts[ask.red.rpartition(".")[0]]))


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


def board_nets(machine: Machine) -> list[str]:
    """Nets that can be probed against ground."""
    return [net for net in machine.nets if net != GROUND and not net.startswith("nc:")]


def _faults(population: DrawnPopulation) -> Iterator[Fault]:
    """Faults of the suspects still considered."""
    for n in population.suspects:
        yield from population.belief.suspects[n].faults


def _doubted_joints(population: DrawnPopulation) -> list[str]:
    return [f.item for f in _faults(population) if f.mode.startswith("joint")]


def unpowered(machine: Machine, setup: Setup) -> Iterator[Question]:
    """With power off: ohms across every part of two pins and every winding or contact at rest of one with more, and
    the diode range across every junction, both ways."""
    off = replace(setup, power="off", stimulus="", supplied=())
    for part in machine.parts.values():
        kind = KINDS[part.kind]
        ends = kind.pins if len(kind.pins) == 2 and not kind.feeds else ()
        for one, other in (*kind.across, *([ends] if ends else [])):
            nets = {part.pins[one], part.pins[other]}
            if len(nets) == 2 and not any(net.startswith("nc:") for net in nets):
                yield Question("ohms", f"{part.name}.{one}", f"{part.name}.{other}", off)
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


def capacitor_tests(machine: Machine, setup: Setup) -> Iterator[Question]:
    """What an ESR meter and a capacitance meter say of each capacitor."""
    off = replace(setup, power="off", stimulus="", supplied=())
    for part in machine.parts.values():
        if part.kind == "capacitor":
            yield from (Question(one, f"{part.name}.1", f"{part.name}.2", off) for one in ("esr", "farads"))


def _allowed(machine: Machine, ask: Question) -> bool:
    """Places the file puts off limits with power on are never proposed, nor those where no probe is put or of a board
    that is not there."""
    if is_closed(machine, ask) or any(_is_absent(machine, place) for place in (ask.red, ask.black)):
        return False
    if not is_live(ask.setup):
        return True
    return not ({ask.red, ask.black, machine.net_of(ask.red), machine.net_of(ask.black)} & off_limits(machine))


Judged = Callable[[Question], bool]


def harmless(population: DrawnPopulation, is_deadly: Judged | None = None) -> Judged:
    """Whether a reading may be proposed: at no place that is off limits, nor one that kills. is_deadly: of this
    population, where it is at hand."""
    machine, kills = population.belief.laws.model.machine, is_deadly or _warily(population)
    return lambda ask: _allowed(machine, ask) and not kills(ask)


def _warily(population: DrawnPopulation) -> Judged:
    """Whether a live question, or a hand round a part, comes to a place that kills, where nobody said that they are
    trained for it."""
    machine, known = population.belief.laws.model.machine, dict[Setup, set[str]]()
    nets = board_nets(machine)

    def is_deadly(ask: Question) -> bool:
        if population.kit.trained or not is_live(ask.setup):
            return False
        if ask.setup not in known:
            known[ask.setup] = deadly(population.belief, ask.setup, nets)
        return bool(known[ask.setup] & nets_reached(machine, ask))

    return is_deadly


def _is_absent(machine: Machine, place: str) -> bool:
    """A pin of an added board that this machine does not have, or a net with no other pins."""
    gone = absent(machine)
    part = place.rpartition(".")[0]
    pins = [] if part or not gone else machine.pins_on(place)
    return part in gone or bool(pins) and all(one in gone for one, _ in pins)


def slip_minutes(machine: Machine, ask: Question, kit: Kit) -> float:
    """A live probe on a part's own pin, or close beside another place, is charged for the chance of a slip."""
    risky = (ask.setup.power == "on" and "." in ask.red) or slips(machine, ask)
    return minutes("inner pin", kit) if risky else 0.0


def after(machine: Machine, item: str, since: Setup = AS_BROUGHT) -> Setup | None:
    """What was repaired once this item is too: a part or a case is new, anything else mended in place; None for what
    is mended otherwise, as an added board."""
    units = parts_called(machine, item)
    if units:
        return replace(since, replaced=tuple(sorted((*since.replaced, *units))))
    place = item if "~" in item or item.rpartition(".")[0] else "~".join(sorted((item, GROUND)))
    if " on " in item:
        return None
    return replace(since, mended=tuple(sorted((*since.mended, place))))


def cures(machine: Machine, suspect: Suspect, item: str, since: Setup = AS_BROUGHT) -> bool:
    """Mending this item, or these ("C12 and R5"), cures the suspect after the repairs of this set-up."""
    items = items_left(machine, suspect, since)
    return bool(items) and all(any(takes_away(machine, one, what) for one in item.split(AND)) for what in items)


def repair_row(machine: Machine, item: str) -> str:
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
