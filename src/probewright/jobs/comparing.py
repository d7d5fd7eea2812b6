"""A reading beside that of the other channel, of a sister machine or of another position; machine file or not."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import replace

from probewright.machine.chains import equal_places
from probewright.machine.model import Machine
from probewright.readings import KEPT, NEVER, SCOPED, Question, Reading, Setup, instruments
from probewright.readings.lines import step_of
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
    """The reading beside the last one at the equal place, of the sister, and in another set-up; "" when there is none.

    Two figures of one instrument share its gain error, so that their ratio is better than either.
    """
    ask = reading.question
    said = []
    for place in mirrored(ask.red, machine):
        other = _last(earlier, lambda one, place=place: same_question(one, ask, place))  # type: ignore[misc]
        if other is not None:
            said.append(_beside(reading, other, other.question.red))
            break
    there = replace(ask.setup, sister=not ask.setup.sister)
    if other := _last(earlier, lambda one: same_question(one, replace(ask, setup=there), ask.red)):
        said.append(_two_machines(reading, other))
    if other := _last(earlier, lambda one: _same_place(one, ask)):
        said.append(_beside(reading, other, f"the same place at {_position(other.question.setup)}"))
    return "; ".join(said)


def _last(earlier: Sequence[Reading], fits: Callable[[Question], bool]) -> Reading | None:
    return next((one for one in reversed(earlier) if fits(one.question)), None)


def same_question(other: Question, ask: Question, place: str) -> bool:
    """Whether the other is the same question at this place."""
    return (
        other.red.casefold() == place.casefold()
        and other.instrument == ask.instrument
        and other.look == ask.look
        and other.setup.power == ask.setup.power
        and other.setup.stimulus == ask.setup.stimulus
        and other.setup.hertz == ask.setup.hertz
        and other.setup.sister == ask.setup.sister
        and other.setup.lifted == ask.setup.lifted
        and other.black == ask.black
    )


def _same_place(other: Question, ask: Question) -> bool:
    """Read before in another position or at another frequency, and otherwise as it stands."""
    here, there = (replace(one.setup, stimulus="", hertz=0.0) for one in (ask, other))
    ends = (other.instrument, other.red.casefold(), other.black) == (ask.instrument, ask.red.casefold(), ask.black)
    return (
        ends
        and here == there
        and other.look == ask.look
        and other.setup != ask.setup
        and ask.instrument not in ("works", "swap", "test", "look")
    )


def _position(setup: Setup) -> str:
    """The stimulus, a switch position with it, and the frequency, in words."""
    hertz = write_reading(setup.hertz, "Hz") if setup.hertz else ""
    return ", ".join(filter(None, (setup.stimulus, hertz))) or "its own frequency"


def _two_machines(reading: Reading, other: Reading) -> str:
    """Same, or not the same, as on the other machine."""
    whose = "this machine" if reading.question.setup.sister else "the sister"
    here, there = reading.answer, other.answer
    if isinstance(here, str) or isinstance(there, str):
        return f"the same as on {whose}" if here == there else f"not the same as on {whose}, which was {there}"
    alike = here == there or (there != 0.0 and abs(here / there - 1.0) <= ALIKE + 2.0 * ratio_error(reading, other))
    return f"{'the same' if alike else 'not the same'}: {_beside(reading, other, f'that on {whose}')}"


def ratio_error(reading: Reading, other: Reading) -> float:
    """Standard deviation of here / there, as a share of it, by one instrument: its gain error cancels.

    Nought where one is no finite figure other than nought, or of no instrument of the table.
    """
    here, there = reading.answer, other.answer
    if isinstance(here, str) or isinstance(there, str) or reading.question.instrument not in instruments.table():
        return 0.0
    if 0.0 in (here, there) or float("inf") in (abs(here), abs(there)):
        return 0.0
    floor = instruments.law(reading.question.instrument).shared_floor_sd * abs(1.0 / here - 1.0 / there)
    own = [
        instruments.error(one.question, float(one.answer), one.about, step_of(one) if one.text else 0.0).own
        / abs(float(one.answer))
        for one in (reading, other)
    ]
    return math.hypot(floor, *own)


def _beside(reading: Reading, other: Reading, place: str) -> str:
    here, there = reading.answer, other.answer
    if isinstance(here, str) or isinstance(there, str):
        return f"{place} was {there}" if here != there else f"as {place}"
    unit = UNITS.get(reading.question.instrument, "")
    if reading.question.instrument in SCOPED:
        shown = "never" if there == NEVER else write_reading(there, unit)
    else:
        shown = write_reading(there, unit) if unit in ("V", "ohm") else f"{there:g} {unit}".strip()
    if there == 0.0 or abs(there) == float("inf") or abs(here) == float("inf"):
        return f"as {place} ({shown})" if here == there else f"{place} was {shown}"
    ratio, error = here / there, ratio_error(reading, other)
    good = f"; ratio good to {200.0 * error:.1g} %" if 0.0 < 2.0 * error < ALIKE else ""  # two standard deviations
    if abs(ratio - 1.0) <= ALIKE:
        return f"as {place} ({shown}, {ratio:.2f} of it{good})"
    return f"{ratio:.3g} of {place} ({shown}{good})"
