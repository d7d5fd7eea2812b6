"""Where a circuit comes to rest: Newton's method on all variants together."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from probewright.machine.kinds import Companion, Stay, Store
from probewright.simulation.circuit import LEAST_SIEMENS, LINK_OHMS_LEAST, Batch, Circuit, Framed, Group, Push
from probewright.simulation.pattern import back_substitute, eliminate, selected_inverse
from probewright.simulation.storing import admittance

BLOCK = 8192  # variants solved together: what a block costs whatever its size outweighs the cache; measured
FILLED = 2_000_000  # chosen: entries of the matrices of one block, 16 MB; a large circuit gains nothing from more
STEPS = 66  # Newton steps from a cold start before a variant is handed to `settle`
FIRST_STEPS = 18  # the same in the first pass; stragglers of all blocks go on together
# Shortened steps for the few that hop over a corner: (from step, factor). Chosen.
DAMPED = ((18, 0.4), (30, 1.0), (38, 0.2), (50, 1.0))
CLOSE_VOLTS = 1e-8  # a last step no longer than this, Newton's error being its square
PATIENCE = 6  # steps after which rounding noise is allowed for:
NOISE_VOLTS = 5e-6  # a node held by a large gain through a large resistance stands no stiller than this
SETTLE_STEPS = 80
SETTLE_FIRST = 10.0  # chosen, S: the first inertia; each step keeps SETTLE_RATIO of it
SETTLE_RATIO = 0.62
SETTLE_BACK = 5.0  # chosen: three steps back
SETTLED = 1e-9  # S: inertia below which an answer that stands still is at rest
SETTLE_NUDGE = 0.05  # volts by which an unstable answer is pushed off its balance


@dataclass(frozen=True)
class Start:
    """Where to begin: volts (node + 1, variant) and, by group number, the controls of its parts
    (part, variant), both of a circuit much like each variant. Without controls the volts are
    trusted to be close already."""

    volts: np.ndarray
    controls: Mapping[int, Mapping[str, Any]] | None = None

    def take(self, chosen: np.ndarray) -> Start:
        """The start of these variants."""
        if self.controls is None:
            return Start(self.volts[:, chosen])
        return Start(self.volts[:, chosen], keep(self.controls, chosen, self.volts.shape[1]))

    def memory(self) -> dict[int, Any] | None:
        """What the kinds are told before the first step."""
        if self.controls is None:
            return None
        return {which: {name: Stay(at) for name, at in kept.items()} for which, kept in self.controls.items()}


@dataclass(frozen=True)
class Rest:
    """Where each variant comes to rest.

    volts (node + 1, variant) in V, last row ground; solved (variant,), False where no answer may
    be used; unstable (variant,), True where the first answer was a balance that cannot last and
    another was found from it.
    """

    volts: np.ndarray
    solved: np.ndarray
    unstable: np.ndarray


class Sheet:
    """One block of variants with its linear parts stamped: what every Newton step starts from.

    rate: what d/dt is: nought at rest, j w for a signal, 1/s or (variant,) in a step of time (see `admittance`).
    """

    def __init__(self, circuit: Circuit, batch: Batch, rate: Any = 0.0, left: Collection[int] = ()) -> None:
        """left: numbers of groups of which nothing is stamped."""
        self.circuit, self.batch, self.width = circuit, batch, batch.size
        kind_of = complex if np.iscomplexobj(rate) else float
        self.base = np.zeros((len(circuit.pattern.slot), batch.size), kind_of)
        self.base[: circuit.size] = LEAST_SIEMENS
        self.figures: list[dict[str, Any]] = [self._figures(group) for group in circuit.groups]
        self.spans = [self._spans(group) for group in circuit.groups]
        self.stores: dict[int, tuple[Store, np.ndarray]] = {}  # group number -> its branches, how they conduct
        for which, (group, figures) in enumerate(zip(circuit.groups, self.figures, strict=True)):
            if which in left:
                continue
            if group.kind.linear is not None:
                for a, b, plus, minus, siemens in group.kind.linear(figures):
                    self._stamp_branch(group, self.spans[which], (a, b, plus, minus), siemens)
            if group.kind.storing is not None:
                store = group.kind.storing(figures)
                self.stores[which] = store, admittance(store, rate)
                self._stamp_store(which)
        for path in batch.paths:
            for span, (one, other) in self.segments(circuit, batch, (path.a, path.b), path.start, path.stop):
                self._stamp_pair(one, other, span, 1.0 / np.maximum(_cut(path.ohms, span, path.start), LINK_OHMS_LEAST))
        for red, black, ohms in circuit.links:
            for span, (one, other) in self.segments(circuit, batch, (red, black), 0, batch.size):
                self._stamp_pair(one, other, span, 1.0 / max(ohms, LINK_OHMS_LEAST))
        for free in batch.freed:
            (group, row, column), *_ = circuit.terminals(free.part, free.pin)
            siemens = 1.0 / np.maximum(free.ohms, LINK_OHMS_LEAST)
            assert circuit.spare is not None
            self._stamp_pair(circuit.spare, int(group.nodes[row, column]), slice(free.start, free.stop), siemens)
        self.pushed = np.zeros((circuit.size, batch.size))
        for push in batch.pushes:
            for span, (one, other) in self.segments(circuit, batch, (push.a, push.b), push.start, self._end(push)):
                for node, amps in ((one, push.amps), (other, -push.amps)):
                    if node >= 0:
                        self.pushed[node, span] += amps
        # signals from outside the piece
        self.driven = np.zeros((circuit.size, batch.size if np.iscomplexobj(rate) else 1), kind_of)
        if batch.frame is not None:
            self._stamp_frame(batch.frame, rate)

    def _end(self, push: Push) -> int:
        return self.width if push.stop is None else push.stop

    def take(self, chosen: np.ndarray, batch: Batch | None = None) -> Sheet:
        """The sheet of these variants, ascending; nothing is stamped anew. batch: theirs, where it is at hand."""
        taken = copy(self)
        taken.batch, taken.width = batch or self.batch.take(chosen), len(chosen)
        taken.base, taken.pushed = self.base[:, chosen], self.pushed[:, chosen]
        taken.figures = [
            {name: value[:, chosen] if value.shape[1] == self.width else value for name, value in figures.items()}
            for figures in self.figures
        ]
        taken.spans = [taken._spans(group) for group in self.circuit.groups]
        taken.stores = {
            which: (
                self._cut_store(store, chosen),
                siemens[..., chosen] if siemens.shape[-1] == self.width else siemens,
            )
            for which, (store, siemens) in self.stores.items()
        }
        return taken

    def _cut_store(self, store: Store, chosen: np.ndarray) -> Store:
        """The branches of these variants."""

        def cut(one: Any) -> Any:
            return one[:, chosen] if np.ndim(one) == 2 and np.shape(one)[1] == self.width else one

        henry = tuple(tuple(cut(one) for one in row) for row in store.henry)
        return Store(store.ends, tuple(map(cut, store.ohms)), henry, tuple(map(cut, store.per_farad)))

    @staticmethod
    def segments(
        circuit: Circuit, batch: Batch, places: tuple[str, ...], start: int, stop: int
    ) -> list[tuple[slice, tuple[int, ...]]]:
        """Spans of variants over which every one of these places stays on one node."""
        spare = -1 if circuit.spare is None else circuit.spare
        freed = [free for place in places for free in batch.freed_at.get(circuit.pin_named(place), ())]
        edges = {start, stop}.union(*({free.start, free.stop} for free in freed)) if freed else {start, stop}
        marks = sorted(edge for edge in edges if start <= edge <= stop)
        segments = []
        for first, last in zip(marks, marks[1:], strict=False):
            away = {f"{free.part}.{free.pin}" for free in freed if free.start <= first and last <= free.stop}
            nodes = tuple(spare if circuit.pin_named(place) in away else circuit.at(place) for place in places)
            segments.append((slice(first, last), nodes))
        return segments

    def _figures(self, group: Group) -> dict[str, Any]:
        """Figure -> (part, variant), or (part, 1) where no variant differs."""
        found = {}
        for parameter in group.kind.parameters:
            values = [self.batch.figures[name, parameter.name] for name in group.parts]
            if all(np.ndim(v) == 0 for v in values):
                found[parameter.name] = np.array(values, float)[:, None]
            else:
                found[parameter.name] = np.stack([np.broadcast_to(v, self.width) for v in values])
        return found

    def _spans(self, group: Group) -> list[list[tuple[slice, tuple[int, ...]]]]:
        """Per part: (variants, node of each pin); one span unless a pin of it is freed somewhere."""
        spans: list[list[tuple[slice, tuple[int, ...]]]] = []
        spare = -1 if self.circuit.spare is None else self.circuit.spare
        for column in range(len(group.parts)):
            home = tuple(int(n) for n in group.nodes[:, column])
            moved = []
            for free in self.batch.freed:
                for other, row, where in self.circuit.terminals(free.part, free.pin):
                    if other is group and where == column:
                        away = tuple(spare if r == row else n for r, n in enumerate(home))
                        moved.append((free.start, free.stop, away))
            here, at = [], 0
            for start, stop, away in sorted(moved):
                if start > at:
                    here.append((slice(at, start), home))
                here.append((slice(start, stop), away))
                at = stop
            if at < self.width:
                here.append((slice(at, self.width), home))
            spans.append(here)
        return spans

    def _stamp_pair(self, a: int, b: int, span: slice, siemens: Any) -> None:
        """Current law of one two-terminal path. a, b nodes (-1 ground); siemens (span,) or scalar."""
        slot = self.circuit.pattern.slot
        for row, column, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
            if row >= 0 and column >= 0:
                self.base[slot[row, column], span] += sign * siemens

    def _stamp_frame(self, frame: Framed, rate: Any) -> None:
        """What the surroundings of the piece take and give at its ports, at rest or for a signal."""
        signal = np.iscomplexobj(rate)
        assert signal or not np.any(rate), "a step of time is solved whole: surroundings keep nothing"
        reduced = frame.surround.at(float(np.imag(rate)))
        nodes = [self.circuit.node[port] for port in frame.surround.ports]
        for row, one in enumerate(nodes):
            for column, other in enumerate(nodes):
                self.base[self.circuit.pattern.slot[one, other]] += reduced.siemens[row, column][frame.led]
            amps = reduced.amps[row][frame.led]
            if signal:
                self.driven[one] += amps
            else:
                self.pushed[one] += amps

    def _stamp_branch(self, group: Group, spans: Any, pins: tuple[str, str, str, str], siemens: Any) -> None:
        """g (v_plus - v_minus) from a to b for every part of the group; siemens (part, variant or 1)."""
        slot, rows = self.circuit.pattern.slot, [group.pin_index[pin] for pin in pins]
        siemens = np.broadcast_to(siemens, (len(group.parts), siemens.shape[1] if np.ndim(siemens) == 2 else 1))
        for column, here in enumerate(spans):
            for span, nodes in here:
                a, b, plus, minus = (nodes[row] for row in rows)
                g = siemens[column] if siemens.shape[1] == 1 else siemens[column, span]
                for row, node, sign in ((a, plus, 1), (a, minus, -1), (b, plus, -1), (b, minus, 1)):
                    if row >= 0 and node >= 0:
                        self.base[slot[row, node], span] += sign * g

    def _stamp_store(self, which: int) -> None:
        """The branches of one group that keep something, each coupled to every other."""
        group, (store, siemens) = self.circuit.groups[which], self.stores[which]
        for row, ours in enumerate(store.ends):
            for column, theirs in enumerate(store.ends):
                if np.any(siemens[row, column]):
                    self._stamp_branch(group, self.spans[which], (*ours, *theirs), siemens[row, column])

    def pin_volts(self, which: int, volts: np.ndarray) -> np.ndarray:
        """(pin, part, variant) of group number `which`, from volts (node + 1, variant)."""
        group = self.circuit.groups[which]
        at = volts[group.nodes]
        for column, here in enumerate(self.spans[which]):
            if len(here) > 1 or here[0][1] != tuple(group.nodes[:, column]):
                for span, nodes in here:
                    at[:, column, span] = volts[list(nodes), span]
        return at

    def companions(
        self, volts: np.ndarray, memory: Mapping[int, Any] | None
    ) -> list[tuple[int, np.ndarray, Companion]]:
        """Every nonlinear group linearised at these volts: (group number, pin volts, companion)."""
        found = []
        for which, group in enumerate(self.circuit.groups):
            if group.kind.nonlinear is not None:
                at = self.pin_volts(which, volts)
                kept = None if memory is None else memory.get(which, {})
                found.append((which, at, group.kind.nonlinear(at, self.figures[which], kept)))
        return found

    def stamp_slopes(self, matrix: np.ndarray, which: int, slope: Mapping[tuple[str, str], Any]) -> None:
        """Add d amps / d volts of one group to matrix (slot, variant), in place."""
        group, slot = self.circuit.groups[which], self.circuit.pattern.slot
        for (row_pin, column_pin), values in slope.items():
            row, column = group.pin_index[row_pin], group.pin_index[column_pin]
            narrow = values.shape[1] == 1
            for part, here in enumerate(self.spans[which]):
                for span, nodes in here:
                    if nodes[row] >= 0 and nodes[column] >= 0:
                        matrix[slot[nodes[row], nodes[column]], span] += values[part] if narrow else values[part, span]

    def stamp_amps(self, right: np.ndarray, which: int, amps: Mapping[str, Any]) -> None:
        """Subtract the current into each pin from right (node, variant), in place."""
        group = self.circuit.groups[which]
        for pin, values in amps.items():
            row = group.pin_index[pin]
            for part, here in enumerate(self.spans[which]):
                for span, nodes in here:
                    if nodes[row] >= 0:
                        right[nodes[row], span] -= values[part, span] if values.shape[1] > 1 else values[part]

    def linearise(
        self, volts: np.ndarray, memory: Mapping[int, Any] | None
    ) -> tuple[np.ndarray, np.ndarray, dict[int, Any], np.ndarray]:
        """Matrix and right-hand side whose answer is the next volts; memory; where steps were held."""
        matrix = self.base.copy()
        right = self.pushed.copy()
        held = np.zeros(self.width, bool)
        kept = {}
        for which, at, companion in self.companions(volts, memory):
            index = self.circuit.groups[which].pin_index
            self.stamp_slopes(matrix, which, companion.slope)
            rest = {pin: np.array(amps) for pin, amps in companion.amps.items()}
            for (row, column), slope in companion.slope.items():
                rest[row] = rest[row] - slope * at[index[column]]
            self.stamp_amps(right, which, rest)
            kept[which] = companion.memory
            held |= np.any(np.broadcast_to(companion.held, at.shape[1:]), axis=0)
        return matrix, right, kept, held


def solve(sheet: Sheet, matrix: np.ndarray, right: np.ndarray) -> np.ndarray:
    """The next volts in place of the right-hand side; sign of the determinant, (variant,)."""
    sign = eliminate(sheet.circuit.pattern, matrix, right)
    back_substitute(sheet.circuit.pattern, matrix, right)
    return sign


def _cut(ohms: Any, span: slice, start: int) -> Any:
    """The part of a path's ohms that belongs to a span of variants."""
    return ohms if np.ndim(ohms) == 0 else ohms[span.start - start : span.stop - start]


def keep(memory: Mapping[int, Any], chosen: np.ndarray, width: int) -> dict[int, Any]:
    """Controls of the chosen variants; width: how many there were."""
    return {
        which: {
            name: value[:, chosen] if np.ndim(value) == 2 and value.shape[1] == width else value
            for name, value in kept.items()
        }
        for which, kept in memory.items()
    }


def damped(step: int) -> float:
    """Share of a step of Newton's method that is gone, by its number."""
    return next((factor for first, factor in reversed(DAMPED) if step >= first), 1.0)


def seek(sheet: Sheet, start: Start | None, steps: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Volts, solved and stable of one block; start None for a cold one."""
    circuit, size = sheet.circuit, sheet.width
    final = np.zeros((circuit.size + 1, size))
    solved, stable = np.zeros(size, bool), np.ones(size, bool)
    left = np.arange(size)
    volts = final.copy() if start is None else start.volts.copy()
    memory: dict[int, Any] | None = {} if start is None else start.memory()
    for step in range(steps):
        damping = damped(step)
        matrix, right, memory, held = sheet.linearise(volts, memory)
        sign = solve(sheet, matrix, right)
        with np.errstate(invalid="ignore"):
            moved = np.max(np.abs(right - volts[:-1]), axis=0)
            size = np.max(np.abs(right), axis=0)
            # neither a NaN nor what ran away can pass for an answer
            done = (
                ~held & np.isfinite(size) & (moved <= (CLOSE_VOLTS if step < PATIENCE else NOISE_VOLTS) + 1e-9 * size)
            )
        volts[:-1] = right if damping == 1.0 else volts[:-1] + damping * (right - volts[:-1])
        if done.any():
            volts[:-1, done] = right[:, done]
            final[:, left[done]] = volts[:, done]
            solved[left[done]] = True
            stable[left[done]] = sign[done] > 0
            if done.all():
                return final, solved, stable
            if np.count_nonzero(done) * 3 > len(left) or len(left) < 64:
                going = np.flatnonzero(~done)
                left, volts = left[going], volts[:, going]
                memory = keep(memory, going, len(done))
                sheet = sheet.take(going)
        bad = ~np.all(np.isfinite(volts), axis=0)
        if bad.any():
            volts[:, bad] = 0.0
    final[:, left] = volts
    return final, solved, stable


def settle(sheet: Sheet, start: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Let variants run down to a lasting rest from `start`: volts and solved.

    Every node is given a capacitance and time runs on in ever longer steps (pseudo-transient
    continuation, Kelley and Keyes, SIAM J. Numer. Anal. 35, 1998), so a balance that cannot last
    is left and a circuit on which Newton's method hops is walked to its end.
    """
    circuit, volts, memory = sheet.circuit, start.copy(), None
    diagonal = slice(0, circuit.size)
    held, inertia = np.ones(sheet.width, bool), np.full(sheet.width, SETTLE_FIRST)
    for step in range(SETTLE_STEPS):
        last = step >= SETTLE_STEPS - 10
        inertia = np.where(last, 0.0, inertia)
        matrix, right, memory, held = sheet.linearise(volts, memory)
        matrix[diagonal] += inertia
        right += inertia * volts[:-1]
        sign = solve(sheet, matrix, right)
        moved = np.max(np.abs(right - volts[:-1]), axis=0)
        # a step longer than the time in which it runs away would run back to the balance: a shorter one then
        back = (sign < 0.0) & (not last)
        volts[:-1] = np.where(np.isfinite(right) & ~back, right, volts[:-1])
        inertia = inertia * np.where(back, SETTLE_BACK, SETTLE_RATIO)
        if np.all(inertia < SETTLED) and not held.any() and np.all(moved <= CLOSE_VOLTS):
            break
    size = np.max(np.abs(volts), axis=0)
    return volts, ~held & (moved <= NOISE_VOLTS + 1e-8 * size) & (sign > 0)


def blocks(circuit: Circuit, batch: Batch, chosen: np.ndarray) -> Iterator[tuple[np.ndarray, Batch]]:
    """The chosen variants a block at a time: their indices and the block, smaller where the circuit is large."""
    most = min(BLOCK, max(FILLED // len(circuit.pattern.slot), 1)) if circuit.pattern.slot else BLOCK
    for first in range(0, len(chosen), most):
        here = chosen[first : first + most]
        yield here, batch if len(here) == batch.size else batch.take(here)


class Way(NamedTuple):
    """How a block is solved: `seek` and `settle`, or the like of them."""

    seek: Callable[[Sheet, Start | None, int], tuple[np.ndarray, np.ndarray, np.ndarray]]
    settle: Callable[[Sheet, np.ndarray], tuple[np.ndarray, np.ndarray]]


@np.errstate(divide="ignore", invalid="ignore", over="ignore")
def come_to_rest(circuit: Circuit, batch: Batch, start: Start | None = None, way: Way | None = None) -> Rest:
    """Direct-current answer of every variant.

    start: answers of like circuits, or None; way: how one block is solved, by NumPy if not said. A variant whose
    answer is an unstable balance (sign of the determinant of the Jacobian negative) is pushed off
    it, even variants up and odd ones down, so both lasting answers of a latch appear.
    """
    way = Way(seek, settle) if way is None else way
    volts = np.zeros((circuit.size + 1, batch.size))
    solved, stable = np.zeros(batch.size, bool), np.ones(batch.size, bool)
    for begin, steps in ((start, FIRST_STEPS), (None, STEPS)):
        for here, block in blocks(circuit, batch, np.flatnonzero(~solved)):
            # a pivot of nought gives figures that are no numbers; `seek` sees them and says unsolved
            volts[:, here], solved[here], stable[here] = way.seek(
                Sheet(circuit, block), None if begin is None else begin.take(here), steps
            )
    unstable = solved & ~stable
    for here, block in blocks(circuit, batch, np.flatnonzero(~(solved & stable))):
        balance = np.where(solved[here], volts[:, here], 0.0)
        # each node by another size, or a latch of two halves exactly alike would stay in balance
        nudge = SETTLE_NUDGE * np.linspace(1.0, 2.0, circuit.size)[:, None]
        balance[:-1] += np.where(here % 2 == 0, nudge, -nudge)
        volts[:, here], solved[here] = way.settle(Sheet(circuit, block), balance)
    return Rest(volts, solved, unstable)


def start_like(circuit: Circuit, leaders: Batch, counts: Sequence[int]) -> Start:
    """Solve one leader for each cell and let its followers start where it came to rest.

    counts (leader,): variants that follow each leader, itself included.
    """
    return start_at(circuit, leaders, come_to_rest(circuit, leaders), np.repeat(np.arange(leaders.size), counts))


@np.errstate(divide="ignore", invalid="ignore", over="ignore")
def start_at(circuit: Circuit, leaders: Batch, rest: Rest, led: np.ndarray) -> Start:
    """A start where like variants came to rest; led (variant,): which of these leaders each follows."""
    volts = np.where(rest.solved, rest.volts, 0.0)
    *_, controls, _ = Sheet(circuit, leaders).linearise(volts, None)
    return Start(volts, controls).take(led)


@np.errstate(divide="ignore", invalid="ignore", over="ignore")
def mutual_ohms(circuit: Circuit, batch: Batch, rest: Rest) -> np.ndarray:
    """Inverse of the small-change conductance matrix on the pattern's slots, (slot, variant), ohm.

    Entry (a, b): volts at a for one ampere sent into b.
    """
    found = np.zeros((len(circuit.pattern.slot), batch.size))
    for here, block in blocks(circuit, batch, np.arange(batch.size)):
        matrix, right, _, _ = Sheet(circuit, block).linearise(rest.volts[:, here], None)
        eliminate(circuit.pattern, matrix, right)
        found[:, here] = selected_inverse(circuit.pattern, matrix)
    return found


@np.errstate(divide="ignore", invalid="ignore", over="ignore")
def source_ohms(circuit: Circuit, batch: Batch, rest: Rest) -> np.ndarray:
    """Resistance seen from each node to ground for small changes, (node + 1, variant), ohm."""
    found = np.zeros_like(rest.volts)
    for here, block in blocks(circuit, batch, np.arange(batch.size)):
        matrix, right, _, _ = Sheet(circuit, block).linearise(rest.volts[:, here], None)
        eliminate(circuit.pattern, matrix, right)
        found[:-1, here] = selected_inverse(circuit.pattern, matrix)[: circuit.size]
    return found


def pair_ohms(circuit: Circuit, batch: Batch, mutual: np.ndarray, red: str, black: str) -> np.ndarray:
    """(variant,) resistance between two places for small changes, from `mutual_ohms`.

    KeyError when no part or path joins the two nodes: their mutual entry is not on the pattern.
    """
    found = np.zeros(batch.size)
    for span, (a, b) in Sheet.segments(circuit, batch, (red, black), 0, batch.size):
        for row, column, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
            if row >= 0 and column >= 0:
                found[span] += sign * mutual[circuit.pattern.slot[row, column], span]
    return found
