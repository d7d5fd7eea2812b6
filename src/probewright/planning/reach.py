"""How a probe gets to a place: from which side of the board, how finely, and where none is put, by what a machine file
says under `points:`."""

from __future__ import annotations

from dataclasses import dataclass

from probewright.machine import Machine
from probewright.machine.model import GROUND, Point
from probewright.readings import Question

TOP, BOTTOM, OUT = "top", "bottom", "out"  # the side of the board that lies up; OUT: it is out, both are at hand
EASIEST = ("easy", "", "fine probe", "solder side", "board out", "no go")  # words for the ease of a point, in order
BELOW = ("bottom", "solder", "back", "under", "foil", "copper")  # chosen: what the far side of a board is called
ABOVE = ("top", "component", "front", "upper", "parts")  # chosen: and the near one


@dataclass(frozen=True)
class Reach:
    """side: TOP, BOTTOM or OUT, "" where nobody said; fine: a fine probe, for what is close beside; near: places that a
    slip would join it to; closed: no probe is put there."""

    side: str = ""
    fine: bool = False
    near: tuple[str, ...] = ()
    closed: bool = False

    @property
    def slips(self) -> bool:
        """A probe that slips does harm here while the power is on."""
        return self.fine or bool(self.near)


def reach(machine: Machine, place: str) -> Reach:
    """How a probe gets to a net or a pin. A net is read at the easiest of the points on it; a pin of which nothing is
    said is reached as what is said of its whole net."""
    if place == GROUND:
        return Reach()
    net = machine.net_of(place)
    on_it = [one for one in machine.points.values() if machine.net_of(one.place) == net]
    mine = [one for one in on_it if one.place == place or (place == net and one.name != one.place)]
    if not mine and place != net:
        whole = [_of_point(one) for one in on_it if one.name == net]
        return Reach(whole[0].side, closed=whole[0].closed) if whole else Reach()
    return _of_point(min(mine, key=lambda one: EASIEST.index(one.ease))) if mine else Reach()


def _of_point(point: Point) -> Reach:
    return Reach(_side(point), point.ease == "fine probe", point.near, point.ease == "no go")


def _side(point: Point) -> str:
    """Of the board, as its point says it."""
    said = point.side.casefold()
    if point.ease == "board out":
        return OUT
    if point.ease == "solder side" or any(word in said for word in BELOW):
        return BOTTOM
    return TOP if any(word in said for word in ABOVE) else ""


def closed_nets(machine: Machine) -> set[str]:
    """Nets that no probe is put on."""
    return {net for net in machine.nets if machine.points and reach(machine, net).closed}


def side_of(machine: Machine, ask: Question) -> str:
    """The side of the board that a question is read from: TOP, BOTTOM or OUT, "" where nobody said."""
    sides = [reach(machine, place).side for place in _places(machine, ask)]
    return next((one for one in (OUT, BOTTOM, TOP) if one in sides), "")


def is_closed(machine: Machine, ask: Question) -> bool:
    """A probe would have to be put where none is."""
    return any(reach(machine, place).closed for place in _places(machine, ask))


def slips(machine: Machine, ask: Question) -> bool:
    """A live probe that slips at one of its places does harm."""
    return ask.setup.power == "on" and any(reach(machine, place).slips for place in _places(machine, ask))


def neighbours(machine: Machine, ask: Question) -> tuple[str, ...]:
    """What a slip would join the places of a question to, without these themselves."""
    places = _places(machine, ask)
    return tuple(dict.fromkeys(one for place in places for one in reach(machine, place).near if one not in places))


def lies(now: str, side: str) -> str:
    """The side of the board that lies up once a place of this side was read: a board that is out stays out, and where
    nobody said from which side, it stays as it is."""
    return now if now == OUT or not side else side


def _places(machine: Machine, ask: Question) -> tuple[str, ...]:
    """Where its probes go, of those that the machine has; none where its file says nothing of any point."""
    return tuple(one for one in (ask.red, ask.black) if machine.points and machine.has_place(one))
