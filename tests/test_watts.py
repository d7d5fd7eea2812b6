"""Watts that parts turn into heat: against laws and textbooks, in every draw, at rest, in time and area by area."""

from __future__ import annotations

import numpy as np
import pytest
from pytest import approx

from benchmarks.large import long_line
from hidden import planted
from probewright.inference.belief import LEFT_OUT, extremes_of
from probewright.machine import Machine, read
from probewright.prediction.bank import Bank
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import draw_laws
from probewright.prediction.heating import ask_watts
from probewright.prediction.outcomes import show
from probewright.readings import Question, Setup
from probewright.simulation.heating import dissipated, figures_of, group_of, pin_volts
from test_told import ADJUSTABLE, RELAY

ON = Setup()
BOARD = """
machine: Supply of a video board
extras:
  PSU: source 9V series 0.5R limit 1A  RAW > GND
parts:
  U1: regulator fixed 5V  in=RAW out=V5 com=GND
  R1: resistor 10R 5W  V5 > GND
  R2: resistor 1k  V5 > B
  R3: resistor 10k  B > GND
  Q1: npn gain 100  c=C b=B e=E
  R4: resistor 470R  V5 > C
  R5: resistor 100R  E > GND
"""


def middle(text: str) -> Bank:
    return draw_laws(build_model(read(text), "k"), 3).base.middle


def watts(bank: Bank, part: str, setup: Setup = ON) -> float:
    shown = show(bank, ask_watts(part, setup))
    assert shown.judged.all()
    return float(shown.value[0])


def volts(bank: Bank, place: str, setup: Setup = ON) -> float:
    return float(bank.solved(setup).volts_of(place)[0])


@pytest.mark.parametrize(
    ("text", "stimulus"), [(BOARD, ""), (RELAY, "pressed"), (ADJUSTABLE, "idle")], ids=["board", "relay", "adjustable"]
)
def test_what_sources_bring_is_what_all_else_turns_into_heat(text: str, stimulus: str) -> None:
    """Tellegen's theorem, in every sound draw; LEAST_SIEMENS from every node takes less than a nanowatt."""
    bank = draw_laws(build_model(read(text), "k"), 5).base.healthy
    solved = bank.solved(Setup(stimulus=stimulus))
    powers = []
    for group in solved.circuit.groups:
        for part in group.parts:
            pins = pin_volts(solved.circuit, solved.batch, part, solved.rest.volts)
            powers.append(np.broadcast_to(
                dissipated(group.kind, pins, figures_of(solved.circuit, solved.batch, part)), bank.size
            ))  # fmt: skip
    brought = np.max(np.abs(powers), axis=0)
    assert np.all(brought > 1e-4)
    assert np.sum(powers, axis=0) == approx(0.0, abs=1e-6)


def test_a_regulator_a_resistor_and_a_transistor_by_the_textbook() -> None:
    """P = (Vin - Vout) I + Vin Iq; P = U^2 / R; P = Vce Ic + Vbe Ib."""
    bank = middle(BOARD)
    above, rail = volts(bank, "RAW"), volts(bank, "V5")
    base, collector, emitter = (volts(bank, place) for place in ("B", "C", "E"))
    drawn = rail / 10.0 + (rail - base) / 1e3 + (rail - collector) / 470.0
    assert watts(bank, "R1") == approx(rail**2 / 10.0)
    assert watts(bank, "U1") == approx((above - rail) * drawn + above * 5e-3, rel=1e-3)
    into_base = (rail - base) / 1e3 - base / 10e3
    by_hand = (collector - emitter) * (rail - collector) / 470.0 + (base - emitter) * into_base
    assert watts(bank, "Q1") == approx(by_hand, rel=1e-4)
    assert watts(bank, "PSU") == 0.0  # what brings power turns none into heat that is told of here


def test_a_part_that_is_out_or_whose_joint_is_open_stays_cold() -> None:
    machine = read(BOARD)
    assert watts(middle(BOARD), "R1", Setup(unplugged=("R1",))) == 0.0
    assert watts(middle(BOARD), "R1", Setup(power="off")) == approx(0.0, abs=1e-9)
    assert watts(planted(machine, "R1.1 joint-open"), "R1") < 1e-3
    assert watts(planted(machine, "R1 open"), "R1") < 1e-3


def test_a_bench_supply_behind_a_lifted_regulator_leaves_it_cold_and_heats_the_load() -> None:
    fed = Setup(power="off", lifted=("U1.out",), supplied=(("V5", 5.0, 1.0),))
    bank = middle(BOARD)
    assert watts(bank, "U1", fed) < 0.01 < 1.0 < watts(bank, "U1")
    assert watts(bank, "R1", fed) == approx(2.5, rel=0.02)


def test_a_case_turns_into_heat_what_its_units_do() -> None:
    bank = middle("""
machine: Two resistors in one case
parts:
  V1: source 10V series 1R  SUP > GND
  U1: opamp dual  vplus=SUP vminus=GND
  U1A: of U1  plus=P minus=A out=A
  U1B: of U1  plus=P minus=B out=B
  R1: resistor 10k  SUP > P
  R2: resistor 10k  P > GND
  R3: resistor 470R  A > GND
  R4: resistor 1k  B > GND
""")
    both = [watts(bank, unit) for unit in ("U1A", "U1B")]
    assert both[0] > 1.5 * both[1] > 0.0
    assert watts(bank, "U1") == approx(sum(both))


# In time ------------------------------------------------------------------------------------------

MAINS = """
machine: Lamp on a transformer
parts:
  TR1: source mains 10V rms 50Hz series 1R  W1 > GND
  D1: diode rectifier  W1 > RAW
  C1: capacitor 4700u electrolytic  RAW > GND
  U1: regulator fixed 5V  in=RAW out=V5 com=GND
  R1: resistor 20R  V5 > GND
  R2: resistor 99R  W1 > GND
stimuli:
  run: {}
"""


def test_what_moves_heats_by_the_mean_over_a_period() -> None:
    """U^2 / R of a sine by its rms; a regulator by (mean of what goes in - what comes out) I."""
    setup, bank = Setup(stimulus="run"), middle(MAINS)
    across = float(show(bank, Question("dc", "RAW", setup=setup)).value[0])
    rms = float(show(bank, Question("rms", "W1", setup=setup)).value[0])
    assert watts(bank, "R2", setup) == approx(rms**2 / 99.0, rel=0.03)
    assert watts(bank, "U1", setup) == approx((across - 5.0) * 5.0 / 20.0 + across * 5e-3, rel=0.03)


def test_nobody_knows_the_watts_of_what_keeps_a_charge_while_it_moves() -> None:
    shown = show(middle(MAINS), ask_watts("C1", Setup(stimulus="run")))
    assert not shown.judged.any()


# Area by area -------------------------------------------------------------------------------------


def test_areas_turn_into_heat_what_the_whole_machine_does() -> None:
    machine: Machine = read(long_line(3))
    base = draw_laws(build_model(machine, "k"), 2).base
    assert base.is_split
    few = base.part(np.arange(0, base.size, 37), base.ring.take(np.arange(0, base.size, 37)))
    whole = base.part(np.arange(0, base.size, 37), None)
    for part in ("Q21", "R23"):
        ask = ask_watts(part, Setup())
        here, there = show(few, ask), show(whole, ask)
        both = here.judged & there.judged
        assert both.mean() > 0.9
        assert here.value[both] == approx(there.value[both], rel=0.02, abs=1e-6)
        assert np.ptp(there.value[both]) > 0.0


# The most that is believed ------------------------------------------------------------------------


def test_the_most_leaves_out_no_more_than_its_share() -> None:
    value = np.array([1.0, 5.0, 2.0, 9.0, 8.8])
    suspect_of = np.array([0, 1, 0, 2, 3])
    rare, likely = LEFT_OUT / 2.0, 3.0 * LEFT_OUT
    found = extremes_of(value, np.array([0.6, 0.1, 0.3 - likely, likely, 0.0]), suspect_of, 2.0)
    assert (found.likely, found.most, found.suspect) == (1.0, 9.0, 2)
    assert found.judged == approx(0.5)
    found = extremes_of(value, np.array([0.6, 0.1, 0.3 - rare, rare, 0.0]), suspect_of, 1.0)
    assert (found.most, found.suspect) == (5.0, 1)
    many = extremes_of(value, np.array([0.6, 0.1, 0.3 - 2 * rare - likely, likely, 2 * rare]), suspect_of, 1.0)
    assert (many.most, many.suspect) == (9.0, 2)
    nobody = extremes_of(value[:0], value[:0], suspect_of[:0], 1.0)
    assert (nobody.most, nobody.suspect, nobody.judged) == (0.0, -1, 0.0)


def test_the_group_of_a_part_that_is_not_there_is_refused() -> None:
    circuit = middle(BOARD).solved(Setup(unplugged=("R1",))).circuit
    with pytest.raises(KeyError):
        group_of(circuit, "R1")
