"""A machine as a schematic: parts, wires, flags; suspects, readings and probes beside them. Pure: no clock, no disk.

Symbols after IEC 60617. Signal goes from left to right, supply stands above, ground below. All lengths are
CSS pixels at natural scale.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping

from probewright.drawing import assembly, rows
from probewright.drawing import svg as writing
from probewright.drawing.marks import Diagram, Mark, Note, Place, Probes
from probewright.drawing.parts import Wanted
from probewright.drawing.svg import STYLE
from probewright.machine.model import Machine

NOTHING: Mapping[str, str] = {}
NO_MARKS: Mapping[str, Mark] = {}
NO_NOTES: Mapping[str, tuple[Note, ...]] = {}


def draw(
    machine: Machine,
    *,
    section: str | None = None,
    around: str | None = None,
    values: Mapping[str, str] = NOTHING,
    odd: Collection[str] = (),
    marks: Mapping[str, Mark] = NO_MARKS,
    notes: Mapping[str, tuple[Note, ...]] = NO_NOTES,
    probes: Probes | None = None,
    link: Callable[[str], str] | None = None,
) -> Diagram:
    """The whole machine, one section, or what lies around one place. KeyError when there is no such section or place.

    values: place -> short text at its net; odd: places where that text is not the healthy figure;
    marks: part -> suspect; notes: part -> its zones, its board, that it was touched; probes: where the two leads go;
    link: place -> address, "" for a place that leads nowhere.
    """
    if section is not None and section not in machine.sections:
        raise KeyError(section)
    sheet = rows.excerpt(machine, around) if around is not None else rows.sheet(machine, section)
    at_nets = {machine.net_of(place): text for place, text in values.items()}
    leads = [("red", probes.red), ("black", probes.black)] if probes else []
    probed = [(colour, place, machine.net_of(place)) for colour, place in leads if place is not None]
    wanted = Wanted(sheet.high, marks, at_nets, frozenset(machine.net_of(place) for place in odd), notes)
    pen, width, height = assembly.assemble(sheet, wanted, probed)
    nets = {net: place for place, net in enumerate(machine.nets)}
    spots = assembly.spots(pen, nets)
    label = ", ".join(word for word in (machine.name, section or "", f"around {around}" if around else "") if word)
    dots = [net for net in nets if net in pen.dots]

    def said(place: str) -> str:
        text = at_nets.get(machine.net_of(place), "")
        return f"{place}, {text}" if text else place

    text = writing.write(pen, (width, height), label, spots, said, link, dots)
    return Diagram(text, width, height, tuple(Place(name, x, y) for name, (x, y) in spots.items()))


__all__ = ["STYLE", "Diagram", "Mark", "Note", "Place", "Probes", "draw"]
