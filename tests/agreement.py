"""Eight circuits against ngspice: every fault that is listed, direct volts with the meter on, signals, ohms.

The tests take some faults of each; `python -m benchmarks --only agreement` takes all.
"""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import numpy as np

from probewright import machine
from probewright.machine.model import GROUND
from probewright.prediction.bank import Bank, Solved, Span
from probewright.prediction.cells import Model, build_model
from probewright.prediction.outcomes import show
from probewright.readings import Question, Setup, instruments
from probewright.simulation.alternating import small_signal
from spice import METER, Deck

CIRCUITS = {  # stimulus of each; a tone has signals
    "two-transistor-amplifier": "tone",
    "zener-follower-supply": "tone",
    "line-driver": "tone",
    "two-channel-stage": "tone",
    "door-intercom": "tone",
    "field-effect-stages": "tone",
    "four-rails": "",
    "level-lane": "pressed",
}
HERTZ = (1e3, 1e4)
READABLE = 1e-4  # V: what no probe shows is not compared
FLOATING = 1e6  # ohm: a node behind more than this hangs on an open part; its signal is not compared
FED, SERIES = instruments.law("ohms").open_volts, 10e3  # V, ohm: what the ohmmeter puts out
FET = {"n-jfet": (1.0, "pinch_off", -1.0), "n-mosfet": (1.0, "threshold", 1.0)}
FET |= {"p-jfet": (-1.0, "pinch_off", -1.0), "p-mosfet": (-1.0, "threshold", 1.0)}
WEAK = (-0.6, 0.3)  # V about a threshold where our channel has a tail and ngspice's square law has none


@dataclass
class Agreement:
    """What came out: how many variants were compared, which ngspice did not answer, which differ and where.

    weak: variants with a channel at its threshold, where the laws differ by design; unsolved: of ours.
    """

    compared: int = 0
    worst: float = 0.0  # V, or share of the reading where that is larger than 1 V
    refused: list[str] = field(default_factory=list)
    apart: list[tuple[str, str, float, float]] = field(default_factory=list)
    weak: list[str] = field(default_factory=list)
    unsolved: list[str] = field(default_factory=list)

    def note(
        self, fault: str, nets: list[str], theirs: np.ndarray, ours: np.ndarray, floor: float, share: float
    ) -> None:
        """Lay figures of one variant side by side, (net,) in V."""
        off = np.abs(theirs - ours)
        self.worst = max(self.worst, float((off / np.maximum(1.0, np.abs(theirs))).max(initial=0.0)))
        wrong = np.flatnonzero(off > np.maximum(floor, share * np.abs(theirs)))
        self.apart += [(fault, nets[n], float(theirs[n]), float(ours[n])) for n in wrong]


@cache
def prepared(name: str) -> tuple[Model, Bank, list[str], list[str]]:
    """A circuit healthy and with every cell of every listed fault, all figures in the middle of their laws."""
    loaded = machine.load(Path(__file__).parent / "circuits" / f"{name}.yaml")
    model = build_model(loaded, "ngspice")
    broken = [n for n, cell in enumerate(model.cells) if model.suspects[cell.suspect].faults]
    cells = [model.healthy_cell, *broken]
    spans = [Span(cell, n, n + 1) for n, cell in enumerate(cells)]
    bank = Bank(model, spans, np.zeros((len(model.latents.keys) + 1, len(cells))))
    says = [f"{model.suspects[model.cells[cell].suspect].id} {model.cells[cell].bin}" for cell in cells]
    return model, bank, [net for net in loaded.nets if net != GROUND and not net.startswith("nc:")], says


def some(name: str, count: int) -> list[int]:
    """The healthy variant and so many faults, spread over the list."""
    whole = len(prepared(name)[3])
    return sorted({0, *(1 + int(k * (whole - 1) / count) for k in range(min(count, whole - 1)))})


def stands_at_a_threshold(solved: Solved, variant: int) -> bool:
    """Whether the stronger end of some channel is where the two laws differ by design."""
    for group in solved.circuit.groups:
        if group.kind.name not in FET:
            continue
        sign, figure, turn = FET[group.kind.name]
        for column, part in enumerate(group.parts):
            d, g, s = (solved.rest.volts[int(node), variant] for node in group.nodes[:, column])
            value = solved.batch.figures[part, figure]
            at = abs(float(value if np.ndim(value) == 0 else value[variant]))
            if WEAK[0] < sign * g - min(sign * d, sign * s) - turn * at < WEAK[1]:
                return True
    return False


def compare(
    name: str,
    setup: Setup,
    chosen: list[int],
    ours: Callable[[Bank, list[str]], np.ndarray],
    hertz: tuple[float, ...] = (),
    most: float = 20.0,
    **meter: float,
) -> Agreement:
    """Chosen variants of a circuit in one set-up; ours: (net, variant) volts with the meter on."""
    _, bank, nets, says = prepared(name)
    solved = bank.solved(setup)
    shown = ours(bank, nets)
    phasors = [small_signal(solved.circuit, solved.batch, solved.rest, one) for one in hertz]
    found = Agreement()
    for variant in chosen:
        fault = says[variant]
        if not solved.rest.solved[variant] or not np.isfinite(shown[:, variant]).all():
            found.unsolved.append(fault)
            continue
        if stands_at_a_threshold(solved, variant):
            found.weak.append(fault)
            continue
        deck = Deck(solved.circuit, solved.batch, variant, nets)
        deck.start_near(solved.rest.volts)
        try:
            volts, signals = deck.run(hertz, most=most, **meter)
        except (RuntimeError, subprocess.TimeoutExpired):
            found.refused.append(fault)
            continue
        found.compared += 1
        found.note(fault, nets, volts, shown[:, variant], 1e-3 if not meter else 1e-5, 1e-3)
        for k, phasor in enumerate(phasors):
            held = [n for n, net in enumerate(nets) if solved.ohms[solved.circuit.at(net), variant] < FLOATING]
            mine = np.array([abs(phasor.volts[solved.circuit.at(nets[n]), variant]) for n in held])
            found.note(fault, [f"{nets[n]} {hertz[k]:g} Hz" for n in held], signals[k, held], mine, READABLE, 1e-3)
    return found


def powered(name: str, chosen: list[int], most: float = 20.0) -> Agreement:
    """Direct volts with a meter of 10 Mohm, and signals where the set-up has a tone."""
    setup = Setup(stimulus=CIRCUITS[name])

    def ours(bank: Bank, nets: list[str]) -> np.ndarray:
        every = [show(bank, Question("dc", net, setup=setup)) for net in nets]
        return np.array([np.where(one.judged, one.value, np.nan) for one in every])

    return compare(name, setup, chosen, ours, HERTZ if CIRCUITS[name] == "tone" else (), most)


def unpowered(name: str, chosen: list[int], most: float = 20.0) -> Agreement:
    """Ohms to ground with power off, compared as the volts at the tips."""
    setup = Setup(power="off")

    def ours(bank: Bank, nets: list[str]) -> np.ndarray:
        every = [show(bank, Question("ohms", net, setup=setup)) for net in nets]
        ohms = np.array([np.where(one.judged, one.value, np.nan) for one in every])
        over = np.isinf(ohms)  # above what the display holds: then ngspice must be above it too
        return np.where(over, FED, FED * ohms / (SERIES + np.where(over, 1.0, ohms)))

    return compare(name, setup, chosen, ours, (), most, meter=SERIES, feeds=FED)


assert METER == instruments.law("dc").input_ohms
