"""Table sections: causes against tests with stated chances, where no circuit is known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Cause:
    """Something that may be wrong. prior: chance before any test, as a weight; outside: cured without opening.

    item: what would be exchanged or mended ("lead"), many causes may share one.
    """

    id: str
    says: str
    prior: float
    item: str
    source: str
    outside: bool = False


@dataclass(frozen=True)
class Test:
    """Something to look at, try or measure, answered with one of a few words.

    outcomes: the words, the healthy one first; minutes of hands-on time; state: "ask" (ask and
    look), "outside" (swaps), "off", "limited" or "live", which ranks it in the order of risk.
    """

    __test__ = False  # not a test of pytest

    id: str
    do: str
    outcomes: tuple[str, ...]
    minutes: float
    state: str
    expected: str = ""
    source: str = ""
    caution: str = ""


@dataclass(frozen=True)
class TableSection:
    """Causes x tests. chance: (test id, cause id) -> chance of each outcome, summing to one.

    A pair that is missing is unknown: that test then says nothing about that cause. All causes
    together with "nothing wrong in here" and "something not in this file" exclude each other.
    """

    name: str
    causes: tuple[Cause, ...]
    tests: tuple[Test, ...]
    chance: Mapping[tuple[str, str], tuple[float, ...]]
