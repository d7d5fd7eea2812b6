"""How a provocation acts on a fault: by what kind of thing has gone wrong, and how near it was done.

Whether the board was tapped, bent, pressed, warmed, chilled or only probed; the chances are rows of
`data/provocations.csv`, how far each reaches of `data/provocation_reach.csv`, and which mode is what
kind of thing of `data/provoked_modes.csv`. Near means near in the circuit: the file does not know
where parts lie, and parts that share a small net mostly lie together.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from probewright.hypotheses import NOT_LISTED, Fault, Suspect
from probewright.hypotheses.classes import class_of, kind_name
from probewright.hypotheses.modes import units_in
from probewright.hypotheses.priors import rows
from probewright.machine.model import GROUND, Machine, Part

AT, NEAR, FAR = "at", "near", "far"
AROUND = "near "  # a zone: the place behind this word and what lies round it
LOCAL_PINS = 6  # chosen: a net of more pins is a rail or a bus, and runs all over the board
UNKNOWN_REACTS, UNKNOWN_COMES = 0.3, 0.5  # chosen: what is not listed may be anything, anywhere


@dataclass(frozen=True)
class Reaction:
    """chance: of the fault answering to a provocation at all; comes: share of those answers that bring it on."""

    chance: float
    comes: float


def reaction(machine: Machine, suspect: Suspect, how: str, place: str) -> Reaction:
    """How this suspect answers to a provocation of this place, the fault that answers most.

    place: a part, a case, a pin, a net, or "near " and one of them; KeyError for what the machine does
    not have, and for a provocation without rows.
    """
    if suspect.id == NOT_LISTED:
        return Reaction(UNKNOWN_REACTS, UNKNOWN_COMES)
    found = [_of_fault(machine, fault, how, place) for fault in suspect.faults]
    return max(found, key=lambda one: one.chance, default=Reaction(0.0, 0.5))


def _of_fault(machine: Machine, fault: Fault, how: str, place: str) -> Reaction:
    row, reach = _acts()[how, acts_on(machine, fault)], _reach()[how]
    around = place.startswith(AROUND)
    distance = distance_of(machine, fault.item, place.removeprefix(AROUND))
    if around:  # somewhere there: the place itself is no likelier than what lies round it
        factor = float(reach["far" if distance == FAR else "around"])
    else:
        factor = 1.0 if distance == AT else float(reach[distance])
    return Reaction(float(row["reacts"]) * factor, float(row["comes"]))


@cache
def _acts() -> dict[tuple[str, str], dict[str, str]]:
    return {(row["how"], row["acts_on"]): row for row in rows("provocations")}


@cache
def _reach() -> dict[str, dict[str, str]]:
    return {row["how"]: row for row in rows("provocation_reach")}


def acts_on(machine: Machine, fault: Fault) -> str:
    """What kind of thing has gone wrong: "contact", "touching", "semiconductor", "electrolytic" or "other"."""
    parts = _parts_of(machine, fault.item)
    part_class = class_of(parts[0]) if parts else ""
    return next(
        row["acts_on"]
        for row in rows("provoked_modes")
        if row["mode"] in ("", fault.mode) and part_class.startswith(row["class"])
    )


# Where ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Touched:
    """What an item is made of: whole parts, single pins ("C4.1") and nets."""

    parts: frozenset[str]
    pins: frozenset[str]
    nets: frozenset[str]


def distance_of(machine: Machine, item: str, place: str) -> str:
    """AT, NEAR or FAR: how far a fault's item is from a place, along the circuit. KeyError for an unknown place."""
    here, there = _touched(machine, item), _touched(machine, place)
    if not (there.parts or there.pins or there.nets):
        raise KeyError(place)
    if _is_at(machine, here, there):
        return AT
    mine, theirs = _owners(here), _owners(there)
    shared = _local(machine, _nets(machine, here)) & _local(machine, _nets(machine, there))
    return NEAR if mine & theirs or shared else FAR


def _is_at(machine: Machine, here: Touched, there: Touched) -> bool:
    """The item is the place, lies in it, or hangs on it: a joint is in its part, and on its net."""
    if there.parts:
        return bool(_owners(here) & there.parts)
    if there.pins:
        return bool(here.pins & there.pins or here.parts & _owners(there))
    on_it = {f"{part}.{pin}" for net in there.nets for part, pin in machine.pins_on(net)}
    return bool(here.nets & there.nets or here.pins & on_it)


def _owners(one: Touched) -> frozenset[str]:
    return one.parts | {pin.rpartition(".")[0] for pin in one.pins}


def _nets(machine: Machine, one: Touched) -> set[str]:
    of_pins = {machine.net_of(pin) for pin in one.pins}
    return {*one.nets, *of_pins, *(net for name in one.parts for net in machine.parts[name].pins.values())}


def _local(machine: Machine, nets: Iterable[str]) -> set[str]:
    return {net for net in nets if net != GROUND and not _is_wide(machine, net)}


def _is_wide(machine: Machine, net: str) -> bool:
    """Whether a net runs all over the board: it has many pins, or a source feeds it."""
    pins = machine.pins_on(net)
    return len(pins) > LOCAL_PINS or any(kind_name(machine.parts[part]) == "source" for part, _ in pins)


def _parts_of(machine: Machine, item: str) -> tuple[Part, ...]:
    """The part, or the units of the case, of this name or behind the joint of this name."""
    for name in (item, item.rpartition(".")[0]):
        if found := ((machine.parts[name],) if name in machine.parts else units_in(machine, name)):
            return found
    return ()


def _touched(machine: Machine, item: str) -> Touched:
    """Taken apart: "C12", "C12.1", "U1.out~U1.minus", "OUT", "radio on OUT"; empty when nothing of it is known."""
    pins: set[str] = set()
    nets: set[str] = set()
    for end in item.rpartition(" on ")[2].split("~"):
        if end in machine.points:
            end = machine.points[end].place
        if end in machine.nets:
            nets.add(end)
        elif whole := ((machine.parts[end],) if end in machine.parts else units_in(machine, end)):
            return Touched(frozenset(part.name for part in whole), frozenset(), frozenset())
        else:
            name, _, pin = end.rpartition(".")
            pins |= {f"{part.name}.{pin}" for part in _parts_of(machine, name) if pin in part.pins}
    return Touched(frozenset(), frozenset(pins), frozenset(nets))
