"""What is laid out: boxes with ports on their left and right edges, and wires from port to port. Frozen, hashable."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

Point = tuple[float, float]


@dataclass(frozen=True)
class Port:
    """Where a wire meets a box; x, y from the box's upper left corner. west: on the left edge, else on the right."""

    name: str
    x: float
    y: float
    west: bool


@dataclass(frozen=True)
class Box:
    """A rectangle that nothing else may enter; text beside a symbol lies inside it."""

    name: str
    width: float
    height: float
    ports: tuple[Port, ...]

    def port(self, name: str) -> Port:
        """The port of that name; KeyError when the box has none."""
        for one in self.ports:
            if one.name == name:
                return one
        raise KeyError(name)


@dataclass(frozen=True)
class Edge:
    """A wire from a right port to a left port, each as (box, port); net: whose wire it is."""

    start: tuple[str, str]
    end: tuple[str, str]
    net: str


@dataclass(frozen=True)
class Graph:
    """Boxes in the order of the file, wires from left to right; no wire leads back."""

    boxes: tuple[Box, ...]
    edges: tuple[Edge, ...]
    tight: bool = False  # an excerpt, for a narrow place


@dataclass(frozen=True)
class Positions:
    """Upper left corner of each box; points of each wire in the order of the edges; size of the whole."""

    places: Mapping[str, Point]
    wires: tuple[tuple[Point, ...], ...]
    width: float
    height: float
