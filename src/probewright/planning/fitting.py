"""Taking a part out and putting another in: the steps for its package and its board, from tables of the trade, and what
its pins have to be joined to afterwards.

Of the circuit no more is known here than its nets: a pin and the next part on its net have next to no ohms between
them, and pins side by side on two nets do not beep.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from probewright.hypotheses.zones import beside
from probewright.machine import Machine
from probewright.machine.kinds import KINDS
from probewright.machine.model import Part
from probewright.machine.packages import usual_package
from probewright.planning.deciding import VISITS, removal
from probewright.planning.tables import rows

BEEPS = 50.0  # ohm, chosen: a meter's beeper sounds below 20 to 70, common practice, no source
NEXT_PARTS = 3  # chosen: as many next parts of a pin as a hand tries
CONDUCTORS = ("contact", "lead", "fuse", "switch", "wire", "track", "inductor", "connector")  # a beeper sounds through
SINGLE, DOUBLE, MULTI = "single-sided paper", "double-sided plated", "multi-layer"
EITHER_WAY = ("axial", "radial", "chip")  # packages that do not tell by themselves which way round they go
UNITS_PINS: Mapping[int, int] = {1: 8, 2: 8, 3: 14, 4: 14, 6: 14}  # units of a case -> its pins, usual, from memory


@dataclass(frozen=True)
class Package:
    """The case of a part. mount: "through" or "smd"; pins: how many; chip: static harms it; round: which way it is, ""
    where that does not matter."""

    name: str
    mount: str
    pins: int
    chip: bool
    round: str


@dataclass(frozen=True)
class FitStep:
    """A step of the work. phase: "before", "out", "clear", "in" or "after"."""

    key: str
    phase: str
    says: str


@dataclass(frozen=True)
class PinCheck:
    """A pin, and what it has to beep to. to: the next parts on its net; more: parts beyond those."""

    pin: str
    net: str
    to: tuple[str, ...]
    more: int = 0


@dataclass(frozen=True)
class Apart:
    """Two pins side by side that must not beep. through: the part of few ohms by which they may, "" for none."""

    pins: tuple[str, str]
    through: str = ""


@dataclass(frozen=True)
class Risk:
    """What it takes and what it harms. minutes: of the work; damage: chance that pads lift; heating: which it is, from
    1; says: a warning, "" where none is due."""

    minutes: float
    damage: float
    heating: int
    says: str


# Packages and boards -------------------------------------------------------------------------


def package(said: str, pins: int = 0) -> Package | None:
    """The package of a name: "DIP-16", "dil 16", "TO-220", "0805"; None for one that no table has. pins: where the name
    has none."""
    words = " ".join(said.casefold().replace("_", " ").split())
    for row in rows("fit_packages"):
        for name in (row["package"].casefold(), *row["also"].split("|")):
            found = re.fullmatch(rf"{re.escape(name)}[ -]?(\d{{1,3}})?(?:[ -]?pins?)?", words)
            if words == name or found:
                number = int((found[1] if found else "") or pins or row["pins"] or 0)
                return (
                    Package(row["package"], row["mount"], number, row["chip"] == "yes", row["round"])
                    if number
                    else None
                )
    return None


def packages() -> tuple[str, ...]:
    """Names of the packages, one with an example of its pins where it has several sizes."""
    return tuple(row["package"] if row["pins"] else f"{row['package']}-16" for row in rows("fit_packages"))


def board(said: str) -> str:
    """The kind of board meant; "" for one that no table has."""
    words = " ".join(said.casefold().split())
    return next((r["board"] for r in rows("fit_boards") if words in (r["board"], *r["also"].split("|"))), "")


def boards() -> tuple[str, ...]:
    """Kinds of board."""
    return tuple(row["board"] for row in rows("fit_boards"))


def usual(parts: Sequence[Part]) -> Package:
    """The package a part most probably comes in, where nobody says; all units of its case are handed in."""
    one, units = parts[0], len(parts)
    pins = {f"{part.name}.{pin}" for part in parts for pin in part.pins}
    if one.package or "vplus" in one.pins:
        name, number = "DIP", max(UNITS_PINS.get(units, 16), 8)
    elif one.kind in ("contact", "switch", "jack"):
        name, number = "connector", max(len(pins), 2)
    elif "regulator" in one.kind or one.kind in ("npn", "pnp") or one.kind.endswith(("fet",)):
        name, number = usual_package(one), len(one.pins)
    elif one.kind == "network":
        name, number = "SIL", sum(not net.startswith("nc") for net in one.pins.values())
    elif len(one.pins) == 2:
        name, number = ("radial" if one.kind == "capacitor" else "axial"), 2
    else:
        name, number = "connector", len(one.pins)
    found = package(name, number)
    assert found is not None  # every name above is one of the table
    return found


def fits_either_way(case: Package, parts: Sequence[Part]) -> bool:
    """Whether it does not matter which way round the parts of this case are: two legs, and no polarity."""
    return case.name in EITHER_WAY and all(len(one.pins) == 2 and not KINDS[one.kind].polar for one in parts)


# The work ------------------------------------------------------------------------------------


def steps(case: Package, on: str, condemned: bool) -> tuple[FitStep, ...]:
    """The steps in their order. on: kind of board; condemned: the part is given up, so its legs may be cut."""
    part = "condemned" if condemned else "kept"
    return tuple(
        FitStep(row["key"], row["phase"], row["says"].format(round=case.round)) for row in rows("fit_steps")
        if _meant(row["where"], case) and _among(row["board"], on) and _among(row["part"], part)
        and (case.round or "{round}" not in row["says"])
    )  # fmt: skip


def cares(case: Package, on: str) -> tuple[str, ...]:
    """What to mind all the while, the board's own first."""
    own = [row["says"] for row in rows("fit_boards") if row["board"] == on]
    return (*own, *(row["says"] for row in rows("fit_cares") if _meant(row["where"], case)))


def risk(pins: int, heatings: int) -> Risk:
    """What the next removal takes and harms. heatings: how often its pads were hot before."""
    heating = heatings + 1
    hours, damage = removal(pins, heating)
    warning = ""
    if heating >= VISITS:
        warning = f"{ordinal(heating)} heating of these pads: lifts are likely, use a socket or wire"
    return Risk(60.0 * hours, damage, heating, warning)


def ordinal(number: int) -> str:
    """ "Third", "11th"."""
    words = ("", "First", "Second", "Third", "Fourth", "Fifth", "Sixth")
    return words[number] if number < len(words) else f"{number}th"


def _meant(where: str, case: Package) -> bool:
    """Whether a row is meant for this package: by name, by how it is mounted, or as what static harms."""
    return where == "any" or bool({case.name, case.mount, "static" if case.chip else ""} & set(where.split("|")))


def _among(listed: str, one: str) -> bool:
    return listed == "any" or one in listed.split("|")


# The pins ------------------------------------------------------------------------------------


def pin_checks(machine: Machine, parts: Sequence[Part]) -> tuple[PinCheck, ...]:
    """Every pin that leads anywhere, with the next parts on its net, those near by first; shared pins once."""
    found: dict[str, PinCheck] = {}
    for part in parts:
        for pin, net in part.pins.items():
            to = _next(machine, net, parts)
            if to and not net.startswith("nc"):
                place = _place(part, pin, parts)
                found.setdefault(place, PinCheck(place, net, to[:NEXT_PARTS], len(to[NEXT_PARTS:])))
    return tuple(found.values())


def _next(machine: Machine, net: str, parts: Sequence[Part]) -> tuple[str, ...]:
    """Pins of other parts on a net: of the same section first, what hangs outside the machine last."""
    mine = {part.name for part in parts}
    others = [(machine.parts[name], pin) for name, pin in machine.pins_on(net) if name not in mine]
    others.sort(key=lambda one: (one[0].role != "part", one[0].section != parts[0].section))
    return tuple(dict.fromkeys(_place(part, pin, _case_of(machine, part)) for part, pin in others))


def _case_of(machine: Machine, part: Part) -> tuple[Part, ...]:
    """All units of a part's case."""
    return tuple(one for one in machine.parts.values() if part.package and one.package == part.package) or (part,)


def _place(part: Part, pin: str, parts: Sequence[Part]) -> str:
    """A pin by the name of its unit, or of the case where all units have it in common."""
    shared = len(parts) > 1 and len({one.pins.get(pin) for one in parts}) == 1
    return f"{part.package or part.name}.{pin}" if shared else f"{part.name}.{pin}"


def aparts(machine: Machine, parts: Sequence[Part]) -> tuple[Apart, ...]:
    """Pins side by side on two nets, by the usual order of pins, and what may make them beep all the same; what has two
    leads has none side by side."""
    return tuple(
        Apart((_place(part, a, parts), _place(part, b, parts)), _joined(machine, part.pins[a], part.pins[b], part.name))
        for part in parts
        for a, b in (beside(part) if len(part.pins) > 2 else ())
    )


def _joined(machine: Machine, a: str, b: str, but: str) -> str:
    """The part that joins two nets by so few ohms that a meter beeps, over one part or a chain of them; "" for none."""
    reached, edge = {a: ""}, [a]
    while edge:
        net = edge.pop()
        for name, other in _few_ohms(machine, net, but):
            if other not in reached:
                reached[other] = reached[net] or name
                edge.append(other)
    return reached.get(b, "")


def _few_ohms(machine: Machine, net: str, but: str) -> Iterator[tuple[str, str]]:
    """Parts of few ohms on a net, and the net at their other end."""
    for name, pin in machine.pins_on(net):
        part = machine.parts[name]
        if name != but and len(part.pins) == 2 and _ohms(part) < BEEPS:
            yield name, next(other for one, other in part.pins.items() if one != pin)


def _ohms(part: Part) -> float:
    if part.kind in CONDUCTORS:
        return 0.0
    ohms = part.figures.get("resistance")
    return (
        ohms.nominal if part.kind in ("resistor", "loudspeaker", "load") and ohms and not ohms.unknown else float("inf")
    )
