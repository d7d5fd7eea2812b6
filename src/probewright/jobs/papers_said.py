"""What was said for the papers that an owner is handed: sums, words, and which papers were handed over."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from probewright.record import Event


@dataclass(frozen=True)
class Charge:
    """A line of a bill as somebody said it. price: money, as digits."""

    name: str
    price: str


@dataclass(frozen=True)
class Billed:
    """What was said of the sums of one job, money and hours as digits, "" where nothing was.

    terms: what holds for this job in the place of the bench's; hours: worked, in the place of what the record says;
    to_come: still to be worked; paid: already; stored: days to be charged; charges: parts and whatever else.
    """

    terms: Mapping[str, str] = field(default_factory=dict)
    hours: str = ""
    to_come: str = ""
    paid: str = ""
    stored: str = ""
    charges: tuple[Charge, ...] = ()


@dataclass(frozen=True)
class Told:
    """What the repairer writes for the owner and the next repairer, "" where nothing was.

    cause: why it failed; did: what was done and why; weak: parts that are weak; advice; use: how to use it; untouched:
    what was not touched or tested; kept: original parts and where they are.
    """

    cause: str = ""
    did: str = ""
    weak: str = ""
    advice: str = ""
    use: str = ""
    untouched: str = ""
    kept: str = ""


@dataclass(frozen=True)
class Handed:
    """A paper that was handed over. form: how it named the end of the job; digest: SHA-256 of its text; made: "page",
    "html" or "pdf"; once: mark of the form it came by."""

    at: str
    paper: str
    form: str
    digest: str
    made: str
    once: str = ""


@dataclass(frozen=True)
class Said:
    """All of it, of one job."""

    billed: Billed = Billed()
    told: Told = Told()
    handed: tuple[Handed, ...] = ()


BILLED, CHARGE, CHARGE_GONE, TOLD, HANDED = "billed", "charge", "charge gone", "told the owner", "handed over"
KINDS = (BILLED, CHARGE, CHARGE_GONE, TOLD, HANDED)  # nothing is computed from these


def after(said: Said, event: Event) -> Said:
    """What was said by now, after one more event of these kinds."""
    told: dict[str, Any] = {**event.payload}
    billed = said.billed
    if event.kind == BILLED:
        terms = {**billed.terms, **told.pop("terms", {})}
        return replace(said, billed=replace(billed, terms={k: v for k, v in terms.items() if v}, **told))
    if event.kind == TOLD:
        return replace(said, told=replace(said.told, **told))
    if event.kind == HANDED:
        return replace(said, handed=(*said.handed, Handed(event.at, **told)))
    others = tuple(one for one in billed.charges if one.name != told["name"])
    new = (Charge(told["name"], told["price"]),) if event.kind == CHARGE else ()
    return replace(said, billed=replace(billed, charges=others + new))
