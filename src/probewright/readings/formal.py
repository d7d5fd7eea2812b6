"""One reading in the plain form of a readings file: place, figure, nothing else; refused when in doubt."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from probewright import units
from probewright.errors import BadInput
from probewright.machine.model import GROUND, Machine, Part, Works
from probewright.machine.saying import nearest
from probewright.machine.stimuli import followed
from probewright.readings import Question, Reading, Setup, instruments, traces
from probewright.readings.answers import Said, function_words, peak_to_peak, plain, read_answer, read_degree, words
from probewright.readings.doubts import beside_supply
from probewright.readings.setups import Piece, find, known, pins_in_words, place

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
    if slip := forgotten_colon(piece, machine):
        raise slip
    part = read_ends(where, machine).part
    raise piece.wrong(f"no figure for {where.text}", f"write `{where.text} {'4k1 ohm' if part else '2.61 V'}`")


def forgotten_colon(piece: Piece, machine: Machine) -> BadInput | None:
    """The complaint about "left output half" or "set-up tone"; None when a place may be meant."""
    for name in (works.name for works in machine.works):
        if plain(piece.text).startswith(f"{plain(name)} ") and not find(name, (*machine.nets, *machine.points)):
            return piece.wrong(f"no colon behind {name}", f"write `{name}: half`")
    if re.match(r"(?i)set[- ]?up\s", piece.text):
        return piece.wrong("no colon behind set-up", "write `set-up: power on`")
    return None


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


def take_off(answer: Piece) -> tuple[Piece, bool]:
    """Take "off" from behind a figure: this one line was read with power off."""
    found = re.search(r"(?i)\s+(?:power\s+)?off$", answer.text)
    return (answer.cut(0, found.start()), True) if found else (answer, False)


def take_diode(answer: Piece) -> tuple[Piece, bool]:
    """Take "diode" out of an answer, before or behind its figure: it was read on the diode range."""
    if found := re.match(r"(?i)(?:on\s+(?:the\s+)?)?diode(?:\s+range)?\s+", answer.text):
        return answer.cut(found.end()), True
    if found := re.search(r"(?i)\s+(?:on\s+(?:the\s+)?)?diode(?:\s+range)?$", answer.text):
        return answer.cut(0, found.start()), True
    return answer, False


def with_signal(piece: Piece, setup: Setup, machine: Machine, instrument: str) -> Setup:
    """A set-up whose stimulus puts a signal on, for peak to peak and rms. BadInput when in doubt."""
    powered(piece, setup, "no signal is on with power off")
    sounding = traces.sounding(machine)
    if not sounding:
        raise piece.wrong("no stimulus in this file puts a signal on", "write volts dc, or add such a stimulus")
    if not setup.stimulus and len(sounding) == 1:
        setup = replace(setup, stimulus=sounding[0])
    if setup.stimulus not in sounding:
        which = f"{setup.stimulus} puts no signal on" if setup.stimulus else "which signal was on?"
        raise piece.wrong(which, "write " + " or ".join(f"`at {name}`" for name in filter(None, sounding)))
    in_band(piece, setup, machine, instrument)
    return setup


def in_band(piece: Piece, setup: Setup, machine: Machine, instrument: str) -> None:
    """Refuse a signal the instrument does not follow."""
    hertz, law = followed(machine, setup.stimulus, setup.hertz).hertz, instruments.law(instrument)
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
    """A part's name means across its pins for ohms and the diode range; for volts it must be said."""
    if ends.part is None or ends.across:
        return ends
    if instrument in ("ohms", "diode"):
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
    answer, off = take_off(answer)
    setup = replace(setup, power="off") if off else setup
    answer, diode = take_diode(answer)
    said = read_answer(answer)
    instrument = "diode" if diode else choose_unit(answer, said, ends, setup)
    if diode and said.unit == "ohms" and said.value != float("inf"):
        raise answer.wrong("the diode range shows volts", "write `D1 diode 0.55 V`, or `D1 diode OL`")
    ends = settle_ends(line, ends, instrument)
    in_range(answer, instrument, said.value)
    if ends.red == ends.black:
        raise line.wrong(f"both probes are on {ends.red}", "name two different places")
    if instrument in ("ohms", "diode") and setup.supplied:
        raise answer.wrong(*beside_supply(setup))
    if instrument in ("ohms", "diode") and setup.power == "on":
        what = "ohms" if instrument == "ohms" else "figures of the diode range"
        raise answer.wrong(
            f"{what} with power on say nothing and can harm the meter",
            "write `set-up: power off` (or `off` behind the figure), discharge, and measure again; or write volts",
        )
    if instrument in ("pp", "rms"):
        setup = with_signal(answer, setup, machine, instrument)
    return Reading(Question(instrument, ends.red, ends.black, setup), said.value, "", about=said.about)


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
        raise piece.wrong(text, "write `set-up: power on` before it, and no `off` behind it")


def swapped(name: Piece, answer: Piece, setup: Setup, machine: Machine) -> Reading:
    """What a known good lead or extra did to the complaint."""
    extras = [part.name for part in machine.parts.values() if part.role == "extra"]
    if found := find(name.text, machine.parts):
        if found[0] not in extras:
            mend = f"after fitting a new one write `fitted a new {found[0]}`"
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
        return read_answer(take_off(piece)[0]).unit in ("volts", "ohms")
    except BadInput:
        return False


def unknown_name(name: Piece, machine: Machine) -> BadInput:
    """Neither a function nor a place."""
    functions = [works.name for works in machine.works]
    names = (*functions, *machine.points, *machine.nets, *machine.parts)
    return name.wrong(f"{name.text!r} is neither a place nor something that works", nearest(name.text, names))
