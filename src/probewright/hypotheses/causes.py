"""Two faults of one cause: how much oftener they come together than two that have nothing in common.

One zone, or one fault that brought the other about: rows of `data/same_cause.csv`. The chance of a row is that of a
further fault once the first is there; it is shared out over all that it speaks of and that meets the first part at a
net, by how often each goes that way anyway.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from probewright.hypotheses import Fault, Suspect
from probewright.hypotheses.classes import kind_name
from probewright.hypotheses.modes import units_in
from probewright.hypotheses.priors import Standing, rows, standing
from probewright.hypotheses.zones import inside, shared
from probewright.machine.model import GROUND, Machine


def together(machine: Machine, listed: Sequence[Suspect], a: Suspect, b: Suspect) -> Standing:
    """Chance of both over the product of the two: for independent faults `second-fault`, of which a machine brings a
    few; more where one cause explains them."""
    return max((standing("second-fault"), *_of_one_cause(machine, listed, a, b)), key=lambda one: one.value)


def _of_one_cause(machine: Machine, listed: Sequence[Suspect], a: Suspect, b: Suspect) -> Iterator[Standing]:
    zone = next((shared(machine, x, y) for x in a.faults for y in b.faults), None)
    if zone is not None:
        further = standing("second-fault-zone")
        whole = sum(
            one.prior for one in listed if one.faults and not one.unlisted and inside(machine, zone, one.faults[0].item)
        )
        yield Standing(further.value / whole, f"both in one zone ({zone.kind}): {further.source}")
    for first, then in ((a, b), (b, a)):
        for row in rows("same_cause"):
            if first.faults and then.faults and _speaks_of(machine, row, first.faults[0], then.faults[0]):
                whole = sum(
                    one.prior
                    for one in listed
                    if len(one.faults) == 1 and _speaks_of(machine, row, first.faults[0], one.faults[0])
                )
                yield Standing(float(row["chance"]) / whole, f"{row['reason']} ({row['source']})")


def _speaks_of(machine: Machine, row: dict[str, str], first: Fault, then: Fault) -> bool:
    """The row says that the first fault brings the other about, and the parts meet."""
    if first.mode not in row["one"].split() or then.mode not in row["other"].split() or first.item == then.item:
        return False
    one, other = units_in(machine, first.item), units_in(machine, then.item)
    met = {net for part in one for net in part.pins.values()} & {net for part in other for net in part.pins.values()}
    met = {net for net in met if net != GROUND and not net.startswith("nc")}
    return bool(met) and any(kind_name(part) in row["kinds"].split() for part in other)
