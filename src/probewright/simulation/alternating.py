"""Small signals about the rest point: phasors at one frequency, all variants together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from probewright.machine.kinds import Companion
from probewright.simulation.circuit import Batch, Circuit
from probewright.simulation.newton import Rest, Sheet, blocks
from probewright.simulation.pattern import back_substitute, eliminate, selected_inverse


@dataclass(frozen=True)
class Phasors:
    """Answer at one frequency.

    volts (node + 1, variant), complex, peak V, last row ground; ohms (node + 1, variant), complex
    impedance from each node to ground; solved (variant,).
    """

    volts: np.ndarray
    ohms: np.ndarray
    solved: np.ndarray


@np.errstate(divide="ignore", invalid="ignore", over="ignore")
def small_signal(circuit: Circuit, batch: Batch, rest: Rest, hertz: float) -> Phasors:
    """Phasors of the sources' signals at this frequency, about a solved rest point.

    The circuit is taken as straight for the signal, with one exception: an amplifier output that
    would pass its nearer rail is held at that swing, and the circuit solved again with it there.
    """
    volts = np.zeros(rest.volts.shape, complex)
    ohms = np.zeros(rest.volts.shape, complex)
    for here, block in blocks(circuit, batch, np.arange(batch.size)):
        volts[:, here], ohms[:, here] = _block(circuit, block, rest.volts[:, here], 2.0 * np.pi * hertz)
    return Phasors(volts, ohms, rest.solved & np.all(np.isfinite(volts), axis=0))


def _block(circuit: Circuit, batch: Batch, at_rest: np.ndarray, omega: float) -> tuple[np.ndarray, np.ndarray]:
    """Phasors and impedances (node + 1, variant) of one block; twice where an output meets a rail."""
    sheet = Sheet(circuit, batch, 1j * omega)
    groups = sheet.companions(at_rest, None)
    volts, ohms = _solve(sheet, groups, omega, {})
    held: dict[int, tuple[np.ndarray, np.ndarray]] = {}
    for which, pins, _ in groups:
        kind = circuit.groups[which].kind
        if kind.swing is not None:
            reach = np.broadcast_to(kind.swing(pins, sheet.figures[which]), pins.shape[1:])
            out = sheet.pin_volts(which, volts)[circuit.groups[which].pin_index["out"]]
            past = np.abs(out) > reach
            if past.any():
                held[which] = past, np.where(past, out / np.maximum(np.abs(out), 1e-12) * reach, 0.0)
    if held:
        these = np.flatnonzero(np.any([np.any(past, axis=0) for past, _ in held.values()], axis=0))
        again = Sheet(circuit, batch.take(these), 1j * omega)
        kept = {which: (past[:, these], phasor[:, these]) for which, (past, phasor) in held.items()}
        at = again.companions(at_rest[:, these], None)
        volts[:, these], ohms[:, these] = _solve(again, at, omega, kept)
    return volts, ohms


def _solve(
    sheet: Sheet,
    groups: list[tuple[int, np.ndarray, Companion]],
    omega: float,
    held: dict[int, tuple[np.ndarray, np.ndarray]],
) -> tuple[np.ndarray, np.ndarray]:
    """One linear solve; held: group -> (which outputs, (part, variant)) that follow a phasor instead
    of their inputs, peak V. Uses up the sheet's matrix."""
    circuit = sheet.circuit
    matrix, right = stamped(sheet, groups, omega, held)
    eliminate(circuit.pattern, matrix, right)
    volts, ohms = np.zeros((2, circuit.size + 1, sheet.width), complex)
    volts[:-1] = back_substitute(circuit.pattern, matrix, right)
    ohms[:-1] = selected_inverse(circuit.pattern, matrix)[: circuit.size]
    return volts, ohms


def stamped(
    sheet: Sheet,
    groups: list[tuple[int, np.ndarray, Companion]],
    omega: float,
    held: dict[int, tuple[np.ndarray, np.ndarray]],
) -> tuple[np.ndarray, np.ndarray]:
    """Matrix (slot, variant) and right-hand side (node, variant) of the small signals; held as in `_solve`.
    Uses up the sheet's matrix."""
    circuit = sheet.circuit
    matrix, right = sheet.base, sheet.driven.astype(complex)
    for which, _, companion in groups:
        kind, figures = circuit.groups[which].kind, sheet.figures[which]
        slope = companion.slope
        if kind.alternating is not None:
            slope = kind.alternating(figures, slope, omega)
        if which in held:
            past, phasor = held[which]
            slope = {key: np.where(past & (key[0] == "out") & (key[1] != "out"), 0.0, s) for key, s in slope.items()}
            sheet.stamp_amps(right, which, {"out": -phasor * slope["out", "out"]})
        sheet.stamp_slopes(matrix, which, slope)
        if kind.drive is not None:
            sheet.stamp_amps(right, which, {pin: -amps for pin, amps in kind.drive(figures, slope).items()})
    return matrix, right
