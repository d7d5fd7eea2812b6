"""How a function does, and answers to what the card asked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from probewright.readings import NEVER, SCOPED, Question, Reading
from probewright.readings.answers import function_words, plain
from probewright.readings.claims import Claim
from probewright.readings.context import Context
from probewright.readings.doubts import Unsure, unclear, without_sign
from probewright.readings.items import Item
from probewright.readings.plausible import mark_of
from probewright.readings.quantities import Quantity, hundredth
from probewright.readings.spots import Spot
from probewright.readings.work import Settling
from probewright.units import write_reading

# What the owner sees and hears ---------------------------------------------------------------


def of_function(one: Claim, work: Settling) -> bool:
    """Whether the words are those of a function, and the answer says how it does."""
    assert one.ends is not None
    red, said = one.ends.red, one.answer.quantity
    bag = frozenset((*red.words, *filter(None, [red.channel])))
    how = one.answer.kind in ("level", "nothing", "fails") or (said is not None and said.unit in ("%", "healthy"))
    return how and one.ends.black is None and not one.ends.across and bag in work.names.functions


def function(spot: Spot, answer: Item, work: Settling) -> Reading:
    """How something seen or heard does."""
    means = {"level": answer.means, "nothing": "0", "fails": "bad"}.get(answer.kind, "")
    said = answer.quantity
    if said is not None and said.unit in ("%", "share", "healthy"):
        means = repr(hundredth(said.value) if said.unit == "%" else said.value)
    if not means:
        raise unclear(answer.text, answer.start)
    return degree(function_name(spot, work), means, bool(said and said.about), answer, work)


def degree(name: str, means: str, about: bool, answer: Item, work: Settling) -> Reading:
    """The reading of a function from a word or a fraction."""
    if work.power == "off":
        raise Unsure("unclear", f"{name} cannot be judged with power off", "write `power on:` before it", answer.start)
    value: float | str = {"1": "ok", "0": "bad", "bad": "bad", "0.0": "bad", "1.0": "ok"}.get(means) or float(means)
    machine = work.context.machine
    works = next((one for one in machine.works if one.name == name), None) if machine else None
    setup = replace(
        work.context.bench.setup, power="on", stimulus=works.measure.stimulus if works else work.line.stimulus
    )
    return Reading(Question("works", name, setup=setup), value, "", about=about)


def function_name(spot: Spot, work: Settling) -> str:
    """The function meant, by its words in any order; as said when nobody named any."""
    said = frozenset((*spot.words, *filter(None, [spot.channel])))
    if said in work.names.functions:
        return work.names.functions[said]
    near = [name for bag, name in work.names.functions.items() if said <= bag]
    if len(near) == 1:
        work.taken.append(f"{near[0]}, the only one with these words")
        return near[0]
    if work.names.functions and (near or work.context.machine):
        raise Unsure(
            "place",
            f"which of {', '.join(sorted(near) or sorted(work.names.functions.values()))}?",
            "write its whole name",
            spot.start,
        )
    return spot.text


# What the card asked ------------------------------------------------------------------------

AS_ASKED = "as the card asked"


def at_the_same_place(echo: Iterable[str]) -> tuple[str, ...]:
    """What is said back of a figure whose place was said with the one before it, where no card asked for it."""
    return tuple(one.replace(AS_ASKED, "at the same place") for one in echo)


def answered(answer: Item, work: Settling) -> Reading:
    """A bare answer to what the card asked."""
    ask = work.context.asked
    if ask is None:
        raise Unsure(
            "place", f"{answer.text!r} where?", "write the place before it: `R31 left leg 2.6 V`", answer.start
        )
    work.taken.append(AS_ASKED)
    if work.line.power and work.line.power != ask.setup.power:
        raise Unsure(
            "unclear",
            f"the card asked with power {ask.setup.power}",
            "write the place and the figure too",
            answer.start,
        )
    return to_asked(ask, answer, work)


def own_word(text: str, context: Context) -> Reading | None:
    """A bare word of the machine file for how the function fails that the card asks of; None for anything else."""
    ask, machine = context.asked, context.machine
    if ask is None or ask.instrument != "works" or machine is None:
        return None
    words = {plain(word): word for one in machine.works if one.name == ask.red for word in function_words(one)}
    said = words.get(plain(text.strip(" .")))
    return Reading(ask, said, "") if said else None


def to_asked(ask: Question, answer: Item, work: Settling) -> Reading:
    """The answer in the unit the card asked for."""
    if answer.kind == "same" and ask.instrument not in ("swap", "test"):
        if not work.context.said or work.context.said[-1].question.instrument != ask.instrument:
            raise Unsure("unclear", "the same as what?", "write the figure", answer.start)
        return replace(work.context.said[-1], question=ask, hookup="")
    if ask.instrument == "works":
        made = function(Spot(ask.red, words=tuple(ask.red.casefold().split()), function=True), answer, work)
        return replace(made, question=ask)
    said = answer.quantity
    if answer.kind == "level" and answer.means == "0" and ask.instrument != "share":
        answer = replace(answer, kind="nothing")
    if said is None:
        value = asked_word(ask, answer)
        if value is None:
            raise asked_otherwise(ask, answer)
        return Reading(ask, value, "")
    return asked_figure(ask, said, answer, work)


# "nothing" is a figure of these
NAUGHT = ("dc", "pp", "rms", "share", "amps", "drawn", "level", "sag", "drift", "frequency", "tilt", "distortion")
TIMES = ("period", "rise", "fall")  # and here it never happens
SHARES = ("share", *(one for one, unit in SCOPED.items() if unit == "1"))
UNITS_OF = {
    **{
        one: {"V": ("V", ""), "s": ("s",), "Hz": ("Hz", "letter", ""), "1": ("%", "")}[unit]
        for one, unit in SCOPED.items()
    },
    **dict.fromkeys(("dc", "pp", "rms", "diode"), ("V", "")),
    "ohms": ("ohm", "letter", ""),
    "esr": ("ohm", "esr", ""),
    "farads": ("F", "farads"),
    "hertz": ("Hz", "", "letter"),
    "seconds": ("s", ""),
    "amps": ("A", ""),
    "drawn": ("A", ""),
    "decibels": ("dB", ""),
    "cents": ("cents", ""),
    "celsius": ("C", ""),
    "percent": ("%", ""),
    "share": ("%", "share"),
}


SIZES = ("ohms", "esr", "farads", "hertz", "pp", "rms", "share", "level")  # never below nought


def asked_word(ask: Question, answer: Item) -> float | str | None:
    """The answer of a word to what the card asked; None when it is of another kind."""
    kind, instrument = answer.kind, ask.instrument
    if kind == "nothing" and instrument in NAUGHT or kind == "no volts" and instrument in ("dc", "pp", "rms"):
        return 0.0
    if kind == "nothing" and instrument in TIMES:
        return NEVER
    if kind == "over" and instrument in ("ohms", "diode"):
        return float("inf")
    if kind == "level" and instrument == "share":
        return float(answer.means)
    return answer.means if kind == instrument == "beep" else None


def asked_figure(ask: Question, said: Quantity, answer: Item, work: Settling) -> Reading:
    """A figure in the unit asked for; another unit is asked about."""
    other = {"period": ("Hz", "frequency"), "frequency": ("s", "period")}.get(ask.instrument)
    if other and said.unit == other[0]:  # each says the other, and is kept as it was read
        work.taken.append(f"the {other[1]}")
        ask = replace(ask, instrument=other[1])
    kinds = ("", "rms") if ask.instrument == "level" else ("", ask.instrument)
    if said.unit not in UNITS_OF.get(ask.instrument, ()) or said.kind not in kinds:
        raise asked_otherwise(ask, answer)
    value = hundredth(said.value) if ask.instrument in SHARES and said.unit in ("%", "") else said.value
    if value < 0.0 and (ask.instrument in SIZES or SCOPED.get(ask.instrument, "V") != "V"):
        raise Unsure("unit", "this answer cannot be negative", without_sign(ask.instrument), answer.start)
    thousandth(ask, said, answer, work)
    return Reading(ask, value, "", about=said.about, bound=said.bound)


def thousandth(ask: Question, said: Quantity, answer: Item, work: Settling) -> None:
    """ "4.7" for a resistor marked 4k7: ask whether kilohms are meant."""
    part = ask.red.rpartition(".")[0] or ask.red
    mark = mark_of(part, work.context.marked, work.context.machine)
    near = (
        mark > 0.0 and 0.5 <= 1000.0 * said.value / mark <= 2.0
    )  # chosen: what a resistor in place may read of its mark
    if ask.instrument == "ohms" and not said.unit and near and not work.context.sure:
        mend = f"write `{answer.text}k` or `{answer.text} ohm`"
        raise Unsure(
            "unit", f"{answer.text} ohm or kilohm? {part} is marked {write_reading(mark, 'ohm')}", mend, answer.start
        )


def asked_otherwise(ask: Question, answer: Item) -> Unsure:
    """The answer is of another kind than the question."""
    mend = "write the figure in that unit, or the place with its own unit"
    return Unsure(
        "unit",
        f"the card asked for {ask.instrument} at {ask.red}, and {answer.text!r} is something else",
        mend,
        answer.start,
    )
