"""Suspects that stand for what nobody listed: a fault of another kind, but at one place.

What breaks in a way that no table foresees still acts somewhere: a part as if it had another value, a capacitor
besides as if something stood in series with it, two nets as if something joined them. (What acts like something in
series with any other pin, or between a net and ground, is listed for every pin and net.) Strangers carry most of the
chance of "something not in this file". They are told from listed faults by readings like any suspect; where no
reading tells them apart, both are named.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import combinations

from probewright.hypotheses import Fault, Severity, Suspect
from probewright.hypotheses.classes import kind_name
from probewright.hypotheses.modes import units_in
from probewright.hypotheses.priors import rows, standing
from probewright.hypotheses.provoking import AT, distance_of
from probewright.machine.model import GROUND, Machine, Part

OTHERWISE, IN_SERIES, JOINS = "otherwise", "in-series", "joins"


@dataclass(frozen=True)
class Row:
    """One row of `data/strangers.csv`: words with {item}, and how far from healthy it may act."""

    words: str
    severity: Severity
    source: str


@cache
def _rows() -> Mapping[tuple[str, str], Row]:
    """(mode, kind) -> its row; kind "" for places."""
    return {
        (row["mode"], row["kind"]): Row(
            row["words"],
            Severity(float(row["low"]), float(row["high"]), row["unit"], row["law"], int(row["bins"])),
            f"{row['reason']} ({row['source']})",
        )
        for row in rows("strangers")
    }


def strangers(machine: Machine, share: float) -> tuple[Suspect, ...]:
    """Every stranger of a machine, in the order of the file; together they have this share of all chances, evenly."""
    faults = (*_of_parts(machine), *_joined(machine))
    return tuple(
        Suspect(
            f"{fault.item} {fault.mode}", (fault,), share / len(faults), share / len(faults), says,
            standing("stranger").source, stranger=True,
        )
        for fault, says in faults
    )  # fmt: skip


def _fault(mode: str, item: str, kind: str = "") -> tuple[Fault, str]:
    row = _rows()[mode, kind]
    return Fault(item, mode, row.severity), row.words.format(item=item.replace("~", " and "))


def suspected(machine: Machine) -> Iterator[Part]:
    """Parts on the board that may be bad; a block is a stage that may hold anything anyway."""
    return (part for part in machine.parts.values() if part.role == "part" and not part.known_good)


def _of_parts(machine: Machine) -> Iterator[tuple[Fault, str]]:
    """Each part of a kind with a row, as quite another value, or as what else its rows say."""
    for mode in (OTHERWISE, IN_SERIES):
        for part in suspected(machine):
            if (mode, kind_name(part)) in _rows():
                yield _fault(mode, part.name, kind_name(part))


def _joined(machine: Machine) -> Iterator[tuple[Fault, str]]:
    """Each two nets that meet at one part, once; a loose splash elsewhere lies between neighbours, which are listed."""
    seen: set[frozenset[str]] = set()
    for part in suspected(machine):
        nets = [net for net in dict.fromkeys(part.pins.values()) if net != GROUND and not net.startswith("nc:")]
        for a, b in combinations(nets, 2):
            if frozenset((a, b)) not in seen:
                seen.add(frozenset((a, b)))
                yield _fault(JOINS, f"{a}~{b}")


def acts_where(machine: Machine, stranger: Fault, fault: Fault) -> bool:
    """A stranger acts where this fault is: at the same part or pin of it, or between the same two nets."""
    if stranger.mode == JOINS:
        return set(_nets_at(machine, stranger.item)) <= set(_nets_at(machine, fault.item))
    return "~" not in fault.item and distance_of(machine, fault.item, stranger.item) == AT


def _nets_at(machine: Machine, item: str) -> tuple[str, ...]:
    """Nets of a part, of two places, or of a net with something on it: that net and ground."""
    item = item.rpartition(" on ")[2]
    if units := units_in(machine, item):
        return tuple(net for unit in units for net in unit.pins.values())
    if item in machine.parts:
        return tuple(machine.parts[item].pins.values())
    places = tuple(machine.net_of(end) for end in item.split("~"))
    return places if len(places) > 1 else (*places, GROUND) if item in machine.nets else ()
