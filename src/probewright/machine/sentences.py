"""Sentences of `works`: PLACE QUANTITY at STIMULUS LIMITS, and their tails.

    LAMP dc at full between 10V and 13V
    SUP to HEAT dc at full; below 8V = barely warm; above 13V = too hot; only if lamp lit works
    BATT dc at idle minus at loaded below 1.2V
    OUT level at loud over IN level at loud within 10% of healthy
    RES rise through 2.4V at on between 50ms and 200ms; never = stays in reset
    HOLD sag at play from 3ms to 10ms below 0.1V

Limits in the first breath say what holds (`below 0.3V`: it is below when all is well); limits after
a ; say what breaks and how the owner puts it (`; below 8V = barely warm`).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from probewright.errors import NotAValue
from probewright.machine.following import followed, plain_sines
from probewright.machine.known import Known
from probewright.machine.model import GROUND, Limit, Measure, Spot, Stimulus, Works
from probewright.machine.part_words import Word, split_words
from probewright.machine.saying import Refused, nearest
from probewright.machine.stimuli import SENTENCE_WORDS, window
from probewright.units import read_value, write_reading

# word of a sentence -> how it is kept, and the unit of its limits
QUANTITIES: Mapping[str, tuple[str, str]] = {
    **{one: (one, "V") for one in ("dc", "size of dc", "pp", "rms", "level", "last", "drift", "sag", "top", "valley")},
    "max": ("top", "V"),
    "min": ("valley", "V"),
    "rise": ("rise", "s"),
    "fall": ("fall", "s"),
    "period": ("period", "s"),
    "frequency": ("frequency", "Hz"),
    **{one: (one, "%") for one in ("duty", "distortion", "tilt")},
}
UNITS: Mapping[str, str] = dict(QUANTITIES.values())  # by the word that is kept
SIGNAL_ONLY = ("pp", "rms", "level")  # a small signal knows them, and what is followed in time
STEADY = ("dc", "size of dc")
THROUGH = ("rise", "fall")
_LIMIT_WORDS = ("below", "above", "between", "within", "weaker", "stronger", "never")
_COMBINING = ("minus", "over")


@dataclass
class _Reader:
    """Words of one clause, taken from the front."""

    words: list[Word]
    known: Known
    end: int

    def peek(self, ahead: int = 0) -> str:
        return self.words[ahead].text if len(self.words) > ahead else ""

    def take(self, wanted: str) -> Word:
        if not self.words:
            raise Refused(f"{wanted} is missing", "write `PLACE dc at STIMULUS below 2V`", self.end)
        return self.words.pop(0)

    def offset(self) -> int:
        return self.words[0].offset if self.words else self.end


def read_works(name: str, text: str, known: Known, spot: Spot, channel: str, names: Mapping[str, str]) -> Works:
    """One function from its sentence; raises Refused. names: functions for `only if`, spoken -> own name."""
    clauses = list(_clauses(text))
    measure, combine, second, limits = _measure_and_limits(*clauses[0], known)
    only_if, only_sentence = "", None
    for clause, offset in clauses[1:]:
        if clause.split()[:2] == ["only", "if"]:
            if only_if or only_sentence:
                raise Refused(
                    "`only if` is said twice", "one condition a function; name another function for the rest", offset
                )
            only_if, only_sentence = _condition(clause, offset, known, spot, channel, names, name)
        elif clause.split()[:1] and clause.split()[0] in _LIMIT_WORDS:
            reader = _Reader(_shift(clause, offset), known, offset + len(clause))
            limits.append(_breaking(reader, _unit(measure, combine), _happens(measure, combine)))
        else:
            raise Refused(
                f"{clause.strip() or 'an empty clause'!r} is not a limit",
                "after ; write `below X = words`, `above X = words` or `only if ...`; a second measure is a "
                "function of its own, in its own line",
                offset,
            )
    if not limits:
        raise Refused(
            f"{name!r} has no limit",
            "end it with `below 2V`, `between 2V and 3V` or `within 10% of healthy`",
            len(text),
        )
    if measure.quantity == "size of dc" and any(one.value < 0 for one in limits):
        raise Refused("a size is never below nought", "write the limit without its minus sign")
    return Works(name, measure, tuple(limits), combine, second, only_if, only_sentence, channel, spot)


def _clauses(text: str) -> list[tuple[str, int]]:
    """Text between semicolons, with where each starts."""
    found: list[tuple[str, int]] = []
    start = 0
    for piece in text.split(";"):
        lead = len(piece) - len(piece.lstrip())
        found.append((piece.strip(), start + lead))
        start += len(piece) + 1
    return found


def _shift(clause: str, offset: int) -> list[Word]:
    return [Word(word.text, word.offset + offset) for word in split_words(clause)]


def _condition(
    clause: str, offset: int, known: Known, spot: Spot, channel: str, names: Mapping[str, str], own: str
) -> tuple[str, Works | None]:
    """`only if NAME works` or `only if SENTENCE`."""
    rest = clause.split(None, 2)[2] if len(clause.split()) > 2 else ""
    at = offset + clause.rfind(rest)
    if rest.endswith(" works"):
        name = " ".join(rest.removesuffix(" works").split())
        if names.get(name, own) == own:
            others = [one for one in names if names[one] != own]
            raise Refused(f"no other function is called {name!r}", nearest(name, others), at)
        return names[name], None
    if not rest:
        raise Refused("`only if` says nothing", "write `only if NAME works`", offset)
    measure, combine, second, limits = _measure_and_limits(rest, at, known)
    if not limits:
        raise Refused("the condition has no limit", "write `only if BLINK pp at run above 1V`", at)
    return "", Works("", measure, tuple(limits), combine, second, channel=channel, spot=spot)


def _measure_and_limits(clause: str, offset: int, known: Known) -> tuple[Measure, str, Measure | None, list[Limit]]:
    """The first clause: what is measured, and limits that follow in the same breath."""
    reader = _Reader(_shift(clause, offset), known, offset + len(clause))
    measure = _measure(reader)
    combine, second = "", None
    if reader.peek() in _COMBINING:
        at = reader.offset()
        combine = reader.take("minus").text
        second = _at_another(reader, measure) if reader.peek() == "at" else _measure(reader)
        if UNITS[second.quantity] != UNITS[measure.quantity]:
            raise Refused(
                f"{measure.quantity} and {second.quantity} are not of one unit",
                f"compare like with like: {measure.quantity} {combine} {measure.quantity}",
                at,
            )
        if reader.peek() in _COMBINING:
            raise Refused("one `minus` or `over` a sentence", "split it into two functions", reader.offset())
    limits: list[Limit] = []
    while reader.words:
        limits += _holding(reader, _unit(measure, combine), _happens(measure, combine))
    return measure, combine, second, limits


def _unit(measure: Measure, combine: str) -> str:
    """Unit a limit must have: a ratio has none."""
    return "1" if combine == "over" else UNITS[measure.quantity]


def _happens(measure: Measure, combine: str) -> bool:
    """Whether it is a time at which something happens, which it may never do."""
    return measure.quantity in THROUGH and not combine


def _measure(reader: _Reader) -> Measure:
    """`P QUANTITY at S` or `P to Q QUANTITY at S`."""
    place = _place(reader)
    other = GROUND
    if reader.peek() == "to":
        reader.take("to")
        other = _place(reader)
    quantity, level = _quantity(reader)
    stimulus = _stimulus(reader, quantity)
    return Measure(place, quantity, stimulus, other, level, _window(reader, stimulus))


def _at_another(reader: _Reader, measure: Measure) -> Measure:
    """The same at another stimulus: `minus at S2`."""
    stimulus = _stimulus(reader, measure.quantity)
    return replace(measure, stimulus=stimulus, window=_window(reader, stimulus))


def _window(reader: _Reader, stimulus: str) -> tuple[float, float] | None:
    """`from T1 to T2`, within what the stimulus is read over; None when not said."""
    if reader.peek() != "from":
        return None
    start, form = reader.take("from").offset, "from 10ms to 60ms"
    texts = [reader.take("a time").text]
    if reader.take("`to`").text != "to":
        raise Refused("`from` needs `to`", f"write `{form}`", start)
    texts.append(reader.take("a time").text)
    try:
        found = window(texts, form)
    except (Refused, NotAValue) as problem:
        raise Refused(problem.text, problem.mend, start) from problem
    known = followed(reader.known, stimulus)
    if not known.courses and stimulus not in reader.known.unclear:
        raise Refused(f"nothing happens at {stimulus!r} that has a time", "leave `from ... to ...` out", start)
    end = known.read[1] if known.read else known.period
    if found[1] > end:
        whole = "is read until" if known.read else "repeats after"
        raise Refused(
            f"{stimulus!r} {whole} {write_reading(end, 's')}", f"end the window there, or sooner: `{form}`", start
        )
    return found


def _place(reader: _Reader) -> str:
    word = reader.take("a place")
    return reader.known.place(word.text, word.offset)


def _quantity(reader: _Reader) -> tuple[str, float]:
    """A quantity as it is kept, and the volts that a rise or a fall goes through."""
    word = reader.take("a quantity")
    if word.text == "size" and [reader.peek(), reader.peek(1)] == ["of", "dc"]:
        del reader.words[:2]
        return "size of dc", 0.0
    if word.text not in QUANTITIES:
        raise Refused(
            f"{word.text!r} is not a quantity",
            nearest(word.text, QUANTITIES, "write one of: " + ", ".join(QUANTITIES)),
            word.offset,
        )
    if word.text not in THROUGH:
        return QUANTITIES[word.text][0], 0.0
    if reader.peek() != "through":
        raise Refused(f"`{word.text}` through how many volts?", f"write `{word.text} through 3V`", reader.offset())
    reader.take("`through`")
    return word.text, _number(reader.take("how many volts"), "V")


def _stimulus(reader: _Reader, quantity: str) -> str:
    """`at STIMULUS`, a name of one or more words."""
    word = reader.take("`at` and a stimulus")
    if word.text != "at":
        raise Refused(
            f"{word.text!r} stands where `at STIMULUS` should", "write `at` and the name of a stimulus", word.offset
        )
    start, names = reader.offset(), []
    while reader.words and reader.peek() not in SENTENCE_WORDS:
        names.append(reader.take("a name").text)
    name = " ".join(names)
    stimuli = reader.known.stimuli
    if name not in stimuli:
        several = [one for one in stimuli if name and re.fullmatch(rf"{re.escape(name)} \S+[hH]z", one)]
        if several:
            raise Refused(
                f"at which frequency of {name!r}?", "write " + " or ".join(f"`at {one}`" for one in several), start
            )
        raise Refused(
            f"no stimulus is called {name!r}" if name else "`at` names no stimulus",
            nearest(
                name,
                stimuli,
                "write one of: " + ", ".join(stimuli) if stimuli else f"add `stimuli:` with `{name or 'run'}: {{}}`",
            ),
            start,
        )
    _refuse_still(reader.known, name, quantity, start)
    return name


def _refuse_still(known: Known, name: str, quantity: str, offset: int) -> None:
    """Refuse a quantity of what moves where nothing moves, or nobody knows how."""
    if quantity in STEADY or name in known.unclear:
        return
    moving = followed(known, name)
    if not (moving.courses or moving.switched_on):
        mend = (
            f"put one on a source: `{name}: {{SOURCE: sine 0.2V rms 1kHz}}`, or judge by dc"
            if quantity in SIGNAL_ONLY
            else f"put one on a source, or switch it on: `{name}: {{power: switch-on rise 2ms, read: 0s..200ms}}`"
        )
        raise Refused(f"{quantity} has nothing to work on: {name!r} puts on no signal", mend, offset)
    if known.stimuli[name].playing and quantity not in SIGNAL_ONLY:
        raise Refused(
            f"nobody knows the {quantity} of whatever it is playing", "judge by `level`, or put a signal on", offset
        )
    if quantity == "level" and not moving.hertz:
        raise Refused(f"{name!r} plays no one frequency that a level is of", "judge by `rms` or `pp`", offset)


def followed_whole(stimulus: Stimulus, works: Iterable[Works]) -> Stimulus:
    """A plain sine is followed in time as a whole where a function asks what a small signal does not know."""
    asked = [one for works in works for one in _measures(works) if one.stimulus == stimulus.name]
    if stimulus.in_time or all(one.quantity in (*STEADY, *SIGNAL_ONLY) and one.window is None for one in asked):
        return stimulus
    return replace(stimulus, courses=plain_sines(stimulus))


def _measures(works: Works) -> Iterator[Measure]:
    """Everything that a function and its condition look at."""
    yield works.measure
    if works.second:
        yield works.second
    if works.only_if_sentence:
        yield from _measures(works.only_if_sentence)


_BROKEN_ON: Mapping[str, str] = {"below": "above", "above": "below", "weaker": "stronger", "stronger": "weaker"}


def _holding(reader: _Reader, unit: str, through: bool) -> list[Limit]:
    """What holds when all is well: `below 0.3V` is broken above it; `between` and `within` give two."""
    word = _limit_word(reader, through)
    if word.text == "never":
        found = [Limit("below", math.inf)]
    elif word.text == "between":
        found = _between(reader, unit)
    elif word.text == "within":
        found = _within(reader, unit)
    else:
        value, of_healthy = _bound(reader, unit)
        if reader.peek().startswith("="):
            raise Refused(
                f"does {word.text!r} say when all is well, or when it is not?",
                "words for a broken limit come after "
                f"a semicolon: `; {word.text} ... = {_owner_words(reader) or 'words'}`",
                word.offset,
            )
        found = [Limit(_BROKEN_ON[word.text], value, of_healthy=of_healthy)]
    words = _owner_words(reader)
    return [replace(limit, words=words) for limit in found]


def _breaking(reader: _Reader, unit: str, through: bool) -> Limit:
    """What is wrong and how the owner says it: `below 8V = barely warm`."""
    word = _limit_word(reader, through)
    if word.text in ("between", "within"):
        raise Refused(f"`{word.text}` says what holds", "write it before the first semicolon", word.offset)
    value, of_healthy = (math.inf, False) if word.text == "never" else _bound(reader, unit)
    words = _owner_words(reader)
    if not words:
        raise Refused(
            f"`; {word.text}` without the owner's words",
            f"write `; {word.text} {'' if word.text == 'never' else '... '}= words`; what holds when all is well "
            "comes before the first semicolon",
            word.offset,
        )
    return Limit("above" if word.text == "never" else word.text, value, words, of_healthy)


def _limit_word(reader: _Reader, through: bool) -> Word:
    word = reader.take("a limit")
    if word.text == "never" and not through:
        raise Refused(
            "`never` belongs to `rise through` and `fall through`", "write `OUT rise through 3V`", word.offset
        )
    if word.text not in _LIMIT_WORDS:
        raise Refused(f"{word.text!r} is not a limit", nearest(word.text, _LIMIT_WORDS), word.offset)
    if word.text in ("weaker", "stronger"):
        than = reader.take("`than`")
        if than.text != "than":
            raise Refused(f"`{word.text}` without `than`", f"write `{word.text} than 4V`", than.offset)
    return word


def _owner_words(reader: _Reader) -> str:
    """What the owner says when the limit is broken: everything after `=`."""
    if not reader.words or not reader.peek().startswith("="):
        return ""
    words = " ".join(word.text for word in reader.words).removeprefix("=").strip()
    reader.words.clear()
    return words


def _between(reader: _Reader, unit: str) -> list[Limit]:
    start = reader.offset()
    low, low_healthy = _bound(reader, unit)
    if reader.take("`and`").text != "and":
        raise Refused("`between` needs two bounds", "write `between 9V and 11V`", start)
    high, high_healthy = _bound(reader, unit)
    if low_healthy == high_healthy and low >= high:
        raise Refused("the lower bound comes first", "turn the two round", start)
    return [Limit("below", low, of_healthy=low_healthy), Limit("above", high, of_healthy=high_healthy)]


def _within(reader: _Reader, unit: str) -> list[Limit]:
    """`within 10% of healthy`, `within 10% of 12V`, `within 0.5V of 12V`, of a ratio `within 1dB of 20dB`."""
    width_word = reader.take("how far")
    of = reader.take("`of`")
    if of.text != "of":
        raise Refused("`within` needs `of`", "write `within 10% of healthy` or `within 0.5V of 12V`", of.offset)
    absolute = unit == "%"  # per cent of a per cent would be read either way
    share = width_word.text.endswith("%") and not absolute
    width = _number(width_word, "%" if share else unit)
    decibels = unit == "1" and width_word.text.endswith("dB")
    if width <= (1.0 if decibels else 0.0):
        raise Refused(f"nothing is within {width_word.text}", "write a width above nought", width_word.offset)
    if reader.peek().rstrip(";,") == "healthy":
        reader.take("healthy")
        if absolute:
            raise _absolute(width_word)
        if decibels:
            return [Limit("below", 1.0 / width, of_healthy=True), Limit("above", width, of_healthy=True)]
        if not share:
            raise Refused("around healthy, a width is in per cent", "write `within 10% of healthy`", width_word.offset)
        return [Limit("below", 1.0 - width, of_healthy=True), Limit("above", 1.0 + width, of_healthy=True)]
    centre = _number(reader.take("of what"), unit)
    if decibels:  # a factor to either side, not a distance
        return [Limit("below", centre / width), Limit("above", centre * width)]
    reach = width * abs(centre) if share else width
    return [Limit("below", centre - reach), Limit("above", centre + reach)]


def _bound(reader: _Reader, unit: str) -> tuple[float, bool]:
    """A value in the unit, or `80% of healthy`."""
    word = reader.take("a value")
    if word.text.endswith("%") and [reader.peek(), reader.peek(1)] == ["of", "healthy"]:
        del reader.words[:2]
        if unit == "%":
            raise _absolute(word)
        return _number(word, "%"), True
    return _number(word, unit), False


def _absolute(word: Word) -> Refused:
    """A limit on duty, tilt or distortion counts for itself."""
    return Refused("a limit in per cent is of itself here, not of healthy", "write `below 5%`", word.offset)


def _number(word: Word, unit: str) -> float:
    """One number that carries its unit; a ratio is a bare number, per cent or dB."""
    if unit == "1" and re.fullmatch(r".*\d\s*dB", word.text):
        decibels = _plain(word, word.text[:-2], "1")
        if abs(decibels) > 300.0:
            raise Refused(f"{word.text} is no ratio of this world", "write a few dB: `-3dB`", word.offset)
        return float(10.0 ** (decibels / 20.0))
    if unit == "1" and word.text.endswith("%"):
        return _plain(word, word.text, "%")
    if unit in _CARRIED and not re.search(_CARRIED[unit].ends, word.text):
        of = _CARRIED[unit]
        bare = re.fullmatch(rf"[+-]?\d+([.,]\d+)?{of.prefix}", word.text)
        raise Refused(
            f"{word.text!r} is no {of.name}, and this limit is one",
            f"write {of.unit}: `{word.text + of.symbol if bare else of.example}`",
            word.offset,
        )
    return _plain(word, word.text, unit)


@dataclass(frozen=True)
class _Carried:
    """How a unit is told at the end of a word, and what to write where another stands."""

    ends: str
    prefix: str
    name: str
    unit: str
    symbol: str
    example: str


_CARRIED: Mapping[str, _Carried] = {
    "V": _Carried(r"[vV]", "m?", "voltage", "volts", "V", "2.5V"),
    "s": _Carried(r"s$", "[mu]?", "time", "seconds", "s", "20ms"),
    "Hz": _Carried(r"[hH]z$", "[kM]?", "frequency", "hertz", "Hz", "100Hz"),
    "%": _Carried(r"%$", "", "share", "per cent", "%", "30%"),
}


def _plain(word: Word, text: str, unit: str) -> float:
    try:
        value = read_value(text, unit)
    except NotAValue as problem:
        raise Refused(problem.text, problem.mend, word.offset) from problem
    if value.unknown or value.low is not None or value.tolerance is not None:
        raise Refused(
            f"{word.text!r} is not one value", "write one value; for two use `between 2V and 3V`", word.offset
        )
    return value.si
