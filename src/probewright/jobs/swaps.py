"""A part, a lead or an extra exchanged and put back: what each exchange came to. Nothing is computed here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from probewright.hypotheses import symptoms
from probewright.readings import Reading

CURED = ("cured", "better")
SWAP, BACK = "swap", "swap back"
SAME, FOLLOWS, STAYS = symptoms.SWAPPED


def swap_ends(readings: Sequence[Reading]) -> dict[int, str]:
    """What each swap and each reversal came to, by position: SAME, FOLLOWS or STAYS.

    A swap that seemed to cure is missing until the old one was put back; then both say the same, as
    two answers to one test, so that a slip of one alone does not decide. A reversal that nothing
    waited for is missing too.
    """
    ends: dict[int, str] = {}
    waiting: dict[str, int] = {}
    for n, reading in enumerate(readings):
        extra = reading.question.red
        if reading.question.instrument == SWAP:
            if reading.answer in CURED:
                waiting[extra] = n
            else:
                ends[n] = SAME
        elif reading.question.instrument == BACK and extra in waiting:
            ends[n] = ends[waiting.pop(extra)] = FOLLOWS if reading.answer == "back" else STAYS
    return ends


def believed_swaps(readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """The readings without swaps that seemed to cure and were not reversed, or stayed cured with the
    old one: a plug that was moved cures as often as a lead that was changed. A reversal that brought
    the fault back says once more what the swap said."""
    ends, found = swap_ends(readings), []
    for n, reading in enumerate(readings):
        ask = reading.question
        if ask.instrument not in (SWAP, BACK) or ends.get(n) == SAME:
            found.append(reading)
        elif ends.get(n) == FOLLOWS:
            found.append(replace(reading, question=replace(ask, instrument=SWAP), answer="cured"))
    return tuple(found)


def unreversed(readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """Swaps that seemed to cure and wait for the old one to be put back."""
    ends = swap_ends(readings)
    last = {r.question.red: n for n, r in enumerate(readings) if r.question.instrument == SWAP}
    return tuple(readings[n] for n in last.values() if n not in ends)
