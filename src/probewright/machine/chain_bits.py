"""Pieces of a typed chain that know their place, and the chain while it is being read."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from probewright.errors import NotAValue
from probewright.machine.chains import Block, Hanging
from probewright.machine.model import Spot
from probewright.machine.part_words import canonical_value
from probewright.machine.saying import Notes
from probewright.units import read_value

# chosen, F: from here on a coupling capacitor is taken to be an electrolytic
GAIN = re.compile(
    r"(?:gain\s*)?(?:[x×]\s*(-?\d+(?:[.,]\d+)?)|(-?\d+(?:[.,]\d+)?)\s*[x×]|(-?\d+(?:[.,]\d+)?)\s*(dB))", re.I
)


@dataclass(frozen=True)
class Bit:
    """A piece of a line that knows its place."""

    text: str
    line: int
    column: int

    def cut(self, start: int, end: int | None = None) -> Bit:
        """The characters start..end without blanks around them."""
        raw = self.text[start:end]
        return Bit(raw.strip(), self.line, self.column + start + len(raw) - len(raw.lstrip()))

    def split(self, mark: str | re.Pattern[str]) -> list[Bit]:
        """Pieces between matches, empty ones kept."""
        found = list(re.finditer(mark, self.text))
        starts, ends = [0, *(one.end() for one in found)], [*(one.start() for one in found), len(self.text)]
        return [self.cut(start, end) for start, end in zip(starts, ends, strict=True)]

    @property
    def spot(self) -> Spot:
        """Where it stands."""
        return Spot(self.line, self.column)


@dataclass
class Draft:
    """A chain while it is being read."""

    notes: Notes
    blocks: dict[str, Block] = field(default_factory=dict)
    said: dict[str, Bit] = field(default_factory=dict)
    channels: dict[str, str] = field(default_factory=dict)
    supplies: list[tuple[list[Bit] | None, Bit, str]] = field(default_factory=list)  # None: all blocks
    hanging: list[Hanging] = field(default_factory=list)
    shared: list[Bit] = field(default_factory=list)

    def wrong(self, bit: Bit, text: str, mend: str) -> None:
        """Complain about a bit."""
        self.notes.complain(bit.spot, text, mend)


def key(text: str) -> str:
    """Name of a block as a part: its words without figures, joined."""
    words = re.sub(r"\(.*?\)", " ", text)
    words = GAIN.sub(" ", words)
    return re.sub(r"[^\w+/-]+", "-", words.strip()).strip("-/+")


def written(bit: Bit, typed: str, unit: str, draft: Draft) -> str:
    """A value as a machine file writes it; "?" after a complaint."""
    try:
        return canonical_value(read_value(typed.replace(",", "."), unit), unit)
    except NotAValue as problem:
        draft.wrong(bit, problem.text, problem.mend)
        return "?"
