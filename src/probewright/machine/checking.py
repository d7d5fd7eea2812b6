"""What a file allows but a careful reader would ask about. Warnings, never refusals."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from probewright.machine.kinds import KINDS, Parameter
from probewright.machine.known import Known
from probewright.machine.model import GROUND, Machine, Part, Spot
from probewright.machine.naming import is_family
from probewright.machine.part_tables import Entry
from probewright.machine.saying import Notes
from probewright.units import E24, E96, write_reading, write_value

PULL_UP_OHMS = 47.0  # chosen: below it a resistor from a rail to an input is likelier 4R7 typed for 4k7
ELECTROLYTIC_FARADS = 2.2e-6  # chosen: above it films are rare in old machines


def look_for_slips(machine: Machine, known: Known, entries: Sequence[Entry], notes: Notes) -> None:
    """Put every warning about a finished machine into notes."""
    spots = {entry.name.spot: entry.line.inside for entry in entries}
    _lonely_nets(machine, notes)
    _hanging_inputs(machine, notes)
    _values(machine, spots, notes)
    _pull_ups(machine, spots, notes)
    _names(machine, known, notes)
    _families(machine, entries, notes)


def ports(machine: Machine) -> dict[str, tuple[str, ...]]:
    """Nets that cross from one section to another, by section; ground is everywhere and not counted."""
    found: dict[str, dict[str, None]] = {}
    for net in machine.nets:
        sections = {machine.parts[part].section for part, _ in machine.pins_on(net)}
        for section in sections if net != GROUND and len(sections) > 1 else ():
            found.setdefault(section, {})[net] = None
    return {section: tuple(nets) for section, nets in found.items()}


def polarity(machine: Machine) -> tuple[str, ...]:
    """One line for each polarised part: which net its + or anode is on."""
    said = []
    for part in machine.parts.values():
        kind = KINDS[part.kind]
        polar = kind.polar and (part.kind != "capacitor" or part.classes[:1] in (("electrolytic",), ("tantalum",)))
        if polar:
            first, second = (part.pins[pin] for pin in kind.pins[:2])
            end = "anode" if kind.pins[0] == "a" else "plus"
            said.append(f"{part.name}: {end} on {first}, the other end on {second}")
    return tuple(said)


def _lonely_nets(machine: Machine, notes: Notes) -> None:
    """A net named once is nearly always a slip of the pen."""
    nets = [net for net in machine.nets if not net.startswith("nc:")]
    for net in nets:
        here = machine.pins_on(net)
        if len(here) != 1 or net == GROUND:
            continue
        part, pin = here[0]
        others = [other for other in nets if other != net and other.lower() == net.lower()]
        mend = f"write {others[0]}" if others else f"check the spelling, or write `{pin}=nc` if nothing is connected"
        notes.warn(machine.parts[part].spot, f"net {net} is named once, at {part}.{pin}", mend)


def _is_input(part: Part, pin: str) -> bool:
    return pin in KINDS[part.kind].inputs


def _drives(part: Part, pin: str) -> bool:
    """Whether dc can come through this pin; a block's typed input resistance is a way to ground."""
    if part.kind == "block" and pin == "in":
        return part.figures["input"].typed
    return not _is_input(part, pin) and part.kind != "capacitor"


def _hanging_inputs(machine: Machine, notes: Notes) -> None:
    """Inputs on a net that no dc path reaches."""
    for net in machine.nets:
        here = [(machine.parts[part], pin) for part, pin in machine.pins_on(net)]
        inputs = [(part, pin) for part, pin in here if _is_input(part, pin)]
        if inputs and len(here) > 1 and net != GROUND and not any(_drives(part, pin) for part, pin in here):
            part, pin = inputs[0]
            notes.warn(
                part.spot,
                f"nothing drives {part.name}.{pin}: no dc path reaches net {net}",
                "add the resistor or part that sets its level, or check the net's name",
            )


def _values(machine: Machine, spots: Mapping[Spot, Spot], notes: Notes) -> None:
    """Typed figures outside the plausible band, and values that no series knows."""
    for part in machine.parts.values():
        for parameter in KINDS[part.kind].parameters:
            figure = part.figures[parameter.name]
            if not figure.typed or figure.unknown or parameter.word == "-":
                continue
            ends = (figure.low, figure.high) if figure.law == "range" else (figure.nominal,)
            sizes = [abs(end) for end in ends] if parameter.turns else ends
            if any(not parameter.low <= end <= parameter.high for end in sizes):
                _implausible(part, parameter, ends, spots, notes)
            elif part.kind == "resistor" and figure.law != "range":
                _unusual(part, figure.nominal, spots, notes)
        _unclassed(part, spots, notes)


def _implausible(
    part: Part, parameter: Parameter, ends: Sequence[float], spots: Mapping[Spot, Spot], notes: Notes
) -> None:
    shown = " to ".join(write_reading(end, parameter.unit) for end in ends)
    band = f"{write_reading(parameter.low, parameter.unit)} to {write_reading(parameter.high, parameter.unit)}"
    notes.warn(
        spots[part.spot],
        f"{part.family or part.name}: {shown} looks like a slip; usual is {band}",
        _meant(ends[0], parameter) if len(ends) == 1 else "check both ends and their prefixes",
    )


def _meant(si: float, parameter: Parameter) -> str:
    """The value a slip of the prefix would have stood for."""
    # old drawings write M for micro; a bare F most likely lost its u
    first = () if parameter.unit != "F" else (1e-12,) if si >= 1e6 else (1e-6,)
    for factor in (*first, 1e9, 1e6, 1e3, 1e-3, 1e-6, 1e-9):
        if si and parameter.low <= si * factor <= parameter.high:
            meant = float(f"{si * factor:.9e}")
            return f"write {write_value(meant, parameter.unit)} if that was meant (m is milli, M is mega, u is micro)"
    return "check the value and its prefix (m is milli, M is mega, u is micro)"


def _unusual(part: Part, ohms: float, spots: Mapping[Spot, Spot], notes: Notes) -> None:
    """A resistor of two digits that neither E24 nor E96 knows; 25, 50 and one-digit values are common."""
    if ohms <= 0:
        return
    digits = float(f"{ohms:.6e}".split("e")[0])
    hundreds = round(digits * 100, 4)
    two = round(digits * 10, 4)
    if two != int(two) or two % 10 == 0 or two == 25 or two in E24 or hundreds in E96:
        return
    near = min(E24, key=lambda one: abs(math.log(one / two)))
    notes.warn(
        spots[part.spot],
        f"{part.family or part.name}: {write_value(ohms, 'ohm')} is in no series of values",
        f"look again; {write_value(float(f'{near / 10 * ohms / digits:.6e}'), 'ohm')} is the nearest that is made",
    )


def _unclassed(part: Part, spots: Mapping[Spot, Spot], notes: Notes) -> None:
    farads = part.figures.get("capacitance")
    plausible = farads and farads.nominal <= KINDS["capacitor"].parameter("capacitance").high
    if (
        farads
        and plausible
        and part.classes == (KINDS["capacitor"].default_class,)
        and farads.nominal >= ELECTROLYTIC_FARADS
    ):
        notes.warn(
            spots[part.spot],
            f"{part.family or part.name}: {write_value(farads.nominal, 'F')} is taken as a film "
            "capacitor, which is rare so large",
            "write `electrolytic` after the value if it is one",
        )


def _pull_ups(machine: Machine, spots: Mapping[Spot, Spot], notes: Notes) -> None:
    """4R7 from a rail to an input, where 4k7 was likely meant."""
    rails = {
        part.pins[pin]
        for part in machine.parts.values()
        for pin in part.pins
        if KINDS[part.kind].feeds or (part.kind == "regulator" and pin == "out")
    }
    for part in machine.parts.values():
        if part.kind != "resistor" or not part.figures["resistance"].nominal < PULL_UP_OHMS:
            continue
        for rail, signal in (("1", "2"), ("2", "1")):
            if (
                part.pins[rail] in rails
                and part.pins[signal] not in rails
                and _only_inputs(machine, part, part.pins[signal])
            ):
                ohms = part.figures["resistance"].nominal
                notes.warn(
                    spots[part.spot],
                    f"{part.family or part.name}: {write_value(ohms, 'ohm')} from the rail "
                    f"{part.pins[rail]} to inputs looks like a slip",
                    f"write {write_value(float(f'{ohms * 1e3:.9e}'), 'ohm')} if that was meant",
                )


def _only_inputs(machine: Machine, resistor: Part, net: str) -> bool:
    """Whether everything else on the net takes next to nothing."""
    others = [(machine.parts[part], pin) for part, pin in machine.pins_on(net) if part != resistor.name]
    inputs = [_is_input(part, pin) or part.kind == "opamp" for part, pin in others]
    quiet = [taken or part.kind == "capacitor" for taken, (part, _) in zip(inputs, others, strict=True)]
    return any(inputs) and all(quiet)


def _names(machine: Machine, known: Known, notes: Notes) -> None:
    """Nets that differ in case only, a part and a net of one name, no ground."""
    by_case: dict[str, str] = {}
    for net in machine.nets:
        first = by_case.setdefault(net.lower(), net)
        if first != net:
            notes.warn(
                _first_spot(machine, net),
                f"nets {first} and {net} differ in case only",
                f"write {first} for both, or give one another name",
            )
    for name in (*machine.parts, *known.cases, *known.groups):
        if name in machine.nets:
            notes.warn(
                _first_spot(machine, name),
                f"{name} is a part and a net",
                f"in a reading {name} means the net; rename one if that is not wanted",
            )
    if not machine.pins_on(GROUND):
        notes.warn(Spot(1, 1), "no part is on GND", "call the net that readings are taken against GND")


def _first_spot(machine: Machine, net: str) -> Spot:
    return next((machine.parts[part].spot for part, _ in machine.pins_on(net)), Spot(1, 1))


def _families(machine: Machine, entries: Iterable[Entry], notes: Notes) -> None:
    """Channels without a part of their own."""
    used = [entry for entry in entries if is_family(entry.name.value)]
    if machine.channels and not used:
        notes.warn(
            Spot(1, 1),
            "there is `each:`, but no part has a * in its name",
            "write R*4 for a part each channel has; a name without * is shared by all",
        )
