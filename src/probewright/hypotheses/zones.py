"""Zones: what lies in one, how much likelier that makes each kind of thing, and what a zone adds.

Whatever acted there acted on everything, so all of it rises together, by a factor a kind of thing: rows of
`data/zones.csv`. Nearness is told from the circuit, as for provocations: the file does not know where parts lie.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from probewright.hypotheses import Fault
from probewright.hypotheses.classes import class_of, kind_name
from probewright.hypotheses.priors import rows
from probewright.hypotheses.provoking import AT, FAR, distance_of
from probewright.machine.model import Machine, Part, Zone

TRACKS = ("track", "wire")
IN_ZONE = ".in_zone"  # a class that has the zone in its rate already


@dataclass(frozen=True)
class Raise:
    """How many times likelier, and why in words; 1.0 and "" outside every zone."""

    factor: float
    source: str


OUTSIDE = Raise(1.0, "")


def inside(machine: Machine, zone: Zone, item: str) -> bool:
    """Whether a part, joint, net or pair of places lies in a zone; a pair does when either end does."""
    far = [distance_of(machine, item, place) for place in zone.places]
    return any(one != FAR if zone.around else one == AT for one in far)


def parts_in(machine: Machine, zone: Zone) -> tuple[str, ...]:
    """The parts of a zone and the copper that its parts meet at, in the order of the file."""
    here = [name for name in machine.parts if inside(machine, zone, name)]
    nets = {net for name in here for net in machine.parts[name].pins.values()}
    near = {
        part.name
        for part in machine.parts.values()
        if kind_name(part) in TRACKS and nets & set(part.pins.values()) and zone.around
    }
    return tuple(name for name in machine.parts if name in near or name in here)


def raised(machine: Machine, fault: Fault) -> Raise:
    """How much likelier the zones of the machine make a fault: by the strongest, for they are one cause each."""
    found = [_by_zone(machine, zone, fault) for zone in machine.zones]
    return max(found, key=lambda one: one.factor, default=OUTSIDE)


def _by_zone(machine: Machine, zone: Zone, fault: Fault) -> Raise:
    what = what_of(machine, fault)
    if not what or not inside(machine, zone, fault.item):
        return OUTSIDE
    row = _factors()[zone.kind, what]
    return Raise(float(row["factor"]), f"in a zone ({zone.kind}), x{row['factor']}: {row['reason']} ({row['source']})")


@cache
def _factors() -> Mapping[tuple[str, str], dict[str, str]]:
    return {(row["zone"], row["what"]): row for row in rows("zones")}


def what_of(machine: Machine, fault: Fault) -> str:
    """What has gone wrong: a "track", "joint", "part" or something "between"; "" where its rate has the zone in it."""
    part = machine.parts.get(fault.item)
    if part is not None and kind_name(part) in TRACKS:
        return "" if class_of(part).endswith(IN_ZONE) else "track"
    if "~" in fault.item or " on " in fault.item or fault.item in machine.nets and part is None:
        return "between"
    return "joint" if fault.mode.startswith("joint-") else "part"


@cache
def neighbour_pins() -> Mapping[str, tuple[tuple[str, str], ...]]:
    """Kind -> pairs of pins side by side on the case."""
    found: dict[str, tuple[tuple[str, str], ...]] = {}
    for row in rows("neighbours"):
        found[row["kind"]] = (*found.get(row["kind"], ()), (row["a"], row["b"]))
    return found


def beside(part: Part) -> Iterator[tuple[str, str]]:
    """Pins of a part side by side, on two nets: as on its case, in the order of the kind where that is unknown."""
    pairs = neighbour_pins().get(kind_name(part)) or tuple(pairwise(part.pins))
    for a, b in pairs:
        nets = part.pins[a], part.pins[b]
        if nets[0] != nets[1] and not any(net.startswith("nc") for net in nets):
            yield a, b


def surfaces(machine: Machine) -> Iterator[tuple[str, str]]:
    """Neighbouring pins of every part in a zone that are on two nets: the board between them; each pair once."""
    for part in machine.parts.values():
        if kind_name(part) not in TRACKS and any(inside(machine, zone, part.name) for zone in machine.zones):
            for a, b in beside(part):
                yield f"{part.name}.{a}", f"{part.name}.{b}"


def shared(machine: Machine, one: Fault, other: Fault) -> Zone | None:
    """The zone that two faults have in common; None when they have none."""
    both = (zone for zone in machine.zones if all(inside(machine, zone, fault.item) for fault in (one, other)))
    return next(both, None)
