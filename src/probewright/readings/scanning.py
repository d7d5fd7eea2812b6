"""A typed line as items: the longest thing that can be made of the words at hand, from left to right."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from probewright.readings.doubts import Unsure, unclear
from probewright.readings.items import (
    ANSWERS,
    APPOSED,
    CHIP,
    PIN_OF_TWO,
    PINS,
    TRANSISTOR,
    Item,
    letters_of,
    part_items,
)
from probewright.readings.quantities import quantity
from probewright.readings.scanned_figures import take_figure
from probewright.readings.scanner import ARTICLES, STOPS, Scanner, answers_at
from probewright.readings.slips import mended
from probewright.readings.tokens import Token, longest, named

CLAUSE = ("with", "when", "while", "whilst", "once", "as soon as", "whenever", "during")
READ_ON = ("part", "pin", "pin number", "pins", "name", "ground")  # metal that a range is read on
# names of rails by the trade's habit (common practice, no source): none of them is the name of a diode
RAIL_NAMES = ("vcc", "vdd", "vee", "vss", "v+", "v-", "b+", "ht", "eht", "vbat", "vref", "vin", "vout")
LOOKED_UP = {"about": "hedge", "about after": "filler", "bound": "hedge", "between": "prep", "kind": "kind"}


def scan(text: str, topic: str, names: Callable[[Sequence[Token], int], tuple[str, int] | None]) -> tuple[Item, ...]:
    """The items of an evened line. topic: part of an earlier line; names: finds a known name at a token."""
    scanner = Scanner(mended(text, names), topic, names)
    while scanner.at < len(scanner.found):
        if not any(take(scanner) for take in TAKES):
            scanner.put("word", scanner.at + 1)
    return tuple(scanner.items)


# Marks ---------------------------------------------------------------------------------------


def take_mark(s: Scanner) -> bool:
    """Commas, brackets and the like."""
    low = s.low()
    if low in STOPS:
        return s.put({"(": "open", ")": "close"}.get(low, "break"), s.at + 1)
    if low == "?":
        raise Unsure(
            "unclear", "a question mark is no reading", "leave the line out until it is measured", s.token.start
        )
    if low in (":", "="):
        return s.put("colon", s.at + 1)
    return low in ("-", "+") and take_sign(s)


def take_sign(s: Scanner) -> bool:
    """A plus or minus by itself: a pin behind a part, a dash between words, never guessed before a figure."""
    if s.last() in ("noun", "numbered", "extra") and s.low(1) in ("to", "and"):
        return s.put("pin", s.at + 1, PINS[s.low()], PINS[s.low()])
    after_part, ahead = s.last() == "part", s.found[s.at + 1 : s.at + 2]
    if s.low() == "+" and (after_part or s.low(1) in ("of", "on", "leg", "end", "side")):
        return s.put("pin", s.at + 1, "plus", "plus")
    if s.low() == "-" and s.low(1) in ("of", "leg", "end", "side"):
        return s.put("pin", s.at + 1, "minus", "minus")
    if (
        s.items
        and s.items[-1].kind in ("part", "pin", "pin number")
        and ahead
        and (part_items(ahead[0]) or ahead[0].low in named("ground"))
    ):
        return s.put("prep", s.at + 1, "to", "to")
    if (ahead and ahead[0].figure) or (after_part and (answers_at(s, s.at + 1) or s.low(1) in ("to", "and", ""))):
        raise Unsure(
            "unclear",
            "the sign stands apart and could be a pin",
            "write `-3 V` in one, or `C5.minus 3 V`",
            s.token.start,
        )
    if s.low() == "+":
        raise unclear("+", s.token.start)
    return s.put("filler", s.at + 1)


def take_channel(s: Scanner) -> bool:
    """L and R alone, where a line speaks of both."""
    both = {"l", "r"} <= {one.low for one in s.found}
    return (
        both
        and s.low() in ("l", "r")
        and s.put("channel", s.at + 1, *(("left", "left") if s.low() == "l" else ("right", "right")))
    )


def take_pin_word(s: Scanner) -> bool:
    """ "p8" behind a chip or a connector."""
    found = re.fullmatch(r"p(\d{1,3})", s.low())
    behind = letters_of(s.topic) in (*CHIP, "J", "SK", "PL", "CN", "CON", "P") and s.last() in (
        "part",
        "break",
        "and",
        "filler",
        *ANSWERS,
    )
    row = letters_of(s.topic) == "P" and s.low(1) == "to"  # "P1 to P2 12 mV, P2 to P3 11 mV": pads, not pins of P2
    return found is not None and behind and not row and s.put("pin number", s.at + 1, found[1])


# Names and parts -----------------------------------------------------------------------------


def take_name(s: Scanner) -> bool:
    """A name that the machine, the tick list or the leads know."""
    found = s.names(s.found, s.at)
    return found is not None and s.put(found[0], found[1])


def take_part(s: Scanner) -> bool:
    """A part as printed on the board, perhaps with its pin."""
    if glued_pin(s):
        return True
    made, end = part_items(s.token), s.at + 1
    if not made and s.low() in ("ic", "tp", "tr", "q") and s.low(1).isdigit():
        whole = Token(s.token.text + s.found[s.at + 1].text, "", s.token.start, s.found[s.at + 1].end)
        made, end = part_items(whole), s.at + 2
    if not made:
        return False
    kinds = named("part kind")
    if (
        s.items
        and s.items[-1].kind in APPOSED
        and letters_of(made[0].text) in kinds.get(s.items[-1].text.casefold(), "").split()
    ):
        s.items.pop()  # "fuse F2" is F2
    s.items.extend(made)
    s.topic, s.at = made[0].text, end
    pin_by_number(s)
    return True


def glued_pin(s: Scanner) -> bool:
    """ "c11.8 b.9 e0" behind a transistor: each pin glued to its figure."""
    found = re.fullmatch(r"([cbegds])([-+]?(?:\d+[.,]\d+|[.,]\d+|0)(?:[a-z]*))", s.token.text)
    if not found or letters_of(s.topic) not in TRANSISTOR:
        return False
    cut = s.token.start + 1
    said = quantity((Token(found[2], found[2], cut, s.token.end),), 0)
    if said is None:
        return False
    s.items.append(Item("pin", found[1], s.token.start, cut, found[1]))
    s.items.append(Item("figure", found[2], cut, s.token.end, "", said[0]))
    s.at += 1
    return True


def pin_by_number(s: Scanner) -> None:
    """ "IC4 8 5.1": a whole number between a chip and its answer is a pin."""
    if s.low() == ":" and s.low(1).isdigit() and letters_of(s.topic) in CHIP and answers_at(s, s.at + 2):
        s.put("colon", s.at + 1)
    if letters_of(s.topic) in CHIP and s.low().isdigit() and s.low(1) and answers_at(s, s.at + 1):
        s.put("pin number", s.at + 1, s.low())


def take_pin(s: Scanner) -> bool:
    """A pin by letter, number or word, where a part is spoken of."""
    phrase = longest(s.found, s.at)
    if phrase and phrase[0].use == "pin word":
        return pin_number(s, phrase[1])
    glued = re.fullmatch(r"pins?(\d{1,3})", s.low())
    if glued:
        return s.put("pin number", s.at + 1, glued[1])
    if s.low() in ("leg", "legs") and s.low(1).isdigit() and letters_of(s.topic) in (*CHIP, *TRANSISTOR):
        return pin_number(s, s.at + 1)
    next_part = bool(s.low(1)) and bool(part_items(s.found[s.at + 1]))
    if not s.topic and not of_part(s) and not (s.low().startswith("v") and next_part):
        return False
    if re.fullmatch(r"v[cbegds]", s.low()):
        return s.put("pin", s.at + 1, s.low()[1], s.low()[1])
    pair = PIN_OF_TWO.fullmatch(s.low())
    if pair and pair[1] != pair[2] and (letters_of(s.topic) in TRANSISTOR or of_part(s) or next_part):
        return s.put("pins", s.at + 1, f"{pair[1]} {pair[2]}")
    return lone_letter(s)


def pin_number(s: Scanner, at: int) -> bool:
    """ "pin 8", "pins 4 and 5", "pin e"."""
    if at >= len(s.found):
        return s.put("noun", at)
    word = s.found[at].low
    if re.fullmatch(r"#?\d{1,3}", word):
        s.put("pin number", at + 1, word.removeprefix("#"))
        more_pins(s)
        return True
    if word in PINS:
        return s.put("pin", at + 1, PINS[word])
    if listed := re.fullmatch(r"(\d{1,2})(?:[,/&-](\d{1,2}))", word):
        raise Unsure(
            "unclear",
            f"pins {word}: which of them read what",
            f"write `pin {listed[1]} 5 V, pin {listed[2]} 5 V`",
            s.token.start,
        )
    return s.put("noun", at)


def more_pins(s: Scanner) -> None:
    """ "... and 5", "..., 5 and 6" behind "pins 4"."""
    while s.low() in ("and", "&") and s.low(1).isdigit() and not quantity_has_unit(s, s.at + 1):
        s.put("and", s.at + 1)
        s.put("pin number", s.at + 1, s.low())


def quantity_has_unit(s: Scanner, at: int) -> bool:
    """Whether the figure there has a unit, so that it is an answer."""
    said = quantity(s.found, at)
    return said is not None and not said[0].whole


def of_part(s: Scanner) -> bool:
    """Whether "of Q4" or "on Q4" follows, perhaps behind another pin: "b and e of Q3"."""
    ahead = [one.low for one in s.found[s.at + 1 : s.at + 5]]
    for step, word in enumerate(ahead[:-1]):
        if word in ("of", "on"):
            return bool(part_items(s.found[s.at + step + 2]))
        if word not in ("and", "to", "&", "-", *PINS):
            return False
    return False


def lone_letter(s: Scanner) -> bool:
    """c, b, e ... alone: a pin of the part spoken of. "a" is an article where it can be."""
    low = s.low()
    if low not in PINS or low in "+-":
        return False
    article = (longest(s.found, s.at) or (None, 0))[1] > s.at + 1 or letters_of(s.topic) not in (
        "D",
        "ZD",
        "LED",
        "CR",
        "VT",
    )
    if low == "a" and (article or not answers_at(s, s.at + 1)):
        return False
    return s.put("pin", s.at + 1, PINS[low])


# Words ---------------------------------------------------------------------------------------


def take_clause(s: Scanner) -> bool:
    """ "with tape playing", "when loaded": a condition, kept as a remark; asked about when it names more."""
    if s.low() not in CLAUSE or (w := longest(s.found, s.at)) is not None and w[0].use != "filler":
        return False
    start = s.at + 1
    while start < len(s.found) and s.found[start].low in ARTICLES:
        start += 1
    inner = longest(s.found, start) if start < len(s.found) else None
    if inner and inner[0].use in ("power", "stimulus", "range", "lifted", "showing"):
        s.at = start
        return True
    end = s.at + 1
    while end < len(s.found) and s.found[end].low not in STOPS:
        phrase = longest(s.found, end)
        more = phrase is not None and phrase[0].use in (*ANSWERS, "look", "channel", "conclude", "swap verb", "and")
        if more or s.found[end].figure or part_items(s.found[end]):
            raise unclear(" ".join(one.text for one in s.found[s.at :]), s.token.start)
        end += 1
    return end > s.at + 1 and s.put("remark", end)


def take_range(s: Scanner) -> bool:
    """ "D1 diode 0.52 V": between a place and its answer it is the range, not another word for the part."""
    metal = s.last() in READ_ON or (s.last() == "noun" and s.items[-1].text.casefold() in RAIL_NAMES)
    return s.low() == "diode" and metal and answers_at(s, s.at + 1) and s.put("range", s.at + 1, "diode")


def take_phrase(s: Scanner) -> bool:
    """Anything in the word table."""
    found = longest(s.found, s.at)
    if found is None:
        return False
    phrase, end = found
    if phrase.use == "remark" and s.low() in ("no", "not") and end == s.at + 1:
        return False
    use = LOOKED_UP.get(phrase.use, phrase.use)
    text = phrase.means if use == "channel" or (use == "prep" and not s.low()[0].isalpha()) else ""
    return s.put(use, end, phrase.means, text)


def take_article(s: Scanner) -> bool:
    """a, an, the."""
    return s.low() in ARTICLES and s.put("filler", s.at + 1)


def take_upper(s: Scanner) -> bool:
    """VCC, RESET, SOCK: a name in capitals, as printed on boards."""
    shout = all(one.text.isupper() for one in s.found if one.text.isalpha())
    named_so = re.fullmatch(r"[A-Z][A-Z0-9_/+-]+", s.token.text) is not None and not shout
    return named_so and longest(s.found, s.at) is None and s.put("name", s.at + 1)


TAKES = (
    take_mark,
    take_name,
    take_channel,
    take_pin_word,
    take_part,
    take_pin,
    take_figure,
    take_clause,
    take_upper,
    take_range,
    take_phrase,
    take_article,
)
