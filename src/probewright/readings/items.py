"""What a typed line is made of: places, answers, and words about the bench, in the order they were said."""

from __future__ import annotations

import re
from dataclasses import dataclass

from probewright.readings.quantities import Quantity
from probewright.readings.tokens import Token, named

# Letters a part is called by on a board; common practice, no source.
DESIGNATOR = re.compile(
    r"(?i)(?P<letters>IC|TP|TR|VR|RV|VT|ZD|LED|LP|LS|SK|SW|PL|JK|JP|CN|CON|FB|FS|RLY|RL|TH|BR|OP|XTAL|REG|VC|TC|CR"
    r"|[RCLQDUTXYJPSKFBVMNZHWE])(?P<number>\d{1,4})(?P<rest>.*)"
)
TRANSISTOR, CHIP, POLAR = ("Q", "TR", "VT", "T"), ("IC", "U", "OP", "REG"), ("C", "BR", "D", "ZD", "LED", "TC")
TWO_LEGS = (
    "R",
    "C",
    "L",
    "D",
    "ZD",
    "LED",
    "F",
    "FS",
    "LP",
    "LS",
    "TH",
    "FB",
    "S",
    "SW",
    "X",
    "Y",
    "XTAL",
    "CR",
    "TC",
    "M",
    "Z",
)
OF_PARTS = ("TP", "J", "SK", "PL", "JK", "JP", "CN", "CON", "P", "H", "E", "W", "N")  # metal that is a place by itself
PINS = {"c": "c", "b": "b", "e": "e", "g": "g", "d": "d", "s": "s", "a": "a", "k": "k", "+": "plus", "-": "minus"}
PINS_OF = {
    "Q": "cbegds",
    "TR": "cbegds",
    "VT": "cbegdsak",
    "T": "cbegds",
    "D": "ak",
    "ZD": "ak",
    "LED": "ak",
    "CR": "ak",
}
PIN_OF_TWO = re.compile(r"(?i)v?([cbegds])[-/]?([cbegds])")  # b-e, vbe


@dataclass(frozen=True)
class Item:
    """One thing said. kind: what it is; text: as it is kept; means: what it stands for; start, end: columns.

    Answers: "figure" (quantity), "level", "nothing", "no volts", "beep", "over", "same", "fails", "swap answer",
    "looks". Places: "part", "pin", "pin number", "noun", "numbered", "side", "channel", "ground", "name",
    "place number", "function", "extra", "moving", "word". Between them "prep", "and", "both", "break". About the
    bench: "power", "stimulus", "remark", "showing", "expect", "marked", "reverse", "lifted", "range", ...
    """

    kind: str
    text: str
    start: int
    end: int
    means: str = ""
    quantity: Quantity | None = None


APPOSED = ("noun", "numbered")
ANSWERS = ("figure", "level", "nothing", "no volts", "beep", "over", "same", "fails")
PLACES = ("part", "pin", "pin number", "noun", "numbered", "side", "channel", "ground", "name", "place number",
          "function", "extra", "moving", "word", "other channel", "pins")  # fmt: skip


def letters_of(part: str) -> str:
    """The letters a part is called by: IC of IC9."""
    found = DESIGNATOR.fullmatch(part)
    return found["letters"].upper() if found else ""


def part_items(token: Token) -> tuple[Item, ...]:
    """ "Q7", "C14+", "IC4/16", "U2-8", "Q7.collector" as a part and perhaps its pin; () when it is no part."""
    found = DESIGNATOR.fullmatch(token.text.removesuffix("'s"))
    if not found:
        return ()
    letters, rest = found["letters"].upper(), found["rest"]
    cut = token.start + found.end("number")
    part = Item("part", f"{letters}{found['number']}", token.start, cut)
    if not rest:
        return (part,)
    if rest in ("+", "-"):
        return (part, Item("pin", PINS[rest], cut, token.end, PINS[rest]))
    joined = re.fullmatch(r"[./_-](?P<pin>[A-Za-z]+|\d{1,3}|[+-])", rest)
    if joined:
        return _with_pin(part, joined["pin"], cut, token.end)
    if len(rest) == 1 and rest.casefold() in PINS_OF.get(letters, ""):
        return (part, Item("pin", rest.casefold(), cut, token.end, rest.casefold()))
    if re.fullmatch(r"[A-Za-z]", rest):
        return (Item("part", part.text + rest.upper(), token.start, token.end),)
    return ()


def _with_pin(part: Item, said: str, start: int, end: int) -> tuple[Item, ...]:
    low = said.casefold()
    if low.isdigit():
        return (part, Item("pin number", low, start, end, low))
    pin = PINS.get(low) or named("pin").get(low) or low
    if pin in ("in", "out", "com", "wiper", "top", "bottom", "plus", "minus", "vplus", "vminus", *PINS.values()):
        return (part, Item("pin", pin, start, end, pin))
    return ()
