"""A reading beside that of the equal place on the other channel, machine file or not."""

from __future__ import annotations

import re
from collections.abc import Sequence

from probewright.machine.chains import equal_places
from probewright.machine.model import Machine
from probewright.readings import KEPT, Question, Reading, instruments
from probewright.units import write_reading

# Words that name a channel, in pairs of opposites; common practice, no source.
OPPOSITES = (
    ("left", "right"),
    ("front", "rear"),
    ("mine", "sister"),
    ("l", "r"),
    ("ch1", "ch2"),
    ("channel 1", "channel 2"),
)
ALIKE = 0.1  # chosen: equal channels of old parts agree to about a tenth
UNITS = {**{one.instrument: one.unit for one in instruments.table().values()}, **KEPT}


def mirrored(place: str, machine: Machine | None) -> tuple[str, ...]:
    """The equal places on the other channels; none when the place belongs to no channel."""
    if machine is not None and (found := equal_places(machine, place)):
        return found
    for pair in OPPOSITES:
        for here, there in (pair, pair[::-1]):
            word = rf"(?i)(?<![A-Za-z0-9]){here}(?![A-Za-z0-9])(?!\s+(?:leg|end|side|pin|pad)\b)"
            if re.search(word, place):
                return (re.sub(word, there, place, count=1).casefold(),)
    return ()


def compare(reading: Reading, earlier: Sequence[Reading], machine: Machine | None) -> str:
    """The reading beside the last one at the equal place; "" when there is none."""
    ask = reading.question
    for place in mirrored(ask.red, machine):
        for other in reversed(earlier):
            if _same_question(other.question, ask, place):
                return _beside(reading, other, other.question.red)
    return ""


def _same_question(other: Question, ask: Question, place: str) -> bool:
    return (
        other.red.casefold() == place.casefold()
        and other.instrument == ask.instrument
        and other.setup.power == ask.setup.power
        and other.setup.stimulus == ask.setup.stimulus
        and other.setup.lifted == ask.setup.lifted
        and other.black == ask.black
    )


def _beside(reading: Reading, other: Reading, place: str) -> str:
    here, there = reading.answer, other.answer
    if isinstance(here, str) or isinstance(there, str):
        return f"{place} was {there}" if here != there else f"as {place}"
    unit = UNITS.get(reading.question.instrument, "")
    shown = write_reading(there, unit) if unit in ("V", "ohm") else f"{there:g} {unit}".strip()
    if there == 0.0 or abs(there) == float("inf") or abs(here) == float("inf"):
        return f"as {place} ({shown})" if here == there else f"{place} was {shown}"
    ratio = here / there
    if abs(ratio - 1.0) <= ALIKE:
        return f"as {place} ({shown}, {ratio:.2f} of it)"
    return f"{ratio:.3g} of {place} ({shown})"
