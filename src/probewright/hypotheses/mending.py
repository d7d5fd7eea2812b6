"""What a repair takes away: a new part all that was wrong with the old one; in place, a joint resoldered, a bridge
cleared, a contact cleaned.

A row of `data/mending.csv` for each mode that is mended in place, with how often it is there still afterwards. Any
other fault at the place stays: soldering does not cure a part, and cleaning does not close an open one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from functools import cache

from probewright.hypotheses import Fault
from probewright.hypotheses.priors import Standing, rows
from probewright.machine.model import GROUND, Machine
from probewright.readings import Setup
from probewright.readings.setups import CONTACTS


@cache
def stays() -> Mapping[str, Standing]:
    """Mode -> chance that it is there still after it was mended in place; no other mode is mended so."""
    return {row["mode"]: Standing(float(row["stays"]), f"{row['reason']} ({row['source']})") for row in rows("mending")}


def repair_item(machine: Machine, fault: Fault) -> str:
    """What is exchanged or mended to cure a fault: a part, its case, a joint, a pair of places, a net."""
    part = machine.parts.get(fault.item)
    return part.package if part is not None and part.package else fault.item


def takes_away(machine: Machine, item: str, what: str) -> bool:
    """Mending the item mends this too: it, what belongs to it, for a new part brings new joints, or whatever joins the
    same two nets."""
    if item and (what == item or what.startswith(f"{item}.")):
        return True
    ends = nets_joined(machine, item)
    return bool(ends) and ends == nets_joined(machine, what)


def nets_joined(machine: Machine, item: str) -> set[str]:
    """The nets between which "A~B" lies; none where the item joins nothing."""
    return {machine.net_of(end) for end in item.split("~")} if "~" in item else set()


def is_repaired(machine: Machine, fault: Fault, since: Setup) -> bool:
    """The repairs of a set-up were as many as it takes: one, and one more for each that the fault outlasts."""
    item, new = repair_item(machine, fault), Counter(since.replaced)
    often = (n for part, n in new.items() if _is_new(machine, part, item))
    return max(often, default=0) + times_mended(machine, fault, since.mended) > fault.again


def _is_new(machine: Machine, part: str, item: str) -> bool:
    return any(takes_away(machine, one, item) for one in (part, machine.parts[part].package))


def times_mended(machine: Machine, fault: Fault, mended: Iterable[str]) -> int:
    """How often a fault was mended in place; mended: as in a set-up."""
    return sum(_is_at(machine, fault.item, one) for one in mended) if fault.mode in stays() else 0


def _is_at(machine: Machine, item: str, mended: str) -> bool:
    """What was mended is this item of a fault: two places are meant by their nets, a case by any part in it."""
    if mended.startswith(CONTACTS):
        return mended == f"{CONTACTS}{item}"
    if "~" in mended:
        ends = nets_joined(machine, item) or ({item, GROUND} if item in machine.nets else set())
        return ends == nets_joined(machine, mended)
    part, _, pin = mended.rpartition(".")
    cases = (machine.parts[part].package,) if part in machine.parts else ()
    return item == mended or item in {f"{case}.{pin}" for case in cases if case}
