"""Everything that can be wrong with a machine, in a stable order, each with its chance before any reading.

Parts, their joints and the case they sit in come in the order of the file, then bridges between
neighbours, things hanging on nets, added boards, pairs asked for, strangers for what nobody listed, and the
two standing suspects.
Nothing is merged here: a fuse and a contact in series stay two suspects although no meter at
their ends can tell them apart; look-alikes are worked out where predictions are known.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG, Fault, Suspect
from probewright.hypotheses.causes import together
from probewright.hypotheses.classes import class_of, joined_pins, joint_class_of, kind_name
from probewright.hypotheses.earlier import touched, ways_of
from probewright.hypotheses.modes import NoSuchMode, builder_of, edits, mode_of, units_in
from probewright.hypotheses.priors import ClassPrior, Standing, handbook, has_row, old_machine, rows, standing
from probewright.hypotheses.strangers import strangers
from probewright.hypotheses.usual import NOTHING_FOUND, Usual, factor, kind_of
from probewright.hypotheses.zones import neighbour_pins, raised, surfaces
from probewright.machine.chains import is_chain, played_sources
from probewright.machine.edits import AddPath, Edit
from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, AddedBoard, Machine, Part
from probewright.units import counted

ADDED_BOARD = "added_board"
BOARD_LOADS, BOARD_JOINT, BOARD_ITSELF = "loads or shorts a tap", "bad feed or joint", "itself faulty"
AND, AGAIN = " + ", ", new one too"  # in the ids of suspects that are made of others
STANDING = ((NOTHING_WRONG, "nothing wrong in here"), (NOT_LISTED, "something not in this file"))


@dataclass(frozen=True)
class Entry:
    """A suspect on its way: rates instead of chances, old machines and handbook; handbook_source: "" for no row."""

    fault: Fault
    weight: float
    handbook: float
    says: str
    source: str
    handbook_source: str = ""

    @property
    def id(self) -> str:
        """Name of the suspect: the item and its mode."""
        return f"{self.fault.item} {self.fault.mode}"


def suspects_of(
    machine: Machine, pair_of: Sequence[tuple[str, str]] = (), usual: Usual = NOTHING_FOUND
) -> tuple[Suspect, ...]:
    """Every suspect of a machine; chances of all together are one, ids are unique.

    pair_of: ids of two suspects each, to be listed as wrong together; usual: what the bench has found so far.
    KeyError for an id unknown.
    """
    unlisted = _unlisted(machine)
    found = (
        *_as_suspects(_broken(machine, usual), _left_over(machine)), *_hanging(machine), *unlisted,
        *_standing(machine, sum(one.prior for one in unlisted)),
    )  # fmt: skip
    listed = {one.id: one for one in found}
    assert len(listed) == len(found), "two suspects share an id"
    pairs = tuple(pair(listed[a], listed[b], together(machine, found, listed[a], listed[b])) for a, b in pair_of)
    last = len(unlisted) + len(STANDING)
    return _normalised((*found[:-last], *pairs, *found[-last:]))


def pair(a: Suspect, b: Suspect, often: Standing | None = None) -> Suspect:
    """Both wrong together: chance p_a p_b times how much oftener they come so than one by one.

    often: of faults of one cause; without it as independent faults of which a machine brings a few (`second-fault`).
    """
    often = often or standing("second-fault")
    return Suspect(
        id=f"{a.id}{AND}{b.id}",
        faults=tuple(sorted((*a.faults, *b.faults), key=_falls_anew)),
        prior=often.value * a.prior * b.prior,
        handbook=often.value * a.handbook * b.handbook,
        says=f"{a.says}, and {b.says}",
        source=often.source,
    )


def bad_again(suspect: Suspect, often: Standing | None = None) -> Suspect:
    """The same fault after one repair more: what killed the part is still there, the new one is no good, or what was
    mended in place is not mended.

    often: chance of that; without it that of a new part, and of the next one where one was bad already.
    """
    before = max(fault.again for fault in suspect.faults)
    often = often or standing("next-part-bad" if before else "new-part-bad")
    return Suspect(
        id=f"{suspect.id}{AGAIN}",
        faults=tuple(replace(fault, again=fault.again + 1) for fault in suspect.faults),
        prior=often.value * suspect.prior,
        handbook=often.value * suspect.handbook,
        says=f"{suspect.says}, and so {'with the next one' if before else 'after the repair'}",
        source=often.source,
    )


def made_of(listed: Mapping[str, Suspect], name: str) -> Suspect:
    """The suspect of this id: listed, two of them at once, or one that its new part has too. KeyError for any other."""
    if name in listed:
        return listed[name]
    if name.endswith(AGAIN):
        return bad_again(made_of(listed, name.removesuffix(AGAIN)))
    a, _, b = name.partition(AND)
    return pair(listed[a], listed[b])


def _falls_anew(fault: Fault) -> tuple[bool, bool]:
    """Order of the faults of a pair: first the one whose severity may fall out anew, then any that has one."""
    return not (fault.comes_and_goes and fault.severity is not None), fault.severity is None


def with_more(suspects: Sequence[Suspect], more: Sequence[Suspect]) -> tuple[Suspect, ...]:
    """The suspects with more behind them; chances of all together are one again."""
    return _normalised((*suspects, *more))


def _usual(machine: Machine, name: str) -> Standing:
    """A standing chance; a chain has its own where the table gives one."""
    own = f"{name}-chain"
    return standing(own if is_chain(machine) and any(row["name"] == own for row in rows("standing")) else name)


def _left_over(machine: Machine) -> float:
    """Share of all suspects that is left for parts, joints, bridges and boards."""
    names = (NOTHING_WRONG, NOT_LISTED, *_hanging_modes(machine))
    return 1.0 - sum(_usual(machine, name).value for name in names)


def _normalised(suspects: tuple[Suspect, ...]) -> tuple[Suspect, ...]:
    """The same suspects with chances that sum to one: a machine without nets lacks a share."""
    ours, theirs = sum(one.prior for one in suspects), sum(one.handbook for one in suspects)
    return tuple(replace(one, prior=one.prior / ours, handbook=one.handbook / theirs) for one in suspects)


def _as_suspects(entries: tuple[Entry, ...], share: float) -> tuple[Suspect, ...]:
    """Rates become chances that fill a share of the whole."""
    ours, theirs = sum(one.weight for one in entries) or 1.0, sum(one.handbook for one in entries) or 1.0
    return tuple(
        Suspect(
            one.id, (one.fault,), share * one.weight / ours, share * one.handbook / theirs, one.says, one.source,
            one.handbook_source,
        )
        for one in entries
    )  # fmt: skip


def _standing(machine: Machine, spoken_for: float) -> tuple[Suspect, ...]:
    """The two suspects every machine has; spoken_for: the share of what is not listed that strangers have."""
    often = {name: _usual(machine, name) for name, _ in STANDING}
    chance = {name: often[name].value - (spoken_for if name == NOT_LISTED else 0.0) for name in often}
    return tuple(Suspect(name, (), chance[name], chance[name], says, often[name].source) for name, says in STANDING)


def _unlisted(machine: Machine) -> tuple[Suspect, ...]:
    """Strangers for what nobody listed. A chain has none: its blocks stand for anything in them already."""
    if is_chain(machine):
        return ()
    return strangers(machine, _usual(machine, NOT_LISTED).value * standing("stranger").value)


def _broken(machine: Machine, usual: Usual) -> tuple[Entry, ...]:
    """All that goes by rate: parts, joints, bridges, added boards; usual: of this bench."""
    own = [part for part in machine.parts.values() if part.role != "added"]
    listed: tuple[Entry, ...] = (
        *_of_parts(machine, own),
        *_bridges(machine),
        *(entry for board in machine.added_boards for entry in _of_board(machine, board)),
    )
    if usual.jobs:
        listed = tuple(_as_found(machine, listed, usual))
    if not machine.zones:
        return listed
    raised_ = [_raised(machine, entry) for entry in listed]
    return _each_once((*raised_, *_surfaces(machine), *_of_earlier_hands(machine)))


def _as_found(machine: Machine, entries: Sequence[Entry], usual: Usual) -> Iterator[Entry]:
    """The same entries, as much likelier by our table as this bench has found them; the handbooks stay as they are."""
    kinds = [kind_of(machine, one.fault) for one in entries]
    whole = sum(one.weight for one, kind in zip(entries, kinds, strict=True) if kind)
    for one, kind in zip(entries, kinds, strict=True):
        times = factor(usual, kind, one.fault.item, one.fault.mode, one.weight / whole) if kind else 1.0
        said = f"; as {counted(usual.jobs, 'job')} of this bench ended: x{times:.2g}"
        yield replace(one, weight=times * one.weight, source=f"{one.source}{said}" if kind else one.source)


def _raised(machine: Machine, entry: Entry) -> Entry:
    """The same entry, as much likelier by both tables as its zone makes it: what was seen is no row of either."""
    found = raised(machine, entry.fault)
    if not found.source:
        return entry
    return replace(
        entry, weight=found.factor * entry.weight, handbook=found.factor * entry.handbook,
        source=f"{entry.source}; {found.source}",
    )  # fmt: skip


def _each_once(entries: Sequence[Entry]) -> tuple[Entry, ...]:
    """Entries that say the same as one of their whole rate: a bridge may have been there before somebody soldered."""
    found: dict[tuple[frozenset[str], str], Entry] = {}
    for one in entries:
        key = frozenset(one.fault.item.split("~")), one.fault.mode
        known = found.get(key)
        found[key] = one if known is None else replace(
            known, weight=known.weight + one.weight, handbook=known.handbook + one.handbook,
            source=f"{known.source}; {one.source}",
        )  # fmt: skip
    return tuple(found.values())


def _surfaces(machine: Machine) -> Iterator[Entry]:
    """What lies on the board between neighbouring pins in a zone."""
    for a, b in surfaces(machine):
        for mode in old_machine("insulation.in_zone").modes:
            entry = _entry(f"{a}~{b}", mode, "insulation.in_zone", old_machine("insulation.in_zone").modes)
            yield replace(entry, says=mode_of(mode).words.format(item=f"{a} and {b}"))


def _of_earlier_hands(machine: Machine) -> Iterator[Entry]:
    """What earlier hands can have done: together the rate `earlier-hands`, shared over the parts they touched."""
    names, whole = touched(machine), standing("earlier-hands")
    for name in names:
        for item, mode, share, source in ways_of(machine, name):
            row, rate = mode_of(mode, class_of(machine.parts[name])), whole.value * share / len(names)
            said = item.replace("~", " and ")
            yield Entry(
                Fault(item, mode, row.severity, row.comes_and_goes), rate, rate, row.words.format(item=said), source
            )


def _of_parts(machine: Machine, parts: Iterable[Part]) -> Iterator[Entry]:
    for part in parts:
        if not part.known_good:
            yield from _of_part(machine, part)
            yield from _joints(machine, part)


# parts


def _case(part: Part) -> str:
    return part.package or part.name


def _is_first(machine: Machine, part: Part) -> bool:
    """Whether the part is the unit that stands for its case."""
    return units_in(machine, _case(part))[0].name == part.name


def _has_builder(mode: str, part: Part) -> bool:
    try:
        builder_of(mode, kind_name(part))
    except NoSuchMode:
        return False
    return True


def _of_part(machine: Machine, part: Part) -> Iterator[Entry]:
    """One entry a mode; a class counts once a case, so its units share the rate."""
    part_class = class_of(part)
    ours, units = old_machine(part_class), len(units_in(machine, _case(part)))
    offered = tuple(mode for mode in ours.modes if _has_builder(mode, part))
    for name in offered:
        once = mode_of(name, part_class).per_case
        if once and not _is_first(machine, part):
            continue
        item, among = (_case(part), 1) if once else (part.name, units)
        entry = _entry(item, name, part_class, offered, 1.0 / among)
        if not _does_nothing(machine, entry.fault):
            yield entry


def _entry(item: str, mode: str, part_class: str, offered: Sequence[str], scale: float = 1.0) -> Entry:
    row, ours, theirs = mode_of(mode, part_class), old_machine(part_class), handbook(part_class)
    return Entry(
        fault=Fault(item, mode, row.severity, row.comes_and_goes),
        weight=scale * ours.weight_of(offered)[mode],
        handbook=scale * _known(theirs, ours, offered)[mode],
        says=row.words.format(item=item),
        source=ours.source_of(mode),
        handbook_source=theirs.source_of(mode) if has_row(part_class, mode) else "",
    )


def _known(theirs: ClassPrior, ours: ClassPrior, offered: Sequence[str]) -> Mapping[str, float]:
    """Rates by the handbook, or by our table where the handbook has none of these modes."""
    rates = theirs.weight_of(offered)
    return rates if any(rates.values()) else ours.weight_of(offered)


def _does_nothing(machine: Machine, fault: Fault) -> bool:
    """Whether the fault only joins a net to itself."""
    return all(_same_net(machine, edit) for edit in edits(machine, fault))


def _same_net(machine: Machine, edit: Edit) -> bool:
    return isinstance(edit, AddPath) and machine.net_of(edit.a) == machine.net_of(edit.b)


# joints


def _joints(machine: Machine, part: Part) -> Iterator[Entry]:
    """Two entries a pin that reaches anything; a supply pin of a package counts once."""
    joint_class = joint_class_of(part)
    if not joint_class:
        return
    shared = KINDS[part.kind].units_share if part.kind in KINDS and part.package else ()
    for pin in joined_pins(part):
        net = part.pins[pin]
        if _reaches_nothing(machine, net) or (pin in shared and not _is_first(machine, part)):
            continue
        place = f"{_case(part) if pin in shared else part.name}.{pin}"
        modes = old_machine(joint_class).modes
        yield from (_entry(place, mode, joint_class, modes) for mode in modes)


def _reaches_nothing(machine: Machine, net: str) -> bool:
    """A pin left free: its net has no other pin, so its joint can do no harm."""
    return _is_free(net) or len(machine.pins_on(net)) < 2


def _is_free(net: str) -> bool:
    return net == "nc" or net.startswith("nc:")


# bridges


def _bridges(machine: Machine) -> Iterator[Entry]:
    """Neighbours named in the file, then neighbouring pins of one case; each two places once."""
    named = ((a, b, "near-bridge") for a, b in _named_neighbours(machine))
    by_case = ((a, b, "pin-bridge") for a, b in _pin_neighbours(machine))
    seen: set[frozenset[str]] = set()
    for a, b, why in (*named, *by_case):
        fault = Fault(f"{a}~{b}", "bridge", mode_of("bridge").severity, mode_of("bridge").comes_and_goes)
        if frozenset((a, b)) in seen or _does_nothing(machine, fault):
            continue
        seen.add(frozenset((a, b)))
        says = mode_of("bridge").words.format(item=f"{a} and {b}")
        yield Entry(fault, standing(why).value, standing(why).value, says, standing(why).source)


def _named_neighbours(machine: Machine) -> Iterator[tuple[str, str]]:
    for point in machine.points.values():
        for other in point.near:
            yield _place(machine, point.place), _place(machine, other)


def _place(machine: Machine, name: str) -> str:
    """The net or pin behind a point's own name."""
    point = machine.points.get(name)
    return name if point is None or point.place == name else _place(machine, point.place)


def _pin_neighbours(machine: Machine) -> Iterator[tuple[str, str]]:
    for part in machine.parts.values():
        if not part.known_good and part.role == "part":
            for a, b in neighbour_pins().get(kind_name(part), ()):
                yield f"{part.name}.{a}", f"{part.name}.{b}"


# things hanging on nets


def _hanging(machine: Machine) -> tuple[Suspect, ...]:
    """What hangs on every net but ground and, in a chain, what touches ground there."""
    return tuple(one for mode in _hanging_modes(machine) for one in _on_nets(machine, mode))


def _hanging_modes(machine: Machine) -> tuple[str, ...]:
    return ("loads-net", "shorts-net") if is_chain(machine) else ("loads-net",)


def _on_nets(machine: Machine, mode: str) -> tuple[Suspect, ...]:
    """One suspect a net; together the standing share of the mode, evenly but for zones.

    What plays has no net of its own.
    """
    imagined = {machine.parts[name].pins["plus"] for name in played_sources(machine) if machine.parts[name].known_good}
    row, often = mode_of(mode), _usual(machine, mode)
    entries = tuple(
        _raised(
            machine,
            Entry(
                Fault(net, row.name, row.severity, row.comes_and_goes),
                1.0,
                1.0,
                row.words.format(item=net),
                often.source,
            ),
        )
        for net in machine.nets
        if net != GROUND and not _is_free(net) and net not in imagined
    )
    return _as_suspects(entries, often.value)


# added boards


def _of_board(machine: Machine, board: AddedBoard) -> Iterator[Entry]:
    """What an owner's board does to its taps, and what breaks on it; at the chance that it is there at all."""
    if board.fitted == "no":
        return
    yield from _taps(machine, board)
    parts = [machine.parts[name] for name in board.parts if not machine.parts[name].known_good]
    chance = chance_fitted(board)
    yield from _filling(BOARD_ITSELF, [entry for part in parts for entry in _of_part(machine, part)], chance)
    yield from _filling(BOARD_JOINT, [entry for part in parts for entry in _joints(machine, part)], chance)


def chance_fitted(board: AddedBoard) -> float:
    """Chance that an owner's board is there, before any reading."""
    return {"yes": 1.0, "no": 0.0, "unknown": standing("unknown-board").value}[board.fitted]


def board_of(machine: Machine, fault: Fault) -> str:
    """Name of the added board that a fault is on, at its tap, or on a net that only the board has; "" for none."""
    for board in machine.added_boards:
        here = {fault.item, fault.item.rpartition(".")[0], *fault.item.split("~")}
        mine = {*board.parts, *(f"{board.name} on {net}" for net in machine.nets)}
        pins = machine.pins_on(fault.item) if fault.item in machine.nets else ()
        if here & mine or pins and all(part in board.parts for part, _ in pins):
            return board.name
    return ""


def _board_rate(said: str) -> float:
    """Rate of one row of the table for added boards, by what the table calls it."""
    return next(float(row["weight"]) * float(row["share"]) for row in _board_rows() if row["said"] == said)


@cache
def _board_rows() -> tuple[dict[str, str], ...]:
    return tuple(row for row in rows("old_machine") if row["class"] == ADDED_BOARD)


def _filling(said: str, entries: Sequence[Entry], chance: float) -> Iterator[Entry]:
    """The same entries, scaled so that together they have the rate of this row for boards, times the chance of one."""
    total, board = sum(one.weight for one in entries), old_machine(ADDED_BOARD).source_of("")
    scale = chance * _board_rate(said) / total if total else 0.0
    for one in entries:
        source = f"{one.source}; on an added board: {board}"
        yield replace(one, weight=scale * one.weight, handbook=scale * one.weight, source=source)


def _taps(machine: Machine, board: AddedBoard) -> Iterator[Entry]:
    """The nets a board shares with the machine, but ground, each with something hanging on it."""
    nets = _tapped(machine, board)
    row = mode_of("board-loads")
    for net in nets:
        item, rate = f"{board.name} on {net}", chance_fitted(board) * _board_rate(BOARD_LOADS) / len(nets)
        fault = Fault(item, row.name, row.severity, row.comes_and_goes)
        yield Entry(fault, rate, rate, row.words.format(item=item), old_machine(ADDED_BOARD).source_of(row.name))


def _tapped(machine: Machine, board: AddedBoard) -> tuple[str, ...]:
    theirs = {net for part in machine.parts.values() if part.name not in board.parts for net in part.pins.values()}
    ours = dict.fromkeys(net for name in board.parts for net in machine.parts[name].pins.values())
    return tuple(net for net in ours if net in theirs and net != GROUND)
