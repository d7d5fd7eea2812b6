"""Readings as typed: one a line, understood whole or refused with a mend, never guessed.

What is taken for granted (volts where no unit stands, the only stimulus with a signal) is seen in
`echo.say`, which names everything.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

from probewright import units
from probewright.errors import BadInput, Complaint, NotAValue
from probewright.machine.model import GROUND, Machine, Part, Works
from probewright.machine.saying import nearest
from probewright.readings import Question, Reading, Setup, instruments
from probewright.readings.setups import Piece, find, known, pins_in_words, place, understand

SETUP = re.compile(r"set[- ]?up\s*:", re.IGNORECASE)
COMMENT = re.compile(r"(?:^|\s)#.*")
ABOUT = re.compile(r"(?:about|approximately|approx\.?|roughly|around|circa|ca\.?|~|≈)\s*", re.IGNORECASE)
OVER = re.compile(r"(?i:O\.?L\.?|0\.?L|over ?limit|over ?load|open)\b\.?\s*(?P<unit>\S.*)?")
OHM = r"(?:(?i:ohms?)|Ω|\u2126)"
VOLT = r"(?:(?i:volts?)|[Vv])"
KIND = r"(?i:pk[- ]?pk|p[-/]?p|ac\s*rms|rms|ac|dc)"
KINDS_IN_WORDS = {"ac": "rms", "rms": "rms", "acrms": "rms", "dc": "dc"}
SHAPES = (  # tried in this order; figure and prefix go to units.read_value together
    ("volts", re.compile(rf"(?P<figure>.+?)\s*(?P<prefix>[nuµμmkM]?){VOLT}\s*(?P<kind>{KIND})?")),
    ("volts", re.compile(rf"(?P<figure>[-+−]?\d+V\d+)(?P<prefix>)\s*(?P<kind>{KIND})?")),
    ("volts", re.compile(rf"(?P<figure>[-+−]?[\d.,]+)(?P<prefix>)\s*(?P<kind>{KIND})")),
    ("ohms", re.compile(rf"(?P<figure>.+?)\s*(?P<prefix>[mkKM]?)\s*{OHM}")),
    ("ohms", re.compile(r"(?P<figure>\d*R\d*)(?P<prefix>)")),
    ("", re.compile(r"(?P<figure>[-+−]?[\d.,]+)(?P<prefix>)")),
    ("letter", re.compile(r"(?P<figure>\d+(?:[.,]\d+)?[kKM]\d*)(?P<prefix>)")),
)
PERCENT = re.compile(r"(?P<figure>\S+)\s*(?:%|per ?cent)")
SHOWING = {
    "showing": "yes",
    "fault showing": "yes",
    "not showing": "no",
    "fault not showing": "no",
    "can't tell": "can't tell",
    "can’t tell": "can't tell",
    "cant tell": "can't tell",
    "cannot tell": "can't tell",
}
SAME_HOOKUP = ("same hook-up", "same hookup", "same hook up")
NEW_SITTING = ("new sitting",)
TAILS = ("not showing", "can't tell", "showing", "same hook-up", "new sitting")


@dataclass(frozen=True)
class Bench:
    """Where the bench stands between two lines.

    setup: as the last set-up line says; sitting: number of the present one; taken: readings were
    taken in it; disturbed: something was changed since the last reading; last: the last reading;
    hookups: hook-up ids given so far.
    """

    setup: Setup = Setup()
    sitting: int = 0
    taken: bool = False
    disturbed: bool = False
    last: Reading | None = None
    hookups: int = 0


@dataclass(frozen=True)
class Said:
    """An answer in figures: unit "volts", "ohms", "letter" (4k1 alone) or ""; kind of volts."""

    unit: str
    value: float
    kind: str = ""
    about: bool = False


@dataclass(frozen=True)
class Tails:
    """What stands behind the semicolons."""

    showing: str = "yes"
    same_hookup: Piece | None = None
    new_sitting: bool = False


# Words ---------------------------------------------------------------------------------------


def plain(text: str) -> str:
    """Small letters and single blanks."""
    return " ".join(text.casefold().split())


@cache
def words(about: str) -> Mapping[str, str]:
    """Everyday words of data/words.csv for "degree" or "swap", and what they stand for."""
    text = files(__package__).joinpath("data/words.csv").read_text("utf-8")
    return {row["word"]: row["means"] for row in csv.DictReader(text.splitlines()) if row["about"] == about}


def read_tails(pieces: tuple[Piece, ...]) -> Tails:
    """The remarks behind the answer. BadInput for one not known."""
    tails = Tails()
    for piece in pieces:
        word = plain(piece.text)
        if word in SHOWING:
            tails = replace(tails, showing=SHOWING[word])
        elif word in SAME_HOOKUP:
            tails = replace(tails, same_hookup=piece)
        elif word in NEW_SITTING:
            tails = replace(tails, new_sitting=True)
        else:
            raise piece.wrong(f"{piece.text!r} is not a remark", nearest(piece.text, TAILS))
    return tails


# Figures -------------------------------------------------------------------------------------


def number(piece: Piece, unit: str) -> float:
    """One figure in SI. BadInput for no value, a range or a tolerance."""
    try:
        value = units.read_value(piece.text, unit)
    except NotAValue as problem:
        raise piece.wrong(problem.text, problem.mend) from problem
    if value.tolerance is not None or value.low is not None:
        raise piece.wrong(f"{piece.text!r} is a range, and a reading is one figure", "write its middle: `about 2.6 V`")
    return value.si


def over_limit(piece: Piece) -> Said | None:
    """OL, alone or with ohm; None when it is something else."""
    found = OVER.fullmatch(piece.text)
    if not found:
        return None
    unit = found["unit"] or ""
    if not re.fullmatch(rf"(?:[kKM]?\s*{OHM})?", unit):
        raise piece.wrong("over limit is an answer in ohms only", "choose a higher range and write the figure")
    return Said("ohms", float("inf"))


def volts_kind(text: str) -> str:
    """dc, pp or rms as in a Question; "" when not said."""
    word = re.sub(r"\s", "", text.casefold())
    return KINDS_IN_WORDS.get(word, "pp" if word else "")


def refuse_unit(piece: Piece) -> BadInput:
    """The best that can be said about an answer of no known shape."""
    text = piece.text
    if re.search(rf"{VOLT}\s*(?i:pk|peak|p)\b", text):
        return piece.wrong("peak volts can be half the swing or not", "write peak to peak (0.32 Vpp) or V rms")
    if re.search(r"\d\s*[umµ]?(?:A|amps?)$", text):
        return piece.wrong("amps are not read here", "write the volts across a resistor the current runs through")
    if re.search(r"\d\s*[kM]?Hz$", text):
        return piece.wrong("frequencies are not read here", "write the volts: 0.32 Vpp")
    if text.endswith("%"):
        return piece.wrong("per cent belong to what works, not to a place", "write volts, or `left output: 70 %`")
    if text.startswith((">", "<")):
        return piece.wrong("a reading is one figure, not a bound", "write the figure, or `OL ohm` above the range")
    if text in ("?", "unknown"):
        return piece.wrong("a reading needs a figure", "leave the line out until it is measured")
    if re.search(r",\s*[A-Za-z]", text):
        return piece.wrong(f"{text!r} is more than an answer", "write remarks behind a semicolon")
    mend = "write `2.61 V`, `320 mV`, `0.32 Vpp`, `0.2 V rms`, `4k1 ohm` or `OL ohm`"
    return piece.wrong(f"{text!r} is not an answer", mend)


def peak_to_peak(piece: Piece) -> Piece:
    """The long words as the short one, columns kept."""
    text = re.sub(r"(?i)\bpeak[ -]to[ -]peak\b", lambda found: "pp".ljust(len(found[0])), piece.text)
    return replace(piece, text=text).cut(0)


def leading_kind(piece: Piece) -> tuple[str, Piece]:
    """ "DC 2.61 V": the kind in front, and the rest."""
    found = re.match(rf"({KIND})\s+", piece.text)
    return (volts_kind(found[1]), piece.cut(found.end())) if found else ("", piece)


def read_answer(piece: Piece) -> Said:
    """The figure with its unit, "about" and kind of volts. BadInput when not understood."""
    about = ABOUT.match(piece.text)
    first, rest = leading_kind(piece.cut(about.end() if about else 0))
    if over := over_limit(rest):
        return over
    if re.match(r"[<>?]|unknown", rest.text):
        raise refuse_unit(rest)
    for unit, shape in SHAPES:
        if found := shape.fullmatch(rest.text):
            kind = volts_kind(found.groupdict().get("kind") or "")
            if first and kind not in ("", first):
                raise piece.wrong(f"{piece.text!r} is said to be both {first} and {kind}", "keep one of them")
            return Said(*figure(rest, unit, found), kind or first, bool(about))
    raise refuse_unit(rest)


def figure(piece: Piece, unit: str, found: re.Match[str]) -> tuple[str, float]:
    """Unit and SI value of a matched shape."""
    text = found["figure"] + found["prefix"]
    if unit == "letter":
        return unit, number(replace(piece, text=text), "ohm")
    return unit, number(replace(piece, text=text), "ohm" if unit == "ohms" else "V")


def step_of(reading: Reading) -> float:
    """Worth of the last digit the person wrote, SI: 0.01 for "2.61 V", 100 for "4k1".

    For `instruments.error(..., step=)`. 0 when the answer is a word or OL, or is not found in the text. A bare "0"
    is taken as 0.0, for nobody writes the decimals of nothing (an estimate).
    """
    if isinstance(reading.answer, str) or reading.answer == float("inf"):
        return 0.0
    for found in re.finditer(r"(\d+)(?:[.,kMRV](\d+))?\s*([uµμmkM]?)", reading.text):
        decimals = len(found[2] or "")
        mantissa = float(f"{found[1]}.{found[2] or 0}")
        if not reading.answer and not mantissa:
            return 10.0 ** -max(decimals, 1) * 10.0 ** units.PREFIXES.get(found[3], 0)
        for scale in (1e-6, 1e-3, 1.0, 1e3, 1e6):
            if abs(mantissa * scale - abs(reading.answer)) <= 1e-9 * abs(reading.answer):
                return scale * 10.0**-decimals
    return 0.0


# Places --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Ends:
    """Where the probes are. part: a part was named, not a place; across: said so."""

    red: str
    black: str = GROUND
    part: Part | None = None
    across: bool = False


def named_part(piece: Piece, machine: Machine) -> Part | None:
    """The part of that name, when it is not a net or point as well."""
    found = find(piece.text, machine.parts)
    if len(found) != 1 or find(piece.text, (*machine.nets, *machine.points)):
        return None
    return machine.parts[found[0]]


def read_ends(piece: Piece, machine: Machine) -> Ends:
    """A place, "A to B", a part, or "across R1". BadInput when not known."""
    if across := re.match(r"(?i)across\s+", piece.text):
        one = piece.cut(across.end())
        return across_part(one, machine.parts[known(one, machine.parts, "parts")])
    ends = piece.split(r"\s+to\s+")
    if len(ends) == 1 and (part := named_part(piece, machine)):
        return Ends("", part=part)
    if len(ends) > 2:
        raise piece.wrong("a reading is between two places", "write `A to B 1.2 V`")
    places = [place(end, machine) for end in ends]
    return Ends(places[0], places[1] if len(places) == 2 else GROUND)


def across_part(piece: Piece, part: Part) -> Ends:
    """Both pins of a part with two; first pin is red (plus, anode)."""
    if len(part.pins) != 2:
        raise piece.wrong(f"{part.name} has {len(part.pins)} pins", f"name two of them: {pins_in_words(part)}")
    red, black = (f"{part.name}.{pin}" for pin in part.pins)
    return Ends(red, black, part, across=True)


def halves(piece: Piece) -> Iterator[tuple[Piece, Piece]]:
    """Every way to cut a line at a blank, longest first half first."""
    for found in reversed(list(re.finditer(r"\s+", piece.text))):
        yield piece.cut(0, found.start()), piece.cut(found.end())


def place_and_answer(piece: Piece, machine: Machine) -> tuple[Ends, Piece]:
    """Cut "R31.2 to GND 2.61 V" where the longest known place ends. BadInput when there is none."""
    for where, answer in halves(piece):
        if answer.text.startswith("to ") or find(answer.text, machine.parts):
            continue  # "R31 R47" and "A to B" lack their figure, though R47 could be one
        try:
            return read_ends(where, machine), answer
        except BadInput:
            continue
    spoken = re.match(r"(?:across\s+)?\S+(?:\s+to\s+\S+)*", piece.text)
    where = piece.cut(0, spoken.end() if spoken else None)
    read_ends(where, machine)
    raise piece.wrong(f"no figure for {where.text}", f"write `{where.text} 2.61 V`")


# One line ------------------------------------------------------------------------------------


def take_stimulus(piece: Piece, machine: Machine) -> tuple[Piece, str]:
    """Take "at tone" out of a line, columns kept; "" when it is not there."""
    names = "|".join(re.escape(name) for name in sorted(machine.stimuli, key=len, reverse=True))
    found = re.search(rf"(?i)\s+at\s+({names})(?=\s|$)", piece.text) if names else None
    if found:
        text = piece.text[: found.start()] + " " * len(found[0]) + piece.text[found.end() :]
        return replace(piece, text=text).cut(0), known(piece.cut(*found.span(1)), machine.stimuli, "stimuli")
    if unknown := re.search(r"(?i)\s+at\s+(.+)$", piece.text):
        known(piece.cut(*unknown.span(1)), machine.stimuli, "stimuli")
    return piece, ""


def with_signal(piece: Piece, setup: Setup, machine: Machine, instrument: str) -> Setup:
    """A set-up whose stimulus puts a signal on, for peak to peak and rms. BadInput when in doubt."""
    sounding = [one.name for one in machine.stimuli.values() if one.frequency]
    if not sounding:
        raise piece.wrong("no stimulus in this file puts a signal on", "write volts dc, or add such a stimulus")
    if not setup.stimulus and len(sounding) == 1:
        setup = replace(setup, stimulus=sounding[0])
    if setup.stimulus not in sounding:
        which = f"{setup.stimulus} puts no signal on" if setup.stimulus else "which signal was on?"
        raise piece.wrong(which, "write " + " or ".join(f"`at {name}`" for name in sounding))
    in_band(piece, setup, machine, instrument)
    return setup


def in_band(piece: Piece, setup: Setup, machine: Machine, instrument: str) -> None:
    """Refuse a signal the instrument does not follow."""
    hertz, law = machine.stimuli[setup.stimulus].frequency, instruments.law(instrument)
    if hertz and not law.low_hertz <= hertz <= law.high_hertz:
        band = f"{units.write_reading(law.low_hertz, 'Hz')} to {units.write_reading(law.high_hertz, 'Hz')}"
        raise piece.wrong(
            f"{setup.stimulus} is {units.write_reading(hertz, 'Hz')}, and the {law.name} is good from {band}",
            "measure with the oscilloscope: Vpp" if instrument == "rms" else "choose another stimulus",
        )


def choose_unit(piece: Piece, said: Said, ends: Ends, setup: Setup) -> str:
    """The instrument an answer speaks of. BadInput where two are possible."""
    off, part = setup.power == "off", ends.part is not None
    if said.unit == "ohms" or (off and part and said.unit in ("", "letter") and not said.kind):
        return "ohms"
    if said.unit == "volts" or said.kind:
        return said.kind or "dc"
    if said.unit == "letter" or off:
        raise piece.wrong(f"{piece.text!r} could be volts or ohms", "write the unit: V or ohm")
    return "dc"


def settle_ends(piece: Piece, ends: Ends, instrument: str) -> Ends:
    """A part's name means across its pins for ohms; for volts it must be said."""
    if ends.part is None or ends.across:
        return ends
    if instrument == "ohms":
        return across_part(piece, ends.part)
    across = f", or `across {ends.part.name}`" if len(ends.part.pins) == 2 else ""
    raise piece.wrong(f"{ends.part.name} is a part, not a place", f"write {pins_in_words(ends.part)}{across}")


def in_range(piece: Piece, instrument: str, value: float) -> None:
    """Refuse figures no such instrument can show."""
    law = instruments.law(instrument)
    if instrument != "dc" and value < 0.0:
        raise piece.wrong("this answer cannot be negative", "write its size, without the sign")
    if not law.low <= value <= law.high and value != float("inf"):
        limit = units.write_reading(law.high, law.unit)
        mend = "write OL ohm" if instrument == "ohms" else "check the unit: mV, V or kV"
        raise piece.wrong(f"the {law.name} ends at {limit}", mend)


def measured(line: Piece, setup: Setup, machine: Machine, cut: tuple[Piece, Piece] | None = None) -> Reading:
    """A figure at a place, with no hook-up yet. cut: place and answer when a colon parts them."""
    ends, answer = (read_ends(cut[0], machine), cut[1]) if cut else place_and_answer(line, machine)
    answer = answer.cut(len(found[0]) if (found := re.match(r"(?i)(?:=|is\s|reads\s|shows\s)\s*", answer.text)) else 0)
    said = read_answer(answer)
    instrument = choose_unit(answer, said, ends, setup)
    ends = settle_ends(line, ends, instrument)
    in_range(answer, instrument, said.value)
    if ends.red == ends.black:
        raise line.wrong(f"both probes are on {ends.red}", "name two different places")
    if instrument == "ohms" and setup.power == "on":
        raise answer.wrong(
            "ohms with power on say nothing and can harm the meter",
            "write `set-up: power off`, discharge, and measure again; or write volts",
        )
    if instrument in ("pp", "rms"):
        setup = with_signal(answer, setup, machine, instrument)
    return Reading(Question(instrument, ends.red, ends.black, setup), said.value, "", about=said.about)


def function_words(works: Works) -> tuple[str, ...]:
    """The file's own words for how this function fails."""
    return tuple(limit.words for limit in works.limits if limit.words)


def read_degree(piece: Piece, works: Works) -> tuple[float | str, bool]:
    """How a function does: the file's words, everyday words or per cent; and whether "about"."""
    own = {plain(word): word for word in function_words(works)}
    if plain(piece.text) in own:
        return own[plain(piece.text)], False
    about = ABOUT.match(piece.text)
    rest = piece.cut(about.end() if about else 0)
    if plain(rest.text) in words("degree"):
        means = words("degree")[plain(rest.text)]
        return (means if means in ("ok", "bad") else float(means)), bool(about)
    if found := PERCENT.fullmatch(rest.text):
        return share(rest, number(replace(rest, text=found["figure"] + "%"), "%")), bool(about)
    choice = ["ok", "bad", "half", "a third", "a quarter", "double", "70 %", *function_words(works)]
    raise piece.wrong(f"{piece.text!r} does not say how {works.name} does", f"write one of: {', '.join(choice)}")


def share(piece: Piece, of_healthy: float) -> float:
    """A share of healthy. BadInput where a share says nothing: at nought, and far beyond."""
    if not 0.01 <= of_healthy <= 100.0:
        raise piece.wrong(f"{piece.text!r} is no share to reckon with", "write `bad`, or 1 % to 10000 %")
    return of_healthy


def heard(name: Piece, answer: Piece, setup: Setup, machine: Machine, works: Works) -> Reading:
    """What the owner sees or hears, judged at the function's own stimulus."""
    powered(name, setup, f"{works.name} cannot be judged with power off")
    own, stimulus = works.measure.stimulus, ""
    if plain(answer.text) not in map(plain, function_words(works)):
        answer, stimulus = take_stimulus(answer, machine)
    if stimulus not in ("", own):
        raise name.wrong(f"{works.name} is judged at {own or 'no stimulus'}", f"leave out `at {stimulus}`")
    degree, about = read_degree(answer, works)
    return Reading(Question("works", works.name, setup=replace(setup, stimulus=own)), degree, "", about=about)


def powered(piece: Piece, setup: Setup, text: str) -> None:
    """Refuse what needs power on."""
    if setup.power == "off":
        raise piece.wrong(text, "write `set-up: power on` before it")


def swapped(name: Piece, answer: Piece, setup: Setup, machine: Machine) -> Reading:
    """What a known good lead or extra did to the complaint."""
    extras = [part.name for part in machine.parts.values() if part.role == "extra"]
    if found := find(name.text, machine.parts):
        if found[0] not in extras:
            mend = f"after fitting a new one write `set-up: replaced {found[0]}`"
            raise name.wrong(f"{found[0]} cannot be swapped from outside", mend)
    extra = known(name, extras, "leads and extras")
    powered(name, setup, "a swap is judged with power on")
    if plain(answer.text) not in words("swap"):
        raise answer.wrong(f"{answer.text!r} does not say what the swap did", "write `same`, `better` or `cured`")
    return Reading(Question("swap", extra, setup=setup), words("swap")[plain(answer.text)], "")


SWAP = re.compile(r"(?i)(?:swapped\s+(?P<what>.+?)|(?P<whom>.+?)\s+swapped)\s*(?::|=|\s)\s*(?P<answer>\S.*)")
NAMED = re.compile(r"(?P<name>.+?)\s*[:=]\s*(?P<answer>.+)")


def read_body(line: Piece, setup: Setup, machine: Machine) -> Reading:
    """The part of a line before its remarks."""
    line = peak_to_peak(line)
    if found := SWAP.fullmatch(line.text):
        name = line.cut(*found.span("what" if found["what"] else "whom"))
        return swapped(name, line.cut(*found.span("answer")), setup, machine)
    found = NAMED.fullmatch(line.text)
    if found and (works := function_named(line, found, machine)):
        return heard(line.cut(*found.span("name")), line.cut(*found.span("answer")), setup, machine, works)
    line, stimulus = take_stimulus(line, machine)
    setup = replace(setup, stimulus=stimulus) if stimulus else setup
    found = NAMED.fullmatch(line.text)
    if not found:
        return measured(line, setup, machine)
    name = line.cut(*found.span("name"))
    try:
        read_ends(name, machine)
    except BadInput as problem:
        raise unknown_name(name, machine) from problem
    return measured(line, setup, machine, (name, line.cut(*found.span("answer"))))


def function_named(line: Piece, found: re.Match[str], machine: Machine) -> Works | None:
    """The function before the colon; None for a place, also for one of that name read in volts or ohms."""
    functions = {works.name: works for works in machine.works}
    match = find(found["name"], functions)
    if not match or (is_place(line.cut(*found.span("name")), machine) and has_unit(line.cut(*found.span("answer")))):
        return None
    return functions[match[0]]


def is_place(piece: Piece, machine: Machine) -> bool:
    """Whether a probe can go there."""
    try:
        place(piece, machine)
    except BadInput:
        return False
    return True


def has_unit(piece: Piece) -> bool:
    """Whether an answer is in volts or ohms."""
    try:
        return read_answer(piece).unit in ("volts", "ohms")
    except BadInput:
        return False


def unknown_name(name: Piece, machine: Machine) -> BadInput:
    """Neither a function nor a place."""
    functions = [works.name for works in machine.works]
    names = (*functions, *machine.points, *machine.nets, *machine.parts)
    return name.wrong(f"{name.text!r} is neither a place nor something that works", nearest(name.text, names))


# Many lines ----------------------------------------------------------------------------------


def physical(setup: Setup) -> Setup:
    """The set-up without its stimulus: turning a knob starts no new sitting."""
    return replace(setup, stimulus="")


def move(bench: Bench, setup: Setup) -> Bench:
    """The bench after a set-up line."""
    changed = physical(setup) != physical(bench.setup)
    return replace(bench, setup=setup, disturbed=bench.disturbed or changed)


def scope_or_meter(instrument: str) -> str:
    """Which probes are held: moving from one to the other is a new hook-up."""
    return "scope" if instrument == "pp" else "meter"


def hold(reading: Reading, tails: Tails, bench: Bench) -> Bench:
    """Give a reading its hook-up, sitting and remarks, and let it be the bench's last one."""
    ask, before, hookups = reading.question, bench.last, bench.hookups
    if tails.same_hookup is None:
        hookups += 1
        hookup = f"h{hookups}"
    else:
        hookup = same_hookup(tails.same_hookup, ask, before)
    fresh = bench.taken and (bench.disturbed or tails.new_sitting)
    sitting = bench.sitting + fresh
    reading = replace(reading, hookup=hookup, showing=tails.showing, sitting=sitting)
    return replace(bench, sitting=sitting, taken=True, disturbed=False, last=reading, hookups=hookups)


def same_hookup(piece: Piece, ask: Question, before: Reading | None) -> str:
    """The hook-up of the reading before. BadInput when the probes must have moved."""
    if before is None:
        raise piece.wrong("there is no reading before this one", "leave `same hook-up` out")
    held = before.question
    here = (ask.red, ask.black, scope_or_meter(ask.instrument))
    if here != (held.red, held.black, scope_or_meter(held.instrument)) or ask.instrument in ("works", "swap"):
        raise piece.wrong("the probes were elsewhere in the reading before", "leave `same hook-up` out")
    return before.hookup


def read_line(line: Piece, bench: Bench, machine: Machine) -> tuple[Bench, tuple[Complaint, ...]]:
    """The bench after one line that is not blank, and what is wrong with the line."""
    if found := SETUP.match(line.text):
        setup, complaints = understand(line.cut(found.end()), machine)
        return move(bench, setup), complaints
    body, *tails = line.split(";") or (line,)
    try:
        reading = replace(read_body(body, bench.setup, machine), text=line.text, line=line.line)
        return hold(reading, read_tails(tuple(tails)), bench), ()
    except BadInput as problem:
        return bench, problem.complaints


def continue_readings(text: str, machine: Machine, bench: Bench, file: str = "") -> tuple[tuple[Reading, ...], Bench]:
    """The readings of a text typed while the bench stands so, and how it stands afterwards.

    BadInput with every complaint of every line.
    """
    readings: list[Reading] = []
    complaints: list[Complaint] = []
    for count, raw in enumerate(text.splitlines(), start=1):
        line = Piece(COMMENT.sub("", raw), count, 1, file).cut(0)
        if not line.text:
            continue
        after, wrong = read_line(line, bench, machine)
        complaints.extend(wrong)
        if after.last is not None and after.last is not bench.last:
            readings.append(after.last)
        bench = after
    if complaints:
        raise BadInput(*complaints)
    return tuple(readings), bench


def read_readings(text: str, machine: Machine, file: str = "") -> tuple[Reading, ...]:
    """Every reading of a text, one a line; docs/readings.md lists what can be typed.

    BadInput with every complaint of every line.
    """
    return continue_readings(text, machine, Bench(), file)[0]
