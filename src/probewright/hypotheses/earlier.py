"""What earlier hands do to the parts they touch: fitted backwards, of the wrong value, left out, bridged, torn off.

Shares are rows of `data/earlier_hands.csv`, their words and edits those of every mode; only what applies to a part
is offered, and only for parts that somebody said were touched.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache

from probewright.hypotheses.classes import class_of, joined_pins, joint_class_of, kind_name
from probewright.hypotheses.modes import NoSuchMode, builder_of, mode_of, units_in
from probewright.hypotheses.priors import rows
from probewright.hypotheses.zones import TRACKS, beside, parts_in
from probewright.machine.model import Machine, Part

EARLIER_WORK = "earlier work"
AT_PINS, BETWEEN_PINS = ("lifted-pad", "not-reaching"), ("bridge",)


@cache
def hands_table() -> Mapping[str, tuple[dict[str, str], ...]]:
    """Mode -> its rows, the most particular first."""
    found: dict[str, list[dict[str, str]]] = {}
    for row in rows("earlier_hands"):
        found.setdefault(row["mode"], []).append(row)
    return {mode: tuple(sorted(ways, key=lambda one: -len(one["for"]))) for mode, ways in found.items()}


def touched(machine: Machine) -> tuple[str, ...]:
    """Parts that earlier hands were said to have touched, in the order of the file; copper and extras are none."""
    said = {name for zone in machine.zones if zone.kind == EARLIER_WORK for name in parts_in(machine, zone)}
    return tuple(name for name, part in machine.parts.items() if name in said and _can_be_touched(part))


def _can_be_touched(part: Part) -> bool:
    return part.role != "extra" and not part.known_good and kind_name(part) not in TRACKS


def ways_of(machine: Machine, name: str) -> Iterator[tuple[str, str, float, str]]:
    """(item, mode, share, source) of what earlier hands can have done to a part; the shares sum to one."""
    part = machine.parts[name]
    offered = [(mode, row, items) for mode, row in _rows_for(part) if (items := _items(machine, part, mode))]
    total = sum(float(row["share"]) for _, row, _ in offered)
    for mode, row, items in offered:
        source = f"earlier hands: {row['reason']} ({row['source']}; reliability {row['reliability']})"
        for item in items:
            yield item, mode, float(row["share"]) / (total * len(items)), source


def _rows_for(part: Part) -> Iterator[tuple[str, dict[str, str]]]:
    """Modes that apply to the class of a part, each with its row."""
    part_class = f"{class_of(part)}."
    for mode, ways in hands_table().items():
        row = next((one for one in ways if not one["for"] or part_class.startswith(f"{one['for']}.")), None)
        if row is not None:
            yield mode, row


def _items(machine: Machine, part: Part, mode: str) -> list[str]:
    """What a mode is said of: the part, its case, its pins, neighbouring pins; nothing where it cannot be."""
    if mode in AT_PINS:
        pins = joined_pins(part) if joint_class_of(part) else ()
        return [f"{part.name}.{pin}" for pin in pins if len(machine.pins_on(part.pins[pin])) > 1]
    if mode in BETWEEN_PINS:
        ends = beside(part) if len(part.pins) > 2 else ()
        return [f"{part.name}.{a}~{part.name}.{b}" for a, b in ends]
    try:
        builder_of(mode, kind_name(part))
    except NoSuchMode:
        return []
    if not mode_of(mode, class_of(part)).per_case:
        return [part.name]
    units = units_in(machine, part.package or part.name)
    return [part.package or part.name] if units[0].name == part.name else []
