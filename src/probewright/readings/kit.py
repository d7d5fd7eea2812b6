"""What this bench measures with, and the minutes its steps take."""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from probewright.readings import PROVOKE, SCOPED

# instrument on the bench -> what is read with it
TOOLS: Mapping[str, tuple[str, ...]] = MappingProxyType({
    "meter": ("dc", "rms", "ohms", "diode", "beep"),
    "scope": ("pp", *SCOPED),
    "esr meter": ("esr",),
    "capacitance meter": ("farads",),
})  # fmt: skip
USUAL = frozenset({"meter", "scope"})  # what a bench has of which nobody told anything
ALTERNATING = 1000.0  # Hz, from memory: up to here a usual meter's range for alternating volts keeps its accuracy


@dataclass(frozen=True)
class Kit:
    """has: instruments of this bench, names of TOOLS; None: nobody told, so it has what is usual and whatever it has
    shown; minutes: row of the minutes table -> minutes here, where they are other than usual; trained: whoever works
    here is trained and allowed to work on live parts that can kill, and has an isolating transformer."""

    has: frozenset[str] | None = None
    minutes: Mapping[str, float] = field(default_factory=dict)
    trained: bool = False

    def reads(self, instrument: str, shown: Container[str] = ()) -> bool:
        """This bench has what such a reading is taken with; eyes, ears and hands it has. shown: instruments that were
        read on it."""
        needs = tool_of(instrument)
        if self.has is None:
            return not needs or needs in USUAL or instrument in shown
        return not needs or needs in self.has

    def lacks(self, instrument: str) -> bool:
        """Somebody told what this bench has, and what such a reading is taken with is not among it."""
        return self.has is not None and not self.reads(instrument)


def tool_of(instrument: str) -> str:
    """What a reading is taken with; "" where no instrument is needed."""
    return "" if instrument == PROVOKE else next((tool for tool, reads in TOOLS.items() if instrument in reads), "")


UNTOLD = Kit()
