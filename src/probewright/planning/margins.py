"""How much of its rating a new part is let to bear, and what the legs of its kind are known for: tables with
sources."""

from __future__ import annotations

from dataclasses import dataclass

from probewright.machine.model import Part
from probewright.planning.tables import rows


@dataclass(frozen=True)
class Margin:
    """share: of its rating that a part is let to bear; source: where that rule is from."""

    share: float
    source: str


def margin(part: Part, what: str) -> Margin:
    """The rule for one thing that a part bears: the first row that speaks of it, the most particular first."""
    for row in rows("margins"):
        kind, of_class = row["kind"] in ("", part.kind), row["class"] in ("", *part.classes)
        if kind and of_class and row["what"] in ("", what):
            return Margin(float(row["share"]), row["source"])
    raise KeyError(what)


def legs_of(kind: str) -> str:
    """What is to be known of the legs of such a part; "" for nothing."""
    return next((f"{row['says']} ({row['source']})" for row in rows("pinouts") if row["kind"] == kind), "")
