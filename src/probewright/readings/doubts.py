"""What is asked back instead of guessed: a doubt, with what to write."""

from __future__ import annotations

from dataclasses import dataclass

from probewright.readings import Setup
from probewright.readings.instruments import FEEDING

BOARD_LINE = "write what was read where, like `Q7 c 11.8`, `R31 left leg 2.6 V` or `left preamp out: half`"


@dataclass(frozen=True)
class Doubt:
    """A question about a typed line.

    code: short and stable ("ohms-live"); text, mend: what is in doubt and what to write; column counts from 1;
    can_insist: the person may say "it is so", and it is taken.
    """

    code: str
    text: str
    mend: str
    column: int = 1
    can_insist: bool = False


class Unsure(Exception):
    """A line that is asked about, carried to the door of `hearing`."""

    def __init__(self, code: str, text: str, mend: str, start: int = 0, can_insist: bool = False) -> None:
        super().__init__(f"{code}: {text}; {mend}")
        self.doubt = Doubt(code, text, mend, start + 1, can_insist)


def unclear(what: str, start: int) -> Unsure:
    """Words that could not be placed."""
    return Unsure("unclear", f"I cannot place {what!r}", BOARD_LINE, start)


def which_volts(start: int) -> Unsure:
    """Volts of what swings, of which nobody said how they are counted."""
    return Unsure("unit", "volts dc, rms or peak to peak?", "write 0.3 V dc, 0.3 V rms or 0.3 Vpp", start)


def without_sign(instrument: str) -> str:
    """How to mend a negative figure of what only has a size; on a range that feeds the board a charge shows so."""
    charge = "; if it moves, a capacitor keeps a charge: discharge it, prove it, read again"
    return "write its size, without the sign" + (charge if instrument in FEEDING else "")


def beside_supply(setup: Setup) -> tuple[str, str]:
    """What is wrong with a meter that feeds the board beside a bench supply, and how to mend it."""
    places = ", ".join(place for place, _, _ in setup.supplied)
    text = f"a bench supply feeds {places}: there ohms say nothing, and it can harm the meter"
    return text, "take it off and say so (`set-up: power off`), discharge, and read again"
