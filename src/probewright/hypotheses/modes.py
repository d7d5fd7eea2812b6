"""Ways to break: their words, how bad they can be, and the Edits each one makes.

Words and severities are rows of `data/modes.csv`; what a mode does to a kind of part is one entry
of BUILDERS. Severity values may be arrays over draws and are handed through untouched.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from types import MappingProxyType
from typing import Any

from probewright.hypotheses import Fault, Severity
from probewright.hypotheses.classes import kind_name
from probewright.hypotheses.priors import rows
from probewright.machine.edits import AddPath, Edit, FreePin, SetFigure
from probewright.machine.kinds import KINDS, network
from probewright.machine.model import GROUND, Machine, Part

OPEN_OHMS = 1e9  # an open part, inside the healthy pattern: a hundred times above any meter
# An open joint, so that a 1e9 ohm part behind it is still far better connected; a dead source, for through 1e9 ohm a
# probe of 10 Mohm would still show a hundredth of its mains.
FREE_OHMS = 1e12
WIRE_OHMS = 0.05  # a two-terminal part gone short
FUSED_OHMS = 0.01  # between terminals molten into one; see all-short in data/modes.csv
LOAD_SHORT_OHMS = 0.5  # a shorted coil still has its leads, common practice, no source
CLOSED_OHMS = 0.03  # a contact welded shut, as a clean switch
RAIL_DRIVE = 5.0  # tanh(5) = 0.9999: an output at its rail
ARMATURE_STUCK = 1e4  # chosen: outweighs any coil, and a finger
NEARLY_NONE = 1e-6  # factor on a gain or a capacitance that is gone; nought would divide by nought

Builder = Callable[[Machine, str, Any], tuple[Edit, ...]]


@dataclass(frozen=True)
class Mode:
    """One row of the mode table.

    words: template with {item}; severity: None for all or nothing; per_case: once for a case that
    holds several units; only: class or start of a class it speaks of, "" for all.
    """

    name: str
    only: str
    words: str
    severity: Severity | None
    comes_and_goes: bool
    per_case: bool
    source: str


class NoSuchMode(KeyError):
    """A mode that this kind of part does not have."""

    def __init__(self, mode: str, kind: str) -> None:
        super().__init__(f"{kind or 'this place'} cannot be {mode!r}")
        self.mode, self.kind = mode, kind


def _severity(row: Mapping[str, str]) -> Severity | None:
    if not row["low"]:
        return None
    return Severity(float(row["low"]), float(row["high"]), row["unit"], row["law"], int(row["bins"]))


@cache
def table() -> Mapping[str, tuple[Mode, ...]]:
    """Mode name -> its rows, the most particular first."""
    found: dict[str, list[Mode]] = {}
    for row in rows("modes"):
        found.setdefault(row["mode"], []).append(
            Mode(
                name=row["mode"],
                only=row["for"],
                words=row["words"],
                severity=_severity(row),
                comes_and_goes=row["comes_and_goes"] == "yes",
                per_case=row["per"] == "case",
                source=f"{row['reason']} ({row['source']})",
            )
        )
    return MappingProxyType({name: tuple(sorted(ways, key=lambda one: -len(one.only))) for name, ways in found.items()})


def _speaks_of(mode: Mode, part_class: str) -> bool:
    return not mode.only or f"{part_class}.".startswith(f"{mode.only}.")


def mode_of(name: str, part_class: str = "") -> Mode:
    """The row of a mode that speaks of this class; NoSuchMode when none does."""
    for one in table().get(name, ()):
        if _speaks_of(one, part_class):
            return one
    raise NoSuchMode(name, part_class)


def units_in(machine: Machine, case: str) -> tuple[Part, ...]:
    """The parts that sit in a case: one part, or every unit of a package."""
    return tuple(part for part in machine.parts.values() if (part.package or part.name) == case)


def _units_of(machine: Machine, item: str) -> tuple[Part, ...]:
    """The part of this name, or the units of the case of this name; empty when there is neither."""
    return (machine.parts[item],) if item in machine.parts else units_in(machine, item)


def sets(figure: str, value: Any = None, *, relative: bool = False) -> Builder:
    """Give a figure this value, or the severity when none is named."""

    def build(machine: Machine, item: str, severity: Any) -> tuple[Edit, ...]:
        return (SetFigure(item, figure, severity if value is None else value, relative),)

    return build


def scales(figure: str, factor: Any = None) -> Builder:
    """Multiply a figure of the healthy part by this factor, or by the severity."""
    return sets(figure, factor, relative=True)


def path(a: str, b: str, ohms: float | None = None) -> Builder:
    """A resistance between two pins of the part: these ohms, or the severity."""

    def build(machine: Machine, item: str, severity: Any) -> tuple[Edit, ...]:
        return (AddPath(f"{item}.{a}", f"{item}.{b}", severity if ohms is None else ohms),)

    return build


def all_of(*builders: Builder) -> Builder:
    """Several edits at once."""

    def build(machine: Machine, item: str, severity: Any) -> tuple[Edit, ...]:
        return tuple(edit for one in builders for edit in one(machine, item, severity))

    return build


def first_pin_lost(machine: Machine, item: str, severity: Any) -> tuple[Edit, ...]:
    """Open, for a kind whose equations are not known here; the loss of other pins is their joints'."""
    return (FreePin(item, next(iter(machine.parts[item].pins)), FREE_OHMS),)


def all_pins_joined(machine: Machine, item: str, severity: Any) -> tuple[Edit, ...]:
    """Short, for a kind whose equations are not known here: each pin to the next."""
    return tuple(AddPath(f"{item}.{a}", f"{item}.{b}", WIRE_OHMS) for a, b in pairwise(machine.parts[item].pins))


def collector_lost(machine: Machine, item: str, severity: Any) -> tuple[Edit, ...]:
    """Collector open: base and emitter are left as one diode.

    A floating collector drives the transport current back through the base-collector junction, so
    I_base = F / (1 + B_reverse) + F / B_forward with F the forward current of the model; the last
    term is a per cent of it and left out.
    """
    reverse = machine.parts[item].figures.get("reverse_gain")
    floating = 1.0 + (reverse.nominal if reverse is not None else 1.0)
    return (
        SetFigure(item, "transport", 0.0),
        SetFigure(item, "base_collector", 0.0),
        SetFigure(item, "gain", floating),
    )


def across_supply(machine: Machine, item: str, severity: Any) -> tuple[Edit, ...]:
    """A path between the supply pins of a case, whichever unit they are typed on."""
    unit = units_in(machine, item)[0].name
    return (AddPath(f"{unit}.vplus", f"{unit}.vminus", severity),)


def wire_to_ground(machine: Machine, item: str, severity: Any) -> tuple[Edit, ...]:
    """A lead's wire on its screen; the far end is taken, a sound wire makes both ends one."""
    return (AddPath(f"{item}.{tuple(machine.parts[item].pins)[-1]}", GROUND, severity),)


def turned_chip(machine: Machine, item: str, severity: Any) -> tuple[Edit, ...]:
    """A chip the wrong way round: its substrate conducts between the supply pins, and no unit gives anything."""
    dead = (
        edit
        for unit in units_in(machine, item)
        for edit in BUILDERS["output-open", kind_name(unit)](machine, unit.name, None)
    )
    return (*across_supply(machine, item, severity), *dead)


def turned_transistor(machine: Machine, item: str, severity: Any) -> tuple[Edit, ...]:
    """Collector and emitter exchanged: in the law of Ebers and Moll that is the two gains exchanged."""
    figures = machine.parts[item].figures
    return (
        SetFigure(item, "gain", figures["reverse_gain"].nominal),
        SetFigure(item, "reverse_gain", figures["gain"].nominal),
    )


def all_pins_lost(machine: Machine, item: str, severity: Any) -> tuple[Edit, ...]:
    """The part is not there; the supply pins of a package stay with its other units."""
    part = machine.parts[item]
    shared = KINDS[part.kind].units_share if part.kind in KINDS and part.package else ()
    own = [pin for pin, net in part.pins.items() if pin not in shared and not net.startswith("nc")]
    return tuple(FreePin(item, pin, FREE_OHMS) for pin in own)


def joint(ohms: float | None = None) -> Builder:
    """A pin parts from its net but for a resistance: these ohms, or the severity.

    A supply pin of a package is freed for all its units at once. KeyError when there is no such pin.
    """

    def build(machine: Machine, item: str, severity: Any) -> tuple[Edit, ...]:
        name, _, pin = item.rpartition(".")
        units = _units_of(machine, name)
        if not units or any(pin not in unit.pins for unit in units):
            raise KeyError(item)
        return (FreePin(name, pin, severity if ohms is None else ohms),)

    return build


def between(machine: Machine, item: str, severity: Any) -> tuple[Edit, ...]:
    """Two places touch: "U1.out~U1.minus". It lies on the copper, and stays there when a leg is lifted."""
    a, _, b = item.partition("~")
    return (AddPath(machine.net_of(a), machine.net_of(b), severity),)


def hangs_on(machine: Machine, item: str, severity: Any) -> tuple[Edit, ...]:
    """Something from a net to ground: "OUT", or "on-air lamp on OUT" for an added board."""
    return (AddPath(item.rpartition(" on ")[2], GROUND, severity),)


def where_wired(pin: str, builder: Builder) -> Builder:
    """Nothing at all where the pin is left free: the fault can do no harm there."""

    def build(machine: Machine, item: str, severity: Any) -> tuple[Edit, ...]:
        return () if machine.parts[item].pins[pin].startswith("nc:") else builder(machine, item, severity)

    return build


BONDS = ("transport", "base_emitter", "base_collector")
PLACES: Mapping[str, Builder] = MappingProxyType({
    "joint-open": joint(FREE_OHMS),
    "joint-resistance": joint(),
    "lifted-pad": joint(FREE_OHMS),
    "not-reaching": joint(FREE_OHMS),
    "bridge": between,
    "surface-leak": between,
    "loads-net": hangs_on,
    "shorts-net": hangs_on,
    "board-loads": hangs_on,
    "joins": between,
})  # fmt: skip


def _conductor(kind: str) -> dict[tuple[str, str], Builder]:
    return {("open", kind): sets("resistance", OPEN_OHMS), ("contact-resistance", kind): sets("resistance")}


def _transistor(kind: str) -> dict[tuple[str, str], Builder]:
    return {
        ("backwards", kind): turned_transistor,
        ("wrong-type", kind): scales("gain"),
        ("base-open", kind): all_of(*(sets(bond, 0.0) for bond in BONDS)),
        ("emitter-open", kind): all_of(sets("transport", 0.0), sets("base_emitter", 0.0)),
        ("collector-open", kind): collector_lost,
        ("all-open", kind): all_of(*(sets(bond, 0.0) for bond in BONDS)),
        ("ce-short", kind): path("c", "e"),
        ("be-short", kind): path("b", "e"),
        ("bc-short", kind): path("b", "c"),
        ("all-short", kind): all_of(path("c", "b", FUSED_OHMS), path("b", "e", FUSED_OHMS)),
        ("leak-ce", kind): path("c", "e"),
        ("low-gain", kind): scales("gain"),
    }


def _track(kind: str) -> dict[tuple[str, str], Builder]:
    # A crack beside the end: with the wiper at that stop it is bridged, as on a real track. An
    # end that has come off its tag is the joint of that pin.
    return {
        ("track-contact", kind): sets("wiper"),
        ("open-top", kind): sets("upper", OPEN_OHMS),
        ("open-bottom", kind): sets("lower", OPEN_OHMS),
        ("drift-up", kind): scales("resistance"),
    }


def _contact(kind: str, mode: str, figure: str, pin: str) -> dict[tuple[str, str], Builder]:
    """Bad and open, for one contact of several: figure holds ohms in series with it, pin is its own."""
    return {
        (f"{mode}-resistance", kind): where_wired(pin, sets(figure)),
        (f"{mode}-open", kind): where_wired(pin, sets(figure, OPEN_OHMS)),
    }


def _leg(anode: str, cathode: str) -> dict[tuple[str, str], Builder]:
    """The three ways of one diode of a bridge."""
    return {
        (f"open-{anode}-{cathode}", "bridge"): sets(f"{anode}_{cathode}", 0.0),
        (f"short-{anode}-{cathode}", "bridge"): path(anode, cathode),
        (f"leak-{anode}-{cathode}", "bridge"): path(anode, cathode),
    }


def _voice_coil(kind: str) -> dict[tuple[str, str], Builder]:
    return {
        ("open", kind): sets("resistance", OPEN_OHMS),
        ("short", kind): all_of(sets("resistance", LOAD_SHORT_OHMS), scales("inductance", NEARLY_NONE)),
        ("wrong-setting", kind): sets("resistance", OPEN_OHMS),
    }


def _field_effect(kind: str, *bonds: str) -> dict[tuple[str, str], Builder]:
    """Modes of a field-effect transistor; bonds: figures that an open channel takes away."""
    return {
        ("ds-short", kind): path("d", "s"),
        ("gs-short", kind): path("g", "s"),
        ("gd-short", kind): path("g", "d"),
        ("leak-ds", kind): path("d", "s"),
        ("leak-gs", kind): path("g", "s"),
        ("channel-open", kind): all_of(*(sets(bond, 0.0) for bond in bonds)),
    }


def _regulator(kind: str, *lost: str) -> dict[tuple[str, str], Builder]:
    """Modes of a regulator; lost: figures that are nought as well when nothing comes out."""
    nothing = all_of(sets("limit", 1e-9), *(sets(figure, 0.0) for figure in lost))
    return {
        ("open", kind): nothing,
        ("in-out-short", kind): path("in", "out"),
        ("low-output", kind): scales("volts"),
        ("early-limit", kind): scales("limit"),
        ("cut-out", kind): nothing,
        ("backwards", kind): all_of(nothing, path("in", "out")),
        **_wrong_volts(kind),
    }


def _wrong_volts(kind: str) -> dict[tuple[str, str], Builder]:
    return {("wrong-type-high", kind): scales("volts"), ("wrong-type-low", kind): scales("volts")}


def _decades(kind: str, figure: str) -> dict[tuple[str, str], Builder]:
    return {("decade-up", kind): scales(figure, 10.0), ("decade-down", kind): scales(figure, 0.1)}


def _gate(kind: str, inputs: Mapping[str, str]) -> dict[tuple[str, str], Builder]:
    """Modes of a gate. inputs: what a mode calls an input -> its pin."""
    found: dict[tuple[str, str], Builder] = {
        ("stuck-high", kind): sets("stuck", 1.0),
        ("stuck-low", kind): sets("stuck", -1.0),
        ("output-open", kind): all_of(sets("ohms_low", OPEN_OHMS), sets("ohms_high", OPEN_OHMS)),
        ("supply-short", kind): across_supply,
        ("backwards", kind): turned_chip,
    }
    for name, pin in inputs.items():
        found[f"{name}-damaged", kind] = path(pin, "vminus")
        found[f"{name}-open", kind] = all_of(sets(f"{pin}_lost", 1.0), sets(f"{pin}_drifts", 1.0))
        found[f"{name}-adrift", kind] = all_of(sets(f"{pin}_lost", 1.0), sets(f"{pin}_drifts"))
    return found


def _gates() -> dict[tuple[str, str], Builder]:
    found: dict[tuple[str, str], Builder] = {}
    for kind in ("buffer", "inverter", "schmitt"):
        found |= _gate(kind, {"input": "in"})
    for kind in ("and", "nand", "or", "nor", "xor", "nand3", "nor3", "nand4", "nor4"):
        found |= _gate(kind, {"a": "a", "b": "b"})
    return found


# What a part that breaks in no listed way acts like (`strangers`)
OTHERWISE: Mapping[str, Builder] = MappingProxyType({
    "resistor": scales("resistance"),
    "capacitor": scales("capacitance"),
    "inductor": scales("inductance"),
    "zener": scales("volts"),
    "npn": scales("gain"),
    "pnp": scales("gain"),
    "opamp": sets("offset"),
    "comparator": sets("offset"),
    "regulator": scales("volts"),
    "negative-regulator": scales("volts"),
    "adjustable-regulator": scales("volts"),
    "negative-adjustable-regulator": scales("volts"),
})  # fmt: skip

# (mode, kind) -> what it does; kind "" for a kind not named
BUILDERS: Mapping[tuple[str, str], Builder] = MappingProxyType({
    ("open", ""): first_pin_lost,
    ("short", ""): all_pins_joined,
    ("left-out", ""): all_pins_lost,
    # no bond left is no part at all; three pins freed onto one loose node would find no rest
    **{("left-out", kind): all_of(*(sets(bond, 0.0) for bond in BONDS)) for kind in ("npn", "pnp")},
    ("open", "resistor"): sets("resistance", OPEN_OHMS),
    ("short", "resistor"): sets("resistance", WIRE_OHMS),
    ("drift-up", "resistor"): scales("resistance"),
    ("drift-down", "resistor"): scales("resistance"),
    **_decades("resistor", "resistance"),
    **_decades("capacitor", "capacitance"),
    ("backwards", "capacitor"): sets("leak"),
    **{("backwards", kind): sets("turned", -1.0) for kind in ("diode", "zener", "led")},
    **_wrong_volts("zener"),
    ("backwards", "opamp"): turned_chip,
    ("backwards", "comparator"): turned_chip,
    ("open", "capacitor"): scales("capacitance", NEARLY_NONE),
    ("short", "capacitor"): sets("leak"),
    ("leak", "capacitor"): sets("leak"),
    ("low-value", "capacitor"): scales("capacitance"),
    ("high-esr", "capacitor"): scales("esr"),
    ("open", "diode"): sets("scale", 0.0),
    ("short", "diode"): path("a", "k"),
    ("leak", "diode"): path("a", "k"),
    ("open", "zener"): sets("scale", 0.0),
    ("short", "zener"): path("a", "k"),
    ("drift-up", "zener"): scales("volts"),
    ("drift-down", "zener"): scales("volts"),
    **_transistor("npn"),
    **_transistor("pnp"),
    ("stuck-high", "opamp"): all_of(scales("gain", NEARLY_NONE), sets("stuck", RAIL_DRIVE)),
    ("stuck-low", "opamp"): all_of(scales("gain", NEARLY_NONE), sets("stuck", -RAIL_DRIVE)),
    ("output-open", "opamp"): sets("r_out", OPEN_OHMS),
    ("offset-high", "opamp"): sets("offset"),
    ("offset-low", "opamp"): sets("offset"),
    ("plus-damaged", "opamp"): path("plus", "vminus"),
    ("minus-damaged", "opamp"): path("minus", "vminus"),
    ("supply-short", "opamp"): across_supply,
    **_regulator("regulator"),
    **_regulator("negative-regulator"),
    **_regulator("adjustable-regulator", "idle"),
    **_regulator("negative-adjustable-regulator", "idle"),
    ("stuck-high", "comparator"): all_of(scales("gain", NEARLY_NONE), sets("stuck", RAIL_DRIVE)),
    ("stuck-low", "comparator"): all_of(scales("gain", NEARLY_NONE), sets("stuck", -RAIL_DRIVE)),
    ("offset-high", "comparator"): sets("offset"),
    ("offset-low", "comparator"): sets("offset"),
    ("plus-damaged", "comparator"): path("plus", "vminus"),
    ("minus-damaged", "comparator"): path("minus", "vminus"),
    ("supply-short", "comparator"): across_supply,
    **_field_effect("n-jfet", "channel"),
    **_field_effect("p-jfet", "channel"),
    **_field_effect("n-mosfet", "channel", "body"),
    **_field_effect("p-mosfet", "channel", "body"),
    **_gates(),
    ("dead", "source"): all_of(sets("volts", 0.0), sets("series", FREE_OHMS)),
    ("low-under-load", "source"): scales("series"),
    **_conductor("contact"),
    **_conductor("switch"),
    # a path, not the figure `closed`: set-ups move that one after the fault
    ("stuck-closed", "switch"): path("1", "2", CLOSED_OHMS),
    ("open", "fuse"): sets("resistance", OPEN_OHMS),
    ("open", "lead"): sets("resistance", OPEN_OHMS),
    ("now-and-then", "lead"): sets("resistance", OPEN_OHMS),
    ("wire-short", "lead"): wire_to_ground,
    ("open", "load"): sets("resistance", OPEN_OHMS),
    ("short", "load"): sets("resistance", LOAD_SHORT_OHMS),
    ("wrong-setting", "load"): sets("resistance", OPEN_OHMS),
    **_track("potentiometer"),
    **_track("trimmer"),
    ("output-open", "block"): sets("output", OPEN_OHMS),
    ("input-damaged", "block"): scales("input"),
    ("dead", "block"): scales("gain", NEARLY_NONE),
    ("low-gain", "block"): scales("gain"),
    ("open", "led"): sets("scale", 0.0),
    ("short", "led"): path("a", "k"),
    ("leak", "led"): path("a", "k"),
    **_leg("ac1", "plus"),
    **_leg("ac2", "plus"),
    **_leg("minus", "ac1"),
    **_leg("minus", "ac2"),
    ("open", "inductor"): sets("resistance", OPEN_OHMS),
    ("shorted-turns", "inductor"): all_of(scales("resistance"), scales("inductance")),
    ("primary-open", "transformer"): sets("primary", OPEN_OHMS),
    ("upper-open", "transformer"): scales("upper", OPEN_OHMS),
    ("lower-open", "transformer"): scales("lower", OPEN_OHMS),
    ("shorted-turns", "transformer"): scales("inductance"),
    **_voice_coil("loudspeaker"),
    **_voice_coil("headphone"),
    ("coil-open", "relay"): sets("broken", OPEN_OHMS),
    ("shorted-turns", "relay"): scales("coil"),
    ("not-pulling", "relay"): sets("stuck", ARMATURE_STUCK),
    **_contact("relay", "make", "make", "no"),
    **_contact("relay", "break", "break", "nc"),
    ("make-stuck", "relay"): where_wired("no", path("com", "no", CLOSED_OHMS)),
    **_contact("jack", "make", "make", "plug"),
    **_contact("jack", "break", "break", "rest"),
    ("break-stuck", "jack"): where_wired("rest", path("tip", "rest", CLOSED_OHMS)),
    **{(f"open-{end}", "network"): where_wired(end, sets(f"whole{end}", OPEN_OHMS)) for end in network.ENDS},
    ("drift-up", "network"): scales("resistance"),
    # not by its resistance, which a set-up may move after the fault; nor is a battery's volts
    ("drift-up", "lamp"): scales("worn"),
    ("open", "thermistor"): sets("resistance", OPEN_OHMS),
    ("short", "thermistor"): sets("resistance", WIRE_OHMS),
    ("drift-up", "thermistor"): scales("resistance"),
    ("drift-down", "thermistor"): scales("resistance"),
    ("dead", "battery"): all_of(sets("charge", 0.0), sets("series", OPEN_OHMS)),
    ("low-under-load", "battery"): scales("series"),
    ("low-output", "battery"): scales("charge"),
    ("open", "crystal"): scales("capacitance", NEARLY_NONE),
    **_conductor("track"),
    **_conductor("wire"),
    **{("otherwise", kind): builder for kind, builder in OTHERWISE.items()},
    ("in-series", "capacitor"): sets("esr"),
})  # fmt: skip


def builder_of(mode: str, kind: str = "") -> Builder:
    """What a mode does to a kind of part, or to a place when kind is ""; NoSuchMode when nothing."""
    found = (BUILDERS.get((mode, kind)) or BUILDERS.get((mode, ""))) if kind else PLACES.get(mode)
    if found is None:
        raise NoSuchMode(mode, kind)
    return found


def middle(severity: Severity) -> float:
    """The middle of a severity law, by its own law."""
    if severity.law == "log":
        return math.sqrt(severity.low * severity.high)
    return 0.5 * (severity.low + severity.high)


def edits(machine: Machine, fault: Fault, severity: Any = None) -> tuple[Edit, ...]:
    """The Edits a fault makes.

    severity: SI value, or factor where the fault's unit is "x"; a float or an array over draws.
    None for all or nothing, or for the middle of the range. Raises NoSuchMode for a mode the part
    does not have and KeyError for an item the machine does not have.
    """
    if severity is None and fault.severity is not None:
        severity = middle(fault.severity)
    if fault.mode in PLACES:
        return PLACES[fault.mode](machine, fault.item, severity)
    units = _units_of(machine, fault.item)
    if not units:
        raise KeyError(fault.item)
    return builder_of(fault.mode, kind_name(units[0]))(machine, fault.item, severity)
