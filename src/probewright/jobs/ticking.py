"""The check-every-net list of a zone: every net, joint and piece of copper in it, with its healthy figure.

Whatever opened one of them may have opened several, so all are looked at, whatever is likely.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from probewright.hypotheses.classes import joined_pins, joint_class_of, kind_name
from probewright.hypotheses.earlier import EARLIER_WORK, touched
from probewright.hypotheses.zones import TRACKS, inside, parts_in
from probewright.inference.belief import weigh
from probewright.jobs.bench import machine_of, placed_zones
from probewright.jobs.case_view import TickView, ZoneListView, ZonesView
from probewright.jobs.cases import Case
from probewright.jobs.files import healthy_laws
from probewright.jobs.view import RangeView
from probewright.machine import Machine
from probewright.machine.model import GROUND, Zone
from probewright.planning.danger import deadly, off_limits
from probewright.planning.reach import is_closed
from probewright.prediction.circuit_laws import Laws
from probewright.readings import Question, Setup, setups
from probewright.readings.zoning import say

OFF, ON = Setup(power="off"), Setup()
SOUND = RangeView(0.0, 1.0, "ohm")  # chosen: what a sound joint or track shows, leads of the meter and all


def zones_of(case: Case) -> ZonesView:
    """Every zone of the job and of its machine file, each with its list; without a file there is nothing to check."""
    machine = machine_of(case)
    if machine is None:
        lists = tuple(ZoneListView(one.kind, say(one), one.places, (), (), ()) for one in case.zones)
        return ZonesView(case.number, "", lists)
    placed = list(placed_zones(case, machine))
    unknown = {zone: names for zone, names in placed if zone is not None}
    laws = healthy_laws(machine)
    alone = off_limits(machine)
    if not case.kit.trained:
        alone |= deadly(weigh(laws, (), rough=False), ON, [net for net in machine.nets if not net.startswith("nc")])
    at = _Bench(machine, laws, _read_at(case, machine), alone)
    lists = tuple(_list(at, zone, unknown.get(zone, ())) for zone in machine.zones)
    nowhere = tuple(
        ZoneListView(said.kind, say(said), (), (), names, ())
        for said, (zone, names) in zip(case.zones, placed, strict=True)
        if zone is None
    )
    return ZonesView(case.number, setups.say(ON, machine), (*lists, *nowhere))


@dataclass(frozen=True)
class _Bench:
    """What the list is worked out with. read: pairs of places between which something was read already; alone: nets
    that are not read with power on."""

    machine: Machine
    laws: Laws
    read: set[frozenset[str]]
    alone: set[str]

    def healthy(self, ask: Question, unit: str) -> RangeView | None:
        """What healthy machines read; None where levels are known as ratios only, or nothing was found."""
        if self.laws.model.unknown:
            return None
        low, _, high = self.laws.healthy(ask)
        return None if math.isnan(low) or math.isnan(high) else RangeView(low, high, unit)

    def done(self, *pairs: tuple[str, str]) -> bool:
        """Whether something was read between any of these."""
        return any(frozenset(one) in self.read for one in pairs)


def _list(at: _Bench, zone: Zone, unknown: tuple[str, ...]) -> ZoneListView:
    machine, parts = at.machine, parts_in(at.machine, zone)
    hands = tuple(name for name in touched(machine) if name in parts) if zone.kind == EARLIER_WORK else ()
    checks = [_net(at, net) for net in _nets(machine, zone, parts)]
    checks += [_track(at, name) for name in parts if kind_name(machine.parts[name]) in TRACKS]
    checks += [_joint(at, place) for place in _joints(machine, zone)]
    checks = [one for one in checks if not is_closed(machine, Question("ohms", one.red, one.black))]
    return ZoneListView(zone.kind, say(zone), parts, hands, unknown, tuple(checks))


def _nets(machine: Machine, zone: Zone, parts: tuple[str, ...]) -> Iterator[str]:
    """Nets of the zone's parts but ground; of those round the places named, only what lies there itself."""
    named = {net for name in parts for net in machine.parts[name].pins.values() if inside(machine, zone, name)}
    for net in machine.nets:
        here = net in named if not zone.around else inside(machine, zone, net)
        if here and net != GROUND and not net.startswith("nc"):
            yield net


def _joints(machine: Machine, zone: Zone) -> Iterator[str]:
    for part in machine.parts.values():
        for pin in joined_pins(part) if joint_class_of(part) else ():
            if len(machine.pins_on(part.pins[pin])) > 1 and inside(machine, zone, f"{part.name}.{pin}"):
                yield f"{part.name}.{pin}"


def _net(at: _Bench, net: str) -> TickView:
    """A net with its ohms, and its volts unless it is left alone while live."""
    ohms = at.healthy(Question("ohms", net, GROUND, OFF), "ohm")
    volts = None if net in at.alone else at.healthy(Question("dc", net, GROUND, ON), "V")
    return TickView("net", net, net, GROUND, ohms, volts, at.done((net, GROUND)))


def _joint(at: _Bench, place: str) -> TickView:
    net = at.machine.net_of(place)
    return TickView("joint", place, place, net, SOUND, None, at.done((place, net)))


def _track(at: _Bench, name: str) -> TickView:
    red, black = (f"{name}.{pin}" for pin in at.machine.parts[name].pins)
    done = at.done((red, black), (at.machine.net_of(red), at.machine.net_of(black)))
    return TickView("track", name, red, black, SOUND, None, done)


def _read_at(case: Case, machine: Machine) -> set[frozenset[str]]:
    """Pairs of places, on the names of the file, between which something was read."""
    names = case.known.names if case.known else {}
    found: set[frozenset[str]] = set()
    for reading in case.readings:
        red, black = (names.get(place, place) for place in (reading.question.red, reading.question.black))
        if reading.question.instrument in CHECKING and machine.has_place(red) and machine.has_place(black):
            found |= {frozenset((red, black))}
    return found


CHECKING = ("ohms", "beep", "dc")  # readings that tick a net, joint or track
FITTED = {"yes": "added", "unknown": "perhaps added", "no": "not fitted"}  # words for an owner's board


def noted(machine: Machine) -> dict[str, tuple[tuple[str, str], ...]]:
    """Part -> what is known of it besides: ("zone", "leak"), ("touched", "touched"), ("added", "added")."""
    found: dict[str, list[tuple[str, str]]] = {}
    for zone in machine.zones:
        for name in parts_in(machine, zone) if zone.kind != EARLIER_WORK else ():
            if ("zone", zone.kind) not in found.setdefault(name, []):
                found[name].append(("zone", zone.kind))
    for name in touched(machine):
        found.setdefault(name, []).append(("touched", "touched"))
    for board in machine.added_boards:
        for name in board.parts:
            found.setdefault(name, []).append(("added", FITTED[board.fitted]))
    return {name: tuple(said) for name, said in found.items()}
