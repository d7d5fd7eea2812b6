"""A machine on the bench turned into nodes, groups of alike parts and an elimination order."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import repeat
from typing import Any, Protocol, TypeVar

import numpy as np

from probewright.machine.edits import AddPath, Edit, FreePin, SetFigure, Unplug
from probewright.machine.following import ever_in_time
from probewright.machine.kinds import KINDS, Kind
from probewright.machine.model import GROUND, Machine
from probewright.simulation.pattern import Pattern, find_pattern

LEAST_SIEMENS = 1e-12  # from every node to ground, so that no node is without an answer
LINK_OHMS_LEAST = 1e-3  # a path can be no better than this; keeps the matrix well conditioned


@dataclass(frozen=True)
class Group:
    """All parts of one kind: nodes (pin, part), -1 for ground."""

    kind: Kind
    parts: tuple[str, ...]
    nodes: np.ndarray

    @cached_property
    def pin_index(self) -> dict[str, int]:
        """Pin name -> its row in `nodes`."""
        return {pin: row for row, pin in enumerate(self.kind.pins)}


@dataclass(frozen=True)
class Path:
    """A resistance between two places for the variants start..stop; ohms (stop - start,) or float."""

    a: str
    b: str
    start: int
    stop: int
    ohms: Any


@dataclass(frozen=True)
class Freed:
    """A pin that reaches its net only through a resistance for the variants start..stop."""

    part: str
    pin: str
    start: int
    stop: int
    ohms: Any


Span = TypeVar("Span", Path, Freed)


@dataclass(frozen=True)
class Push:
    """A current sent into place a and taken out of place b for the variants start..stop (None: all of them), A."""

    a: str
    b: str
    amps: float
    start: int = 0
    stop: int | None = None


class Reduced(Protocol):
    """What lies round a piece of a circuit, as its ports see it at one frequency."""

    @property
    def siemens(self) -> np.ndarray:
        """(port, port, machine) S."""

    @property
    def amps(self) -> np.ndarray:
        """(port, machine) A into each port while all ports stand at nought."""


class Surround(Protocol):
    """What lies round a piece of a circuit."""

    @property
    def ports(self) -> tuple[str, ...]:
        """Nets that the piece shares with it."""

    def at(self, omega: float) -> Reduced:
        """At this frequency, rad/s."""

    def holds(self, at_ports: np.ndarray, led: np.ndarray, ohms: np.ndarray | None = None) -> np.ndarray:
        """(variant,) bool: what was reduced is still true with the ports at these volts, behind so many ohms (port,
        variant)."""


@dataclass(frozen=True)
class Framed:
    """The variants stand in these surroundings; led (variant,): in those of which machine."""

    surround: Surround
    led: np.ndarray


@dataclass(frozen=True)
class Batch:
    """Variants of one circuit to be solved together.

    figures: (part, figure) -> float or (variant,) in SI, every figure of every part of the
    circuit; paths and freed: what differs in the wiring, by spans of variants. At most one pin
    (or one package pin) is freed in any variant. frame: what lies round a circuit that is a piece.
    """

    size: int
    figures: Mapping[tuple[str, str], Any]
    paths: tuple[Path, ...] = ()
    freed: tuple[Freed, ...] = ()
    pushes: tuple[Push, ...] = ()
    frame: Framed | None = None

    @cached_property
    def freed_at(self) -> dict[str, list[Freed]]:
        """Pin ("part.pin") -> where it is freed."""
        found: dict[str, list[Freed]] = {}
        for free in self.freed:
            found.setdefault(f"{free.part}.{free.pin}", []).append(free)
        return found

    def take(self, chosen: np.ndarray) -> Batch:
        """The variants with these indices, ascending; spans are cut to what is left of them."""

        def cut(one: Span) -> Span | None:
            start, stop = (int(i) for i in np.searchsorted(chosen, [one.start, one.stop]))
            ohms = one.ohms if np.ndim(one.ohms) == 0 else np.asarray(one.ohms)[chosen[start:stop] - one.start]
            return None if start == stop else replace(one, start=start, stop=stop, ohms=ohms)

        return Batch(
            len(chosen),
            {key: value if np.ndim(value) == 0 else value[chosen] for key, value in self.figures.items()},
            tuple(left for left in map(cut, self.paths) if left),
            tuple(left for left in map(cut, self.freed) if left),
            tuple(left for left in map(self._cut_push, self.pushes, repeat(chosen)) if left),
            None if self.frame is None else Framed(self.frame.surround, self.frame.led[chosen]),
        )

    @staticmethod
    def _cut_push(push: Push, chosen: np.ndarray) -> Push | None:
        if push.stop is None:
            return push
        start, stop = (int(i) for i in np.searchsorted(chosen, [push.start, push.stop]))
        return None if start == stop else replace(push, start=start, stop=stop)

    def times(self, count: int) -> Batch:
        """The same variants so many times, one after the other."""
        assert not self.pushes

        def later(one: Span, turn: int) -> Span:
            return replace(one, start=one.start + turn * self.size, stop=one.stop + turn * self.size)

        return Batch(
            self.size * count,
            {key: value if np.ndim(value) == 0 else np.tile(value, count) for key, value in self.figures.items()},
            tuple(later(one, turn) for turn in range(count) for one in self.paths),
            tuple(later(one, turn) for turn in range(count) for one in self.freed),
            (),
            None if self.frame is None else Framed(self.frame.surround, np.tile(self.frame.led, count)),
        )

    def with_meter(self, red: str, black: str, ohms: float, volts: float = 0.0) -> Batch:
        """The same variants with a meter between two places; volts: what it puts out when open."""
        meter = Path(red, black, 0, self.size, ohms)
        push = (Push(red, black, volts / ohms),) if volts else ()
        return replace(self, paths=(*self.paths, meter), pushes=(*self.pushes, *push))


@dataclass(frozen=True)
class Circuit:
    """What stays the same over a batch: nodes, groups, paths of the bench, elimination order.

    node: net or lifted "part.pin" -> index; ground is -1; spare: the node that a freed pin moves
    to, or None; fixed: figures that the set-up changed.
    """

    machine: Machine
    node: Mapping[str, int]
    groups: tuple[Group, ...]
    pattern: Pattern
    spare: int | None
    links: tuple[tuple[str, str, float], ...]
    fixed: Mapping[tuple[str, str], Any] = field(default_factory=dict)
    unplugged: frozenset[str] = frozenset()

    @property
    def size(self) -> int:
        """Number of nodes, ground not counted."""
        return self.pattern.size

    @cached_property
    def in_time(self) -> bool:
        """Something that can be read of its machine is followed in time."""
        return ever_in_time(self.machine)

    def in_frame(self, batch: Batch, volts: np.ndarray, ohms: np.ndarray | None = None) -> np.ndarray:
        """(variant,) bool: what lies round this piece is, at these volts (node + 1, variant), what it was taken for.

        ohms (node + 1, variant): source resistances, where they are known.
        """
        if batch.frame is None:
            return np.ones(batch.size, bool)
        surround, led = batch.frame.surround, batch.frame.led
        ports = [self.node[port] for port in surround.ports]
        return surround.holds(volts[ports], led, None if ohms is None else ohms[ports])

    def at(self, place: str) -> int:
        """Node of a net, a named point or a pin's metal; -1 for ground. KeyError when unknown."""
        if place in self.node:
            return self.node[place]
        point = self.machine.points.get(place)
        if point is not None and point.place != place:
            return self.at(point.place)
        return self.node[self.machine.net_of(place)]

    def volts_at(self, place: str, batch: Batch, volts: np.ndarray) -> np.ndarray:
        """(variant,) volts or phasors at a place, from (node + 1, variant); a freed pin's metal its own."""
        found = volts[self.at(place)]
        moved = [free for free in batch.freed if f"{free.part}.{free.pin}" == self.pin_named(place)]
        if moved:
            found = found.copy()
            for free in moved:
                found[free.start : free.stop] = volts[self.spare, free.start : free.stop]
        return found

    def pin_named(self, place: str) -> str:
        """The pin behind a named point, else the place itself."""
        point = self.machine.points.get(place)
        return place if point is None else point.place

    def with_room(self, a: str, b: str) -> Circuit:
        """The same circuit, its pattern wide enough for a path between two places."""
        one, other = (self._nodes_of(place) for place in (a, b))
        pairs = {(n, m) for n in one for m in other if n != m and min(n, m) >= 0}
        if pairs <= self.pattern.slot.keys():
            return self
        return replace(self, pattern=find_pattern(self.size, [*self.pattern.slot, *pairs]))

    def _nodes_of(self, place: str) -> list[int]:
        """Where a place can be: its net, and the spare node when it is the metal of a pin."""
        part, _, pin = self.pin_named(place).rpartition(".")
        spare = [] if self.spare is None or not self.terminals(part, pin) else [self.spare]
        return [self.at(place), *spare]

    def terminals(self, part: str, pin: str) -> list[tuple[Group, int, int]]:
        """(group, pin row, part column) of a pin; of every unit when the part is a whole package."""
        return self._terminals.get((part, pin), [])

    @cached_property
    def _terminals(self) -> dict[tuple[str, str], list[tuple[Group, int, int]]]:
        found: dict[tuple[str, str], list[tuple[Group, int, int]]] = {}
        for group in self.groups:
            for column, name in enumerate(group.parts):
                for pin, row in group.pin_index.items():
                    for owner in {name, self.machine.parts[name].package} - {""}:
                        found.setdefault((owner, pin), []).append((group, row, column))
        return found


def compile_circuit(
    machine: Machine,
    bench: Sequence[Edit] = (),
    paths: Iterable[tuple[str, str]] = (),
    freed: Iterable[tuple[str, str]] = (),
    within: Collection[str] | None = None,
) -> Circuit:
    """Nodes and elimination order of a machine as it stands on the bench.

    bench: edits of the set-up, the same in every variant. paths: pairs of places that some variant
    may join; freed: (part, pin) that some variant may free; both only widen the pattern. within: the
    parts of the piece that is meant, None for all; it has no nodes but theirs, unplugged or not.
    """
    unplugged = frozenset(e.part for e in bench if isinstance(e, Unplug))
    lifted = {f"{e.part}.{e.pin}" for e in bench if isinstance(e, FreePin)}
    parts = [p for p in machine.parts.values() if p.name not in unplugged and p.kind in KINDS]
    nets: Iterable[str] = machine.nets
    if within is not None:
        parts = [p for p in parts if p.name in within]
        own = {net for name in within for net in machine.parts[name].pins.values()}
        nets = [net for net in machine.nets if net in own]
    names = dict.fromkeys(net for net in nets if net != GROUND)
    names.update(dict.fromkeys(sorted(lifted)))
    node = {GROUND: -1, **{name: index for index, name in enumerate(names)}}
    freed = list(freed)
    spare = len(names) if freed else None

    groups = []
    for kind in dict.fromkeys(KINDS[p.kind] for p in parts):
        members = [p for p in parts if KINDS[p.kind] is kind]
        nodes = np.array(
            [
                [node[f"{p.name}.{pin}" if f"{p.name}.{pin}" in lifted else p.pins[pin]] for p in members]
                for pin in kind.pins
            ]
        )
        groups.append(Group(kind, tuple(p.name for p in members), nodes))

    links = [(e.a, e.b, float(e.ohms)) for e in bench if isinstance(e, AddPath)]
    links += [
        (f"{e.part}.{e.pin}", machine.parts[e.part].pins[e.pin], float(e.ohms))
        for e in bench
        if isinstance(e, FreePin) and np.isfinite(e.ohms)
    ]
    bare = Circuit(
        machine,
        node,
        tuple(groups),
        find_pattern(0, ()),
        spare,
        tuple(links),
        {(e.part, e.figure): e.value for e in bench if isinstance(e, SetFigure)},
        unplugged,
    )
    pairs: set[tuple[int, int]] = set()
    for group in groups:
        for column in group.nodes.T:
            pairs.update((int(a), int(b)) for a in column for b in column)
    for a, b in [*paths, *((a, b) for a, b, _ in links)]:
        pairs.add((bare.at(a), bare.at(b)))
    for part, pin in freed:
        for group, row, column in bare.terminals(part, pin):
            pairs.update((len(names), int(n)) for n in group.nodes[:, column])
            pairs.add((len(names), int(group.nodes[row, column])))
    pattern = find_pattern(len(names) + (spare is not None), [(a, b) for a, b in pairs if a >= 0 and b >= 0])
    return Circuit(machine, node, tuple(groups), pattern, spare, tuple(links), bare.fixed, unplugged)


def nominal_figures(circuit: Circuit) -> dict[tuple[str, str], float]:
    """Every figure at its nominal value, SI."""
    return {
        (name, figure): value.nominal
        for group in circuit.groups
        for name in group.parts
        for figure, value in circuit.machine.parts[name].figures.items()
    }


def healthy_batch(circuit: Circuit) -> Batch:
    """One variant: the machine as typed, with the set-up's own figures."""
    return Batch(1, {**nominal_figures(circuit), **circuit.fixed})
