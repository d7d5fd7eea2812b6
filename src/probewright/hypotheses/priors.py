"""Usual culprits: how often each class of part fails and in which way, every row with its source.

`old_machine` speaks of decades-old home electronics and is used first; `handbook` holds the
figures of the reliability handbooks, shown beside it. Weights are rates per part, one small film
resistor = 1. A row with an empty mode is something not predicted yet: its share is spread over
the other modes of the class.
"""

from __future__ import annotations

import csv
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType

OLD_MACHINE, HANDBOOK = "old_machine", "handbook"


@dataclass(frozen=True)
class Share:
    """One way of failing and its part of all failures of the class; mode "" is not predicted."""

    mode: str
    share: float
    source: str


@dataclass(frozen=True)
class ClassPrior:
    """Rate of a class (small film resistor = 1) and its mode shares as written in the table."""

    weight: float
    shares: tuple[Share, ...]

    @property
    def modes(self) -> tuple[str, ...]:
        """Modes that become suspects, in the order of the table, each once."""
        return tuple(dict.fromkeys(one.mode for one in self.shares if one.mode))

    def weight_of(self, offered: Collection[str]) -> Mapping[str, float]:
        """Rate of each mode offered; what the table gives to others is spread over them.

        All nought when the table speaks of none of them.
        """
        given = dict.fromkeys(offered, 0.0)
        for one in self.shares:
            if one.mode in given:
                given[one.mode] += one.share
        total = sum(given.values())
        return {mode: self.weight * share / total if total else 0.0 for mode, share in given.items()}

    def source_of(self, mode: str) -> str:
        """Reason and source of a mode's share."""
        return next(one.source for one in self.shares if one.mode == mode)


@dataclass(frozen=True)
class Standing:
    """A chance that belongs to no class of part."""

    value: float
    source: str


def rows(name: str) -> tuple[dict[str, str], ...]:
    """The rows of one data file of this room."""
    text = resources.files(__package__).joinpath("data", f"{name}.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))


def _source(row: Mapping[str, str]) -> str:
    rate = f"; rate by {row['weight_source']}" if "weight_source" in row else ""
    return f"{row['reason']} ({row['source']}; reliability {row['reliability']}){rate}"


@cache
def table(name: str) -> Mapping[str, ClassPrior]:
    """Class -> prior, of OLD_MACHINE or HANDBOOK."""
    weights: dict[str, float] = {}
    shares: dict[str, list[Share]] = {}
    for row in rows(name):
        weights[row["class"]] = float(row["weight"])
        shares.setdefault(row["class"], []).append(Share(row["mode"], float(row["share"]), _source(row)))
    return MappingProxyType({key: ClassPrior(weights[key], tuple(ways)) for key, ways in shares.items()})


def old_machine(part_class: str) -> ClassPrior:
    """Prior of a class in decades-old home electronics; KeyError when the table has no such class."""
    return table(OLD_MACHINE)[part_class]


def has_row(part_class: str, mode: str) -> bool:
    """Whether the handbooks say how often parts of this class fail in this way."""
    found = table(HANDBOOK).get(part_class)
    return found is not None and any(one.mode == mode for one in found.shares)


def handbook(part_class: str) -> ClassPrior:
    """Prior of a class by the handbooks; where they are silent the table for old machines stands."""
    return table(HANDBOOK).get(part_class) or old_machine(part_class)


@cache
def standing(name: str) -> Standing:
    """A chance that belongs to no class; KeyError when there is none of that name."""
    found = {row["name"]: row for row in rows("standing")}[name]
    return Standing(float(found["value"]), _source(found))
