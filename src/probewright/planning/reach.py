"""How a probe gets to a place: from which side of the board, how finely, and where none is put, by what a machine file
says under `points:`."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from probewright.machine import Machine
from probewright.machine.model import GROUND, Point
from probewright.readings import Question, Reading, is_live
from probewright.readings.boards import BOTTOM, OUT, TOP
from probewright.readings.instruments import METERED

SIDE = re.compile(r"\b(?:(top|component|parts|front|upper)|(bottom|solder|foil|copper|back|lower|under|underside))\b")
EASIEST = ("easy", "", "fine probe", "solder side", "board out", "no go")  # words for the ease of a point, in order
PROBED = (*METERED, "share", "beep")  # read with a probe: the bench is left as they need it


@dataclass(frozen=True)
class Reach:
    """side: TOP, BOTTOM or OUT, "" where any will do; fine: a fine probe, for what is close beside; near: places that a
    slip would join it to; closed: no probe is put there."""

    side: str = ""
    fine: bool = False
    near: tuple[str, ...] = ()
    closed: bool = False


def reach(machine: Machine, place: str) -> Reach:
    """How a probe gets to a net or a pin. A net is read at the easiest of the named points on it; what nobody said of a
    point or a pin is as it was said of its whole net."""
    net = machine.net_of(place)
    if not machine.points or net == GROUND:
        return Reach()
    on_it = machine.points_on(net)
    whole = _of_point(next((one for one in on_it if one.name == net), Point(net, net)))
    if place != net:
        own = next((one for one in on_it if one.place == place), None)
        return whole if own is None else _filled(_of_point(own), own, whole)
    named = [one for one in on_it if one.name != one.place]
    if not named:
        return whole
    best = min(named, key=lambda one: EASIEST.index(one.ease))
    return _filled(_of_point(best), replace(best, ease=best.ease or "easy"), whole)


def _filled(mine: Reach, point: Point, whole: Reach) -> Reach:
    """What was said of a point, filled up with what was said of its net; of a point with an ease the net's does not
    count."""
    near = tuple(dict.fromkeys((*mine.near, *whole.near)))
    if point.ease:
        return replace(mine, near=near)
    return Reach(mine.side or whole.side, whole.fine, near, whole.closed)


def _of_point(point: Point) -> Reach:
    return Reach(_side(point), point.ease == "fine probe", point.near, point.ease == "no go")


def _side(point: Point) -> str:
    """Of the board, as its point says it; the first word that names one counts."""
    if point.ease == "board out":
        return OUT
    said = SIDE.search(point.side.casefold())
    if point.ease == "solder side" or said is not None and said[2]:
        return BOTTOM
    return TOP if said is not None else ""


def closed_nets(machine: Machine) -> set[str]:
    """Nets that no probe is put on."""
    return {net for net in machine.nets if reach(machine, net).closed}


def side_of(machine: Machine, ask: Question) -> str:
    """The side of the board that this machine is read from for a question: TOP, BOTTOM or OUT, "" where any will do."""
    if ask.setup.sister:
        return ""
    sides = [one.side for one in _reached(machine, ask)]
    return next((one for one in (OUT, BOTTOM, TOP) if one in sides), "")


def side_up(machine: Machine, readings: Sequence[Reading], side: str = TOP) -> str:
    """The side of the board that lies up after these readings; side: that before them, at first that of its parts."""
    for reading in readings:
        side = lies(side, side_of(machine, reading.question))
    return side


def lies(now: str, side: str) -> str:
    """The side of the board that lies up once a place of this side was read: a board that is out stays out, and where
    any side will do, it stays as it is."""
    return now if now == OUT or not side else side


def is_closed(machine: Machine, ask: Question) -> bool:
    """A probe would have to be put where none is."""
    return any(one.closed for one in _reached(machine, ask))


def slips(machine: Machine, ask: Question) -> bool:
    """A live probe that slips at one of its places does harm."""
    return is_live(ask.setup) and any(one.fine or one.near for one in _reached(machine, ask))


def needs_fine(machine: Machine, ask: Question) -> bool:
    """A live probe on one of its places has to be a fine one."""
    return is_live(ask.setup) and any(one.fine for one in _reached(machine, ask))


def neighbours(machine: Machine, ask: Question) -> tuple[str, ...]:
    """What a slip would join the places of a question to, without these themselves."""
    found = (one for reached in _reached(machine, ask) for one in reached.near)
    return tuple(dict.fromkeys(one for one in found if one not in (ask.red, ask.black)))


def _reached(machine: Machine, ask: Question) -> tuple[Reach, ...]:
    """How its probes get to their places; nothing where a file says nothing of any point, or nothing is probed."""
    if not machine.points or ask.instrument not in PROBED:
        return ()
    return tuple(reach(machine, one) for one in (ask.red, ask.black) if machine.has_place(one))
