"""Watts that a part turns into heat: volts at its pins times the current into each."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from probewright.machine.kinds import Kind, Values
from probewright.simulation.circuit import Batch, Circuit, Group
from probewright.simulation.storing import admittance


def pin_volts(circuit: Circuit, batch: Batch, part: str, volts: np.ndarray) -> np.ndarray:
    """(pin, variant) V at the metal of each pin of a part, from volts (node + 1, variant); a pin that has come off its
    net has its own."""
    group = group_of(circuit, part)
    owners = {part, circuit.machine.parts[part].package} - {""}
    found = volts[group.nodes[:, group.parts.index(part)]]
    for row, pin in enumerate(group.kind.pins):
        for free in (one for owner in owners for one in batch.freed_at.get(f"{owner}.{pin}", ())):
            found[row, free.start : free.stop] = volts[circuit.spare, free.start : free.stop]
    return found


def figures_of(circuit: Circuit, batch: Batch, part: str) -> dict[str, Any]:
    """Figure of the part -> (1, variant) or (1, 1)."""
    names = [one.name for one in group_of(circuit, part).kind.parameters]
    return {name: np.atleast_1d(np.asarray(batch.figures[part, name], float))[None] for name in names}


def group_of(circuit: Circuit, part: str) -> Group:
    """The parts of its kind in the circuit. KeyError where it is not there."""
    found = next((group for group in circuit.groups if part in group.parts), None)
    if found is None:
        raise KeyError(part)
    return found


def dissipated(kind: Kind, pins: np.ndarray, figures: Mapping[str, Any]) -> np.ndarray:
    """(variant,) W in one part at rest with these volts (pin, variant) at its pins; figures as in `figures_of`.

    By the sum of volts times amps over its pins: what goes in and does not come out. What a branch keeps takes no
    part in it while nothing moves. A part that brings power gives a negative figure.
    """
    amps = amps_into(kind, pins, figures)
    return np.asarray(sum(pins[row] * amps[pin] for row, pin in enumerate(kind.pins)))


def amps_into(kind: Kind, pins: np.ndarray, figures: Mapping[str, Any]) -> dict[str, np.ndarray]:
    """Pin -> (variant,) A that flow into one part there, at rest with these volts (pin, variant); figures as in
    `figures_of`."""
    volts = {pin: pins[row][None] for row, pin in enumerate(kind.pins)}
    amps = {pin: np.zeros_like(pins[:1]) for pin in kind.pins}
    for a, b, through in _branches(kind, volts, figures):
        amps[a], amps[b] = amps[a] + through, amps[b] - through
    if kind.nonlinear is not None:
        for pin, into in kind.nonlinear(pins[:, None], figures, None).amps.items():
            amps[pin] = amps[pin] + into
    return {pin: np.asarray(one)[0] for pin, one in amps.items()}


def _branches(kind: Kind, volts: Mapping[str, Any], figures: Values) -> list[tuple[str, str, Any]]:
    """(from, to, amps) of every straight branch, and of those that keep a flux, which at rest are resistors."""
    found = []
    for a, b, plus, minus, siemens in kind.linear(figures) if kind.linear is not None else ():
        found.append((a, b, siemens * (volts[plus] - volts[minus])))
    if kind.storing is not None:
        store = kind.storing(figures)
        siemens = admittance(store, 0.0)
        for row, (a, b) in enumerate(store.ends):
            through = [siemens[row, n] * (volts[one] - volts[other]) for n, (one, other) in enumerate(store.ends)]
            found.append((a, b, sum(through)))
    return found
