"""What is read off an oscilloscope's trace, in words, and how the oscilloscope was set.

    TP4 top 5.1 V            RES rises through 2.4 V after 85 ms      HOLD sags 120 mV between refreshes
    RAW ripple 0.4 Vpp 100 Hz, ac coupled                             CLK duty 30 %, over 0..200 ms

A figure with its word is taken out of the line, and volts peak to peak stand for it while the rest, the place and the
set-up, is understood as in any other line: so there is one grammar of places.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from probewright.machine.model import Machine, Measure
from probewright.machine.stimuli import Followed, followed
from probewright.readings import NEVER, SCOPED, Look, Question, Reading, Setup
from probewright.readings.doubts import Unsure
from probewright.readings.items import DESIGNATOR, OF_PARTS
from probewright.readings.quantities import number
from probewright.readings.setups import Piece, find
from probewright.readings.tokens import named
from probewright.units import write_reading

NUMBER = r"[-+−]?(?:\d+(?:[.,]\d+)?|[.,]\d+)"
IS = r"\s*(?:is|are|was|of|by|=|:)?\s*"
ABOUT = r"(?P<about>(?:about|approx\.?|around|roughly|ca\.?|~|≈)\s*)?"
VOLT = rf"{NUMBER}\s*(?:milli\s*)?[mkuµμ]?[Vv](?:olts?)?"
VOLTS = rf"{VOLT}(?!\w)(?!\s*(?:pp|p[-/]p|pk|peak|rms|ac)\b)"  # neither a swing nor rms
SWING = rf"{VOLT}\s*(?:pp|p[-/]p|pk[- ]?pk|peak[- ]to[- ]peak)(?!\w)"
TIME = rf"{NUMBER}\s*(?:[numµμ]?s|[mµμ]?secs?|(?:milli|micro)?seconds?)(?!\w)"
HERTZ = rf"{NUMBER}\s*(?:[kM]?Hz|(?:kilo|mega)?hertz|cps)(?!\w)"
SHARE = rf"{NUMBER}\s*(?:%|per ?cent\b)"
LEVEL = rf"(?:through|past|above|below|over|under)\s+(?P<level>{VOLTS})"
WHEN = rf"(?:after|at|in|within)\s+{ABOUT}(?P<value>{TIME})"
NOT = r"(?P<never>never|(?:does|did|will)(?: not|n['’]?t)|won['’]?t)(?:\s+ever)?"
GOES = {
    "rise": r"(?:rises?|rising|rose|comes? up|goe?s? (?:up|high)|climbs?)",
    "fall": r"(?:falls?|falling|fell|comes? down|goe?s? (?:down|low)|drops?)",
}
NEVERS = ("never", "it never does", "never does", "does not", "doesn't", "it does not", "no, never")
POWERS = {"V": {"m": -3, "k": 3, "u": -6}, "s": {"m": -3, "u": -6, "n": -9}, "Hz": {"k": 3, "m": 6}, "1": {"": -2}}
USUAL_LIMIT = 20e6  # Hz: what the button of nearly every oscilloscope does; common practice, no source


def _form(instrument: str, said: str) -> tuple[str, re.Pattern[str]]:
    return instrument, re.compile(rf"(?i)(?:^|(?<=[\s,;:])){said}")


def _changes() -> Iterator[tuple[str, re.Pattern[str]]]:
    """What a trace does once, or never."""
    for instrument, goes in GOES.items():
        yield _form(instrument, rf"{NOT}\s+{goes}\b(?:\s+{LEVEL})?")
        yield _form(instrument, rf"{goes}\s+{LEVEL},?\s+(?P<never>never)\b")
        yield _form(instrument, rf"{goes}\s+{WHEN}\s+{LEVEL}")
        yield _form(instrument, rf"{goes}(?:\s+{LEVEL})?,?\s+{WHEN}")


# Tried in this order; an earlier form keeps its words.
FORMS: tuple[tuple[str, re.Pattern[str]], ...] = (
    *_changes(),
    _form("ripple", rf"ripple{IS}{ABOUT}(?P<value>{SWING}),?\s+(?:at\s+)?(?P<hertz>{HERTZ})"),
    _form("top", rf"(?P<word>top|max(?:imum)?|highest|crests?){IS}{ABOUT}(?P<value>{VOLTS})"),
    _form("valley", rf"(?P<word>valleys?|min(?:imum)?|lowest|trough){IS}{ABOUT}(?P<value>{VOLTS})"),
    _form("period", rf"(?:period|repeats(?:\s+every)?|every){IS}{ABOUT}(?P<value>{TIME})"),
    _form("period", rf"{ABOUT}(?P<value>{TIME})\s+period\b"),
    _form("frequency", rf"frequency{IS}{ABOUT}(?P<value>{HERTZ})"),
    _form("duty", rf"duty(?:[- ](?:cycle|ratio|factor))?{IS}{ABOUT}(?P<value>{SHARE})"),
    _form("duty", rf"{ABOUT}(?P<value>{SHARE})\s+duty(?:[- ](?:cycle|ratio|factor))?\b"),
    _form("tilt", rf"(?:tilts?|droops?){IS}{ABOUT}(?P<value>{SHARE})"),
    _form("tilt", rf"{ABOUT}(?P<value>{SHARE})\s+(?:tilt|droop)\b"),
    _form("sag", rf"(?:sags?|droops?){IS}{ABOUT}(?P<value>{VOLTS})(?:\s+between\s+(?:refreshes|samples|pulses))?"),
    _form("distortion", rf"(?:distortion|thd){IS}{ABOUT}(?P<value>{SHARE})"),
    _form("distortion", rf"{ABOUT}(?P<value>{SHARE})\s+(?:distortion|thd)\b"),
    _form("level", rf"level\s+at\s+(?P<hertz>{HERTZ}){IS}{ABOUT}(?P<value>{VOLT})(?P<kind>\s*(?:rms|pp|peak)\b)?"),
    _form("level", rf"level{IS}{ABOUT}(?P<value>{VOLT})(?P<kind>\s*rms)(?!\w)"),
    _form("dc", rf"(?:mean|average|avg){IS}{ABOUT}(?P<value>{VOLTS})"),
    _form("drift", rf"(?:drifts?|drifted){IS}{ABOUT}(?P<value>{VOLTS})"),
    _form("last", rf"(?:last|ends\s+at|at\s+the\s+end){IS}{ABOUT}(?P<value>{VOLTS})"),
)
# Where something moves in time, also without a word; not behind "at", where it is that of the stimulus.
BARE: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("frequency", re.compile(rf"(?i)(?<=\s)(?<!\bat ){ABOUT}(?P<value>{HERTZ})\s*$")),
    ("period", re.compile(rf"(?i)(?<=\s)(?<!\bat )(?<!\bafter )(?<!\bin ){ABOUT}(?P<value>{TIME})\s*$")),
)
# Where something moves that is no sine: peak to peak of what repeats so often.
SWINGS = _form("ripple", rf"{ABOUT}(?P<value>{SWING})\s+at\s+(?P<hertz>{HERTZ})")
BEFORE = r"[,;]?\s*(?:\(\s*)?(?:with\s+|and\s+)?(?<!\w)"
SET = {
    "ac": re.compile(rf"(?i){BEFORE}(?:ac|a\.c\.)[- ]?coupl(?:ed|ing)\b\)?"),
    "dc": re.compile(rf"(?i){BEFORE}(?:dc|d\.c\.)[- ]?coupl(?:ed|ing)\b\)?"),
    "limit": re.compile(
        rf"(?i){BEFORE}(?:(?P<first>{HERTZ})\s+(?:bw\s*|bandwidth\s*)?|(?:bw|bandwidth)\s*)limit(?:ed|er)?(?:\s+on\b)?"
        rf"(?:\s+(?:to|at)?\s*(?P<last>{HERTZ}))?(?!\w)\)?"
    ),
    "single": re.compile(rf"(?i){BEFORE}(?:single[- ]?(?:shot|sweep)|one[- ]shot)\b\)?"),
    "window": re.compile(
        rf"(?i){BEFORE}(?:over|from)\s+(?P<start>{TIME}|{NUMBER})\s*(?:\.\.+|to|and|-)\s*(?P<stop>{TIME})\)?"
    ),
    "first": re.compile(rf"(?i){BEFORE}over\s+the\s+first\s+(?P<stop>{TIME})\)?"),
}
STAND_IN = "0.5 Vpp"  # read with the same probe and the same signals on
GAP = re.compile(r"(?i)[\s,;&]*(?:and|with|then)?[\s,;&:]*")


@dataclass(frozen=True)
class Seen:
    """One figure of a line. level: volts it goes through, None where not said; hertz: of a level, 0 where not
    said; bare: no word says what it is."""

    instrument: str
    value: float
    start: int
    end: int
    about: bool = False
    level: float | None = None
    hertz: float = 0.0
    bare: bool = False


@dataclass(frozen=True)
class Setting:
    """How the oscilloscope was set, where that stands in the line, and what was taken for granted."""

    look: Look = Look()
    spans: tuple[tuple[int, int], ...] = ()
    taken: tuple[str, ...] = ()


def figure(text: str, unit: str, start: int) -> float:
    """A figure as typed in SI; unit "V", "s", "Hz" or "1", which is typed in per cent."""
    found = re.match(NUMBER, text)
    assert found
    rest = text[found.end() :].strip().casefold().replace("micro", "u").translate({ord("µ"): "u", ord("μ"): "u"})
    power = POWERS[unit].get("" if unit == "1" else rest[:1], 0)
    return number(found[0].replace("−", "-"), power, start)


# What is in a line ---------------------------------------------------------------------------


def seen(text: str, machine: Machine | None, bare: bool = False, swings: bool = False) -> tuple[Seen, ...]:
    """The figures of a trace in a line, in order. Unsure where one could be two.

    bare: "50 Hz" and "20 ms" too; swings: "0.4 Vpp at 100 Hz" too, where that is no stimulus' other frequency.
    """
    found: list[Seen] = []
    for instrument, form in (*FORMS, *(BARE if bare else ()), *([SWINGS] if swings else [])):
        for match in form.finditer(text):
            taken = any(one.start < match.end() and match.start() < one.end for one in found)
            if not taken and not _of_a_part(match, text, machine):
                lone = (instrument, form) in BARE
                found += (replace(one, bare=lone) for one in _seen(instrument, match))
    return tuple(sorted(found, key=lambda one: one.start))


def _seen(instrument: str, match: re.Match[str]) -> Iterator[Seen]:
    """The figures of one form: a ripple has two."""
    said = match.groupdict()
    at, about = match.start(), bool(said.get("about"))
    hertz = figure(said["hertz"], "Hz", at) if said.get("hertz") else 0.0
    if instrument == "ripple":
        yield Seen("pp", figure(said["value"], "V", at), at, match.end(), about)
        yield Seen("frequency", hertz, at, match.end())
        return
    if instrument == "level" and (said.get("kind") or "").strip().casefold() != "rms":
        raise Unsure("unit", f"how are the volts of {match[0]!r} counted?", "write `level at 2 kHz 0.3 V rms`", at)
    level = figure(said["level"], "V", at) if said.get("level") else None
    unit = "V" if instrument == "dc" else SCOPED[instrument]
    value = NEVER if said.get("never") else figure(said["value"], unit, at)
    if value < 0.0 and unit != "V":
        raise Unsure("unit", "this answer cannot be negative", "write its size, without the sign", at)
    yield Seen(instrument, value, at, match.end(), about, level, hertz)


def _of_a_part(match: re.Match[str], text: str, machine: Machine | None) -> bool:
    """ "RV2 top 5 V", "volume at max 2 V": a side of a part, or how a control stands."""
    word = match.groupdict().get("word")
    before = text[: match.start()].split()[-1:]
    if not word or not before:
        return False
    low = before[0].casefold()
    if low in ("at", "vol", "volume", "on", "full", "the", *named("two ends"), *named("part kind")):
        return True
    part = DESIGNATOR.fullmatch(before[0])
    if machine is not None and (known := find(before[0], machine.parts)) and word in machine.parts[known[0]].pins:
        return True
    return bool(part and not part["rest"] and part["letters"].upper() not in OF_PARTS and machine is None)


def setting(text: str) -> Setting:
    """How the oscilloscope was set. Unsure for a window that ends before it begins."""
    look, spans, taken = Look(), [], []
    for word, form in SET.items():
        if not (match := form.search(text)):
            continue
        spans.append(match.span())
        if word in ("ac", "dc"):
            look = replace(look, coupling=word)
        elif word == "limit":
            typed = match["first"] or match["last"]
            look = replace(look, limit=figure(typed, "Hz", match.start()) if typed else USUAL_LIMIT)
            taken += [] if typed else [f"a limit at {write_reading(USUAL_LIMIT, 'Hz')}, as the button usually has it"]
        elif word == "single":
            look = replace(look, single=True)
        else:
            look = replace(look, window=_window(match))
    return Setting(look, tuple(spans), tuple(taken))


def _window(match: re.Match[str]) -> tuple[float, float]:
    """Begin and end, s; a begin without a unit has that of the end."""
    typed = match.groupdict().get("start") or "0"
    unit = "" if re.search(r"[a-zµμ]", typed) else re.sub(NUMBER, "", match["stop"], count=1)
    start, stop = figure(typed + unit, "s", match.start()), figure(match["stop"], "s", match.start())
    if not 0.0 <= start < stop:
        raise Unsure("unclear", "the window ends before it begins", "write `over 0..200 ms`", match.start())
    return start, stop


def without(text: str, spans: Sequence[tuple[int, int]]) -> str:
    """The line with these words blanked out, columns kept."""
    for start, end in spans:
        text = text[:start] + " " * (end - start) + text[end:]
    return text


def stand_ins(text: str, found: Sequence[Seen], put: str = STAND_IN) -> list[tuple[str, bool]]:
    """For each figure the line with `put` in its place and the others gone; True: at the place of the one before."""
    tail = text[found[-1].end :]
    tail = "" if GAP.fullmatch(tail) else re.sub(r"^\s*,\s*(?=(?:at|with)\s)", " ", tail)
    lines: list[tuple[str, bool]] = []
    lead, end = "", 0
    for one in found:
        between = text[end : one.start] if one.start >= end else ""
        again = bool(lines) and bool(GAP.fullmatch(between))
        lead = lead if again else between if not lines else between.lstrip(" ,;&")
        lines.append((f"{lead.rstrip()} {put}{tail}".lstrip() if lead.strip() else f"{put}{tail}", again))
        end = one.end
    return lines


# What it is on the bench ---------------------------------------------------------------------


def sounding(machine: Machine) -> list[str]:
    """Stimuli under which a signal can be read, "" for none where the part lines move by themselves."""
    names = [one.name for one in machine.stimuli.values() if one.frequency or followed(machine, one.name).in_time]
    return ["", *names] if followed(machine, "").in_time else names


def moving(machine: Machine | None, setup: Setup) -> bool:
    """Whether what is read in this set-up comes off a trace."""
    return machine is not None and setup.power == "on" and followed(machine, setup.stimulus).in_time


def swinging(machine: Machine | None, setup: Setup) -> bool:
    """Whether something moves in this set-up that is no sine of the stimulus, so that a frequency is read, not set."""
    return (
        machine is not None
        and moving(machine, setup)
        and not (setup.stimulus in machine.stimuli and machine.stimuli[setup.stimulus].frequency)
    )


def moves(machine: Machine) -> bool:
    """Whether anything can be read off a trace at all."""
    return any(not (name and machine.stimuli[name].playing) for name in sounding(machine))


def as_seen(reading: Reading, one: Seen, look: Look, machine: Machine | None) -> Reading:
    """The reading that stood in, as what was seen. Unsure where nobody knows which volts it goes through."""
    level = one.level
    if machine is not None and one.instrument in GOES:
        reading = replace(reading, question=_at_what_happens(reading.question, machine, one.start))
    if level is None and one.instrument in GOES:
        level = known_level(one.instrument, reading.question, machine)
        if level is None:
            verb = "rises" if one.instrument == "rise" else "falls"
            mend = f"write `{verb} through 2.4 V after 85 ms`, or `never {verb} through 2.4 V`"
            raise Unsure("unit", "through how many volts?", mend, one.start)
    ask = replace(reading.question, instrument=one.instrument, look=replace(look, level=level or 0.0, hertz=one.hertz))
    return replace(reading, question=ask, answer=one.value, about=one.about, bound=None)


def happening(machine: Machine) -> list[str]:
    """Stimuli under which something happens once: a switch-on, a step."""
    return [name for name in machine.stimuli if _happens(followed(machine, name))]


def _happens(known: Followed) -> bool:
    once = (wave for course in known.courses for wave in course.waves() if wave.period == float("inf"))
    return known.switched_on or any(once)


def _at_what_happens(ask: Question, machine: Machine, start: int) -> Question:
    """A rise or a fall is of a stimulus in which something happens: the one of the set-up, else the only one."""
    names = happening(machine)
    if not names or ask.setup.stimulus in names:
        return ask
    if len(names) > 1:
        raise Unsure("unclear", "after what?", "write " + " or ".join(f"`at {one}`" for one in names), start)
    return replace(ask, setup=replace(ask.setup, stimulus=names[0]))


def known_level(instrument: str, ask: Question, machine: Machine | None) -> float | None:
    """Volts that the machine file has a rise or a fall go through, here or else anywhere; None for several."""
    measures = _measures(machine) if machine is not None else []
    here = {one.level for one in measures if one.quantity == instrument and one.place == ask.red}
    anywhere = {one.level for one in measures if one.quantity == instrument}
    levels = here or anywhere
    return levels.pop() if len(levels) == 1 else None


def _measures(machine: Machine) -> list[Measure]:
    every = [one for works in machine.works for one in (works, works.only_if_sentence) if one is not None]
    return [measure for one in every for measure in (one.measure, one.second) if measure is not None]


# As in a file of readings --------------------------------------------------------------------


def plainly(body: Piece, machine: Machine) -> list[tuple[Piece, Seen | None, Look]]:
    """What stands for a line of a readings file that speaks of a trace; none when it does not. BadInput."""
    try:
        how = setting(body.text)
        text = without(body.text, how.spans)
        found = seen(text, machine, bare=any(followed(machine, name).in_time for name in sounding(machine)))
    except Unsure as unsure:
        raise replace(body, column=body.column + unsure.doubt.column - 1).wrong(
            unsure.doubt.text, unsure.doubt.mend
        ) from unsure
    if not found:
        return [(replace(body, text=text).cut(0), None, how.look)] if how.spans else []
    lines = stand_ins(text, found)
    return [(replace(body, text=line), one, how.look) for (line, _), one in zip(lines, found, strict=True)]


def plain_reading(reading: Reading, one: Seen | None, look: Look, machine: Machine, body: Piece) -> Reading | None:
    """The reading that stood in, as what was seen; None where nothing moves and only the volts themselves count."""
    if (one is None or one.bare) and not moving(machine, reading.question.setup):
        return None
    if one is None:
        return replace(reading, question=replace(reading.question, look=look))
    try:
        return as_seen(reading, one, look, machine)
    except Unsure as unsure:
        raise body.wrong(unsure.doubt.text, unsure.doubt.mend) from unsure
