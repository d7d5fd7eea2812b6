"""A typed line cut into words, figures and marks, each knowing its column, and the everyday words of the bench."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

ROUGHLY = re.compile(r"(?i)(.*\d[a-z]{0,2}?)-?ish")  # 12ish, 5V-ish
LONGEST_PHRASE = 9  # chosen, words: the longest phrase of data/bench-words.csv is shorter
FIGURE = re.compile(r"[-+−±]?(?:\d+(?:[.,]\d+)*|[.,]\d+)")
CHUNK = re.compile(
    r"->|→|–>|--|<=|>=|[;:=@&()\"!?<>~≈]"  # marks that stand by themselves
    r"|(?:[^\s;:=@&()\"!?<>~≈,→-]|,(?=\d)|-(?![->]))+"
    r"|[,-]"
)
# the echo's long way of saying OL; read as OL, columns kept
LONG_OL = re.compile(r"OL, over limit \(above [^)]*\)")
ALIKE = str.maketrans({  # typed or pasted signs that look alike
    "µ": "u", "μ": "u", "\u2126": "Ω", "−": "-", "‒": "-", "–": "-", "’": "'", "‘": "'", "”": '"', "“": '"',
    "≤": "<", "≥": ">", "\u00a0": " ",
})  # fmt: skip


@dataclass(frozen=True)
class Token:
    """One word, figure or mark. low: small letters; start, end: columns from 0 in the line."""

    text: str
    low: str
    start: int
    end: int

    @property
    def figure(self) -> bool:
        """Whether it begins like a number."""
        return FIGURE.match(self.text) is not None


@dataclass(frozen=True)
class Phrase:
    """What a phrase of the word table is used for, and what it stands for."""

    use: str
    means: str


def evened(text: str) -> str:
    """The line with look-alike letters made one, every column kept."""
    text = LONG_OL.sub(lambda found: "OL".ljust(len(found[0])), text)
    return text.translate(ALIKE)


def tokens(text: str) -> tuple[Token, ...]:
    """The pieces of an evened line. A full stop or comma between digits stays, at the end of a word it is a break."""
    return tuple(one for found in CHUNK.finditer(text) for one in _trimmed(found[0], found.start()))


def _trimmed(chunk: str, start: int) -> Iterator[Token]:
    """A chunk without the full stops behind it, which become a break of their own."""
    body = chunk.rstrip(".")
    if rough := ROUGHLY.fullmatch(body):
        cut = start + rough.end(1)
        yield Token(rough[1], rough[1].casefold(), start, cut)
        yield Token("ish", "ish", cut, start + len(body))
        return
    if (
        not body
        or re.fullmatch(r"(?i)(?:[a-z]\.)+[a-z]?", chunk)
        or chunk.casefold() in ("approx.", "ca.", "no.", "nr.")
    ):
        body = chunk
    yield Token(body, body.casefold(), start, start + len(body))
    if body != chunk:
        yield Token(".", ";", start + len(body), start + len(chunk))


# The word table ------------------------------------------------------------------------------


@cache
def _rows() -> tuple[tuple[str, str, str], ...]:
    """(use, means, phrase) of every phrase in data/bench-words.csv."""
    text = files(__package__).joinpath("data/bench-words.csv").read_text("utf-8")
    return tuple(
        (row["use"], row["means"], phrase)
        for row in csv.DictReader(text.splitlines())
        for phrase in row["words"].split("|")
    )


def _words(phrase: str) -> tuple[str, ...]:
    return tuple(one.low for one in tokens(evened(phrase)))


APART = ("unit", "signal", "two ends", "part kind", "position")  # looked up only behind a figure


@cache
def table() -> Mapping[tuple[str, ...], Phrase]:
    """Every phrase as its words, units left out."""
    return {_words(phrase): Phrase(use, means) for use, means, phrase in _rows() if use not in APART}


@cache
def single_words(uses: tuple[str, ...]) -> frozenset[str]:
    """Words of letters in the phrases of these uses; with no use named, of the whole table."""
    return frozenset(
        word for use, _, phrase in _rows() if not uses or use in uses for word in _words(phrase) if word.isalpha()
    )


@cache
def named(use: str) -> Mapping[str, str]:
    """The phrases of one use, and what each stands for."""
    return {phrase.casefold(): means or phrase for one, means, phrase in _rows() if one == use}


def longest(found: Sequence[Token], at: int) -> tuple[Phrase, int] | None:
    """The longest phrase of the table that begins here, and where it ends; None when there is none."""
    for end in range(min(len(found), at + LONGEST_PHRASE), at, -1):
        if phrase := table().get(tuple(one.low for one in found[at:end])):
            return phrase, end
    return None
