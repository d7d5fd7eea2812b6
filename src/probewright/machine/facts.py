"""What a file says about its parts and nets besides how they are connected.

Points, printed readings, heat, power rules, places off limits, what is known good, what stays when
power is off.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from probewright.errors import NotAValue
from probewright.machine.known import Known
from probewright.machine.model import SINKS, ZONES, Heat, Point, PowerRule, Printed, Spot, Zone
from probewright.machine.packages import packages
from probewright.machine.part_words import split_words
from probewright.machine.saying import Notes, NotNamed, Refused, nearest
from probewright.machine.sentences import QUANTITIES, SIGNAL_ONLY, STEADY
from probewright.machine.yaml_text import Piece, Table, Text
from probewright.units import read_value

EASES = ("easy", "fine probe", "solder side", "board out", "no go")
POINT_KEYS = ("at", "side", "ease", "near")
METER_RANGES = (2.5, 10.0, 50.0, 250.0, 1000.0)  # V, usual on 20 kΩ/V meters, from memory


def texts_in(piece: Piece, notes: Notes) -> list[Text]:
    """The texts of a list, or the one text that stands in its place."""
    if isinstance(piece, Text):
        return [piece] if piece.value else []
    if isinstance(piece, Table):
        notes.complain(piece.spot, "here stands a list", "write `[A, B]`, or one entry a line after `- `")
        return []
    found = [item for item in piece.items if isinstance(item, Text)]
    for item in piece.items:
        if not isinstance(item, Text):
            notes.complain(
                item.spot, "an entry of this list is not a plain text", "write one text an entry, without `: `"
            )
    return found


def read_places(piece: Piece, known: Known, notes: Notes) -> list[str]:
    """Places of a list, on every channel."""
    found: list[str] = []
    for text in texts_in(piece, notes):
        with notes.refusing(text.inside):
            found += known.places(text.value)
    return found


def read_points(piece: Piece, known: Known, notes: Notes) -> dict[str, Point]:
    """`points:`: ease words with lists of places, `near:` with lines, and points by name."""
    if not isinstance(piece, Table):
        if piece != Text("", piece.spot, getattr(piece, "start", 0), getattr(piece, "end", 0)):
            notes.complain(piece.spot, "`points:` holds names and ease words", "write `easy: [SUP, GND]` under it")
        return {}
    points: dict[str, Point] = {}
    named = [(name, value) for name, value in piece if name.value not in (*EASES, "near")]
    for name, value in named:
        with notes.refusing(name.inside):
            _named_point(name, value, known, points, notes)
    for ease, value in piece:
        if ease.value in EASES:
            for text in texts_in(value, notes):
                with notes.refusing(text.inside):
                    for place in _spoken(text.value, known):
                        _merge(points, place, known, ease.value, (), text.spot)
        elif ease.value == "near":
            _neighbours(value, known, points, notes)
    return points


def _spoken(typed: str, known: Known) -> list[str]:
    """Points by their own name, other places as nets or pins."""
    return [one if one in known.points else known.place(one) for [one] in _each(typed, known)]


def _each(typed: str, known: Known) -> list[list[str]]:
    return [texts for _, texts in known.channels_of(typed)]


def _named_point(name: Text, value: Piece, known: Known, points: dict[str, Point], notes: Notes) -> None:
    """`TP1: {at: Q1.e, side: top, ease: easy, near: [Q1.c]}` or `TP1: Q1.e`."""
    if isinstance(value, Text):
        value = Table(((Text("at", value.spot), value),), value.spot)
    if not isinstance(value, Table):
        raise Refused(f"{name.value!r} is not a point", f"write `{name.value}: {{at: NET, ease: easy}}`", 0)
    for key, _ in value:
        if key.value not in POINT_KEYS:
            notes.complain(key.spot, f"a point has no {key.value!r}", nearest(key.value, POINT_KEYS))
    at, ease, side = (_text(value, key, notes) for key in ("at", "ease", "side"))
    if ease.value and ease.value not in EASES:
        notes.complain(ease.spot, f"{ease.value!r} does not say how easy", nearest(ease.value, EASES))
    near = value.get("near")
    near_texts = [one.value for one in texts_in(near, notes)] if near else []
    for _, (own, place, *beside) in known.channels_of(name.value, at.value, *near_texts):
        if len(own.split()) != 1:
            raise Refused(f"{own!r} is more than one word", "name a point with one word, like TP1")
        found = _place_of_point(own, place, at, known, notes)
        if found:
            known.points[own] = found
            around = tuple(known.place(one) for one in beside)
            points[own] = Point(own, found, side.value, ease.value, around, name.spot)


def _text(table: Table, key: str, notes: Notes) -> Text:
    piece = table.get(key)
    if piece is None:
        return Text("", table.spot)
    if isinstance(piece, Text):
        return piece
    notes.complain(piece.spot, f"`{key}` is one text", f"write `{key}: ...` in one line")
    return Text("", piece.spot)


def _place_of_point(own: str, place: str, at: Text, known: Known, notes: Notes) -> str:
    """Where a point is; a net or pin without `at` is a point at itself."""
    if own in known.points:
        raise Refused(f"the point {own!r} is typed twice", "rename one of the two")
    if not place:
        return known.place(own)
    if own in known.nets():
        raise Refused(f"{own!r} is a net already", f"leave `at` out, or give the point another name than {own}")
    with notes.refusing(at.inside):
        return known.place(place)
    return ""


def _merge(points: dict[str, Point], place: str, known: Known, ease: str, near: tuple[str, ...], spot: Spot) -> None:
    """Add what one line says about a place to what others said."""
    old = points.get(place, Point(place, known.points.get(place, place), spot=spot))
    if ease and old.ease and ease != old.ease:
        raise Refused(
            f"{place} is `{old.ease}` and `{ease}`", "keep one; the side has a key of its own: `side: bottom`"
        )
    beside = tuple(dict.fromkeys((*old.near, *near)))
    points[place] = replace(old, ease=ease or old.ease, near=beside)


def _neighbours(piece: Piece, known: Known, points: dict[str, Point], notes: Notes) -> None:
    """`near:` lines: places that a slipping probe would bridge."""
    for text in texts_in(piece, notes):
        with notes.refusing(text.inside):
            for _, [line] in known.channels_of(text.value):
                places = [one if one in known.points else known.place(one) for one in line.split()]
                if len(places) < 2:
                    raise Refused("a line of `near` names at least two places", "write `- U1.out U1.minus`")
                for one in places:
                    others = tuple(known.points.get(other, other) for other in places if other != one)
                    _merge(points, one, known, "", others, text.spot)


def read_printed(piece: Piece, known: Known, notes: Notes) -> tuple[Printed, ...]:
    """`printed:` lines: `BATT 13.8 V dc at idle, 20k/V meter`."""
    found: list[Printed] = []
    for text in texts_in(piece, notes):
        with notes.refusing(text.inside):
            found += [_printed(line, known, text.spot) for _, [line] in known.channels_of(text.value)]
    return tuple(found)


def _printed(line: str, known: Known, spot: Spot) -> Printed:
    main, _, meter = line.partition(", ")
    words = split_words(main)
    form = "write `BATT 13.8V dc at idle, 10M meter`"
    cut = next((n for n, word in enumerate(words) if n and word.text in (*QUANTITIES, "size")), 0)
    if cut < 2:
        raise Refused(f"{line!r} is not a printed reading", form)
    place = known.place(words[0].text)
    quantity = "size of dc" if words[cut].text == "size" else words[cut].text
    if quantity not in (*STEADY, *SIGNAL_ONLY):
        raise Refused(
            f"{quantity!r} is not printed on a schematic", f"{form}; also pp, rms and level", words[cut].offset
        )
    value_text = "".join(word.text for word in words[1:cut])
    if value_text[-1:] not in "vV":
        raise Refused(f"{value_text!r} is no voltage", form, words[1].offset)
    value = read_value(value_text, "V")
    if value.unknown or value.low is not None:
        raise Refused(f"{value_text!r} is not one value", form, words[1].offset)
    rest = words[cut + (3 if quantity == "size of dc" else 1) :]
    stimulus = " ".join(word.text for word in rest[1:])
    if rest and (rest[0].text != "at" or stimulus not in known.stimuli):
        raise Refused(f"no stimulus is called {stimulus!r}", nearest(stimulus, known.stimuli, form), rest[0].offset)
    return Printed(place, quantity, stimulus, value.si, "V", _meter_ohms(meter.split(), value.si), spot)


def _meter_ohms(words: list[str], volts: float) -> float:
    """Input resistance of the meter named; a 20k/V meter stands on the smallest range that holds the reading."""
    if not words:
        return 10e6
    form = "write `10M meter`, `20k/V meter` or `20k/V meter on 50V`"
    if words[1:2] != ["meter"] or (len(words) > 2 and (words[2] != "on" or len(words) != 4)):
        raise Refused(f"{' '.join(words)!r} is no meter", form)
    if words[0].endswith("/V"):
        per_volt = read_value(words[0].removesuffix("/V"), "ohm").si
        span = read_value(words[3], "V").si if len(words) == 4 else None
        span = span or next((one for one in METER_RANGES if one >= abs(volts)), METER_RANGES[-1])
        return per_volt * abs(span)
    return read_value(words[0], "ohm").si


def read_heat(piece: Piece, known: Known, notes: Notes) -> dict[str, Heat]:
    """`heat:`: `U1: {with heatsink: 8 K/W, bare: 65 K/W, limit: 125 C}`."""
    if not isinstance(piece, Table):
        notes.complain(piece.spot, "`heat:` holds parts", "write `U1: {with heatsink: 8 K/W, limit: 125 C}` under it")
        return {}
    found: dict[str, Heat] = {}
    for name, value in piece:
        with notes.refusing(name.inside):
            heat = _heat(name, value, notes)
            for part in known.some_parts(name.value, cases=True):
                found[part] = heat
    return found


_HEAT_UNITS: Mapping[str, str] = {"with heatsink": "K/W", "bare": "K/W", "limit": "°C"}
_HEAT_WORDS: Mapping[str, Callable[[], Sequence[str]]] = {"package": packages, "on": lambda: SINKS}


def _heat(name: Text, value: Piece, notes: Notes) -> Heat:
    if not isinstance(value, Table):
        raise Refused(
            f"the heat of {name.value!r} needs figures in braces",
            f"write `{name.value}: {{with heatsink: 8 K/W, bare: 65 K/W, limit: 125 C}}`",
        )
    figures: dict[str, float] = {}
    words: dict[str, str] = {}
    for key, piece in value:
        if key.value not in (*_HEAT_UNITS, *_HEAT_WORDS):
            notes.complain(key.spot, f"heat knows no {key.value!r}", nearest(key.value, (*_HEAT_UNITS, *_HEAT_WORDS)))
            continue
        with notes.refusing(piece.spot):
            if key.value in _HEAT_WORDS:
                words[key.value] = _one_word(piece, _HEAT_WORDS[key.value]())
            else:
                figures[key.value] = _one_figure(piece, _HEAT_UNITS[key.value])
    return Heat(
        figures.get("with heatsink"), figures.get("bare"), figures.get("limit"), words.get("package", ""),
        words.get("on", ""),
    )  # fmt: skip


def _one_word(piece: Piece, allowed: Sequence[str]) -> str:
    """One of some words, capitals aside."""
    said = piece.value if isinstance(piece, Text) else ""
    found = next((one for one in allowed if one.casefold() == said.casefold()), None)
    if found is None:
        raise Refused(f"{said!r} is not one of {', '.join(allowed)}", nearest(said, allowed))
    return found


def _one_figure(piece: Piece, unit: str) -> float:
    if not isinstance(piece, Text):
        raise Refused("here stands one value", "write `8 K/W` or `125 C`")
    value = read_value(piece.value, unit)
    if value.unknown or value.low is not None:
        raise Refused(f"{piece.value!r} is not one value", "write one value, or leave the entry out")
    return value.si


def read_power_rules(piece: Piece, known: Known, notes: Notes) -> tuple[PowerRule, ...]:
    """`never without:` lines, each what must hold: `V15 below 16.5V`."""
    found: list[PowerRule] = []
    for text in texts_in(piece, notes):
        with notes.refusing(text.inside):
            for _, [line] in known.channels_of(text.value):
                words = split_words(line)
                if len(words) != 3 or words[1].text not in ("below", "above"):
                    raise Refused(
                        f"{text.value!r} is not a rule that is computed yet",
                        "write `NET below 16.5V` or `NET above 4V`: what must hold while power is on",
                    )
                volts = _rule_volts(words[2].text, words[2].offset)
                found.append(PowerRule(known.place(words[0].text), words[1].text, volts, text.spot))
    return tuple(found)


def _rule_volts(typed: str, offset: int) -> float:
    try:
        value = read_value(typed, "V")
    except NotAValue as problem:
        raise Refused(problem.text, problem.mend, offset) from problem
    if value.unknown or value.low is not None:
        raise Refused(f"{typed!r} is not one value", "write one voltage", offset)
    return value.si


def mark_known_good(piece: Piece, known: Known, notes: Notes) -> None:
    """`known good:` parts keep their tolerances and have no faults."""
    for text in texts_in(piece, notes):
        with notes.refusing(text.inside):
            for name in known.some_parts(text.value):
                known.parts[name] = replace(known.parts[name], known_good=True)


def mark_rare(piece: Piece, known: Known, notes: Notes) -> None:
    """`rare:` parts that cannot be had again, or hardly; of a case every unit."""
    for text in texts_in(piece, notes):
        with notes.refusing(text.inside):
            for name in known.some_parts(text.value):
                known.parts[name] = replace(known.parts[name], rare=True)


ZONE_LINE = re.compile(r"(?P<kind>.*?)(?P<how>\s+(?:around|on)(?=\s|$)|$)(?P<names>.*)")
ZONE_MEND = "write `leak around C14 C15`, or `earlier work on U4 U5`"


def read_zones(piece: Piece, known: Known, notes: Notes) -> tuple[Zone, ...]:
    """`zones:` one a line: `leak around C14 C15`, `earlier work on U4`."""
    found = []
    for text in texts_in(piece, notes):
        with notes.refusing(text.inside):
            found.append(_zone(text.value, known))
    return tuple(found)


def _zone(typed: str, known: Known) -> Zone:
    said = ZONE_LINE.fullmatch(typed)
    assert said is not None  # every part of it may be empty
    if said["kind"] not in ZONES:
        raise Refused(f"{said['kind']!r} is not a kind of zone", nearest(said["kind"], ZONES))
    words = list(re.finditer(r"[^\s,]+", said["names"]))
    if not words:
        raise Refused(f"{typed!r} names no places", ZONE_MEND)
    places = [name for one in words for name in _zone_places(one[0], known, said.start("names") + one.start())]
    return Zone(said["kind"], tuple(dict.fromkeys(places)), said["how"].strip() == "around")


def _zone_places(typed: str, known: Known, offset: int) -> list[str]:
    """Parts and cases by their name, else nets, points and pins, on every channel."""
    try:
        return known.some_parts(typed, offset, cases=True)
    except NotNamed:
        return known.places(typed, offset)


def apply_when_off(piece: Piece, known: Known, notes: Notes) -> None:
    """`when off:`: `{unplugged: [ADAPTOR], stays: [MOTOR]}`."""
    if not isinstance(piece, Table):
        notes.complain(
            piece.spot, "`when off:` says what is unplugged and what stays", "write `{unplugged: [A], stays: [B]}`"
        )
        return
    for key, value in piece:
        if key.value not in ("unplugged", "stays"):
            notes.complain(key.spot, f"`when off:` knows no {key.value!r}", nearest(key.value, ("unplugged", "stays")))
            continue
        for text in texts_in(value, notes):
            with notes.refusing(text.inside):
                for name in known.some_parts(text.value):
                    known.parts[name] = replace(known.parts[name], off=key.value)
