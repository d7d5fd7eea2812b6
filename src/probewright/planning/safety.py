"""Checks after a repair, by how a machine protects whoever touches it: what to look at, what to measure, its limit.

The rows of `data/safety_checks.csv`, in the order in which they are done. They sort and warn; they certify nothing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from types import MappingProxyType

from probewright.planning.tables import rows

EARTHED, DOUBLE, LOW, BATTERY = "I", "II", "III", "battery"
PROTECTIONS: Mapping[str, str] = MappingProxyType({
    EARTHED: "class I: on the mains, its metal earthed",
    DOUBLE: "class II: on the mains, double insulated, no earth",
    LOW: "class III: fed with low volts by an adaptor",
    BATTERY: "battery: nothing else feeds it",
})  # fmt: skip
MAINS = (EARTHED, DOUBLE)
TUBE = "tube"  # in the table: a tube, or capacitors that keep what hurts; with "+mains" where the mains feeds it
EARTH, PARTS = "earth", "parts"  # rows of which more is known than the table says
SHORT_LEAD, FURTHER, MORE, MOST = 5.0, 7.5, 0.1, 1.0  # m, m, ohm, ohm: of the lead, see the source of the row
NEAR = 0.1  # chosen: nearer to the limit than a tenth, an instrument's own error may hide that it is beyond


@dataclass(frozen=True)
class Check:
    """One check. unit: of `units`, "" for one that is answered yes or no; side: "at most" or "at least"; limit: SI, 0
    without a unit; trained: for trained persons alone; leave: where it may be left out, "" for never."""

    name: str
    title: str
    unit: str
    side: str
    limit: float
    how: str
    instrument: str
    caution: str
    trained: bool
    leave: str
    source: str

    def holds(self, value: float) -> bool:
        """Whether a figure is inside the limit, which itself is inside."""
        return value <= self.limit if self.side == "at most" else value >= self.limit

    def is_near(self, value: float) -> bool:
        """Inside, and nearer to the limit than the error of an instrument may be."""
        return self.holds(value) and abs(value - self.limit) < NEAR * self.limit


def checks_of(protection: str, tube: bool = False, lead: float = 0.0) -> tuple[Check, ...]:
    """The checks of a machine, in their order. protection: one of PROTECTIONS; lead: m of its mains lead."""
    asked = {protection} | ({TUBE} if tube else set()) | ({f"{TUBE}+mains"} if tube and protection in MAINS else set())
    found = (one for classes, one in _table() if asked & set(classes))
    return tuple(replace(one, limit=earth_limit(lead)) if one.name == EARTH else one for one in found)


def named(name: str) -> Check | None:
    """A check of any class by its name; None where there is none."""
    return next((one for _, one in _table() if one.name == name), None)


def are_needed(protection: str, tube: bool) -> bool:
    """Whether a repair is not done without them. Chosen: a battery alone gives nothing that a person touches."""
    return tube or protection != BATTERY


def earth_limit(lead: float) -> float:
    """Ohms that a protective conductor may have with so many metres of lead."""
    steps = math.ceil(max(lead - SHORT_LEAD, 0.0) / FURTHER)
    first = next(one.limit for _, one in _table() if one.name == EARTH)
    return min(first + MORE * steps, MOST)


@cache
def _table() -> tuple[tuple[tuple[str, ...], Check], ...]:
    """Classes and check of each row."""
    return tuple(
        (
            tuple(row["classes"].split()),
            Check(
                row["check"], row["title"], row["unit"], row["side"], float(row["limit"] or 0.0), row["how"],
                row["instrument"], row["caution"], row["trained"] == "yes", row["leave"],
                f"{row['source']} ({row['reliability']})",
            ),
        )
        for row in rows("safety_checks")
    )  # fmt: skip
