"""What can be wrong: modes as rows of tables, severities, priors with their sources."""

from __future__ import annotations

from dataclasses import dataclass

NOTHING_WRONG = "nothing-wrong"
NOT_LISTED = "not-listed"


@dataclass(frozen=True)
class Severity:
    """How bad a mode can be: a figure drawn from low to high, split into bins of equal chance.

    law: "log" (evenly in the logarithm) or "even"; unit: SI unit or "x" (a factor on the healthy
    figure).
    """

    low: float
    high: float
    unit: str
    law: str = "log"
    bins: int = 2


@dataclass(frozen=True)
class Fault:
    """One thing wrong: an item, a mode of the mode table, a severity law when there is one.

    item: a part ("C12"), a pin's joint ("C12.1"), two places ("U1.out~U1.minus") or a net with
    something hanging on it ("load on OUT"). again: it outlasts so many repairs: a new part has it too.
    """

    item: str
    mode: str
    severity: Severity | None = None
    comes_and_goes: bool = False
    again: int = 0


@dataclass(frozen=True)
class Suspect:
    """A set of faults with its prior chance.

    prior: chance before any reading, all suspects sum to one; handbook: the same from handbook
    shares, shown beside it; says: in the repairer's words; source: where the prior comes from;
    handbook_source: where the handbook's share comes from, "" where it has no row: then `handbook` is what the
    table for old machines says, so that all sum to one;
    stranger: stands for faults that nobody listed, at one place (`strangers`).
    """

    id: str
    faults: tuple[Fault, ...]
    prior: float
    handbook: float
    says: str
    source: str
    handbook_source: str = ""
    stranger: bool = False

    @property
    def unlisted(self) -> bool:
        """Something that the file and the tables do not list."""
        return self.stranger or self.id == NOT_LISTED
