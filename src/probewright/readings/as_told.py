"""How the bench stands by what was told of it, beside the readings."""

from __future__ import annotations

from dataclasses import dataclass

from probewright.readings import Setup
from probewright.readings.cooling import Bare


@dataclass(frozen=True)
class AsTold:
    """What lines have told of the bench since the last reading that is weighed, and what no reading tells of.

    setup: as it stands now, heatsinks left out; None where it stands as that reading says; bare: what runs without its
    heatsink; side: of the board that lies up, "" where nobody said; charged: something has fed the machine since it was
    last measured with the power off, whatever is said of the power.
    """

    setup: Setup | None = None
    bare: tuple[Bare, ...] = ()
    side: str = ""
    charged: bool = False


NOT_TOLD = AsTold()
