"""Words of a line that hold for all of it: on a sister machine, at another frequency, at a known current."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

from probewright.machine.model import GROUND, Machine
from probewright.readings import Question, Reading, Setup, echo
from probewright.readings.answering import at_the_same_place
from probewright.readings.bench import Tails, hold
from probewright.readings.context import Context, Heard
from probewright.readings.setups import HERTZ
from probewright.units import read_value

SOUNDING = ("pp", "rms", "share")
MACHINE = r"(?:machine|unit|set|board|one)"
ON_SISTER = re.compile(
    rf"(?i)[\s,]*\b(?:(?:on|in|at|of)\s+)?(?:(?:the|a|my)\s+)?sister(?:\s+{MACHINE})?\b\s*:?"
    r"|[\s,]*\b(?:on|in)\s+(?:the|a|my)\s+(?:good|working|healthy|other)\s+(?:machine|unit)\b"
)
AT_HERTZ = re.compile(rf"(?i)[\s,]+at\s+(?P<hertz>{HERTZ})(?=$|[\s;,])")
AT_AMPS = re.compile(r"(?i)(?:^|[\s,]+)at\s+(?P<amps>\d+(?:[.,]\d+)?\s*m?A|\d+A\d+)\s*(?::|(?=$|[\s;,]))")
ONLY_FIGURE = re.compile(r"(?i)\s*(?:about\s+)?[-+]?\d[\w.,µΩ]*(?:\s*[a-zA-ZµΩ]+)*\s*")
Hear = Callable[[str, Context], Heard]


def elsewhere(text: str, context: Context, hear: Hear) -> Heard | None:
    """A line with "on the sister", "at 100 Hz" or "at 5 A" in it, heard without these words; None where none counts."""
    if context.machine is None or "sister" not in map(str.casefold, context.machine.channels.values()):
        if found := ON_SISTER.search(text):
            return _on_sister(text, found, context, hear)
    if found := AT_AMPS.search(text):
        return _at_amps(text, found, context, hear)
    if context.machine is not None and (found := AT_HERTZ.search(text)):  # else a stimulus in free words
        return _at_hertz(text, found, context, hear)
    return None


def _on_sister(text: str, found: re.Match[str], context: Context, hear: Hear) -> Heard | None:
    """ "U2.7 5.1 V on the sister", "sister U2.7 5.1 V", "U2.7 5.1 V, sister 5.2 V"."""
    before, behind = _cut(text, found)
    first = hear(before, context) if before.strip() else None
    if first is not None and (first.doubts or not first.readings):
        return None
    last = first.readings[-1] if first is not None else context.said[-1] if context.said else None
    there = context if first is None else replace(context, bench=first.bench, said=(*context.said, *first.readings))
    setup = _untouched(there.bench.setup)
    if ONLY_FIGURE.fullmatch(behind) and last is not None and (first is not None or context.asked is None):
        there = replace(there, asked=replace(last.question, setup=_untouched(last.question.setup)))
    elif context.asked is not None:
        there = replace(there, asked=replace(context.asked, setup=_untouched(context.asked.setup)))
    heard = _under(setup, behind, there, hear)
    if heard.doubts or not heard.readings:
        return heard if heard.doubts else None
    if any(one.question.instrument in ("works", "swap", "swap back", "test", "look") for one in heard.readings):
        return None
    if first is None:
        return heard
    return replace(
        heard, readings=(*first.readings, *heard.readings), echo=(*first.echo, *at_the_same_place(heard.echo)),
        remarks=(*first.remarks, *heard.remarks),
    )  # fmt: skip


def _cut(text: str, found: re.Match[str]) -> tuple[str, str]:
    """What was read on this machine, "" when nothing, and what on the sister; her name taken out."""
    comma = max(text.rfind(mark, 0, found.start() + 1) for mark in (", ", "; "))
    both = re.search(r",\s", found[0])
    at = found.start() if both and re.search(r"\w", text[found.end() :]) else comma
    gap = " " if text[: found.start()].strip() else ""
    if at < 0 or not re.search(r"\d", text[:at]):
        return "", text[: found.start()] + gap + text[found.end() :].lstrip()
    return text[:at], (text[at : found.start()].lstrip(" ,;") + gap + text[found.end() :]).strip()


def _untouched(setup: Setup) -> Setup:
    """The sister as she stands: nothing was lifted, unplugged or fitted there."""
    return Setup(setup.power, setup.stimulus, hertz=setup.hertz, sister=True)


def _at_hertz(text: str, found: re.Match[str], context: Context, hear: Hear) -> Heard | None:
    """ "U2.7 120 mV rms at 100 Hz": the stimulus with this frequency, or the one of the file that has it."""
    setup = with_hertz(replace(context.bench.setup, hertz=hertz_said(found["hertz"])), context.machine)
    heard = _under(setup, text[: found.start()] + text[found.end() :], context, hear)
    told = [one for one in heard.readings if one.question.instrument in SOUNDING]
    return heard if told and len(told) == len(heard.readings) else None


def _at_amps(text: str, found: re.Match[str], context: Context, hear: Hear) -> Heard | None:
    """ "P3 to P4 190 mV at 5 A", "at 5 A: E1 to E2 12 mV, E2 to E3 11 mV": the current, kept beside its drops."""
    amps = read_value(found["amps"].replace(",", "."), "A").si
    heard = hear((text[: found.start()] + " " + text[found.end() :]).strip(), context)
    asks = [one.question for one in heard.readings]
    if not asks or any(ask.instrument != "dc" or GROUND in (ask.red, ask.black) for ask in asks):
        return None
    along = Question("amps", asks[0].red, asks[-1].black, asks[0].setup)
    first = hold(Reading(along, amps, "", text=text.strip()), Tails(), context.bench)
    assert first.last is not None
    again = hear((text[: found.start()] + " " + text[found.end() :]).strip(), replace(context, bench=first))
    said = (echo.say(first.last, context.machine), *again.echo)
    return replace(again, readings=(first.last, *again.readings), echo=said) if again.readings else None


def with_hertz(setup: Setup, machine: Machine | None) -> Setup:
    """The set-up with the stimulus of the file that has this frequency, and no frequency of its own then."""
    if machine is None or not setup.hertz:
        return setup
    own = [one.name for one in machine.stimuli.values() if one.frequency == setup.hertz]
    if setup.stimulus in own:
        return replace(setup, hertz=0.0)
    return replace(setup, stimulus=own[0], hertz=0.0) if len(own) == 1 else setup


def hertz_said(stimulus: str) -> float:
    """The frequency that a stimulus in free words is, "100 hz"; 0 when it says something else."""
    return read_value(stimulus.replace(",", "."), "Hz").si if re.fullmatch(HERTZ, stimulus) else 0.0


def _under(setup: Setup, text: str, context: Context, hear: Hear) -> Heard:
    """The line heard in another set-up, which holds for it alone."""
    heard = hear(text, replace(context, bench=replace(context.bench, setup=setup)))
    return replace(heard, bench=replace(heard.bench, setup=context.bench.setup, power_said=context.bench.power_said))


def whole(heard: Heard, text: str) -> Heard:
    """The readings with the line as it was typed."""
    readings: tuple[Reading, ...] = tuple(replace(one, text=text.strip()) for one in heard.readings)
    last = heard.bench.last
    kept = readings[-1] if readings and last is not None else last
    return replace(heard, readings=readings, bench=replace(heard.bench, last=kept))
