"""Our direct volts and small signals against ngspice, healthy and with twenty faults a circuit."""

from __future__ import annotations

import subprocess
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from probewright import machine
from probewright.machine.model import GROUND
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import Model, build_model
from probewright.prediction.outcomes import show
from probewright.readings import Question, Setup
from probewright.simulation.alternating import small_signal
from spice import Deck

CIRCUITS = ("two-transistor-amplifier", "zener-follower-supply", "line-driver", "two-channel-stage")
TONE = Setup(stimulus="tone")
HERTZ = (1e3, 1e4)
FAULTS = 20
READABLE = 1e-4  # V: what no probe shows is not compared
FLOATING = 1e6  # ohm: a node behind more than this hangs on an open part; it is read with the meter on

# Golden figures, so that something outside is checked without ngspice: ngspice 39, 10 Mohm meter on.
GOLDEN = {
    "two-transistor-amplifier": {"VCC": 11.6238, "B1": 1.9252, "C1N": 5.30336, "E1": 1.25202, "E2": 4.62312},
    "zener-follower-supply": {"REF": 9.24347, "OUT": 8.5329, "LED": 7.84523, "SENSE": 9.18544, "TOP": 9.21398},
}


@cache
def prepared(name: str) -> tuple[Model, Bank, list[str]]:
    """A circuit with the healthy machine and twenty faults, every figure in the middle of its law."""
    loaded = machine.load(Path(__file__).parent / "circuits" / f"{name}.yaml")
    model = build_model(loaded, "ngspice")
    broken = [n for n, cell in enumerate(model.cells) if model.suspects[cell.suspect].faults]
    stride = len(broken) / FAULTS
    cells = [model.healthy_cell, *(broken[int(k * stride)] for k in range(FAULTS))]
    spans = [Span(cell, n, n + 1) for n, cell in enumerate(cells)]
    bank = Bank(model, spans, np.zeros((len(model.latents.keys) + 1, len(cells))))
    return model, bank, [net for net in loaded.nets if net != GROUND and not net.startswith("nc:")]


@pytest.mark.parametrize("name", CIRCUITS)
def test_direct_volts_and_signals_agree(name: str, ngspice):
    model, bank, nets = prepared(name)
    solved = bank.solved(TONE)
    assert solved.rest.solved.all()
    metered = np.array([show(bank, Question("dc", net, setup=TONE)).value for net in nets])
    phasors = [small_signal(solved.circuit, solved.batch, solved.rest, hertz) for hertz in HERTZ]
    refused = []
    for variant, span in enumerate(bank.spans):
        says = model.suspects[model.cells[span.cell].suspect].id
        deck = Deck(solved.circuit, solved.batch, variant, nets)
        deck.start_near(solved.rest.volts)
        try:
            volts, signals = deck.run(HERTZ)
        except (RuntimeError, subprocess.TimeoutExpired):
            refused.append(says)
            continue
        # 1 mV or 0.1 %, meter on
        assert np.all(np.abs(volts - metered[:, variant]) <= np.maximum(1e-3, 1e-3 * np.abs(volts))), says
        for k, phasor in enumerate(phasors):
            for n, net in enumerate(nets):
                ours = abs(phasor.volts[solved.circuit.at(net), variant])
                if solved.ohms[solved.circuit.at(net), variant] < FLOATING and signals[k, n] > READABLE:
                    assert ours == pytest.approx(signals[k, n], rel=1e-3), (says, net, HERTZ[k])
    # ngspice finds no answer for a few broken circuits; a reference that answers less is no reference
    assert len(refused) <= 2, refused


@pytest.mark.parametrize("name", GOLDEN)
def test_golden_figures(name: str):
    _, bank, _ = prepared(name)
    for net, volts in GOLDEN[name].items():
        assert show(bank, Question("dc", net, setup=TONE)).value[0] == pytest.approx(volts, abs=1e-3)


def test_the_reference_sees_a_change(ngspice):
    """The comparison can fail: a resistor ten per cent off is seen at once."""
    _, bank, nets = prepared("two-transistor-amplifier")
    solved = bank.solved(TONE)
    batch = solved.batch
    figures = {**batch.figures, ("R3", "resistance"): 1.1 * np.asarray(batch.figures["R3", "resistance"])}
    volts, _ = Deck(solved.circuit, type(batch)(batch.size, figures, batch.paths, batch.freed), 0, nets).run()
    ours = np.array([show(bank, Question("dc", net, setup=TONE)).value[0] for net in nets])
    assert np.max(np.abs(volts - ours)) > 0.05
