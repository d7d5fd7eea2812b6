"""How much of a reading the instrument takes itself."""

from __future__ import annotations

from probewright.prediction.bank import Bank
from probewright.prediction.outcomes import bare_volts, show
from probewright.readings import Question

NOTICED = 0.03  # chosen: a share above what a meter and its scale are off by anyway
LEAST = 0.01  # V, chosen: below it nobody asks how much the meter takes
TIMES_RMS = {"dc": 1.0, "rms": 1.0, "pp": 2.0 * 2.0**0.5}  # of a sine, and of direct volts themselves


def taken(middle: Bank, ask: Question) -> float:
    """Share (0..1) of the volts between two places that goes when the instrument is put on them, nothing being wrong.

    middle: one healthy variant. 0 for what is no reading of volts, or where there is nothing to read.
    """
    if ask.instrument not in TIMES_RMS or ask.setup.power != "on":
        return 0.0
    shown = show(middle, ask)
    bare = float(bare_volts(middle, ask).value[0]) * TIMES_RMS[ask.instrument]
    if not shown.judged[0] or bare < LEAST:
        return 0.0
    return max(0.0, 1.0 - abs(float(shown.value[0])) / bare)


def say_taken(middle: Bank, ask: Question) -> str:
    """That the instrument takes its share, where that is worth saying; "" where it is not."""
    share = taken(middle, ask)
    if share < NOTICED:
        return ""
    what = "probe" if ask.instrument == "pp" else "meter"
    return f"The {what} itself takes {share:.0%} of this; the healthy range allows for it."
