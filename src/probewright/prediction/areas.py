"""Areas of a large machine: sections that share no latent, so that one can be drawn and solved for itself."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from probewright.hypotheses import Suspect
from probewright.hypotheses.modes import edits
from probewright.machine.edits import AddPath, FreePin, SetFigure
from probewright.machine.model import GROUND, Machine
from probewright.prediction.latents import Latents

FEWEST = 3  # chosen: areas from which on it is worth the while to solve them for themselves
LARGE = 80  # chosen: parts, the same: the demo machines, whose answers are checked whole, have fewer than 40


@dataclass(frozen=True)
class Areas:
    """Which area each part and each latent is in, by number; 0 is what is in no section, as sources are."""

    machine: Machine
    of_part: dict[str, int]
    of_latent: np.ndarray  # (latent,); -1 for one that nothing healthy depends on

    @cached_property
    def parts(self) -> dict[int, frozenset[str]]:
        """Area -> its parts."""
        found: dict[int, set[str]] = {}
        for part, area in self.of_part.items():
            found.setdefault(area, set()).add(part)
        return {area: frozenset(some) for area, some in found.items()}

    @property
    def many(self) -> bool:
        """It is worth the while to solve them for themselves."""
        return len(self.of_part) >= LARGE and len(self.parts.keys() - {0}) >= FEWEST

    def within(self, areas: Iterable[int]) -> frozenset[str]:
        """Parts of these areas and of what is in no section."""
        none: frozenset[str] = frozenset()
        return none.union(*(self.parts.get(area, none) for area in {0, *areas}))

    def of_place(self, place: str) -> frozenset[int]:
        """Areas that a net, a point or a pin of a part or case touches; none for ground."""
        point = self.machine.points.get(place)
        place = place if point is None else point.place
        part = place.rpartition(".")[0]
        if part in self.of_part:
            return frozenset([self.of_part[part]])
        units = [self.of_part[one.name] for one in self.machine.parts.values() if part and one.package == part]
        net = "" if units else self.machine.net_of(place)
        pins = [] if net in ("", GROUND) else self.machine.pins_on(net)
        return frozenset([*units, *(self.of_part[one] for one, _ in pins if one in self.of_part)])

    def home(self, suspect: Suspect) -> frozenset[int] | None:
        """The areas inside which this suspect changes something; None where that is not known."""
        found: set[int] = set()
        for fault in suspect.faults:
            for edit in edits(self.machine, fault):
                if isinstance(edit, AddPath):
                    ends = [self.of_place(place) for place in (edit.a, edit.b) if place != GROUND]
                    common = frozenset.intersection(*ends) if ends else frozenset[int]()
                    found |= {min(common)} if common else {min(one) for one in ends if one}
                elif isinstance(edit, SetFigure | FreePin):
                    found |= self.of_place(f"{edit.part}.")
                else:
                    return None
        return frozenset(found - {0})


def find_areas(machine: Machine, latents: Latents) -> Areas:
    """Sections, those that share a latent taken as one."""
    name = {part.name: part.section for part in machine.parts.values()}
    leader = {section: section for section in ("", *name.values())}

    def head(section: str) -> str:
        while leader[section] != section:
            section = leader[section]
        return section

    first: dict[int, str] = {}
    for one in latents.free:
        for latent, _ in one.terms:
            a, b = head(first.setdefault(latent, name[one.part])), head(name[one.part])
            if a != b:
                leader[max(a, b)] = min(a, b)  # "" is the least of all, so it stays what is in no section
    for part in machine.parts.values():
        if part.package in name:
            a, b = head(name[part.package]), head(part.section)
            leader[max(a, b)] = min(a, b)
    number = {head(""): 0}
    of_part = {part: number.setdefault(head(section), len(number)) for part, section in name.items()}
    of_latent = np.full(len(latents.keys), -1)
    for one in latents.free:
        of_latent[[latent for latent, _ in one.terms]] = of_part[one.part]
    return Areas(machine, of_part, of_latent)
