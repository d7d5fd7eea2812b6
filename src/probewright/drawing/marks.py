"""What a caller may ask to be drawn beside the parts: suspects, leads, and what comes back."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Mark:
    """A suspect: its letter, and how much it weighs, 0..1."""

    letter: str
    weight: float = 0.0


@dataclass(frozen=True)
class Note:
    """What is known of a part besides: a word, and the sort of its outline: "zone", "added" or "touched"."""

    sort: str
    word: str


@dataclass(frozen=True)
class Probes:
    """Where the two leads go, each a place; None for a lead that is not used."""

    red: str | None = None
    black: str | None = None


@dataclass(frozen=True)
class Place:
    """A place of the drawing and its middle, in pixels from the upper left corner."""

    name: str
    x: float
    y: float


@dataclass(frozen=True)
class Diagram:
    """A drawing: SVG text for the middle of a page, its size in CSS pixels at natural scale, its places."""

    svg: str
    width: float
    height: float
    places: tuple[Place, ...]
