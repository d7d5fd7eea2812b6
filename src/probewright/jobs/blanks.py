"""A line with `?` where a figure or a word is wanted: what it asks, and the line once that is known."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from probewright.errors import BadInput, Complaint
from probewright.jobs.bench import context_of
from probewright.jobs.cases import Case
from probewright.machine import Machine
from probewright.prediction.timed import NO_HERTZ
from probewright.readings import PROVOKE, SCOPED, Question, Reading
from probewright.readings.hearing import Context, Heard, hear
from probewright.readings.instruments import FEEDING, law, unit_of
from probewright.units import write_reading

UNITS = "ohms?|Ω|V rms|mV rms|V dc|Vpp|mVpp|mV|V|uF|nF|pF|F|kHz|Hz|ms|us|s|%"
BLANK = re.compile(rf"\?(?:\s*(?P<unit>[kM]?(?:{UNITS}))(?![A-Za-z]))?")
LATE = re.compile(r"(?P<what>rises|falls) (?P<through>through \S+ V) after never")
# what may stand for a blank without a unit while its question is found out, tried in this order
LIVE_TRIALS = ("1 V", "1", "ok", "same", "fault back", "half")
OFF_TRIALS = ("1 ohm", "0.5 V", "1", "no beep", "ok", "same")
DIGITS = 0.05  # chosen: below this share of an instrument's floor the display has no digit, and shows nought
FAULT_WORDS = ("same", "fault back")  # of those the ones that only say what an exchange or a tap did to the fault
ABOUT_FAULT = ("swap", "swap back", PROVOKE)
WORDS = {"swap back": {"back": "fault back", "away": "stays away"}}  # as typed, where that is not the answer itself
SHARES = ((0.25, "none"), (0.75, "half"), (math.inf, "ok"))  # of what a place should carry, up to that share


def questions(case: Case, machine: Machine, line: str, live: bool = False) -> tuple[Question, ...]:
    """What each `?` of a line asks; live: as if power were on. BadInput with what stands against it where that is not
    clear."""
    context = context_of(case, machine, sure=True)
    if live:
        context = replace(context, bench=replace(context.bench, setup=replace(context.bench.setup, power="on")))
    return tuple(reading.question for reading in _asking(context, line).readings)


def _asking(context: Context, line: str) -> Heard:
    """The line as heard with the first trial figures that it can be understood with."""
    wanted, first = len(BLANK.findall(line)), None
    for word in _trials(context, line):
        heard = hear(_tried(line, word), context)
        told_so = word not in FAULT_WORDS or all(one.question.instrument in ABOUT_FAULT for one in heard.readings)
        if not heard.doubts and len(heard.readings) == wanted and told_so:
            return heard
        first = first or heard
    assert first is not None
    wrong = [Complaint("", 1, one.column or 1, one.text, one.mend) for one in first.doubts]
    raise BadInput(*(wrong or [Complaint("", 1, 1, "each `?` must be one figure", "write one place with each `?`")]))


def _trials(context: Context, line: str) -> tuple[str, ...]:
    """What may stand in the blanks of a line that have no unit; a function's name asks how that does."""
    off = context.bench.setup.power == "off" or bool(re.search(r"(?i)\boff\b", line))
    trials = OFF_TRIALS if off else LIVE_TRIALS
    if line.partition("?")[0].strip(" :=").casefold() in _functions(context):
        return ("ok", *trials)
    if "diode" in line.casefold():
        return ("0.5 V", *trials)
    return ("no beep", *trials) if "beep" in line.casefold() else trials


def _functions(context: Context) -> set[str]:
    return {one.name.casefold() for one in context.machine.works} if context.machine else set()


def _tried(line: str, word: str) -> str:
    """The line with a figure in each blank that names its unit, and with this word in the others."""
    return _put(line, (_figure(one["unit"]) if one["unit"] else word for one in BLANK.finditer(line)))


def _figure(unit: str) -> str:
    """A figure in this unit that nobody would doubt: no capacitor has a whole farad."""
    return f"1 {'uF' if unit == 'F' else unit}"


def filled(line: str, answers: Sequence[str]) -> str:
    """The line with these answers in its blanks, in order."""
    return LATE.sub(r"never \g<what> \g<through>", _put(line, iter(answers)))


def _put(line: str, answers: Iterator[str]) -> str:
    """The line with an answer for each blank, a space before it where a word ends at the `?`."""

    def put(blank: re.Match[str]) -> str:
        joined = blank.start() > 0 and line[blank.start() - 1].isalnum()
        return f"{' ' if joined else ''}{next(answers)}"

    said = BLANK.sub(put, line)
    return said.replace("beep no beep", "no beep").replace("beep beeps", "beeps")


def as_typed(reading: Reading) -> str:
    """An answer as a person would type it: a figure of three or four digits, OL above the range, or a word."""
    ask, value = reading.question, reading.answer
    if isinstance(value, str):
        return WORDS.get(ask.instrument, {}).get(value, value)
    if ask.instrument == "share":
        return next(word for most, word in SHARES if value <= most)
    tool = law(ask.instrument)
    if ask.instrument in FEEDING and not value <= tool.high:
        return "OL"
    if ask.instrument in SCOPED and (math.isinf(value) or value == NO_HERTZ):
        return "never" if ask.instrument in ("rise", "fall") else "none"  # nothing repeats
    shown = 0.0 if abs(value) < DIGITS * tool.floor_sd else value
    ending = {"pp": "pp", "rms": " rms", "level": " rms"}.get(ask.instrument, "")
    return f"{write_reading(shown, unit_of(ask.instrument))}{ending}"
