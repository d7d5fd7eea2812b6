"""Usual culprits as a bench has found them: how far what was proved by repairs moves the rates of the tables.

A rate is gamma distributed about what its table says, and the culprits that were found are counts of it (Poisson):
so the table counts as a few culprits more, and every job closed moves it. The mathematics is the conjugate pair of
Gelman et al., Bayesian data analysis (3rd edition), section 2.6, from memory.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from probewright.hypotheses import Fault, Suspect
from probewright.hypotheses.classes import class_of, joint_class_of
from probewright.hypotheses.modes import units_in
from probewright.hypotheses.priors import table
from probewright.machine.model import Machine, Part

# The shape of the gamma: so many culprits a table's row weighs. Our table and the handbooks, asked for the same 161
# kinds and modes, differ by a factor of e^1.6 (standard deviation of the logarithm); if both err alike, each by e^1.13.
# A gamma of shape 1 strays by e^1.28.
TABLE_WEIGHS = 1.0
# A part in one place of one model differs more from its kind than a kind from its row: a hot corner, a bad batch.
# chosen: shape 1/2, a factor of nine either way.
KIND_WEIGHS = 0.5

Way = tuple[str, str]  # a kind of part, or an item of one model, and the mode


@dataclass(frozen=True)
class Tally:
    """Culprits found, and how many the tables expect in the same jobs."""

    found: float = 0.0
    expected: float = 0.0

    def plus(self, other: Tally) -> Tally:
        """Both together."""
        return Tally(self.found + other.found, self.expected + other.expected)


@dataclass(frozen=True)
class Usual:
    """What a bench has found. jobs: in which a culprit was proved; kinds: kind and mode -> tally of them all; alike:
    jobs of the very model; items: item and mode -> how often it was the culprit in those; proved: culprits proved in
    those of any kind, less than one in a job where look-alikes of no kind share it."""

    jobs: int = 0
    kinds: Mapping[Way, Tally] = field(default_factory=dict)
    alike: int = 0
    items: Mapping[Way, float] = field(default_factory=dict)
    proved: float = 0.0


NOTHING_FOUND = Usual()


def moved(weighs: float, tally: Tally) -> float:
    """By what a rate moves from its prior mean, once so many were found where so many were expected.

    rate ~ Gamma(a, a / r), found ~ Poisson(rate E): the posterior mean is (a + found) / (a / r + E), which over r is
    (a + found) / (a + r E); weighs: a; expected: r E.
    """
    return (weighs + tally.found) / (weighs + tally.expected)


def kind_of(machine: Machine, fault: Fault) -> str:
    """The row of the tables that the rate of a fault comes from; "" for what is no part, pin or joint of the machine's
    own: neighbours, nets, added boards, what earlier hands did."""
    part = _part_of(machine, fault.item)
    if part is None or part.role == "added":
        return ""
    kind = joint_class_of(part) if "." in fault.item else class_of(part)
    known = table("old_machine").get(kind)
    return kind if known is not None and fault.mode in known.modes else ""


def _part_of(machine: Machine, item: str) -> Part | None:
    """The part that an item is, or is a joint of; of a case its first unit."""
    name = item.rpartition(".")[0] or item
    if "~" in item:
        return None
    units = () if name in machine.parts else units_in(machine, name)
    return machine.parts.get(name) or next(iter(units), None)


def expected(machine: Machine, suspects: Iterable[Suspect]) -> dict[Way, float]:
    """How many culprits of each kind and mode the tables expect in one machine in which one is found: they sum to one.

    suspects: of the machine, by the tables alone.
    """
    found: defaultdict[Way, float] = defaultdict(float)
    for one in suspects:
        for fault in one.faults[:1]:
            if kind := kind_of(machine, fault):
                found[kind, fault.mode] += one.prior
    whole = sum(found.values())
    return {way: rate / whole for way, rate in found.items()} if whole else {}


def factor(usual: Usual, kind: str, item: str, mode: str, share: float) -> float:
    """How many times likelier a fault is on this bench than by the tables.

    share: of all rates of the machine that are any kind's. What the very part did in its model moves it about what its
    kind did in all other places, so that nothing counts twice.
    """
    own = Tally(usual.items.get((item, mode), 0.0), usual.proved * share)
    whole = usual.kinds.get((kind, mode), Tally())
    others = Tally(max(whole.found - own.found, 0.0), max(whole.expected - own.expected, 0.0))
    by_kind = moved(TABLE_WEIGHS, others)
    return by_kind * moved(KIND_WEIGHS, Tally(own.found, own.expected * by_kind))
