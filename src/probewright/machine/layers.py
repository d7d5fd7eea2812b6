"""How a machine comes apart: layers, and what comes loose with each. Frozen values."""

from __future__ import annotations

from dataclasses import dataclass

COUNTED = "fixings"  # screws, nuts, washers, spacers: what may be left over in the end
SORTS = (COUNTED, "clips", "cable", "between", "earth", "heatsink", "screen")


@dataclass(frozen=True)
class Loose:
    """What comes loose with a layer.

    sort: one of SORTS, "between" being paste and insulation under a heatsink; says: as typed; count: how many, 0 where
    that means nothing; kind: of fixings, "screw M3 12 mm"; where: they sat; put: where they lie meanwhile; name: of a
    cable its connector, of a heatsink or screen its part, "" where none was named; lock: how a connector holds.
    """

    sort: str
    says: str
    count: int = 0
    kind: str = ""
    where: str = ""
    put: str = ""
    name: str = ""
    lock: str = ""


@dataclass(frozen=True)
class Care:
    """What to mind. sort: of the table of cautions, "" where no row fits; words: as typed; says: what to do."""

    sort: str
    words: str
    says: str = ""


@dataclass(frozen=True)
class Layer:
    """One step of opening a machine.

    name: what comes off ("lid"), "" where nobody named it; text: as typed; loose: what comes loose, in its order;
    checks: what to look at when it is back; seconds: for how long power may be on without it, 0 for not at all, None
    where nobody said; notes: what was not understood, or is no more than a remark.
    """

    name: str
    text: str
    loose: tuple[Loose, ...] = ()
    cares: tuple[Care, ...] = ()
    checks: tuple[str, ...] = ()
    seconds: float | None = None
    notes: tuple[str, ...] = ()

    def of(self, *sorts: str) -> tuple[Loose, ...]:
        """What comes loose of these sorts."""
        return tuple(one for one in self.loose if one.sort in sorts)
