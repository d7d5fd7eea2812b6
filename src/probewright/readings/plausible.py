"""Figures that cannot be, or that prove less than they seem to: asked about, or said beside the echo."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from probewright.machine.edits import SetFigure
from probewright.machine.kinds import KINDS
from probewright.machine.model import Machine
from probewright.readings import SCOPED, Question, Reading
from probewright.readings.context import Context
from probewright.readings.doubts import Doubt, beside_supply
from probewright.readings.instruments import UNPOWERED
from probewright.readings.items import letters_of
from probewright.readings.powering import unweighed
from probewright.readings.survey import Surveyed
from probewright.readings.tokens import named
from probewright.units import write_reading

SUPPLY_TIMES = 1.5  # chosen: a raw supply without load stands up to a half above its name
SWING_TIMES = 3.0  # chosen: twice that, peak to peak
THOUSAND = (300.0, 3000.0)  # chosen: a slip of the prefix, with the spread of one place's readings
MANY_VOLTS, FEW_VOLTS = 100.0, 60.0  # chosen: 650 typed for 650 mV beside pins of low-voltage equipment
LEFT = 0.1  # V, chosen: a quarter of what a low-voltage ohmmeter feeds; less hardly moves it
BELOW_MARK, ABOVE_MARK = 0.95, 1.1  # chosen: tolerance of an ordinary resistor, and a tenth above
OVER = float("inf")
IN_VOLTS = ("dc", "rms", *(one for one, unit in SCOPED.items() if unit == "V"))


def doubts(readings: Sequence[Reading], line: Surveyed, context: Context) -> tuple[Doubt, ...]:
    """What is asked about readings that were understood; nothing when the person insists."""
    if context.sure:
        return ()
    found: list[Doubt] = []
    highest = most_volts(context)
    for number, reading in enumerate(readings):
        earlier = (*context.said, *readings[:number])
        found.extend(
            filter(
                None,
                (
                    fed(reading),
                    charged(reading, earlier),
                    beyond(reading, highest),
                    moving(reading, line),
                    slipped(reading, earlier),
                ),
            )
        )
    return tuple(dict.fromkeys(found))


def most_volts(context: Context) -> float:
    """The highest volts the supplies allow between two places; 0 when none is known."""
    known = [*context.supplies, *(volts_of(context.machine) if context.machine else ())]
    return max([*map(abs, known), max(known) - min(known)]) if known else 0.0


def volts_of(machine: Machine) -> Iterator[float]:
    """Volts of every source that has some, with what it plays; an unknown one at its highest."""
    for part in machine.parts.values():
        figure, played = part.figures.get("volts"), part.figures.get("signal")
        if figure is not None and KINDS[part.kind].feeds:
            value = (figure.high or figure.nominal) if figure.law == "range" else figure.nominal
            if value or (played and played.nominal):
                yield value + (played.nominal if played else 0.0)
    for stimulus in machine.stimuli.values():
        set_to = {(one.part, one.figure): float(one.value) for one in stimulus.edits if isinstance(one, SetFigure)}
        for name in {course.part for course in stimulus.courses}:
            yield set_to.get((name, "volts"), 0.0) + set_to.get((name, "signal"), 0.0)


def beyond(reading: Reading, highest: float) -> Doubt | None:
    """More volts than the supplies can give."""
    ask, value = reading.question, reading.answer
    times = SWING_TIMES if ask.instrument == "pp" else SUPPLY_TIMES if ask.instrument in IN_VOLTS else None
    if times is None or isinstance(value, str) or not highest or abs(value) <= times * highest:
        return None
    text = f"{write_reading(value, 'V')} at {ask.red} is more than the supplies give ({write_reading(highest, 'V')})"
    return Doubt(
        "supply", text, "check the unit, mV or V, and read again; if it is so, say that it is", can_insist=True
    )


def fed(reading: Reading) -> Doubt | None:
    """A meter that feeds the board itself, while a bench supply feeds it too."""
    ask = reading.question
    if ask.instrument not in UNPOWERED or not ask.setup.supplied:
        return None
    return Doubt("power", *beside_supply(ask.setup))


def is_charge(reading: Reading) -> bool:
    """Volts on a board that nothing feeds: what a capacitor has kept."""
    ask, value = reading.question, reading.answer
    unfed = ask.instrument == "dc" and ask.setup.power == "off" and not ask.setup.supplied
    return unfed and not isinstance(value, str) and abs(value) >= LEFT


def charged(reading: Reading, earlier: Sequence[Reading]) -> Doubt | None:
    """A meter that feeds the board itself, where volts were left and nobody has read since that they are gone."""
    if reading.question.instrument not in UNPOWERED:
        return None
    last = {one.question.red: one for one in earlier if one.question.instrument == "dc" and not is_live(one)}
    left = next((one for one in last.values() if is_charge(one)), None)
    if left is None:
        return None
    assert not isinstance(left.answer, str)
    text = f"{write_reading(left.answer, 'V')} was left at {left.question.red} with power off"
    mend = f"discharge it, prove it (`{left.question.red} 0 V`), read again; if it is gone, say that it is so"
    return Doubt("charge", text, mend, can_insist=True)


def is_live(reading: Reading) -> bool:
    """Read with power on, or with a bench supply."""
    return reading.question.setup.power == "on" or bool(reading.question.setup.supplied)


def moving(reading: Reading, line: Surveyed) -> Doubt | None:
    """Volts dc where the line moves: the meter shows a mean that says nothing of the waveform."""
    words = set(re.findall(r"[a-z]+", reading.question.red.casefold()))
    single = {word for word in named("moving") if " " not in word}
    if (
        reading.question.instrument != "dc"
        or reading.question.setup.power == "off"
        or not (words & single or line.moving)
    ):
        return None
    text = f"a meter on dc shows only the mean of {reading.question.red}, whatever the waveform is"
    return Doubt(
        "moving", text, "look with the scope (0.3 Vpp); if it is the level at rest, say that it is so", can_insist=True
    )


def slipped(reading: Reading, earlier: Sequence[Reading]) -> Doubt | None:
    """A figure a thousand times off an earlier one of the same place, or off the pins beside it."""
    ask, value = reading.question, reading.answer
    if ask.instrument not in ("dc", "pp", "rms") or isinstance(value, str) or not value:
        return None
    for other in reversed(earlier):
        there = other.answer
        if other.question.instrument != ask.instrument or isinstance(there, str) or not there:
            continue
        times = max(abs(value / there), abs(there / value))
        if alike(ask.red, other.question.red) and THOUSAND[0] <= times <= THOUSAND[1]:
            return thousand(reading, other)
        part = ask.red.partition(".")[0]
        beside = "." in ask.red and other.question.red.partition(".")[0] == part
        if beside and ask.instrument == "dc" and abs(value) >= MANY_VOLTS and abs(there) <= FEW_VOLTS:
            return thousand(reading, other)
    return None


def alike(here: str, there: str) -> bool:
    """The same place, or the equal one of the other channel."""
    return unchannelled(here) == unchannelled(there)


def unchannelled(place: str) -> str:
    """A place without its channel."""
    return re.sub(r"\b(?:left|right)\b", "", place.casefold()).strip()


def thousand(reading: Reading, other: Reading) -> Doubt:
    """mV for V, or V for mV."""
    value, there = reading.answer, other.answer
    assert not isinstance(value, str) and not isinstance(there, str)
    here, beside = reading.question.red, other.question.red
    text = f"{write_reading(value, 'V')} at {here} against {write_reading(there, 'V')} at {beside}"
    return Doubt("millivolts", text, "check mV or V and write the unit; if it is so, say that it is", can_insist=True)


# What a reading does not prove ---------------------------------------------------------------


def notes(readings: Iterable[Reading], line: Surveyed, context: Context) -> Iterator[str]:
    """How far an in-place reading can be trusted, and what a lamp in series tells, to be said beside the echo."""
    for reading in readings:
        ask, value = reading.question, reading.answer
        part = ask.red.rpartition(".")[0] or ask.red
        if lamp := unweighed(reading, context):
            yield f"{part}: {lamp}"
        elif is_charge(reading):
            yield f"{part}: a charge is left with power off; discharge it and prove it before ohms or the diode range"
        elif is_capacitor(part) and (value in (OVER, "no beep")):
            yield f"{part}: a capacitor blocks direct current, so this says little of it"
        elif ask.instrument == "ohms" and not (line.lifted or _is_by_itself(part, ask)) and isinstance(value, float):
            yield from against_mark(part, value, {**context.marked, **line.marked}, context.machine)


def _is_by_itself(part: str, ask: Question) -> bool:
    """A leg of the part is lifted, or it is out, so that nothing lies across it."""
    return part in (*ask.setup.unplugged, *(pin.rpartition(".")[0] for pin in ask.setup.lifted))


def is_capacitor(part: str) -> bool:
    """Whether a part is called as capacitors are."""
    return letters_of(part) in ("C", "TC", "VC")


def against_mark(part: str, value: float, marked: object, machine: Machine | None) -> Iterator[str]:
    """Below the mark says little in place, above it is proof."""
    mark = mark_of(part, marked, machine)
    if mark and value < BELOW_MARK * mark:
        yield f"{part} below its mark of {write_reading(mark, 'ohm')}: says little, other parts lie across it"
    elif mark and value > ABOVE_MARK * mark:
        yield f"{part} above its mark of {write_reading(mark, 'ohm')}: nothing beside it can do that"


def mark_of(part: str, marked: object, machine: Machine | None) -> float:
    """Ohms printed on a part; 0 when not known."""
    if isinstance(marked, dict) and part in marked and marked[part][1] == "ohm":
        return float(marked[part][0])
    found = machine.parts.get(part) if machine else None
    return (
        next((one.nominal for one in found.figures.values() if one.unit == "ohm"), 0.0)
        if found and found.kind == "resistor"
        else 0.0
    )
