"""The symptom catalogue as values: symptoms with their tests and causes, and the causes themselves.

They are rows of `data/symptoms.csv`, `symptom_causes.csv` and `causes.csv`. Every share and chance
there is a rough estimate of ours (chosen: rough, common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from probewright.hypotheses.priors import rows
from probewright.machine.tables import Test

AS_EXPECTED = ("as expected", "not as expected")


@dataclass(frozen=True)
class Blame:
    """One cause of a symptom. share: of this symptom's causes; bad: chance that its test is not as expected."""

    cause: str
    share: float
    bad: float


@dataclass(frozen=True)
class Symptom:
    """One row of the catalogue.

    shows: "gone", "poor" or ""; speaks_of: "one" or "all" of several alike, or ""; denied_by: ticks
    that contradict it ("good:sound"); when: traits it lives by; general: listed for every machine;
    often: rough weight; elsewhere: chance that its test is not as expected when the fault is
    another, None when that cannot be said.
    """

    id: str
    family: str
    says: str
    test: Test
    cautions: tuple[str, ...]
    shows: str
    speaks_of: str
    denied_by: tuple[str, ...]
    when: tuple[str, ...]
    general: bool
    often: float
    elsewhere: float | None
    keys: tuple[str, ...]
    causes: tuple[Blame, ...]


@dataclass(frozen=True)
class KnownCause:
    """One row of the table of causes.

    reach: "dead" (even the lamp), "machine" (everything), a group of functions ("sound"), "one" of
    several alike, or "" for anything; raised_by: traits of the complaint that make it likelier.
    """

    id: str
    says: str
    item: str
    outside: bool
    reach: str
    raised_by: tuple[str, ...]
    source: str


@cache
def every_symptom() -> Mapping[str, Symptom]:
    """Id -> symptom, in the order of the catalogue."""
    blames: dict[str, list[Blame]] = {}
    for row in rows("symptom_causes"):
        blames.setdefault(row["symptom"], []).append(Blame(row["cause"], float(row["share"]), float(row["bad"])))
    return MappingProxyType({row["id"]: _symptom(row, tuple(blames[row["id"]])) for row in rows("symptoms")})


def _symptom(row: Mapping[str, str], causes: tuple[Blame, ...]) -> Symptom:
    return Symptom(
        id=row["id"],
        family=row["family"],
        says=row["symptom"],
        test=Test(
            row["id"], row["do"] + ".", AS_EXPECTED, float(row["minutes"]), row["state"], row["expected"],
            f"{row['source']}; chances {row['rough']}",
        ),
        cautions=tuple(row["caution"].split()),
        shows=row["shows"],
        speaks_of=row["speaks_of"],
        denied_by=tuple(row["denied_by"].split()),
        when=tuple(row["when"].split()),
        general=row["general"] == "yes",
        often=float(row["often"]),
        elsewhere=float(row["elsewhere"]) if row["elsewhere"] else None,
        keys=tuple(row["keys"].split()),
        causes=causes,
    )  # fmt: skip


@cache
def every_cause() -> Mapping[str, KnownCause]:
    """Id -> cause."""
    return MappingProxyType({
        row["id"]: KnownCause(
            row["id"], row["says"], row["item"], row["outside"] == "yes", row["reach"],
            tuple(row["raised_by"].split()), row["source"],
        )
        for row in rows("causes")
    })  # fmt: skip
