"""What lies round a piece of a circuit: reduced to the piece's ports once, for variants that change the piece alone.

A large circuit is solved whole for a few machines. A variant that differs from one of them inside a piece alone then
needs the piece's own nodes; all else is a matrix of conductances and a current at each port (Norton's theorem for many
ports: the Schur complement). It is exact where the rest is straight, or where the ports stay where they were; how far
they may go before the rest bends is measured beforehand.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from probewright.machine.model import GROUND
from probewright.simulation.alternating import small_signal, stamped
from probewright.simulation.circuit import LEAST_SIEMENS, Batch, Circuit, Group, Path, Push
from probewright.simulation.newton import Rest, Sheet, come_to_rest, start_at
from probewright.simulation.pattern import back_substitute, eliminate, find_pattern

# chosen, V: how far a port is tried away from where it stands; beyond the last the whole circuit is solved
TRIED = (0.02, 0.1, 0.5, 2.0)
HOLD_OHMS = 1.0  # chosen: behind which a port is held; little, and enough to tell its amps from rounding noise
BENT_VOLTS = 1e-4  # chosen, V: what straight surroundings may be wrong by; a tenth of the model's own error
BENT_SHARE = 1e-3  # chosen: the same for a signal, as a share of the largest; half of the model's own error


@dataclass(frozen=True)
class Norton:
    """The surroundings as the ports see them at one frequency.

    siemens (port, port, machine), amps (port, machine) into each port while all stand at nought; of every net outside
    the ports, volts (net, machine) while all ports stand at nought and reach (net, port, machine) per volt at a port.
    """

    siemens: np.ndarray
    amps: np.ndarray
    still: np.ndarray
    reach: np.ndarray


class Surroundings:
    """The rest of a whole circuit about the parts `inside`, for each of the machines that it was solved for."""

    def __init__(self, whole: Circuit, batch: Batch, rest: Rest, inside: Collection[str]) -> None:
        assert not (whole.links or batch.paths or batch.freed), "only a bench without leads and lifted pins can be cut"
        self.whole, self.batch, self.rest = whole, batch, rest
        own = [part for group in whole.groups for part in group.parts]
        nets = {net for part in inside for net in whole.machine.parts[part].pins.values()}
        touched = {whole.node[net] for net in nets} - {-1}
        around = _nodes_of(whole, [part for part in own if part not in inside])
        names = {index: name for name, index in whole.node.items()}
        self.ports = tuple(names[node] for node in sorted(touched & around))
        self.nodes = sorted(around)  # of the whole circuit, in the order of the nodes out here
        self.outer = _cut(whole, [part for part in own if part not in inside], self.nodes, touched & around)
        self._known: dict[float, Norton] = {}
        self._bends: dict[float, np.ndarray] = {}

    def at(self, omega: float) -> Norton:
        """The surroundings at this frequency, rad/s; worked out once."""
        if omega not in self._known:
            self._known[omega] = self._reduced(omega)
        return self._known[omega]

    def has(self, net: str) -> bool:
        """The net lies out here."""
        return net in self.outer.node

    def volts_at(self, net: str, omega: float, at_ports: np.ndarray, led: np.ndarray) -> np.ndarray:
        """(variant,) volts or phasors of a net out here, from those of the ports (port, variant)."""
        node, found = self.outer.node[net], self.at(omega)
        if node < 0:
            return np.zeros(len(led))
        return found.still[node][led] + np.sum(found.reach[node][:, led] * at_ports, axis=0)

    @np.errstate(invalid="ignore")  # what is no number is no proof that it holds
    def holds(
        self, at_ports: np.ndarray, led: np.ndarray, ohms: np.ndarray | None = None, afar: Collection[str] = ()
    ) -> np.ndarray:
        """(variant,) bool: with its ports at these direct volts (port, variant) the rest is as straight as it was
        taken to be, as the piece sees it; afar: at these nets out here too.

        ohms (port, variant): resistance seen at each port; without it that of the rest alone, which is more.
        """
        if not self.ports:
            return np.ones(len(led), bool)
        away = np.abs(at_ports - self._home(led))
        step, rows = np.searchsorted(TRIED, away), np.arange(len(self.ports))[:, None]
        amps, volts = (_beyond(tried) for tried in self._astray)
        if ohms is None:
            ohms = 1.0 / np.abs(np.einsum("ppm->pm", self.at(0.0).siemens))[:, led]
        wrong = np.sum(amps[step, rows, :, led[None]] * np.abs(ohms).T, axis=2)
        for net in afar:
            wrong += volts[step, rows, self.outer.node[net], led[None]]
        tried = np.array([*TRIED, np.inf])
        wrong *= np.where(step < len(TRIED), away / tried[step], 1.0) ** 2
        return self.rest.solved[led] & (np.sum(wrong, axis=0) < BENT_VOLTS)

    def holds_signal(self, hertz: float, at_ports: np.ndarray, led: np.ndarray) -> np.ndarray:
        """(variant,) bool: with its ports at these direct volts (port, variant) the rest passes a signal as it did."""
        if not self.ports:
            return np.ones(len(led), bool)
        if any(group.kind.swing is not None for group in self.outer.groups):
            return np.zeros(len(led), bool)  # an output out here may meet its rail
        if hertz not in self._bends:
            self._bends[hertz] = self._signal_bends(hertz)
        away = np.abs(at_ports - self._home(led))
        return np.asarray(np.sum(self._bends[hertz][:, led] * away, axis=0) < BENT_SHARE)

    def _home(self, led: np.ndarray) -> np.ndarray:
        """(port, variant) direct volts of the ports in the whole circuit."""
        return self.rest.volts[[self.whole.node[port] for port in self.ports]][:, led]

    def _reduced(self, omega: float) -> Norton:
        """The surroundings at one frequency."""
        pattern, volts = self.outer.pattern, np.vstack([self.rest.volts[self.nodes], np.zeros((1, self.batch.size))])
        sheet = Sheet(self.outer, self.batch, 1j * omega if omega else 0.0)
        if omega:
            matrix, right = stamped(sheet, sheet.companions(volts, None), omega, {})
        else:
            matrix, right, _, _ = sheet.linearise(volts, None)
        eliminate(pattern, matrix, right)
        ports = [self.outer.node[port] for port in self.ports]
        siemens = np.array([[matrix[pattern.slot[a, b]] for b in ports] for a in ports]).reshape(
            len(ports), len(ports), self.batch.size
        )
        for n in range(len(ports)):
            siemens[n, n] -= LEAST_SIEMENS  # the piece has its own
        amps = right[ports].copy()
        right[ports] = 0.0
        still = back_substitute(pattern, matrix, right)
        reach = np.zeros((self.outer.size, len(ports), self.batch.size), matrix.dtype)
        for n, port in enumerate(ports):
            one = np.zeros((self.outer.size, self.batch.size), matrix.dtype)
            one[port] = 1.0
            reach[:, n] = back_substitute(pattern, matrix, one)
        return Norton(siemens, amps, still, reach)

    @cached_property
    def _astray(self) -> tuple[np.ndarray, np.ndarray]:
        """By how much the straight surroundings are wrong with one port so far away: amps at each port (tried, port
        moved, port, machine), and volts at each node (tried, port moved, node, machine).

        The surroundings are solved by themselves, every port held near where it is put. A bend that grows at least as
        the square is bounded by it at every smaller distance.
        """
        found, ports, machines = self.at(0.0), [self.outer.node[port] for port in self.ports], self.batch.size
        ways = [(n, side * volts) for volts in TRIED for n in range(len(ports)) for side in (-1.0, 1.0)]
        size, again = self.outer.size, np.tile(np.arange(machines), len(ways))
        straight = np.tile(self.rest.volts[self.nodes], len(ways))
        for way, (n, volts) in enumerate(ways):
            straight[:, way * machines : (way + 1) * machines] += volts * found.reach[:, n]
        whole = self.batch.take(again)
        held = [Path(port, GROUND, 0, whole.size, HOLD_OHMS) for port in self.ports]
        pushes = [
            Push(port, GROUND, float(straight[node, one]) / HOLD_OHMS, one, one + 1)
            for port, node in zip(self.ports, ports, strict=True)
            for one in range(whole.size)
        ]
        solvable = replace(self.outer, pattern=find_pattern(size, self.outer.pattern.slot))
        home = replace(self.rest, volts=np.vstack([self.rest.volts[self.nodes], np.zeros((1, machines))]))
        start = start_at(solvable, self.batch, home, again)
        rest = come_to_rest(solvable, replace(whole, paths=tuple(held), pushes=tuple(pushes)), start)
        at = rest.volts[ports]
        taken = (straight[ports] - at) / HOLD_OHMS
        meant = np.einsum("pqm,qm->pm", found.siemens[:, :, again], at) - found.amps[:, again]
        foretold = found.still[:, again] + np.einsum("npm,pm->nm", found.reach[:, :, again], at)
        shape = (len(TRIED), len(ports), 2, machines)
        off = (np.abs(taken - meant), np.abs(rest.volts[:size] - foretold))
        worst = [np.where(rest.solved, one, np.inf).reshape(-1, *shape).max(axis=3) for one in off]
        return worst[0].transpose(1, 2, 0, 3), worst[1].transpose(1, 2, 0, 3)

    def _signal_bends(self, hertz: float) -> np.ndarray:
        """(port, machine) share by which signals change per volt that a port goes away."""
        step, found, machines = TRIED[0], self.at(0.0), self.batch.size
        volts = np.tile(self.rest.volts, len(self.ports) + 1)
        for n in range(len(self.ports)):
            volts[self.nodes, (n + 1) * machines : (n + 2) * machines] += step * found.reach[:, n]
        again = np.tile(np.arange(machines), len(self.ports) + 1)
        rest = Rest(volts, self.rest.solved[again], self.rest.unstable[again])
        shown = small_signal(self.whole, self.batch.take(again), rest, hertz).volts.reshape(len(volts), -1, machines)
        most = np.maximum(np.max(np.abs(shown[:, 0]), axis=0), 1e-30)
        return np.asarray(np.max(np.abs(shown[:, 1:] - shown[:, :1]), axis=0) / most / step)


def _beyond(tried: np.ndarray) -> np.ndarray:
    """The same with a row for what is further away than was tried."""
    return np.concatenate([tried, np.full((1, *tried.shape[1:]), np.inf)])


def _nodes_of(circuit: Circuit, parts: Collection[str]) -> set[int]:
    """Nodes that these parts touch, ground not counted."""
    found: set[int] = set()
    for group in circuit.groups:
        columns = [n for n, part in enumerate(group.parts) if part in parts]
        found |= {int(node) for node in group.nodes[:, columns].flat if node >= 0}
    return found


def _cut(whole: Circuit, parts: Collection[str], nodes: list[int], ports: Collection[int]) -> Circuit:
    """The circuit of these parts alone, on these nodes of the whole; its ports stay to the end of the elimination."""
    new: Mapping[int, int] = {-1: -1, **{old: index for index, old in enumerate(nodes)}}
    names = {index: name for name, index in whole.node.items()}
    chosen, groups = frozenset(parts), []
    pairs = {(new[a], new[b]) for a in ports for b in ports}
    for group in whole.groups:
        columns = [n for n, part in enumerate(group.parts) if part in chosen]
        if columns:
            cut = np.array([[new[int(node)] for node in row] for row in group.nodes[:, columns]])
            groups.append(Group(group.kind, tuple(group.parts[n] for n in columns), cut))
            pairs |= {(int(a), int(b)) for column in cut.T for a in column for b in column if min(a, b) >= 0}
    pattern = find_pattern(len(nodes), pairs, [new[port] for port in ports])
    node = {names[old]: index for old, index in new.items()}
    return Circuit(whole.machine, node, tuple(groups), pattern, None, (), whole.fixed, whole.unplugged)
