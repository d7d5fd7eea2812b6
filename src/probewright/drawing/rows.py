"""What stands in which row, which nets are wires and which are flags, and what lies left of what."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from probewright.drawing import symbols
from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, Machine, Part

WIRED_RAIL = 4  # chosen: a rail with more pins in one row is flags even where it comes from
SMOOTHED_PINS = 5  # chosen: this many pins and a large capacitor to ground make a net a rail
LARGE_FARADS = 1e-6
FEW = 2  # an excerpt of fewer parts looks one step further
MANY = 8  # parts a person takes in beside the card


@dataclass(frozen=True)
class Row:
    """Parts drawn together. rank: net drawn as wires -> how far right; outside: those that go on elsewhere."""

    title: str
    parts: tuple[Part, ...]
    rank: Mapping[str, tuple[int, int]]
    outside: frozenset[str] = frozenset()
    bare: frozenset[str] = frozenset()  # of an excerpt: nets at its edge, a pointed flag and nothing else


@dataclass(frozen=True)
class Sheet:
    """All rows, and the rails that are drawn above the part they feed."""

    rows: tuple[Row, ...]
    high: frozenset[str]


def symbol_words(part: Part) -> str:
    """What the kind of a part calls its symbol; "" for a kind nobody registered."""
    kind = KINDS.get(part.kind)
    return kind.symbol if kind else ""


def ends(part: Part) -> tuple[str, str] | None:
    """Both pins of a part drawn with a two-ended symbol, first pin first."""
    if symbol_words(part) not in symbols.TWO_ENDED or len(part.pins) != 2:
        return None
    first, second = part.pins
    return first, second


def is_open(net: str) -> bool:
    """Whether a net is the end of a pin that is wired to nothing."""
    return net.startswith("nc:")


def sheet(machine: Machine, section: str | None = None) -> Sheet:
    """The whole machine, or one section of it, in rows: section by section, channel by channel."""
    rails, high = _rails(machine)
    groups = _groups(machine, rails)
    homes: dict[str, int] = {}
    for number, (_, parts) in enumerate(groups):
        for part in parts:
            for pin, net in part.pins.items():
                if net not in rails or pin not in _supply_pins(part):
                    homes.setdefault(net, number)
    rows = []
    for number, ((name, channel), parts) in enumerate(groups):
        if section is not None and name != section:
            continue
        here = [(net, pin, part) for part in parts for pin, net in part.pins.items()]
        elsewhere = {
            net for other, (_, some) in enumerate(groups) if other != number for p in some for net in p.pins.values()
        }
        wired: dict[str, int] = {}
        for net, pin, part in here:
            if net != GROUND and not is_open(net) and pin not in _supply_pins(part):
                wired[net] = wired.get(net, 0) + 1
        nets = [
            net
            for net, count in wired.items()
            if net not in rails or (homes.get(net) == number and count <= WIRED_RAIL)
        ]
        flagged = {net for net, pin, part in here if pin in _supply_pins(part)}
        seeds = [net for net in nets if homes.get(net) != number]
        label = machine.channels.get(channel, channel)
        title = ", ".join(word for word in (name, label) if word)
        outside = frozenset(net for net in nets if net in elsewhere or net in flagged)
        rows.append(Row(title if len(groups) > 1 else "", tuple(parts), ranks(parts, nets, seeds), outside))
    return Sheet(tuple(rows), high)


def _supply_pins(part: Part) -> tuple[str, ...]:
    words = symbol_words(part)
    return (*symbols.SUPPLY.get(words, ()), *(symbols.LOW.get(words, ()) if words == "amplifier" else ()))


TOPS = {  # pin that stands on the supply
    "NPN transistor": "c",
    "PNP transistor": "e",
    "voltage regulator": "out",
    "amplifier": "vplus",
    "block": "supply",
}


def rail_nets(machine: Machine) -> frozenset[str]:
    """Nets that feed others: flags rather than wires."""
    return _rails(machine)[0]


def _rails(machine: Machine) -> tuple[frozenset[str], frozenset[str]]:
    """Nets that are flags rather than wires; and the nets that stand above what they feed.

    A rail feeds a supply pin, or has many pins and a large capacitor to ground and drives no base.
    """
    rails: set[str] = set()
    high: set[str] = set()
    smooth: set[str] = set()
    drive: set[str] = set()
    for part in machine.parts.values():
        words = symbol_words(part)
        rails |= {part.pins.get(pin, GROUND) for pin in _supply_pins(part)}
        if words in TOPS and TOPS[words] in part.pins:
            high.add(part.pins[TOPS[words]])
        if words in symbols.FED and part.figures["volts"].nominal > 0.0:
            high.add(part.pins["plus"])
        if words in ("NPN transistor", "PNP transistor"):
            drive.add(part.pins["b"])
        farads = part.figures.get("capacitance")
        if farads and farads.nominal >= LARGE_FARADS and GROUND in part.pins.values():
            smooth |= set(part.pins.values())
    rails |= {net for net in smooth - drive if len(machine.pins_on(net)) >= SMOOTHED_PINS}
    return frozenset(rails - {GROUND}), frozenset(high - {GROUND})


def _groups(machine: Machine, rails: frozenset[str]) -> list[tuple[tuple[str, str], list[Part]]]:
    """(section, channel) -> its parts; a part that belongs to none joins the first it has a net in common with."""
    found: dict[tuple[str, str], list[Part]] = {}
    loose: list[Part] = []
    order = {name: place for place, name in enumerate(machine.sections)}
    for part in machine.parts.values():
        if part.section or part.channel or not (machine.sections or machine.channels):
            found.setdefault((part.section, part.channel), []).append(part)
        else:
            loose.append(part)
    nets = {
        key: {net for part in parts for net in part.pins.values() if not is_open(net)} - {GROUND}
        for key, parts in found.items()
    }
    moved = True
    while moved:
        moved = False
        for part in list(loose):
            own = set(part.pins.values()) - {GROUND}
            shared = {
                key: len(own & some - (rails if machine.channels and not part.section else frozenset()))
                for key, some in nets.items()
            }
            best = max(shared, key=lambda key: shared[key], default=None)
            if best is not None and shared[best]:
                found[best].append(part)
                nets[best] |= {net for net in own if not is_open(net)}
                loose.remove(part)
                moved = True
    if loose:
        found.setdefault(("", ""), []).extend(loose)
    marks = list(machine.channels)
    position = {name: place for place, name in enumerate(machine.parts)}
    ordered = sorted(
        found.items(),
        key=lambda one: (order.get(one[0][0], len(order)), marks.index(one[0][1]) if one[0][1] in marks else -1),
    )
    return [(key, sorted(parts, key=lambda part: position[part.name])) for key, parts in ordered]


def ranks(parts: Sequence[Part], nets: Sequence[str], seeds: Sequence[str]) -> dict[str, tuple[int, int]]:
    """How far right each net lies: steps from what feeds the row; the second number tells equals apart."""
    sources = [p.pins["plus"] for p in parts if symbol_words(p) in symbols.FED and p.pins.get("plus") in nets]
    quiet = [p.pins["plus"] for p in parts if symbol_words(p) in symbols.FED and p.figures["volts"].nominal == 0.0]
    first = [net for net in sources if net in quiet] or sources
    found = dict.fromkeys([*seeds, *first, *sources] or nets[:1], 0)
    _walk(parts, nets, found)
    while len(found) < len(nets):  # an island of its own begins at its first net
        found[next(net for net in nets if net not in found)] = 0
        _walk(parts, nets, found)
    for _ in range(len(nets)):
        if not _straighten(parts, found, {*seeds, *sources}):
            break
    order = {net: place for place, net in enumerate(nets)}
    return {net: (found[net], order[net]) for net in nets}


def _walk(parts: Sequence[Part], nets: Sequence[str], found: dict[str, int]) -> None:
    """Steps from the nets found so far, never through a part from its output to its input."""
    known = set(nets)
    edge = list(found)
    while edge:
        ahead: list[str] = []
        for net in edge:
            for part in parts:
                words = symbol_words(part)
                into, out = symbols.INTO.get(words, ()), symbols.OUT_OF.get(words, ())
                if not any(
                    one == net and pin not in out for pin, one in part.pins.items() if pin not in _supply_pins(part)
                ):
                    continue
                for pin, other in part.pins.items():
                    if other in known and other not in found and pin not in into and pin not in _supply_pins(part):
                        found[other] = found[net] + 1
                        ahead.append(other)
        edge = ahead


def _straighten(parts: Sequence[Part], found: dict[str, int], fixed: set[str]) -> bool:
    """One round: an output lies right of the inputs; an input fed only by feedback lies left of the output."""
    moved = False
    for part in parts:
        words = symbol_words(part)
        into = [part.pins[pin] for pin in symbols.INTO.get(words, ()) if part.pins.get(pin) in found]
        out = [part.pins[pin] for pin in symbols.OUT_OF.get(words, ()) if part.pins.get(pin) in found]
        if words in ("NPN transistor", "PNP transistor"):
            out = [part.pins[pin] for pin in "ce" if part.pins.get(pin) in found and part.pins[pin] not in fixed]
        for exit_net in out:
            for net in into:
                if found[net] < found[exit_net] or net == exit_net:
                    continue
                driven = any(net in (p.pins.get(pin) for pin in symbols.OUT_OF.get(symbol_words(p), ())) for p in parts)
                others = [found[one] for one in into if one != net and found[one] < found[exit_net]]
                if not driven and others and net not in fixed:
                    found[net] = max(others)
                    moved = True
                elif found[net] >= found[exit_net] and exit_net not in fixed and found[net] < len(found):
                    found[exit_net] = found[net] + 1
                    moved = True
    return moved


def excerpt(machine: Machine, place: str) -> Sheet:
    """Only what lies within one or two steps of a place; KeyError when the machine has no such place."""
    whole, net = sheet(machine), machine.net_of(place)
    named = place.rpartition(".")[0]
    rows = [row for row in whole.rows if any(part.name == named for part in row.parts)]
    rows += [row for row in whole.rows if net in row.rank]
    rows += [row for row in whole.rows if any(net in part.pins.values() for part in row.parts)]
    row = rows[0]
    kept = [part for part in row.parts if part.name == named]
    kept += [part for part in row.parts if net in part.pins.values() and part not in kept]
    if len(kept) < FEW:
        near = {one for part in kept for one in part.pins.values() if one in row.rank}
        kept += [part for part in row.parts if part not in kept and near & set(part.pins.values())]
    kept = kept[:MANY]
    inside = {one for part in kept for one in part.pins.values()}
    rank = {one: at for one, at in row.rank.items() if one in inside}
    if net != GROUND and net not in rank:
        rank[net] = (min((at for at, _ in rank.values()), default=1) - 1, 0)
    rest = [part for part in machine.parts.values() if part not in kept]
    outside = frozenset(one for one in rank if any(one in part.pins.values() for part in rest))
    bare = frozenset(one for one in outside if one != net and sum(one in part.pins.values() for part in kept) == 1)
    return Sheet((replace(row, title="", parts=tuple(kept), rank=rank, outside=outside, bare=bare),), whole.high)


def folded(row: Row) -> tuple[Row, Row] | None:
    """The row in two, cut at the net nearest its middle whose two sides have nothing else in common; or None."""
    steps = sorted(at for at, _ in row.rank.values())
    if len(steps) < 4:
        return None
    middle = (steps[0] + steps[-1]) / 2
    for net in sorted(row.rank, key=lambda one: abs(row.rank[one][0] - middle)):
        halves = _cut(row, net)
        if halves is not None:
            return halves
    return None


def _cut(row: Row, net: str) -> tuple[Row, Row] | None:
    """What lies left and right of one net; None when a way leads round it, or one side is next to nothing."""
    group = {one: one for one in row.rank if one != net}

    def root(one: str) -> str:
        while group[one] != one:
            one = group[one]
        return one

    for part in row.parts:
        own = [one for one in part.pins.values() if one in group]
        for other in own[1:]:
            group[root(other)] = root(own[0])
    sides: dict[str, list[tuple[int, int]]] = {}
    for one in group:
        sides.setdefault(root(one), []).append(row.rank[one])
    right_roots = {one for one, ranks_of in sides.items() if min(ranks_of) > row.rank[net]}
    right = [p for p in row.parts if any(one in group and root(one) in right_roots for one in p.pins.values())]
    if len({row.rank[one][0] for one in group if root(one) in right_roots}) < 2 or len(right) < 2:
        return None
    left = [part for part in row.parts if part not in right]
    if len({row.rank[one][0] for p in left for one in p.pins.values() if one in group}) < 2:
        return None

    def half(title: str, parts: list[Part]) -> Row:
        rank = {one: at for one, at in row.rank.items() if any(one in part.pins.values() for part in parts)}
        return replace(row, title=title, parts=tuple(parts), rank=rank, outside=row.outside | {net})

    return half(row.title, left), half("", right)
