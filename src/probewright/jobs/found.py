"""What a job remembers of the bench's other jobs, and leaves to them: usual culprits, what was found, an earlier stay.

Frozen values, with how the record keeps them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from probewright.hypotheses.usual import Tally, Usual, Way

USUAL, FOUND, BEFORE = "usual", "found", "was here"  # kinds of event


@dataclass(frozen=True)
class Culprit:
    """What a repair proved. kind: its row in the tables; share: of one culprit, less than one where look-alikes could
    not be told apart."""

    item: str
    mode: str
    kind: str
    share: float


def in_words(one: Culprit) -> str:
    """ "R3 drift up"."""
    return f"{one.item} {mode_in_words(one.mode)}"


def mode_in_words(mode: str) -> str:
    """ "drift up", of what the tables call "drift-up"."""
    return mode.replace("-", " ")


def likeliest(culprits: Iterable[Culprit]) -> list[Culprit]:
    """The first, and those at least half as sure: what is said of a job in a line."""
    ranked = sorted(culprits, key=lambda one: -one.share)
    return [one for one in ranked if one.share >= 0.5 * ranked[0].share]


@dataclass(frozen=True)
class Found:
    """What a closed job leaves to later ones.

    culprits: what was located and mended; expected: culprits of each kind and mode that the tables expect in such a
    machine, as many in all as were proved, at most one; decisive, text: line that spoke most for it, 0 for none;
    counts: as this bench's own, which what comes from elsewhere does not unless somebody says so.
    """

    culprits: tuple[Culprit, ...] = ()
    expected: Mapping[Way, float] = field(default_factory=dict)
    decisive: int = 0
    text: str = ""
    counts: bool = True


@dataclass(frozen=True)
class Before:
    """The job on which this very machine was here before. why: it is thought so; ending, closed: of that job; bad: what
    did not work then; touched: parts and places that were mended; same: whether the same fault came back, None where
    nobody said."""

    job: int
    why: str
    ending: str = ""
    closed: str = ""
    bad: tuple[str, ...] = ()
    touched: tuple[str, ...] = ()
    same: bool | None = None


def keep_usual(usual: Usual) -> dict[str, Any]:
    """Usual culprits as plain values."""
    return {
        "jobs": usual.jobs,
        "kinds": [[*way, tally.found, tally.expected] for way, tally in sorted(usual.kinds.items())],
        "alike": usual.alike,
        "items": [[*way, found] for way, found in sorted(usual.items.items())],
        "proved": usual.proved,
    }


def kept_usual(plain: Mapping[str, Any]) -> Usual:
    """What `keep_usual` wrote."""
    kinds = {(kind, mode): Tally(found, expected) for kind, mode, found, expected in plain["kinds"]}
    items = {(item, mode): found for item, mode, found in plain["items"]}
    return Usual(plain["jobs"], kinds, plain["alike"], items, plain["proved"])


def keep_found(found: Found) -> dict[str, Any]:
    """What was found as plain values."""
    return {
        "culprits": [asdict(one) for one in found.culprits],
        "expected": [[*way, share] for way, share in sorted(found.expected.items())],
        "decisive": found.decisive,
        "text": found.text,
        "counts": found.counts,
        "names": [f"{one.item} {one.mode}" for one in found.culprits],  # as it is looked for
    }


def kept_found(plain: Mapping[str, Any]) -> Found:
    """What `keep_found` wrote."""
    expected = {(kind, mode): share for kind, mode, share in plain["expected"]}
    culprits = tuple(Culprit(**one) for one in plain["culprits"])
    return Found(culprits, expected, plain["decisive"], plain["text"], plain["counts"])


def kept_before(plain: Mapping[str, Any]) -> Before:
    """Where it was before, as its event says."""
    return Before(**{**plain, "bad": tuple(plain["bad"]), "touched": tuple(plain["touched"])})
