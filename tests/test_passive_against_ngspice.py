"""Coils, contacts, lamps and the like against ngspice: direct volts and signals, healthy and with every mode."""

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

HERTZ = (1e3, 1e4)
FLOATING = 1e6  # ohm: a node behind more than this hangs on an open part; it is read with the meter on
READABLE = 1e-4  # V
OURS = (
    "BR1 T1-1 T1-2 T1-3 L1 RN1 D1 D2 TH1 K1 LA1 B1 W1 TR1 J1 LS1 HP1 Y1".split()  # parts of the kinds under test
)


@cache
def prepared(setup: Setup) -> tuple[Model, Bank, list[str], list[str]]:
    """The intercom, healthy and with every way to break of its own kinds; severities in the middle of their bin."""
    loaded = machine.load(Path(__file__).parent / "circuits" / "door-intercom.yaml")
    model = build_model(loaded, "ngspice")
    broken = [
        n
        for n, cell in enumerate(model.cells)
        if any(fault.item in OURS for fault in model.suspects[cell.suspect].faults) and not cell.bin
    ]
    cells = [model.healthy_cell, *broken]
    spans = [Span(cell, n, n + 1) for n, cell in enumerate(cells)]
    bank = Bank(model, spans, np.zeros((len(model.latents.keys) + 1, len(cells))))
    says = [model.suspects[model.cells[cell].suspect].id for cell in cells]
    return model, bank, [net for net in loaded.nets if net != GROUND and not net.startswith("nc:")], says


@pytest.mark.parametrize("stimulus", ["tone", "with phones", "waiting"])
def test_direct_volts_and_signals_agree(stimulus: str, ngspice) -> None:
    setup = Setup(stimulus=stimulus)
    _, bank, nets, says = prepared(setup)
    solved = bank.solved(setup)
    assert solved.rest.solved.all()
    metered = np.array([show(bank, Question("dc", net, setup=setup)).value for net in nets])
    hertz = () if stimulus == "waiting" else HERTZ
    phasors = [small_signal(solved.circuit, solved.batch, solved.rest, one) for one in hertz]
    refused = []
    for variant, name in enumerate(says):
        deck = Deck(solved.circuit, solved.batch, variant, nets)
        deck.start_near(solved.rest.volts)
        try:
            volts, signals = deck.run(hertz)
        except (RuntimeError, subprocess.TimeoutExpired):
            refused.append(name)
            continue
        # 1 mV or 0.1 %, meter on
        assert np.all(np.abs(volts - metered[:, variant]) <= np.maximum(1e-3, 1e-3 * np.abs(volts))), name
        for k, phasor in enumerate(phasors):
            for n, net in enumerate(nets):
                ours = abs(phasor.volts[solved.circuit.at(net), variant])
                if solved.ohms[solved.circuit.at(net), variant] < FLOATING and signals[k, n] > READABLE:
                    assert ours == pytest.approx(signals[k, n], rel=1e-3), (name, net, hertz[k])
    assert len(refused) <= 2, refused


def test_every_mode_is_among_the_variants() -> None:
    """69 ways to break of 16 kinds stand in the comparison; a kind that loses its modes would go unseen."""
    _, _, _, says = prepared(Setup(stimulus="tone"))
    assert {one.split()[0].partition(".")[0] for one in says[1:]} >= set(OURS)
    assert len(says) > 60


def test_every_draw_of_every_suspect_comes_to_rest_unless_the_relay_chatters() -> None:
    """Forty made-up machines of each cell in each set-up. A relay whose own lamp pulls its supply down lets go
    when it is in and pulls in when it is out: such a machine has no rest, and is left unjudged. So does one whose
    coil is fed through its own contact, which is why that suspect is left out here."""
    loaded = machine.load(Path(__file__).parent / "circuits" / "door-intercom.yaml")
    model = build_model(loaded, "rest", without=["DRV~LIT joins"])
    count = 40
    spans = [Span(n, n * count, (n + 1) * count) for n in range(len(model.cells))]
    rng = np.random.default_rng(11)
    z = rng.standard_normal((len(model.latents.keys) + 1, count * len(spans)))
    bank = Bank(model, spans, z)
    rest = {one: bank.solved(Setup(stimulus=one)).rest for one in ("waiting", "called", "pressed", "lifted")}
    assert all(rest[one].solved.all() for one in ("waiting", "pressed", "lifted"))
    assert bank.solved(Setup(power="off")).rest.solved.all()
    called = bank.solved(Setup(stimulus="called"))
    left = np.flatnonzero(~called.rest.solved)
    assert len(left) < 1e-3 * bank.size
    pull = (called.batch.figures["K1", "pull"] * called.batch.figures["K1", "volts"])[left]

    def on_coil(stimulus: str) -> np.ndarray:
        circuit = bank.solved(Setup(stimulus=stimulus)).circuit
        return abs(rest[stimulus].volts[circuit.at("VA"), left] - rest[stimulus].volts[circuit.at("DRV"), left])

    assert np.all(on_coil("pressed") < pull) and np.all(pull < on_coil("lifted"))
