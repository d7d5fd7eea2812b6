"""A claim becomes a reading: which instrument, which places, which set-up; asked about where two would do."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from probewright.machine.model import GROUND
from probewright.readings import EXCHANGE, PROVOKE, Question, Reading, Setup, traces
from probewright.readings.answering import answered, function, of_function
from probewright.readings.claims import Claim
from probewright.readings.doubts import Unsure, unclear, which_volts, without_sign
from probewright.readings.instruments import UNPOWERED
from probewright.readings.items import OF_PARTS, TWO_LEGS, Item, letters_of
from probewright.readings.naming import resolve
from probewright.readings.quantities import Quantity
from probewright.readings.spots import Ends, Spot
from probewright.readings.tokens import named
from probewright.readings.work import Settling

INF = float("inf")
DIODE_MOST = 4.0  # volts, chosen: most a diode range shows of a junction or a LED
SOUNDING = ("pp", "rms", "share")
BY_UNIT = {
    "ohm": "ohms", "letter": "ohms", "F": "farads", "farads": "farads", "esr": "esr", "Hz": "hertz", "s": "seconds",
    "A": "amps", "dB": "decibels", "cents": "cents", "C": "celsius", "%": "percent", "share": "share",
}  # fmt: skip
CAPACITORS = ("C", "TC", "VC")


def settle(claims: tuple[Claim, ...], work: Settling) -> tuple[Reading, ...]:
    """The readings of a line, with no hook-up yet. Unsure when one of them could be two things."""
    unit_follows([one.answer for one in claims])
    one_part(claims, work)
    return tuple(reading for one in claims for reading in _readings(one, work))


def unit_follows(answers: Sequence[Item]) -> None:
    """ "left 0.3 right 0.1 Vpp": the unit behind the last figure may be meant for all."""
    said = [one for one in answers if one.quantity is not None]
    for one, after in zip(said, said[1:], strict=False):
        assert one.quantity and after.quantity
        if not one.quantity.unit and (after.quantity.kind in ("pp", "rms") or after.quantity.unit not in ("", "V")):
            raise Unsure("unit", f"{one.text!r} in which unit?", "write the unit on each figure", one.start)


SEMICONDUCTORS = ("D", "ZD", "LED", "Q", "TR", "T", "BR", "CR", "IC", "U", "J")


def one_part(claims: tuple[Claim, ...], work: Settling) -> None:
    """Ask which places a range, "both ways" or "one leg lifted" belongs to, where a line speaks of several parts."""
    line = work.line
    places = {one.ends.red.part or one.ends.red.name for one in claims if one.ends}
    loose = line.both_ways or line.lifted or line.range in ("diode", "esr")
    if not loose or len(places) < 2:
        return
    ahead = (
        line.range
        and not (line.both_ways or line.lifted)
        and all(line.range_start < one.answer.start for one in claims)
    )
    letters = {letters_of(one.ends.red.part) for one in claims if one.ends}
    if not ahead or letters - set(SEMICONDUCTORS if line.range == "diode" else CAPACITORS):
        raise Unsure(
            "unclear",
            "one range or state of the part, and several places",
            "write one line for each part",
            claims[0].answer.start,
        )


def _readings(one: Claim, work: Settling) -> Iterator[Reading]:
    if one.ends is None:
        yield answered(one.answer, work)
        return
    if one.ends.red.function or of_function(one, work):
        yield function(one.ends.red, one.answer, work)
        return
    reading = measured(one.ends, one.answer, work)
    if one.turned:
        reading = turned(reading)
    yield reading
    if work.line.both_ways and reading.question.instrument in UNPOWERED:
        yield turned(reading)


def turned(reading: Reading) -> Reading:
    """The same with red and black exchanged."""
    ask = reading.question
    return replace(reading, question=replace(ask, red=ask.black, black=ask.red))


# What was read -------------------------------------------------------------------------------


def measured(ends: Ends, answer: Item, work: Settling) -> Reading:
    """A figure or a word at a place."""
    if answer.kind == "same":
        return as_before(ends, answer, work)
    instrument, value = WORDS[answer.kind](ends, answer, work)
    said = answer.quantity
    where = red_and_black(ends, instrument, work)
    if where[0] == where[1]:
        raise Unsure("place", f"both probes are on {where[0]}", "name two different places", ends.red.start)
    if said is not None:
        work.before = (instrument, said, ends.red)
    setup = setup_of(instrument, answer, work)
    instrument, setup = off_a_trace(instrument, setup, answer, work)
    return Reading(
        Question(instrument, *where, setup),
        value,
        "",
        about=bool(said and said.about),
        bound=said.bound if said else None,
    )


OFF_A_TRACE = {"hertz": "frequency", "seconds": "period", "percent": ""}


def off_a_trace(instrument: str, setup: Setup, answer: Item, work: Settling) -> tuple[str, Setup]:
    """Hertz and seconds where something moves in time: read with the oscilloscope, and weighed."""
    machine = work.context.machine
    if machine is None or instrument not in OFF_A_TRACE or setup.power == "off":
        return instrument, setup
    alone = traces.sounding(machine)
    if not setup.stimulus and len(alone) == 1 and traces.moving(machine, replace(setup, stimulus=alone[0])):
        setup = replace(setup, stimulus=alone[0])
        work.taken += [f"at {alone[0]}, the only signal in the file"] if alone[0] else []
    if not traces.moving(machine, setup):
        return instrument, setup
    if instrument == "percent":
        mend = "write `duty 30 %`, `tilt 4 %` or `distortion 3 %`"
        raise Unsure("unit", f"{answer.text!r} of what?", mend, answer.start)
    work.taken += ["the period"] if instrument == "seconds" else []
    return OFF_A_TRACE[instrument], setup


def as_before(ends: Ends, answer: Item, work: Settling) -> Reading:
    """ "emitter same": the answer of the last reading at another place."""
    if not work.context.said:
        raise Unsure("unclear", "the same as what?", "write the figure", answer.start)
    last = work.context.said[-1]
    ask = last.question
    if ask.instrument in ("works", "swap", "swap back", "test", "look", PROVOKE, EXCHANGE):
        raise Unsure("unclear", "the same as what?", "write what was seen", answer.start)
    work.taken.append(f"the same as {ask.red}")
    red, black = red_and_black(ends, ask.instrument, work)
    return replace(last, question=replace(ask, red=red, black=black), hookup="", showing="yes")


def of_figure(ends: Ends, answer: Item, work: Settling) -> tuple[str, float]:
    """Instrument and SI value of a figure."""
    said = answer.quantity
    assert said is not None
    instrument = instrument_of(said, ends, answer, work)
    if instrument in ("ohms", "esr", "farads", "hertz", "pp", "rms") and said.value < 0.0:
        raise Unsure("unit", "this answer cannot be negative", without_sign(instrument), answer.start)
    return instrument, said.value


def instrument_of(said: Quantity, ends: Ends, answer: Item, work: Settling) -> str:
    """Which instrument shows such a figure there."""
    if said.unit == "":
        return bare(said, ends, answer, work)
    if said.unit == "V":
        return volts(said, ends, answer, work)
    if said.unit in ("milli", "healthy"):
        raise Unsure("unit", f"{answer.text!r} of what?", "write the unit: mV, mA, ms", answer.start)
    if work.line.range in ("esr", "ohms") and said.unit in ("ohm", "letter"):
        return work.line.range
    if said.unit in ("letter", "farads"):
        letter_fits(said, ends, answer)
    if said.unit in ("F", "farads", "ohm", "letter") and end_missing(ends):
        raise which_pin(ends.red)
    return BY_UNIT[said.unit]


def letter_fits(said: Quantity, ends: Ends, answer: Item) -> None:
    """ "4k1" alone is ohms and "98n" farads, where the place does not speak against it."""
    words = " ".join(ends.red.words)
    capacitor = letters_of(ends.red.part) in CAPACITORS or re.search(r"\b(?:cap\w*|electrolytic|reservoir)\b", words)
    rhythm = re.search(r"\b(?:clock|clk|oscillator|xtal|crystal|vco|lfo|tone|sync|osc)\b", words)
    if (
        (said.unit == "farads" and not capacitor)
        or (said.unit == "letter" and rhythm)
        or (said.unit == "farads" and said.value > 1.0)
    ):
        raise Unsure("unit", f"{answer.text!r} of what?", "write the unit: 4k1 ohm, 98 nF or 32 kHz", answer.start)


def end_missing(ends: Ends) -> bool:
    """A chip or a transistor where a pin has to be named."""
    return ends.black is None and ends.red.bare and letters_of(ends.red.part) not in (*TWO_LEGS, *OF_PARTS)


def which_pin(where: Spot) -> Unsure:
    """Ask where on a part the probe was."""
    two = letters_of(where.part) in TWO_LEGS
    mend = (
        f"write `{where.part} left leg 2.6 V` or `across {where.part} 1.2 V`"
        if two
        else f"write `{where.part} pin 8 5 V` or `{where.part} c 11.8`"
    )
    return Unsure("place", f"where on {where.part}?", mend, where.start)


def volts(said: Quantity, ends: Ends, answer: Item, work: Settling) -> str:
    """dc, pp, rms or the diode range."""
    if work.line.range == "diode" and said.kind in ("", "diode") and abs(said.value) > DIODE_MOST:
        raise Unsure("unit", f"{answer.text!r} on the diode range?", "write one line for each range", answer.start)
    if said.kind == "diode" or (work.line.range == "diode" and said.kind == ""):
        return "diode"
    if ends.red.bare and not ends.across and ends.black is None and letters_of(ends.red.part) not in OF_PARTS:
        raise which_pin(ends.red)
    return said.kind or waveless(answer, work) or "dc"


def waveless(answer: Item, work: Settling) -> str:
    """Ask for the kind of volts where an oscilloscope or ripple is spoken of."""
    if (
        any(
            re.search(r"\b(?:scope|(?<!no )ripple|sine|square|ramp|sawtooth|triangle|waveform|x10)\b", one.casefold())
            for one in work.line.remarks
        )
        or work.line.stimulus
    ):
        wave = not work.line.stimulus or any(
            "scope" in one.casefold() or "ripple" in one.casefold().replace("no ripple", "")
            for one in work.line.remarks
        )
        if wave:
            raise which_volts(answer.start)
    return ""


def bare(said: Quantity, ends: Ends, answer: Item, work: Settling) -> str:
    """A figure without a unit: as the figure before it in this line, else volts where only volts can be meant."""
    if work.line.range == "diode" and abs(said.value) > DIODE_MOST:
        raise two_units(answer)
    if work.line.range in ("diode", "esr", "ohms") and (work.before is None or work.before[0] != "farads"):
        return work.line.range
    if work.before is not None:
        return like_before(said, answer, ends.red, work)
    red = ends.red
    across = red.part and red.bare and letters_of(red.part) in TWO_LEGS
    if work.power == "off":
        if across and letters_of(red.part) not in CAPACITORS:
            return "ohms"
        raise two_units(answer)
    lone = red.bare and not ends.across and ends.black is None and letters_of(red.part) not in OF_PARTS
    if lone and letters_of(red.part) not in TWO_LEGS:
        raise which_pin(red)
    if lone or (red.two_ended and not ends.across) or work.line.stimulus:
        raise two_units(answer)
    waveless(answer, work)
    work.taken.append("volts dc, no unit was said")
    return "dc"


def two_units(answer: Item) -> Unsure:
    """Ask for the unit."""
    return Unsure("unit", f"{answer.text!r} could be volts or ohms", "write the unit: V or ohm", answer.start)


def like_before(said: Quantity, answer: Item, red: Spot, work: Settling) -> str:
    """ "left 0.3 Vpp right 0.1": the unit of the figure before, where it had no prefix to share."""
    assert work.before is not None
    instrument, earlier, where = work.before
    same = red.name == where.name or (red.part and red.part == where.part)
    if instrument != "dc" and not same:
        raise Unsure("unit", f"{answer.text!r} in which unit?", "write the unit on each figure", answer.start)
    if instrument not in ("dc", "pp", "rms", "ohms", "diode") or (earlier.prefixed and said.value):
        raise Unsure("unit", f"{answer.text!r} in which unit?", "write the unit on each figure", answer.start)
    return instrument


RAILS = r"rail|supply|psu|battery|adaptor|adapter|vcc|vdd|ht|b\+|regulator|reg"
RAIL = re.compile(rf"\b(?:{RAILS})\b")
PERHAPS = re.compile(rf"\b(?:{RAILS}|line|feed|bus)\b")  # "line out" has a signal


def of_level(ends: Ends, answer: Item, work: Settling) -> tuple[str, float]:
    """How much of its signal a place carries; of a part alone it would be a conclusion."""
    if ends.red.bare and letters_of(ends.red.part) not in OF_PARTS:
        raise conclusion(ends.red.text, answer.start)
    if ends.across or ends.black is not None:
        raise unclear(answer.text, answer.start)
    if RAIL.search(ends.red.name.casefold()) and not work.line.stimulus:
        mend = "a rail carries no signal: write `13.9 V`"
        raise Unsure("unit", f"{answer.text!r}: how many volts?", mend, answer.start)
    return "share", float(answer.means)


def conclusion(of: str, start: int) -> Unsure:
    """Ask what was seen."""
    return Unsure(
        "conclusion",
        f"that {of} is good or bad is a conclusion",
        f"write what was read on it: `{of} pin 8 5 V`, `{of} 3k9`",
        start,
    )


def of_nothing(ends: Ends, answer: Item, work: Settling) -> tuple[str, float]:
    """ "nothing": no signal behind a control or a block; on a pin or a rail it could be no volts."""
    if ends.red.bare and letters_of(ends.red.part) not in OF_PARTS:
        raise conclusion(ends.red.text, answer.start)
    thing = any(
        ends.red.name == one or ends.red.name.endswith(f" {one}")
        for one in (*named("part kind"), "psu", "supply", "battery")
    )
    if answer.text.casefold().endswith("dead") and thing:
        raise conclusion(ends.red.text, answer.start)
    rail = PERHAPS.search(ends.red.name.casefold())
    if (
        ends.red.part or rail or ends.black or ends.across or re.match(r"[-+\d]", ends.red.name)
    ) and not work.line.stimulus:
        raise Unsure("unit", f"{answer.text!r}: no volts or no signal?", "write `0 V` or `no signal`", answer.start)
    return "share", 0.0


def of_no_volts(ends: Ends, answer: Item, work: Settling) -> tuple[str, float]:
    """ "no volts"."""
    if ends.red.bare and not ends.across and letters_of(ends.red.part) not in OF_PARTS:
        raise which_pin(ends.red)
    return "dc", 0.0


def of_over(ends: Ends, answer: Item, work: Settling) -> tuple[str, float]:
    """OL, of the ohmmeter or the diode range."""
    if end_missing(ends):
        raise which_pin(ends.red)
    if work.before is not None and work.before[0] == "dc" and not work.line.power:
        raise Unsure(
            "unit",
            "volts and OL in one line: was it the diode range?",
            "write `diode range` in the line, or the volts by themselves",
            answer.start,
        )
    diode = work.line.range == "diode" or (work.before is not None and work.before[0] == "diode")
    return ("diode" if diode else "ohms"), INF


def of_beep(ends: Ends, answer: Item, work: Settling) -> tuple[str, str]:
    """The continuity range."""
    if end_missing(ends):
        raise which_pin(ends.red)
    return "beep", answer.means


def of_failure(ends: Ends, answer: Item, work: Settling) -> tuple[str, float]:
    """ "not ok" of a place says nothing that a meter showed."""
    raise conclusion(ends.red.text, answer.start)


Settled = Callable[[Ends, Item, Settling], tuple[str, float | str]]
WORDS: Mapping[str, Settled] = {
    "figure": of_figure,
    "level": of_level,
    "nothing": of_nothing,
    "no volts": of_no_volts,
    "over": of_over,
    "beep": of_beep,
    "fails": of_failure,
}


# Where and how -------------------------------------------------------------------------------


def red_and_black(ends: Ends, instrument: str, work: Settling) -> tuple[str, str]:
    """Both places; a part or a thing with two ends is read across them."""
    machine = work.context.machine
    red = ends.red
    if not red.name:
        raise Unsure("place", f"{red.channel} of what?", "name the place: `left preamp out 0.3 Vpp`", red.start)
    if ends.black is not None:
        return resolve(red, machine), resolve(ends.black, machine)
    both = ends.across or (
        instrument in UNPOWERED and (red.two_ended or (red.bare and letters_of(red.part) in TWO_LEGS))
    )
    if not both:
        if red.name.casefold() in named("ground"):
            return GROUND, GROUND
        return resolve(red, machine), GROUND
    if red.part and machine is not None:
        return tuple(resolve(replace(red, name=f"{red.part}.{k}", pin=k), machine) for k in both_pins(red, work))  # type: ignore[return-value]
    return (f"{red.text}.1", f"{red.text}.2") if red.bare else (red.text, f"{red.text} other end")


def both_pins(red: Spot, work: Settling) -> tuple[str, str]:
    """The two pins of a part of the machine file."""
    assert work.context.machine is not None
    found = [one for one in work.context.machine.parts.values() if one.name.casefold() == red.part.casefold()]
    if not found or len(found[0].pins) != 2:
        raise Unsure("place", f"the machine file has no part {red.part} with two pins", "name both places", red.start)
    first, second = found[0].pins
    return first, second


def setup_of(instrument: str, answer: Item, work: Settling) -> Setup:
    """How the bench stood for this reading."""
    bench, line = work.context.bench, work.line
    setup = replace(bench.setup, power=work.power)
    if instrument in UNPOWERED and setup.power == "on":
        if line.power == "on" or bench.power_said:
            mend = "switch off, discharge, and measure again with `power off:` before it; or write volts"
            what = "figures of the diode range" if instrument == "diode" else "ohms"
            raise Unsure("ohms-live", f"{what} with power on say nothing and can harm the meter", mend, answer.start)
        how = "the diode range is read" if instrument == "diode" else "it is measured"
        work.taken.append(f"power off, for that is how {how}")
        setup = replace(setup, power="off")
    if instrument in SOUNDING and setup.power == "off":
        raise Unsure("unclear", "no signal is on with power off", "write `power on:` before it", answer.start)
    return with_stimulus(setup, instrument, answer, work)


def with_stimulus(setup: Setup, instrument: str, answer: Item, work: Settling) -> Setup:
    """The stimulus of the line; with a machine file one of the file's, the only sounding one where a signal is read."""
    said, machine = work.line.stimulus, work.context.machine
    if instrument in UNPOWERED and not said:
        return replace(setup, stimulus="") if machine is None else setup
    if machine is None:
        return replace(setup, stimulus=said or setup.stimulus)
    named_so = [name for name in machine.stimuli if name.casefold() == said]
    sounding = traces.sounding(machine)
    if named_so:
        return replace(setup, stimulus=named_so[0])
    if said or (instrument in SOUNDING and setup.stimulus not in sounding):
        if len(sounding) == 1 and (instrument in SOUNDING or said):
            work.taken += [f"at {sounding[0]}, the only signal in the file"] if sounding[0] else []
            return replace(setup, stimulus=sounding[0])
        if sounding or said or instrument in ("pp", "rms"):
            mend = (
                f"write {' or '.join(f'`at {name}`' for name in filter(None, sounding or machine.stimuli))}"
                if machine.stimuli
                else "leave it out"
            )
            raise Unsure("unclear", "which signal was on?", mend, answer.start)
    return setup
