"""A reading said back in full, and a question as an instruction to the person at the bench."""

from __future__ import annotations

from decimal import Decimal

from probewright.machine.kinds import KINDS
from probewright.machine.model import GROUND, Machine, Works
from probewright.readings import (
    COMES,
    DRAWN,
    EXCHANGE,
    GOES,
    KEPT,
    NEVER,
    PROVOKE,
    SAME,
    SCOPED,
    Look,
    Question,
    Reading,
    instruments,
    setups,
)
from probewright.readings.answers import function_words
from probewright.units import PREFIXES, sentence, write_reading

KIND = {
    "dc": "V DC",
    "pp": "V peak to peak",
    "rms": "V AC rms",
    "ohms": "Ω",
    "diode": "V diode",
    "esr": "Ω ESR",
    "farads": "F",
    DRAWN: "A",
}
KEPT_UNITS = {"decibels": "dB", "cents": "cents", "celsius": "°C", "percent": "%"}  # written without a prefix
OF_A_PART = ("celsius", "watts")
SWAPPED = {"same": "complaint the same", "better": "complaint better", "cured": "complaint gone"}
PUT_BACK = {"back": "fault back", "away": "fault stays away"}
PROVOKED = {
    "tap": "tapped", "flex": "board bent", "press": "pressed", "warm": "warmed", "cold": "chilled", "probe": "probed",
}  # fmt: skip
PROVOKE_SO = {
    "tap": "Tap lightly {}, with something that insulates",
    "flex": "Bend the board a little {}, with something that insulates",
    "press": "Press on {}, with something that insulates",
    "warm": "Warm {} alone, no more than a hand can bear",
    "cold": "Chill {} alone, with freezer spray",
    "probe": "Touch {} with one probe",
}
EXCHANGED = {"followed": "followed the part", "stayed": "stayed with the place", "gone": "gone"}
ANSWERED = {COMES: "the fault comes", GOES: "the fault goes", SAME: "nothing changes"}
SHOWING = {"yes": "", "no": "fault not showing", "can't tell": "can't tell whether the fault was showing"}
INSTRUMENTS = {
    "dc": "Meter, DC volts",
    "rms": "Meter, AC volts",
    "ohms": "Meter, low-voltage ohms",
    "pp": "Oscilloscope, volts peak to peak",
    "works": "Eyes and ears",
    "swap": "A known good one",
    "share": "Scope, tracer or ear",
    "beep": "Meter, continuity",
    "diode": "Meter, diode range",
    "esr": "ESR meter",
    "farads": "Capacitance meter",
    DRAWN: "Ammeter of the supply",
    "look": "Eyes, nose and fingers",
}
SCOPE = {
    "top": "Oscilloscope, highest volts",
    "valley": "Oscilloscope, lowest volts",
    "last": "Oscilloscope, volts at the end",
    "drift": "Oscilloscope, how far it drifts (the end less the beginning)",
    "sag": "Oscilloscope, how far it sags (the beginning less the end)",
    "level": "Oscilloscope or analyser, volts rms{at}",
    "period": "Oscilloscope, period",
    "frequency": "Oscilloscope or counter, frequency",
    "rise": "Oscilloscope, single sweep: after how long it rises through {level}, or never",
    "fall": "Oscilloscope, single sweep: after how long it falls through {level}, or never",
    "duty": "Oscilloscope, duty in per cent",
    "tilt": "Oscilloscope, tilt of the flat parts in per cent",
    "distortion": "Oscilloscope or analyser, distortion in per cent",
}
SAID = {
    "top": "top {}",
    "valley": "valley {}",
    "last": "last {}",
    "drift": "drifts {}",
    "sag": "sags {}",
    "level": "level{at} {} rms",
    "period": "period {}",
    "frequency": "frequency {}",
    "rise": "rises through {level} after {}",
    "fall": "falls through {level} after {}",
    "duty": "duty {}",
    "tilt": "tilt {}",
    "distortion": "distortion {}",
}
SHARES = "none, a third, half, ok, double"


def name(place: str, machine: Machine | None) -> str:
    """A place as a person finds it: with its test point, and told apart from a part of that name."""
    if place == GROUND:
        return "ground"
    if machine is None:
        return place
    marks = [f"test point {point.name}" for point in machine.points.values() if is_mark(point.name, place, machine)]
    marks.extend(polarity(place, machine))
    if place in machine.parts:
        marks.append("the net, not the part")
    return f"{place} ({', '.join(marks)})" if marks else place


def polarity(place: str, machine: Machine) -> list[str]:
    """Plus or minus of a polarised part whose pins only have numbers."""
    part = machine.parts.get(place.rpartition(".")[0])
    if part is None or not any("polarised" in KINDS[part.kind].classes.get(one, "") for one in part.classes):
        return []
    pin = place.rpartition(".")[2]
    return [word for word, where in KINDS[part.kind].aliases.items() if where == pin and word.isalpha()]


def is_mark(point: str, place: str, machine: Machine) -> bool:
    """Whether a named point is another name of this place."""
    return point != place and setups.settled(point, machine) == place


def figure(reading: Reading) -> str:
    """The answer with its unit and kind: 2.61 V DC, less than 3 V DC, about 320 mV peak to peak, rises through 2.4 V
    after 85 ms, and how the oscilloscope was set."""
    ask = reading.question
    if ask.instrument not in SCOPED:
        return ", ".join((_figure(reading), *set_so(ask.look)))
    if reading.answer == NEVER and reading.bound is None:
        verb = {"rise": "never rises through {level}", "fall": "never falls through {level}"}.get(ask.instrument)
        said = _filled(verb or f"no {ask.instrument}", ask, "")
    else:
        said = _filled(SAID[ask.instrument], ask, _figure(reading))
    return ", ".join((said, *set_so(ask.look)))


def _filled(form: str, ask: Question, number: str) -> str:
    at = f" at {write_reading(ask.look.hertz, 'Hz')}" if ask.look.hertz else ""
    return form.format(number, level=write_reading(ask.look.level, "V"), at=at)


def set_so(look: Look) -> list[str]:
    """How the oscilloscope is set where that is not as usual, in words that are understood again."""
    return [
        *(["AC coupled"] if look.coupling == "ac" else []),
        *([f"{write_reading(look.limit, 'Hz')} limit"] if look.limit else []),
        *(["single shot"] if look.single else []),
        *(["over {} to {}".format(*(every_digit(end, "s") for end in look.window))] if look.window else []),
    ]


def _figure(reading: Reading) -> str:
    """The figure by itself."""
    if reading.bound is None:
        return " ".join(filter(None, ("about" if reading.about else "", one_figure(reading, reading.answer))))
    low, high = reading.bound
    if low == -float("inf"):
        return f"less than {one_figure(reading, high)}"
    if high == float("inf"):
        return f"more than {one_figure(reading, low)}"
    return f"between {one_figure(reading, low)} and {one_figure(reading, high)}"


def one_figure(reading: Reading, answer: float | str) -> str:
    """One figure of a reading with its unit and kind."""
    instrument = reading.question.instrument
    assert not isinstance(answer, str)
    if answer == float("inf"):
        return (
            f"OL, over limit (above {write_reading(instruments.law('ohms').high, 'ohm')})"
            if instrument == "ohms"
            else "OL on the diode range"
        )
    if instrument in KEPT_UNITS or instrument in ("share", "works") or SCOPED.get(instrument) == "1":
        return in_hundredths(answer, instrument)
    unit, _, kind = KIND.get(instrument, {**KEPT, **SCOPED}.get(instrument, "")).partition(" ")
    size = every_digit(answer, "ohm" if unit == "Ω" else unit)
    return " ".join(filter(None, (size, kind)))


def in_hundredths(answer: float, instrument: str) -> str:
    """Decibels, cents, degrees and per cent: every digit, no prefix."""
    of = {"share": "% of its signal", "works": "% of healthy"}.get(instrument, KEPT_UNITS.get(instrument, "%"))
    number = Decimal(repr(answer)) if instrument in KEPT_UNITS else Decimal(repr(answer)).scaleb(2)
    digits = format(number, "f")
    digits = digits.rstrip("0").rstrip(".") if "." in digits else digits
    return f"{digits} {of}"


def every_digit(si: float, unit: str) -> str:
    """A figure with all the digits typed, so that a slip of the finger shows: 2.6173 V, not 2.62 V."""
    _, _, symbol = write_reading(si, unit).partition(" ")
    power = PREFIXES.get(symbol[0], 0) if len(symbol) > 1 else 0
    digits = format(Decimal(repr(si)).scaleb(-power), "f")
    digits = digits.rstrip("0").rstrip(".") if "." in digits else digits
    return f"{'0' if not si else digits} {symbol}"


def degree(reading: Reading) -> str:
    """How a function does: its word, or per cent of healthy."""
    if isinstance(reading.answer, str):
        return reading.answer
    return f"{'about ' if reading.about else ''}{write_reading(reading.answer, '%')} of healthy"


def answer(reading: Reading, machine: Machine | None) -> str:
    """What was asked and what it showed, without the set-up."""
    ask = reading.question
    if ask.instrument == "works":
        return f"{ask.red}: {degree(reading)}"
    if ask.instrument == "swap":
        return f"{ask.red} exchanged for a good one: {SWAPPED[str(reading.answer)]}"
    if ask.instrument == "swap back":
        return f"old {ask.red} back: {PUT_BACK.get(str(reading.answer), str(reading.answer))}"
    if ask.instrument == EXCHANGE:
        return f"{where(ask)}: fault {EXCHANGED[str(reading.answer)]}"
    if ask.instrument == PROVOKE:
        return f"{where(ask)}: {ANSWERED[str(reading.answer)]}"
    if isinstance(reading.answer, str) and ask.instrument != "beep":
        return f"{ask.red}: {reading.answer}"
    if ask.instrument == "share":
        return f"{name(ask.red, machine)}: {figure(reading)}"
    if ask.instrument == DRAWN:
        return f"{supply(ask)} gives {figure(reading)}"
    if ask.instrument in OF_A_PART:
        return f"{ask.red}: {figure(reading)}"
    shown = reading.answer if isinstance(reading.answer, str) else figure(reading)
    return f"{name(ask.red, machine)} to {name(ask.black, machine)}: {shown}"


def supply(ask: Question) -> str:
    """The supply that a question about its amps is about."""
    fed = ask.red.removesuffix(".plus")
    return fed if fed != ask.red else f"bench supply on {fed}"


def say(reading: Reading, machine: Machine | None) -> str:
    """The reading in full: places, figure, kind, power, stimulus and every change.

    R31.2 to ground: 2.61 V DC, power on, tone (turn the volume fully right).
    """
    showing = SHOWING[reading.showing]
    words = f"{answer(reading, machine)}, {setups.say(reading.question.setup, machine)}"
    return f"{words}; {showing}" if showing else words


def ask(question: Question, machine: Machine | None) -> str:
    """The question as an instruction: Black probe on GND, red on R31.2. Meter, DC volts. Power on, tone."""
    standing = sentence(setups.say(question.setup, machine))
    if question.instrument == "works":
        return f"{standing} {look(question.red, machine)}"
    if question.instrument == "swap":
        return (
            f"With the power off exchange {question.red} for a known good one. Then: same, better or cured? {standing}"
        )
    if question.instrument == DRAWN:
        return f"{standing} How many amps does {supply(question)} give?"
    if question.instrument == PROVOKE:
        return (
            f"{PROVOKE_SO[question.black].format(question.red)}: does the fault come, go or stay the same? {standing}"
        )
    if question.instrument == "ohms":
        return f"{standing} {probes(question, machine)} {instrument_words(question)}."
    if question.instrument == "share":
        return f"{spot(question.red, machine)}: how much of its signal is there ({SHARES})? {standing}"
    return f"{probes(question, machine)} {instrument_words(question)}. {standing}"


def where(question: Question) -> str:
    """The place asked about, short: R31.2, R1.1 to R1.2, left output, lead, tapped C4."""
    if question.instrument == EXCHANGE:
        return f"{question.red} and {question.black} exchanged"
    if question.instrument == PROVOKE:
        at = " at" if question.black == "flex" and not question.red.startswith("near ") else ""
        return f"{PROVOKED[question.black]}{at} {question.red}"
    if (
        question.instrument in ("works", "swap", "swap back", "look", "test", "share", *OF_A_PART)
        or question.black == GROUND
    ):
        return "ground" if question.red == GROUND else question.red
    return f"{'ground' if question.red == GROUND else question.red} to {question.black}"


def instrument_words(question: Question) -> str:
    """What to take in hand and how to set it: Meter, DC volts."""
    between = on_the_scope(question) and question.black != GROUND
    said = _filled(SCOPE[question.instrument], question, "") if question.instrument in SCOPE else ""
    said = said or INSTRUMENTS.get(question.instrument, "Meter")
    return ", ".join((said, *(["red minus black"] if between else []), *set_so(question.look)))


def on_the_scope(question: Question) -> bool:
    """Whether it is read with an oscilloscope's probes."""
    return question.instrument == "pp" or question.instrument in SCOPED


def spot(place: str, machine: Machine | None) -> str:
    """A place as an instruction names it; ground by its net, to be looked up."""
    return GROUND if place == GROUND else name(place, machine)


def probes(question: Question, machine: Machine | None) -> str:
    """Where the probes go.

    The clip of a scope probe is earthed, so it never goes anywhere but ground: between two live
    places two probes are used.
    """
    red, black = spot(question.red, machine), spot(question.black, machine)
    if not on_the_scope(question):
        return f"Black probe on {black}, red on {red}."
    if question.black == GROUND:
        return f"x10 probe: clip on {GROUND}, tip on {red}."
    return f"Two x10 probes: both clips on {GROUND}, tips on {red} (red) and {black} (black)."


def look(function: str, machine: Machine | None) -> str:
    """How does it do, with the words to choose from."""
    works = next((one for one in machine.works if one.name == function), None) if machine else None
    return f"How does {function} do: {', '.join(choices(works))}?"


def offered(question: Question, machine: Machine | None) -> tuple[str, ...]:
    """The words that a card offers as answers, each understood when it is typed; none where it asks for a figure.

    Those of a test of the symptom table are its own.
    """
    match question.instrument:
        case "works":
            works = next((one for one in machine.works if one.name == question.red), None) if machine else None
            return ("ok", "bad", "half", *(function_words(works) if works else ()))
        case "swap":
            return tuple(SWAPPED)
        case "swap back":
            return tuple(PUT_BACK.values())
        case "share":
            return tuple(SHARES.split(", "))
        case instrument if instrument == PROVOKE:
            return COMES, GOES, SAME
    return ()


def choices(works: Works | None) -> list[str]:
    """The words a person may answer with, the file's own ones after the agreed ones."""
    return ["ok", "bad", "half (or any per cent of healthy)", *(function_words(works) if works else ())]
