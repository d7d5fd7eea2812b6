"""Where the scanning of a line stands, and what it may look ahead for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from probewright.readings.items import ANSWERS, Item
from probewright.readings.quantities import Quantity, plain_figure, quantity
from probewright.readings.tokens import Token, longest

SUPPLY_NOUNS = ("rail", "supply", "line", "feed", "bus", "psu", "rails", "power supply", "reg", "regulator")
ARTICLES = ("the", "a", "an")
STOPS = (",", ";", "!", '"', "(", ")")


@dataclass
class Scanner:
    """Where in the line we are, and what was found. topic: the part last named, "" for none."""

    found: tuple[Token, ...]
    topic: str
    names: Callable[[Sequence[Token], int], tuple[str, int] | None]
    at: int = 0
    items: list[Item] = field(default_factory=list)

    @property
    def token(self) -> Token:
        """The word at hand."""
        return self.found[self.at]

    def low(self, ahead: int = 0) -> str:
        """The word so far ahead in small letters; "" behind the end."""
        return self.found[self.at + ahead].low if 0 <= self.at + ahead < len(self.found) else ""

    def last(self) -> str:
        """Kind of the last item."""
        return self.items[-1].kind if self.items else ""

    def put(self, kind: str, end: int, means: str = "", text: str = "", said: Quantity | None = None) -> bool:
        """Take everything up to the end as one item."""
        first, final = self.found[self.at], self.found[end - 1]
        words = text or " ".join(one.text for one in self.found[self.at : end])
        self.items.append(Item(kind, words, first.start, final.end, means, said))
        self.at = end
        return True


def answers_at(s: Scanner, at: int) -> bool:
    """Whether an answer begins at this token, perhaps behind a colon or "is"."""
    while at < len(s.found) and (
        s.found[at].low in (":", "=") or ((w := longest(s.found, at)) and w[0].use == "filler")
    ):
        at += 1
    if at >= len(s.found):
        return False
    if quantity(s.found, at):
        return plain_figure(s.found, at) is None or not rail_at(s, at)
    phrase = longest(s.found, at)
    return phrase is not None and phrase[0].use in ANSWERS


def rail_at(s: Scanner, at: int) -> int:
    """Where "12 V rail" ends when it begins here; 0 when it does not."""
    said = plain_figure(s.found, at)
    if said is None or said[0].unit not in ("", "V") or said[0].kind or said[1] >= len(s.found):
        return 0
    after = longest(s.found, said[1])
    words = " ".join(one.low for one in s.found[said[1] : after[1]]) if after else ""
    return after[1] if after and words in SUPPLY_NOUNS else 0
