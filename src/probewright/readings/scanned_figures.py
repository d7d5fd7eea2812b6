"""Figures of a line: answers, and numbers that only name a pin, a rail, a test tone or a time."""

from __future__ import annotations

import re
from dataclasses import replace

from probewright.readings.doubts import Unsure, unclear
from probewright.readings.items import ANSWERS, CHIP, PLACES, letters_of
from probewright.readings.quantities import Quantity, plain_figure, quantity
from probewright.readings.scanner import ARTICLES, STOPS, SUPPLY_NOUNS, Scanner, answers_at, rail_at
from probewright.readings.tokens import longest, named

LAPSE = ("after", "for", "within", "in")  # "after 10 min" is when, not where
MINUTES = re.compile(r"(?:\d+(?:[.,]\d+)?)\s*(?:min|mins|minutes|minute|hours|hour|hrs|h|sec|secs|seconds|s)")


def take_figure(s: Scanner) -> bool:
    """A figure: an answer, or the number of a socket, a rail, a test tone, a lapse of time."""
    if about_half(s) or lapse(s) or tone(s) or numbered(s) or rail(s) or answered_pin(s):
        return True
    said = quantity(s.found, s.at)
    if said is None or (said[0].value == 0 and said[1] == s.at):
        return s.token.figure and odd_figure(s)
    behind = next((one for one in reversed(s.items) if one.kind != "filler"), None)
    if (
        behind
        and behind.kind == "prep"
        and behind.means in ("after", "before")
        and said[0].unit in ("letter", "farads", "F")
    ):
        return s.put("name", said[1])  # "after the 4u7": a part by its value
    return s.put("figure", (said := signed(s, *said))[1], said=said[0])


def about_half(s: Scanner) -> bool:
    """ "about half" of its signal."""
    first = longest(s.found, s.at)
    level = longest(s.found, first[1]) if first and first[0].use == "about" and first[1] < len(s.found) else None
    if level is None or level[0].use != "level":
        return False
    return s.put("figure", level[1], said=Quantity(float(level[0].means), "share", about=True))


SHARPER, FLATTER = (
    ("up", "sharp", "high", "higher", "too high"),
    ("down", "flat", "low", "lower", "below", "under", "less", "too low"),
)


def signed(s: Scanner, said: Quantity, end: int) -> tuple[Quantity, int]:
    """ "6 dB down", "15 cents flat": the sign behind the unit."""
    word = s.found[end].low if end < len(s.found) else ""
    if said.unit not in ("dB", "cents") or word not in (*SHARPER, *FLATTER):
        return said, end
    if said.value < 0.0 or said.bound:
        raise unclear(f"{word} of a negative figure", s.token.start)
    return replace(said, value=-said.value if word in FLATTER else said.value), end + 1


def odd_figure(s: Scanner) -> bool:
    """A word that begins like a figure and is none: a value printed on a part, or a slip."""
    if re.fullmatch(r"\d[A-Za-z]{2,}\d*\w*|\d{4,}[A-Za-z]\w*", s.token.text):
        return False  # 2N3904, 74LS04: a type, kept as a word
    raise Unsure(
        "unclear",
        f"{s.token.text!r} is not a figure I know",
        "write `2.61 V`, `320 mV`, `4k1 ohm`, `0.32 Vpp` or `OL`",
        s.token.start,
    )


def lapse(s: Scanner) -> bool:
    """ "after 10 min": when it was read, kept as a remark; also "10 min later"."""
    start = s.at + 1 if s.low() in LAPSE else s.at
    if start >= len(s.found) or not s.found[start].figure:
        return False
    for end in (min(start + 2, len(s.found)), start + 1):
        words = " ".join(one.low for one in s.found[start:end])
        unit = re.sub(r"^[\d.,\s]+", "", words)
        if MINUTES.fullmatch(words) and (s.low() in LAPSE or unit.startswith(("min", "h"))):
            end += end < len(s.found) and s.found[end].low in ("later", "on", "warm")
            return s.put("remark", end)
    return False


def tone(s: Scanner) -> bool:
    """ "1k tone", "400 Hz sine in", "tone of 1 kHz", "at 1 kHz": what was put in."""
    start = s.at + (1 if s.low() in ("at", "with", "using") else 0)
    start += start < len(s.found) and s.found[start].low in ARTICLES
    said = plain_figure(s.found, start) if start < len(s.found) else None
    if said is None or said[0].unit not in ("Hz", "letter"):
        return tone_first(s)
    for end in range(min(len(s.found), said[1] + 5), said[1], -1):
        words = " ".join(one.low for one in s.found[said[1] : end])
        read_here = s.last() in PLACES and words in (
            "sine",
            "square",
            "sine wave",
            "square wave",
            "sinewave",
            "squarewave",
        )
        if words in named("signal") and not read_here and (words != "in" or (said[0].unit == "Hz" and closed(s, end))):
            return s.put("stimulus", end, text=tone_text(s, start, end))
    at_answer = s.low() == "at" and said[0].unit == "Hz" and any(one.kind in ANSWERS for one in s.items)
    return at_answer and s.put("stimulus", said[1], text=tone_text(s, start, said[1]))


def closed(s: Scanner, at: int) -> bool:
    """Whether nothing follows but a break."""
    return at >= len(s.found) or s.found[at].low in STOPS


def tone_first(s: Scanner) -> bool:
    """ "tone 1k", "sine of 400 Hz"."""
    if s.low() not in ("tone", "sine", "sinewave"):
        return False
    at = s.at + 1 + (s.low(1) in ("of", "at"))
    said = plain_figure(s.found, at) if at < len(s.found) else None
    if said is None or said[0].unit not in ("Hz", "letter"):
        return False
    text = f"{tone_text(s, at, said[1])} {s.low()}"
    return s.put("stimulus", said[1], text=text)


def tone_text(s: Scanner, start: int, end: int) -> str:
    """The tone without the words that say it went in."""
    words = [one.low for one in s.found[start:end]]
    while len(words) > 2 and words[-1] in ("in", "injected", "applied", "input", "on", "going", "at", "the"):
        words.pop()
    return " ".join(words)


def numbered(s: Scanner) -> bool:
    """ "socket 3", "voice 4": a whole number behind a thing that is counted."""
    if s.last() != "numbered" or not re.fullmatch(r"\d{1,3}", s.low()):
        return False
    said = quantity(s.found, s.at)
    return said is not None and said[0].whole and s.put("place number", s.at + 1, s.low())


def rail(s: Scanner) -> bool:
    """ "12 rail", "+5V supply", and a signed "-12" right before its answer."""
    if end := rail_at(s, s.at):
        return s.put("name", end)
    if re.fullmatch(r"7[89][LlMm]?\d\d", s.token.text) and typed_before(s):
        return s.put("name", s.at + 1)  # regulators are called by their type; common practice, no source
    said = plain_figure(s.found, s.at)
    plain = said is not None and said[0].unit in ("", "V") and not said[0].kind
    signed = plain and s.token.text[0] in "+-"
    grounded = (
        plain and s.low(1) == "to" and s.low(2) in named("ground") and s.last() in ("", "break", "power", "colon")
    )
    if said and grounded:
        return s.put("name", said[1])
    of_rail = (
        s.last() == "prep"
        and s.items[-1].means == "of"
        and len(s.items) > 1
        and s.items[-2].text.casefold() in SUPPLY_NOUNS
    )
    if said and of_rail and answers_at(s, said[1]):
        return s.put("name", said[1])
    if (
        said
        and signed
        and s.last() == "noun"
        and s.items[-1].text.casefold() in SUPPLY_NOUNS
        and (answers_at(s, said[1]) or to_place(s, said[1]))
    ):
        return s.put("name", said[1])
    if said and signed and s.last() in ("", "break", *ANSWERS) and (answers_at(s, said[1]) or to_place(s, said[1])):
        return s.put("name", said[1])
    return False


def typed_before(s: Scanner) -> bool:
    """Whether a place word or a pin follows a type number."""
    phrase = longest(s.found, s.at + 1) if s.at + 1 < len(s.found) else None
    return s.low(1) == "in" or (phrase is not None and phrase[0].use in ("noun", "numbered", "pin", "pin word"))


def to_place(s: Scanner, at: int) -> bool:
    """Whether "to ground" or another place follows."""
    return at + 1 < len(s.found) and s.found[at].low == "to" and not s.found[at + 1].figure


def answered_pin(s: Scanner) -> bool:
    """ "IC4 pin 1 5.1 2 4.9": the next pin of a chip, by number alone, behind an answer."""
    pins_said = any(one.kind == "pin number" for one in s.items)
    here = letters_of(s.topic) in CHIP and pins_said and s.low().isdigit()
    while_answered = s.last() in ANSWERS or (
        s.last() in ("break", "and") and len(s.items) > 1 and s.items[-2].kind in ANSWERS
    )
    return here and while_answered and answers_at(s, s.at + 1) and s.put("pin number", s.at + 1, s.low())
