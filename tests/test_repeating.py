"""A settled period, against waiting until it has settled by itself, and against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from pytest import approx

from probewright.machine.waves import Course, Pulse, Sine
from probewright.simulation import repeating, scope
from probewright.simulation.repeating import Memory, foretold, repeat
from probewright.simulation.tracing import trace
from test_simulation import alone, many

MAINS = [Course("V1", swing=Sine(50.0))]
SUPPLY = (
    "V1: source 0V series 0.6R  AC > GND",
    "D1: diode rectifier  AC > RAW",
    "C1: capacitor 4700u electrolytic  RAW > GND",
    "R1: resistor 330R  RAW > GND",
)


def test_a_big_reservoir_is_settled_in_a_few_periods(monkeypatch):
    """4700 uF and 1 kohm run down in 230 periods; the two others, 470 uF, are waited for as well."""
    circuit, _ = alone(*SUPPLY)
    ohms = np.array([47.0, 100.0, 1000.0])
    farads = np.array([470e-6, 470e-6, 4700e-6])
    batch = many(circuit, 3, V1_signal=np.array([12.0, 20.0, 25.0]), R1_resistance=ohms, C1_capacitance=farads)
    found = repeat(circuit, batch, MAINS, ["RAW"], 0.02, 2e-4)
    assert found.trace.solved.all() and found.periods <= 20 and found.missing.max() < 6e-3
    waited = trace(circuit, batch, MAINS, ["RAW"], 0.6, 2e-4, since=0.58)
    for read in (lambda t: scope.mean(t.seconds, t.volts["RAW"]), lambda t: scope.peak_to_peak(t.volts["RAW"])):
        assert read(found.trace)[:2] == approx(read(waited)[:2], abs=6e-3)
    assert found.trace.volts["RAW"][:, 0] == approx(found.trace.volts["RAW"][:, -1], abs=1e-12)
    monkeypatch.setattr(repeating, "SETTLED_VOLTS", 1e-6)
    monkeypatch.setattr(repeating, "SETTLED_SHARE", 1e-7)
    sharper = repeat(circuit, batch, MAINS, ["RAW"], 0.02, 2e-4)  # by waiting a microvolt a period takes thousands
    assert sharper.trace.solved.all()
    means = [scope.mean(one.trace.seconds, one.trace.volts["RAW"]) for one in (found, sharper)]
    assert means[0] == approx(means[1], abs=6e-3)


def test_a_coupling_of_ten_seconds_is_settled_on_paper():
    """A square through 1 uF and 10 Mohm: it settles about nought, half above and half below, though tau is 1000 periods."""
    circuit, _ = alone(
        "V1: source 0V series 1k  IN > GND", "C1: capacitor 1u leak 1e12R  IN > A", "R1: resistor 10M  A > GND"
    )
    batch = many(circuit, 2, V1_signal=np.array([4.0, 1.0]))
    found = repeat(circuit, batch, [Course("V1", swing=Pulse(period=0.01, high=0.0025))], ["A"], 0.01, 1e-4)
    assert found.trace.solved.all()
    # high a quarter of the time: 3/4 of the swing above nought, 1/4 below
    assert scope.top(found.trace.volts["A"]) == approx([3.0, 0.75], abs=5e-3)
    assert scope.valley(found.trace.volts["A"]) == approx([-1.0, -0.25], abs=5e-3)


def test_two_slow_charges_are_foretold_together():
    """A straight law x -> M x + b with two slow and one quick charge: its fixed point is found in five periods."""
    rng = np.random.default_rng(4)
    turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    law = turn @ np.diag([0.999, 0.98, 0.1]) @ turn.T
    push = rng.normal(size=(3, 2))
    fixed = np.linalg.solve(np.eye(3) - law, push)
    memory, state = Memory([], []), np.zeros((3, 2))
    for _ in range(6):
        change = law @ state + push - state
        memory.add(state, change)
        state = state + change + foretold(memory, np.ones((3, 2)), np.ones(3, bool))
    assert state == approx(fixed, rel=1e-4)


def test_what_got_worse_is_forgotten():
    memory = Memory([], [])
    memory.add(np.zeros((1, 2)), np.ones((1, 2)))
    memory.add(np.ones((1, 2)), np.array([[0.5, 5.0]]))
    assert foretold(memory, np.ones((1, 2)), np.ones(1, bool))[0] == approx([0.5, 0.0], abs=1e-6)


def test_what_never_repeats_is_not_solved(monkeypatch):
    """A charge that runs away, 1 mA into 1 uF behind no load, is said to be unsettled; its neighbour settles."""
    circuit, _ = alone(
        "V1: source 0V series 1k  IN > GND", "D1: diode rectifier  IN > A", "C1: capacitor 1u leak 1e12R  A > GND",
        "U1: block gain 1 input 1G output 1M  in=A out=A com=GND supply=GND", "R1: resistor 10k  A > GND",
    )  # fmt: skip
    monkeypatch.setattr(repeating, "MOST_PERIODS", 8)
    batch = many(circuit, 2, V1_signal=5.0, U1_gain=np.array([0.0, 115.0]))
    found = repeat(circuit, batch, MAINS, ["A"], 0.02, 5e-4)
    assert list(found.trace.solved) == [True, False]
    assert np.isnan(found.trace.volts["A"][1]).all() and np.isfinite(found.trace.volts["A"][0]).all()
    assert found.missing[1] > 0.01


@pytest.mark.parametrize("lone", [True, False])
def test_a_circuit_that_keeps_nothing_is_settled_at_once(lone: bool):
    circuit, _ = alone("V1: source 0V series 1k  A > GND", "R1: resistor 1k  A > GND")
    batch = many(circuit, 1 if lone else 4, V1_signal=6.0)
    found = repeat(circuit, batch, MAINS, ["A"], 0.02, 1e-3)
    assert found.trace.solved.all()
    assert scope.top(found.trace.volts["A"]) == approx(3.0, rel=1e-3)
