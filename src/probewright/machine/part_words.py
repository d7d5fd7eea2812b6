"""The words of a part line between its kind and its nets: values, figures, classes, ratings.

What may be typed comes from the kind's own registration.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from probewright.errors import NotAValue
from probewright.machine.kinds import Kind, Parameter
from probewright.machine.model import Rating
from probewright.machine.saying import Refused, nearest
from probewright.machine.signals import FORMS, MAINS_SPREAD, SIGNALS, Signal, read_signal
from probewright.machine.signals import NOT_COMPUTED as SIGNALS_NOT_COMPUTED
from probewright.units import Value, read_value, write_range, write_value

UNITS_IN_PACKAGE: Mapping[str, int] = {"dual": 2, "triple": 3, "quad": 4, "hex": 6}
# stress unit -> how it must end, so that a bare number is never taken for a rating
_ENDS: Mapping[str, str] = {"V": "vV", "W": "wW", "A": "aA", "°C": "C℃"}
LEAST_RATING = 1e-9  # chosen, in any unit: what bears less, or more than one over this, is a slip
_PITCH = re.compile(r"(\d+(?:[.,]\d+)?)(mm|in)")
_PER_CENT = re.compile(r"(?:±|\+/-|\+-)?(\d+(?:[.,]\d+)?|[.,]\d+)%")

# Kinds a repairer will type that have no equations yet, with what to write today.
NOT_COMPUTED: Mapping[str, str] = {
    "ldr": "write its resistance in the light it gets, `resistor 5k..20k  A > B`",
    "optocoupler": "write its lamp as a `diode` and its output as a `block` or `resistor ?`",
    "thyristor": "write it as `switch open  A > K`",
    "triac": "write it as `switch open  A > B`",
    "reference": "write it as `zener 2V5  ANODE > CATHODE`",
    "darlington": "write its two transistors as two `npn` lines",
    "battery-holder": "write `contact  A > B`",
    "socket": "write `contact  A > B` for each of its contacts",
    "plug": "write `contact  A > B` for each of its contacts",
    "triode": "write the stage round it as a `block gain ? input ? output ?  IN > OUT`",
    "pentode": "write the stage round it as a `block gain ? input ? output ?  IN > OUT`",
    "ic": "write the part of it you use as a `block gain ? input ? output ?  IN > OUT`",
}
# Words that leave open which of several kinds is meant.
SAYS_TOO_LITTLE: Mapping[str, str] = {
    "gate": "write what it does and its family, `nand ls  a=A b=B out=Y vcc=VCC gnd=GND`; "
    "there are inverter, buffer, schmitt, nand, nor, and, or, xor",
    "jfet": "write its channel: `n-jfet  d=A g=B s=C` or `p-jfet  d=A g=B s=C`",
    "mosfet": "write its channel: `n-mosfet  g=A d=B s=C` or `p-mosfet  g=A d=B s=C`",
}


@dataclass(frozen=True)
class Item:
    """One thing a line says, in the order typed; canonical is how `check --write` prints it.

    what: "class", "figure", "rating", "units", "matched", "off", "at resistance", "signal", "order" or "pitch".
    """

    what: str
    canonical: str
    name: str = ""  # figure or class, or the partner of a match
    value: Value | None = None
    typed: str = ""
    rating: Rating | None = None
    pins: tuple[str, ...] = ()
    signal: Signal | None = None


@dataclass(frozen=True)
class Word:
    """A word of a line with where it starts, in characters from the start of the line."""

    text: str
    offset: int


def split_words(line: str) -> list[Word]:
    """Words between blanks."""
    return [Word(found[0], found.start()) for found in re.finditer(r"\S+", line)]


def read_items(words: list[Word], kind: Kind) -> list[Item]:
    """Values and words between kind and nets."""
    items: list[Item] = []
    rest = list(words)
    while rest:
        items.append(_next_item(rest, kind, items))
    seen: dict[str, Item] = {}
    for item in items:
        label = item.what if item.what in ("class", "matched", "off", "order", "pitch") else item.name
        if item.what not in ("rating", "units") and label in seen:
            raise Refused(
                f"{seen[label].typed} and {item.typed} say the same thing twice",
                "keep one of the two",
                next((word.offset for word in reversed(words) if word.text in item.typed.split()), 0),
            )
        seen[label] = item
    return items


def _next_item(rest: list[Word], kind: Kind, before: Sequence[Item]) -> Item:
    """Take the next item off the front of the words."""
    word = rest[0]
    if word.text in UNITS_IN_PACKAGE and kind.units_share:
        rest.pop(0)
        return Item("units", word.text, word.text, typed=word.text)
    if word.text == "matched":
        return _matched(rest)
    if word.text.rstrip(":") == "off" and len(rest) > 1 and rest[1].text == "stays":
        del rest[:2]
        return Item("off", "off stays", "stays", typed="off stays")
    if word.text.rstrip(":") in OF_THE_BODY and len(rest) > 1:
        return OF_THE_BODY[word.text.rstrip(":")](rest, kind)
    if kind.plays and word.text in (*SIGNALS, *SIGNALS_NOT_COMPUTED):
        return _signal(rest)
    if word.text.lower() in kind.classes:
        rest.pop(0)
        return Item("class", word.text.lower(), word.text.lower(), typed=word.text)
    named = _named_parameter(rest, kind)
    if named:
        return _named_figure(rest, named, kind)
    return _bare_value(rest, kind, before)


def _bears(rest: list[Word], kind: Kind) -> Item:
    """`bears 35V`: a rating that could be taken for a value."""
    word = rest[1]
    rating = _rating(word, _ENDS)
    if rating is None:
        raise Refused(
            f"{word.text!r} is nothing that a part bears", "write `bears 35V`, `bears 1A` or `bears 2W`", word.offset
        )
    del rest[:2]
    said = f"bears {canonical_value(Value(rating.value), rating.unit)}"
    return Item("rating", said, typed=f"bears {word.text}", rating=rating)


def _order(rest: list[Word], kind: Kind) -> Item:
    """`order ECB`, `order in,com,out`: pins as they stand side by side, seen from the marked side, legs down."""
    word = rest[1]
    names = {**{pin: pin for pin in kind.pins}, **kind.aliases}
    typed = word.text.lower().split(",") if "," in word.text else list(word.text.lower())
    pins = tuple(names.get(one, "") for one in typed)
    if "" in pins or len(set(pins)) != len(pins) or len(pins) < 2:
        raise Refused(f"{word.text!r} is no order of the pins of a {kind.name}",
                      f"write them side by side: `order {','.join(kind.pins)}`", word.offset)  # fmt: skip
    del rest[:2]
    return Item("order", f"order {','.join(pins)}", typed=f"order {word.text}", pins=pins)


def _pitch(rest: list[Word], kind: Kind) -> Item:
    """`pitch 5mm`, `pitch 0.2in`: from one leg to the next."""
    word = rest[1]
    found = _PITCH.fullmatch(word.text)
    if not found:
        raise Refused(f"{word.text!r} is no pitch", "write `pitch 5mm` or `pitch 0.2in`", word.offset)
    millimetres = round(float(found[1].replace(",", ".")) * (25.4 if found[2] == "in" else 1.0), 3)
    del rest[:2]
    return Item("pitch", f"pitch {millimetres:g}mm", value=Value(1e-3 * millimetres), typed=f"pitch {word.text}")


def _signal(rest: list[Word]) -> Item:
    """`mains 9V rms 50Hz`, `mains 9V rms 50Hz 5%`: what a source plays, whatever the stimulus."""
    first, texts = rest[0], [word.text for word in rest]
    try:
        found = read_signal(texts, volts_of)
        if found.word == "step" or len(found.hertz) > 1:
            raise Refused(
                f"`{found.word}` here would be in every stimulus", f"write it in a stimulus: `{FORMS['step']}`"
            )
    except Refused as problem:
        raise Refused(problem.text, problem.mend, first.offset) from problem
    typed = " ".join(word.text for word in rest[: len(rest) - len(texts)])
    del rest[: len(rest) - len(texts)]
    size, typed = _tolerance_after(rest, Value(found.size), typed, "V")
    if found.word == "mains" and size.tolerance is None:
        size = replace(size, tolerance=MAINS_SPREAD)
        return Item("signal", found.said, "signal", size, typed, signal=found)
    spread = "" if size.tolerance is None else f" {percent(size.tolerance)}"
    return Item("signal", found.said + spread, "signal", size, typed, signal=found)


def volts_of(text: str) -> float:
    """One end of what a source goes between."""
    value = read_value(text, "V")
    if value.unknown or value.low is not None or value.tolerance is not None:
        raise Refused(f"{text!r} is not one voltage", f"write `{FORMS['pulse']}`")
    return value.si


def _matched(rest: list[Word]) -> Item:
    """`matched Q1 5%`."""
    if len(rest) < 3:
        raise Refused("`matched` needs a partner and how well they agree", "write `matched Q1 5%`", rest[0].offset)
    word, partner, spread = rest[:3]
    try:
        value = read_value(spread.text, "%")
    except NotAValue as problem:
        raise Refused(problem.text, "write `matched Q1 5%`", spread.offset) from problem
    if value.unknown or value.low is not None or not 0 <= value.si <= 1:
        raise Refused(f"{spread.text!r} does not say how well they agree", "write `matched Q1 5%`", spread.offset)
    del rest[:3]
    return Item(
        "matched",
        f"matched {partner.text} {percent(value.si)}",
        partner.text,
        value,
        typed=f"{word.text} {partner.text} {spread.text}",
    )


def _named_parameter(rest: Sequence[Word], kind: Kind) -> Parameter | None:
    """The figure whose name starts here; the longest name wins."""
    typed = [word.text.lower().rstrip(":") for word in rest]
    fits = [
        one
        for one in kind.parameters
        if one.word not in ("", "-") and typed[: len(one.word.split())] == one.word.split()
    ]
    return max(fits, key=lambda one: len(one.word), default=None)


def _named_figure(rest: list[Word], parameter: Parameter, kind: Kind) -> Item:
    """`gain 80..400`, `esr 0.3R 50%`, `at 30%`, `at 2k2 to bottom`."""
    count = len(parameter.word.split())
    if len(rest) <= count:
        raise Refused(f"no value after {parameter.word!r}", f"write {parameter.word} and a value, or ?", rest[0].offset)
    word = rest[count]
    ends = [one.text for one in rest[count + 1 : count + 3]]
    if parameter.unit == "%" and ends[:1] == ["to"]:
        return _at_resistance(rest, count, kind)
    value = _value(word, parameter.unit)
    del rest[: count + 1]
    value, typed = _tolerance_after(rest, value, word.text, parameter.unit)
    return Item(
        "figure",
        f"{parameter.word} {canonical_value(value, parameter.unit)}",
        parameter.name,
        value,
        typed=f"{parameter.word} {typed}",
    )


def _at_resistance(rest: list[Word], count: int, kind: Kind) -> Item:
    """`at 2k2 to bottom`: ohms between wiper and one end."""
    word = rest[count]
    end = rest[count + 2].text if len(rest) > count + 2 else ""
    if end not in ("bottom", "top"):
        raise Refused("`to` names an end of the track", "write `at 2k2 to bottom` or `at 2k2 to top`", word.offset)
    value = _value(word, "ohm")
    if value.unknown or value.low is not None or value.tolerance is not None:
        raise Refused(f"{word.text!r} is not one resistance", "write `at 2k2 to bottom`, or `at ?`", word.offset)
    del rest[: count + 3]
    return Item(
        "at resistance", f"at {canonical_value(value, 'ohm')} to {end}", end, value, typed=f"at {word.text} to {end}"
    )


def _bare_value(rest: list[Word], kind: Kind, before: Sequence[Item]) -> Item:
    """A value without a name: the kind's own value first, after that a rating."""
    word = rest[0]
    given = {item.name for item in before if item.what == "figure"}
    free = [one for one in kind.parameters if one.word == "" and one.name not in given]
    problem: NotAValue | None = None
    for parameter in free:
        try:
            value = read_value(word.text, parameter.unit)
        except NotAValue as refusal:
            problem = problem or refusal
            continue
        rest.pop(0)
        value, typed = _tolerance_after(rest, value, word.text, parameter.unit)
        return Item("figure", canonical_value(value, parameter.unit), parameter.name, value, typed=typed)
    rating = _rating(word, kind.stress_units)
    if rating:
        rest.pop(0)
        return Item("rating", canonical_value(Value(rating.value), rating.unit), typed=word.text, rating=rating)
    raise _unknown_word(word, kind, problem, [one.unit for one in free])


def _tolerance_after(rest: list[Word], value: Value, typed: str, unit: str) -> tuple[Value, str]:
    """A following `5%` belongs to the value."""
    found = _PER_CENT.fullmatch(rest[0].text) if rest else None
    if not found or unit == "%":
        return value, typed
    word = rest.pop(0)
    if value.unknown or value.low is not None:
        raise Refused(f"{typed} has no tolerance: it is a range already", f"leave {word.text} out", word.offset)
    if value.tolerance is not None:
        raise Refused(f"the tolerance of {typed} is given twice", f"leave {word.text} out", word.offset)
    return replace(value, tolerance=float(f"{found[1].replace(',', '.')}e-2")), f"{typed} {word.text}"


def _rating(word: Word, units: Iterable[str]) -> Rating | None:
    """A stress the part may bear, when the word carries one of these units of stress."""
    for unit in units:
        if word.text[-1:] in _ENDS[unit]:
            try:
                value = read_value(word.text, unit)
            except NotAValue:
                continue
            if not value.unknown and value.low is None and LEAST_RATING <= value.si <= 1.0 / LEAST_RATING:
                return Rating(value.si, unit)
    return None


def _unknown_word(word: Word, kind: Kind, problem: NotAValue | None, units: Sequence[str]) -> Refused:
    """Nothing fits: a slip in a value, or a word nobody knows."""
    if problem and (word.text[:1].isdigit() or word.text[:1] in ".,-+" or not kind.classes):
        return Refused(problem.text, problem.mend, word.offset)
    if _PER_CENT.fullmatch(word.text):
        return Refused(
            f"{word.text} does not follow a value", "write the tolerance right after its value: `10k 5%`", word.offset
        )
    if word.text == "set":
        return Refused(
            "`set so` is not computed yet", "write where it stands, `at 30%`, or `at ?` when nobody knows", word.offset
        )
    words = [*kind.classes, *(one.word for one in kind.parameters if one.word not in ("", "-")), "matched", "off"]
    words += OF_THE_BODY
    if kind.units_share:
        words += UNITS_IN_PACKAGE
    figures = [f"{one.word} {word.text}" for one in kind.parameters if one.word not in ("", "-")]
    if re.match(r"[-−+]?\d", word.text):
        mend = "leave it out" + (", or say which figure it is: " + ", ".join(figures) if figures else "")
        return Refused(f"{word.text!r} is neither a value nor a rating of a {kind.name}", mend, word.offset)
    if re.fullmatch(r"[pnuµμmkKMG]?(F|V|A|Ω|Ω|ohms?|Hz?|W|s)?", word.text):
        return Refused(
            f"{word.text!r} stands alone", "write a value without a blank inside: 4.7k, 100n, 12V", word.offset
        )
    return Refused(f"{word.text!r} means nothing for a {kind.name}", nearest(word.text, words), word.offset)


def _value(word: Word, unit: str) -> Value:
    try:
        return read_value(word.text, unit)
    except NotAValue as problem:
        raise Refused(problem.text, problem.mend, word.offset) from problem


def percent(fraction: float) -> str:
    """A fraction as per cent that reads back as the same float."""
    return write_value(fraction, "%")


def canonical_value(value: Value, unit: str) -> str:
    """A value as `check --write` prints it."""
    if value.unknown:
        return "?"
    if value.low is not None and value.high is not None:
        return write_range(value.low, value.high, unit).replace(" ", "")
    tolerance = "" if value.tolerance is None else f" {percent(value.tolerance)}"
    return write_value(value.si, unit).replace(" ", "") + tolerance


# what a line says of the part as it is bought, not of what it does
OF_THE_BODY: Mapping[str, Callable[[list[Word], Kind], Item]] = {"bears": _bears, "order": _order, "pitch": _pitch}
