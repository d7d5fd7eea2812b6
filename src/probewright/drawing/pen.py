"""Putting down strokes and words: SVG in pieces that know whom they belong to and where they are."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from xml.sax.saxutils import escape, quoteattr

# Width of a letter as a share of its height, in the wide faces a device may have (measured in DejaVu Sans
# Condensed Bold, the widest of the faces asked for); narrow and wide letters apart.
NARROW, USUAL, WIDE = 0.38, 0.64, 0.92


def text_width(text: str, size: float) -> float:
    """About how wide a word is drawn, never less than it is in the faces asked for."""
    share = sum(
        NARROW if one in "iljI.,:;'|! ()[]" else WIDE if one in "mwMW@%\u03a9" or ord(one) > 0x2FFF else USUAL
        for one in text
    )
    return share * size


def legal(text: str) -> str:
    """The text without the signs that XML forbids."""
    return "".join(one if one in "\t\n" or _allowed(ord(one)) else "\ufffd" for one in text)


def _allowed(code: int) -> bool:
    return 0x20 <= code < 0x7F or 0xA0 <= code < 0xD800 or 0xE000 <= code < 0xFFFE or code > 0xFFFF


def clean(text: str) -> str:
    """Text that stands in XML as it is."""
    return escape(legal(text))


def attribute(text: str) -> str:
    """Text as a quoted attribute."""
    return quoteattr(legal(text))


@dataclass(frozen=True)
class Rect:
    """Room taken by a word or a symbol, in pixels."""

    left: float
    top: float
    right: float
    bottom: float
    text: str = ""

    def moved(self, x: float, y: float) -> Rect:
        """The same somewhere else."""
        return replace(self, left=self.left + x, right=self.right + x, top=self.top + y, bottom=self.bottom + y)

    def meets(self, other: Rect, slack: float = 0.5) -> bool:
        """Whether the two overlap by more than slack."""
        return (
            self.left + slack < other.right
            and other.left + slack < self.right
            and self.top + slack < other.bottom
            and other.top + slack < self.bottom
        )


@dataclass(frozen=True)
class Piece:
    """SVG that belongs to a part or a net ("part R1", "net VREF", "probe"), from the upper left corner of its box."""

    owner: str
    svg: str


@dataclass
class Pen:
    """Collects the pieces of one box, or of the sheet."""

    pieces: list[Piece] = field(default_factory=list)
    words: list[Rect] = field(default_factory=list)
    solids: list[Rect] = field(default_factory=list)
    ways: list[tuple[tuple[float, float], ...]] = field(default_factory=list)  # corners of every straight stroke
    dots: dict[str, tuple[float, float]] = field(default_factory=dict)  # place -> its middle
    flags: dict[str, tuple[float, float]] = field(default_factory=dict)  # net -> its first flag

    def put(self, owner: str, svg: str, x: float = 0.0, y: float = 0.0, turned: str = "") -> None:
        """Ready-made SVG, moved, and turned or mirrored before that."""
        if x or y or turned:
            svg = f'<g transform="translate({x:g} {y:g}){turned}">{svg}</g>'
        self.pieces.append(Piece(owner, svg))

    def line(self, owner: str, points: Iterable[tuple[float, float]], style: str = "pw-wire") -> None:
        """A wire from corner to corner."""
        corners = tuple(points)
        self.ways.append(corners)
        way = "L".join(f"{x:g} {y:g}" for x, y in corners)
        self.pieces.append(Piece(owner, f'<path class="{style}" d="M{way}"/>'))

    def write(self, owner: str, x: float, y: float, text: str, anchor: str = "middle", style: str = "pw-value") -> None:
        """A word with its base line at y."""
        size = 16.0 if style in ("pw-name", "pw-volts", "pw-odd") else 15.0
        wide = text_width(text, size)
        left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
        self.words.append(Rect(left, y - 0.78 * size, left + wide, y + 0.22 * size, text))
        at = f' text-anchor="{anchor}"' if anchor != "start" else ""
        self.pieces.append(Piece(owner, f'<text class="{style}" x="{x:g}" y="{y:g}"{at}>{clean(text)}</text>'))

    def add(self, other: Pen, x: float, y: float) -> None:
        """All of another pen, moved."""
        for piece in other.pieces:
            self.put(piece.owner, piece.svg, x, y)
        self.words += [one.moved(x, y) for one in other.words]
        self.solids += [one.moved(x, y) for one in other.solids]
        self.ways += [tuple((at + x, down + y) for at, down in way) for way in other.ways]
        for place, (left, top) in other.dots.items():
            self.dots.setdefault(place, (left + x, top + y))
        for net, (left, top) in other.flags.items():
            self.flags.setdefault(net, (left + x, top + y))
