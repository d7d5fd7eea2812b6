"""What to look at after each layer of a machine is back, before the next one hides it: from a table of the trade."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from probewright.machine import Machine
from probewright.machine.layers import Layer, Loose
from probewright.machine.model import GROUND, SINKS, Part
from probewright.machine.opening import cooled
from probewright.planning.tables import rows
from probewright.units import with_capital

BOARD = re.compile(r"\b(?:board|pcb|module|card)s?\b", re.IGNORECASE)
CASE = re.compile(r"\b(?:lid|cover|case|back|top|bottom|cabinet|shell|half|halves|panel)s?\b", re.IGNORECASE)
# the metal tab of a part in a TO-220, TO-126 or TO-3 case, from memory of its data sheets
TABS: Mapping[str, str] = {
    "regulator": "com", "adjustable-regulator": "out", "negative-regulator": "in",
    "negative-adjustable-regulator": "in", "npn": "c", "pnp": "c", "n-mosfet": "d", "p-mosfet": "d",
}  # fmt: skip


@dataclass(frozen=True)
class Retest:
    """Something to look at. key: stays the same for the same layer, and holds no word that a person typed, so that it
    can stand in the record; says: what, and what it should be; power: "off" or "on"."""

    key: str
    says: str
    power: str = "off"


def retests(layer: Layer, machine: Machine | None, rails: Mapping[str, str]) -> tuple[Retest, ...]:
    """What to look at once a layer is back, in its order. rails: net -> its ohms to ground as read before, "" where
    nobody read them."""
    own = (Retest(f"own {number}", words) for number, words in enumerate(layer.checks, 1))
    return (*own, *_of_loose(layer, machine), *_of_name(layer, machine, rails))


def _of_loose(layer: Layer, machine: Machine | None) -> Iterator[Retest]:
    for number, part in enumerate(uncooled(layer, machine), 1):
        about = part if machine is not None and _is_named(part, machine) else str(number)
        for row in _rows("heatsink"):
            yield _retest(row, about, what=f"Heatsink of {part}", part=part, tab=_tab(part, machine))
    for number, one in enumerate(layer.of("screen", "earth"), 1):
        for row in _rows(one.sort):
            yield _retest(row, str(number), what=with_capital(one.says))
    for number, one in enumerate(layer.of("cable"), 1):
        contacts = _contacts(one.name, machine)
        for row in _rows("cable"):
            if contacts or "{contacts}" not in row["says"]:
                yield _retest(row, str(number), what=_called(one), part=one.name, contacts=contacts)


def _called(cable: Loose) -> str:
    """ "Ribbon J3", or all that was said where it has no name."""
    words = cable.says.split(cable.name)[0] + cable.name if cable.name else cable.says
    return with_capital(words)


def _of_name(layer: Layer, machine: Machine | None, rails: Mapping[str, str]) -> Iterator[Retest]:
    what = with_capital(layer.name)
    if BOARD.search(layer.name):
        for row in _rows("board"):
            if "{net}" not in row["says"]:
                yield _retest(row, what=what)
        row = next(row for row in _rows("board") if "{net}" in row["says"])
        for net, before in rails.items():
            told = f"{before} as before" if before else "nobody read it before; no short, and the same at every layer"
            yield _retest(row, net, net=net, before=told)
    elif CASE.search(layer.name):
        yield from map(_retest, _rows("case"))


def uncooled(layer: Layer, machine: Machine | None) -> tuple[str, ...]:
    """Parts that lose what cools them with this layer: those it names, and those the file puts on such a sink."""
    heat = machine.heat if machine is not None else {}
    found: list[str] = []
    for word in cooled(layer):
        on_it = [part for part, one in heat.items() if one.sink == word or (word == "heatsink" and not one.sink)]
        found += on_it if word in SINKS else [_called_in(word, machine)]
    return tuple(dict.fromkeys(found))


def _called_in(part: str, machine: Machine | None) -> str:
    """A part or case as the machine file writes it, whatever capitals it was said in; as said where it knows none."""
    parts = machine.parts.values() if machine is not None else ()
    names = (name for one in parts for name in (one.name, one.package))
    return next((name for name in names if name.casefold() == part.casefold()), part.upper() if not parts else part)


def _is_named(part: str, machine: Machine) -> bool:
    """Whether the machine file knows a part or case of this name."""
    return any(part in (one.name, one.package) for one in machine.parts.values())


def _tab(part: str, machine: Machine | None) -> str:
    """Which net the metal of a part is on, in words to be put behind a check; "" where nobody knows."""
    known = machine.parts.get(part) if machine is not None else None
    pin = TABS.get(known.kind, "") if isinstance(known, Part) else ""
    if known is None or not pin:
        return ""
    net = known.pins[pin]
    return f"; its tab is {pin}, on {net}" + (", so it may beep" if net == GROUND else "")


def _contacts(connector: str, machine: Machine | None) -> str:
    """Pairs of nets that a connector joins: "SUP to VIN"; "" where the file has none of that name."""
    parts = machine.parts.values() if machine is not None else ()
    mine = [
        one for one in parts if connector and re.fullmatch(rf"{re.escape(connector)}(?:-\d+)?", one.name, re.IGNORECASE)
    ]
    pairs = [tuple(one.pins.values()) for one in mine if len(one.pins) == 2]
    return ", ".join(f"{a} to {b}" for a, b in pairs)


def _retest(row: Mapping[str, str], about: str = "", **words: str) -> Retest:
    """about: which of several in a layer: a name of the machine file, else a running number."""
    return Retest(f"{row['after']} {row['key']} {about}".rstrip(), row["says"].format(**words), row["power"])


def _rows(after: str) -> tuple[dict[str, str], ...]:
    return tuple(row for row in rows("retests") if row["after"] == after)
