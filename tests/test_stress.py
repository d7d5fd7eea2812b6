"""What a part has to bear, against textbooks and ngspice: watts, volts, amps, ripple current, warmth."""

from __future__ import annotations

import re
import subprocess
from math import acos, pi, sqrt
from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from hidden import planted
from probewright.machine import read
from probewright.planning.overload import bearings, heat_path
from probewright.prediction.bank import SOUND, SOUND_IN_TIME, Bank
from probewright.prediction.cells import build_model
from probewright.prediction.stress import borne, every_fault, middling, sound_ones
from probewright.readings import Setup

RUN = Setup(stimulus="run")
FULL_WAVE = """
machine: Bridge and reservoir
parts:
  TR1: source mains 150V rms 50Hz series 0.02R  W1 > W2
  BR1: bridge  ~1=W1 ~2=W2 +=RAW -=GND
  C1: capacitor 220u electrolytic esr 0.02R  RAW > GND
  R1: resistor 400R hot  RAW > GND
stimuli:
  run: {}
"""
SERIES = """
machine: Series regulator and shunt
extras:
  PSU: source 15V series 0.5R limit 3A  RAW > GND
  LOAD: load 25R  V5 > GND
parts:
  U1: regulator fixed 5V  in=RAW out=V5 com=GND
  R1: resistor 470R 1W  RAW > REF
  Z1: zener 6V8 1W  GND > REF
  R2: resistor 2k2  REF > GND
heat:
  U1: {with heatsink: 8 K/W, bare: 65 K/W, limit: 125 C}
"""
STAGE = """
machine: A common emitter
extras:
  PSU: source 12V series 1R  VCC > GND
  GEN: source 0V series 50R  IN > GND
parts:
  C1: capacitor 10u electrolytic  BASE > IN
  R1: resistor 100k  VCC > BASE
  R2: resistor 22k  BASE > GND
  Q1: npn gain 200  c=OUT b=BASE e=E
  RC: resistor 4k7  VCC > OUT
  RE: resistor 1k  E > GND
  CE: capacitor 470u electrolytic  E > GND
  C2: capacitor 10u electrolytic  OUT > LINE
  R3: resistor 10k  LINE > GND
stimuli:
  soft: {GEN: 0V sine 0.5mV rms 1kHz}
  tone: {GEN: 0V sine 100mV rms 1kHz}
"""
SIGNAL = """
machine: A sine on a rest point
extras:
  GEN: source 6V series 600R  IN > GND
parts:
  R1: resistor 1k4  IN > GND
  C1: capacitor 1u film  IN > OUT
  R2: resistor 10k  OUT > GND
stimuli:
  tone: {GEN: 6V sine 2V rms 1kHz}
"""


def middle(text: str) -> Bank:
    return middling(build_model(read(text), "k"))


def of(bank: Bank, part: str, what: str, setup: Setup = RUN) -> float:
    shown = borne(bank, part, setup)[what]
    assert shown.judged[0]
    return float(shown.value[0])


# A rectifier ---------------------------------------------------------------------------------------


def test_the_ripple_current_of_a_full_wave_rectifier_is_the_textbooks():
    """Sedra and Smith, Microelectronic circuits (peak rectifier, full wave): the capacitor is charged while cos w t rises
    from 1 - Vr / Vp to 1, its current a triangle that falls to nought at the crest and brings what the load takes in the
    rest of the half period, Q = IL (T / 2 - dt); Vr = Q / C.

    Good to 7 %: the current falls along a sine, and steps of 0.2 ms smear the edge of a pulse of 1.4 ms.
    """
    bank, farads, half = middle(FULL_WAVE), 220e-6, 0.01
    peak, amps = of(bank, "C1", "volts"), sqrt(of(bank, "R1", "watts") / 400.0)
    conducting = 0.0
    for _ in range(50):
        ripple = amps * (half - conducting) / farads
        conducting = acos(1.0 - ripple / peak) / (2.0 * pi * 50.0)
    top = 2.0 * amps * (half - conducting) / conducting
    rms = sqrt((top**2 * conducting / 3.0 + amps**2 * (half - conducting)) / half)
    assert of(bank, "C1", "ripple amps") == approx(rms, rel=0.07)


def test_each_diode_of_a_bridge_carries_half_and_bears_the_peak():
    """Mean current IL / 2, peak inverse voltage the peak across the load: Sedra and Smith, bridge rectifier."""
    bank = middle(FULL_WAVE)
    amps = sqrt(of(bank, "R1", "watts") / 400.0)
    assert of(bank, "BR1", "amps") == approx(amps, rel=0.02)  # both diodes at minus together
    assert of(bank, "BR1", "reverse volts") == approx(of(bank, "R1", "volts"), rel=1e-6)


@pytest.mark.parametrize(("ohms", "off"), [(1.0, 0.02), (0.02, 0.05)], ids=["a transformer", "a stiff source"])
def test_the_ripple_current_agrees_with_ngspice(ohms: float, off: float, ngspice: str, tmp_path: Path):
    """The same circuit typed as a deck, in steps of 10 us; behind a stiff source the edge of the pulse is smeared."""
    deck = f"""* bridge and reservoir
v1 a w2 sin(0 21.2132 50)
rw w2 0 10meg
r1 a w1 {ohms}
d1 w1 raw d
d2 w2 raw d
d3 0 w1 d
d4 0 w2 d
.model d d(is=1e-8 n=1.75)
vc raw c 0
rc c cc 0.02
c1 cc 0 4700u ic=18
rl raw 0 40
.options reltol=1e-5 temp=27
.control
tran 10u 1 0.9 10u uic
meas tran ripple rms i(vc) from=0.94 to=1
quit
.endc
.end
"""
    path = tmp_path / "deck.cir"
    path.write_text(deck)
    said = subprocess.run([ngspice, "-b", str(path)], capture_output=True, text=True, timeout=60).stdout
    found = re.search(r"ripple\s*=\s*([-+.\deE]+)", said)
    assert found, said[-500:]
    small = FULL_WAVE.replace("150V", "15V").replace("220u", "4700u").replace("400R", "40R")
    ours = of(middle(small.replace("series 0.02R", f"series {ohms}R")), "C1", "ripple amps")
    assert ours == approx(float(found[1]), rel=off)


# Watts and warmth ----------------------------------------------------------------------------------


def test_a_series_regulator_a_zener_and_its_resistor_by_the_textbook():
    """P = (Vin - Vout) I + Vin Iq; Pz = Vz ((Vs - Vz) / R - Vz / Rl); junction = air + P R: Horowitz and Hill, The art of
    electronics, chapters on regulators and heat."""
    bank = middle(SERIES)
    model = build_model(read(SERIES), "k")
    rows = {one.what: one for one in bearings(model, "U1")}
    volts = of(bank, "U1", "input volts", Setup())
    amps, reference = 5.0 / 25.0, of(bank, "R2", "volts", Setup())
    watts = of(bank, "U1", "watts", Setup())
    assert watts == approx((volts - 5.0) * amps + volts * 5e-3, rel=2e-3)
    assert of(bank, "Z1", "watts", Setup()) == approx(
        reference * ((volts - reference) / 470.0 - reference / 2200.0), rel=1e-3
    )
    assert of(bank, "R1", "watts", Setup()) == approx((volts - reference) ** 2 / 470.0, rel=1e-6)
    path = heat_path(model.machine, "U1")
    assert path is not None and path.celsius(watts) == approx(35.0 + 8.0 * watts)
    assert rows["junction"].low <= path.celsius(watts) <= rows["junction"].high


def test_a_signal_adds_its_share_to_what_is_there_at_rest():
    """U^2 / R of both; the peak is the rest and the crest; I = U / |Z| through a coupling capacitor."""
    bank, tone = middle(SIGNAL), Setup(stimulus="tone")
    omega = 2.0 * pi * 1000.0
    through = 1.0 / (10e3 + 0.05 + 1.0 / (1j * omega * 1e-6))
    loaded = 1.0 / (1.0 / 1400.0 + through)
    signal = abs(2.0 * loaded / (600.0 + loaded))
    rest = 6.0 * 1400.0 / 2000.0
    assert of(bank, "R1", "watts", tone) == approx((rest**2 + signal**2) / 1400.0, rel=5e-3)
    assert of(bank, "R1", "volts", tone) == approx(rest + sqrt(2.0) * signal, rel=5e-3)
    assert of(bank, "C1", "ripple amps", tone) == approx(abs(signal * through), rel=5e-3)
    assert of(bank, "R1", "watts", Setup()) == approx(rest**2 / 1400.0, rel=1e-6)


def test_watts_and_amps_of_a_diode_are_those_of_the_rest_point_whatever_the_signal():
    """A sine adds nothing to its own mean, and a signal is laid on the rest point without moving it."""
    bank = middle(SIGNAL.replace("R2: resistor 10k  OUT > GND", "R2: resistor 10k  OUT > GND\n  D1: diode  IN > GND"))
    quiet, loud = (borne(bank, "D1", Setup(stimulus=name)) for name in ("", "tone"))
    for what in ("amps", "watts"):
        assert loud[what].value == approx(quiet[what].value, rel=1e-9) and quiet[what].value > 0.0
    assert loud["reverse volts"].value >= quiet["reverse volts"].value


def test_what_an_amplifier_does_at_its_rail_is_no_small_signal(demo_folder: Path):
    """Some sound mixers of the demo clip; their small signal would send amperes through the fuse."""
    text = (demo_folder / "fernside-lm-2.yaml").read_text("utf-8")
    shown = borne(sound_ones(build_model(read(text), "k")), "F1", Setup(stimulus="tone"))["amps"]
    assert shown.judged.all() and 0.01 < shown.value.min() and shown.value.max() < 0.05


# Beyond a straight line ----------------------------------------------------------------------------


def test_a_stage_puts_no_more_across_itself_than_its_supply():
    """Kirchhoff: without a coil what lies between two rails stands between them; a sine between them has U^2 / (8 R) at
    most in a load, U its whole height."""
    bank, loud = middle(STAGE), Setup(stimulus="tone")
    rest = of(bank, "Q1", "volts", Setup())
    assert rest < of(bank, "Q1", "volts", loud) < 12.6
    assert 0.0 < of(bank, "R3", "watts", loud) < 12.6**2 / 8.0 / 10e3
    assert of(bank, "RC", "volts", loud) < 12.6


def test_a_signal_that_fits_is_left_as_it_is():
    """Gain of a common emitter with its emitter at ground for the signal: gm Rc || Rl, gm = Ic / 26 mV (Sedra and Smith);
    the source gives up a hundredth at 50 ohm against some kilohm."""
    bank, soft = middle(STAGE), Setup(stimulus="soft")
    amps, rest = (of(bank, "Q1", what, Setup()) for what in ("amps", "volts"))
    gain = amps / 0.02586 / (1.0 / 4700.0 + 1.0 / 10e3)
    assert of(bank, "Q1", "volts", soft) - rest == approx(gain * 0.5e-3 * sqrt(2.0), rel=0.03)


def test_a_stage_with_a_coil_swings_beyond_its_supply_and_no_further_than_twice_that():
    """A choke holds the mean of its volts at nought, so a collector goes as far above the rail as below it."""
    text = STAGE.replace("RC: resistor 4k7", "RC: inductor 10H").replace("100mV", "20mV")
    bank, loud = middle(text), Setup(stimulus="tone")
    rest = of(bank, "Q1", "volts", Setup())
    assert 13.0 < of(bank, "Q1", "volts", loud) <= 2.0 * rest + 1e-9


@pytest.mark.parametrize(
    "part",
    ["Q9: npn  c=OUT b=GND e=GND", "J9: n-jfet  d=PSU g=IN s=SRC\n  R9: resistor 10k  SRC > GND"],
    ids=["a muting transistor", "a gate at ground"],
)
def test_what_goes_below_ground_rightly_takes_nothing_from_the_signal(part: str):
    """On one supply a transistor that shorts the line is off at nought, and the gate of a follower rests at nought."""
    plain = SIGNAL.replace("6V", "0V")
    feed = "  PSU: source 30V  PSU > GND\nparts:"
    with_it = plain.replace("parts:", feed).replace("stimuli:", f"  {part}\nstimuli:")
    watts = [of(middle(text), "R2", "watts", Setup(stimulus="tone")) for text in (plain, with_it)]
    assert watts[1] == approx(watts[0], rel=1e-3)


def test_a_fault_that_makes_a_stage_clip_kills_neither_the_stage_nor_its_load():
    """RF short, so the stage gains twenty times as much: the load still has 12 V to share with it."""
    text = STAGE.replace("e=E", "e=F").replace("  RE:", "  RF: resistor 470R  F > E\n  RE:")
    each = every_fault(build_model(read(text), "k"))
    row = [each.model.suspects[each.model.cells[span.cell].suspect].id for span in each.spans].index("RF short")
    volts, watts = (
        borne(each, part, Setup(stimulus="tone"))[what] for part, what in (("Q1", "volts"), ("R3", "watts"))
    )
    assert volts.judged[row] and volts.value[row] < 12.6 and watts.value[row] < 12.6**2 / 8.0 / 10e3


# Every fault ---------------------------------------------------------------------------------------


def test_each_fault_of_the_bank_is_the_fault_planted_by_itself():
    machine = read(SERIES)
    model = build_model(machine, "k")
    each = every_fault(model)
    shown = borne(each, "R1", Setup())["watts"]
    ids = [model.suspects[model.cells[span.cell].suspect].id for span in each.spans]
    for name in ("Z1 short", "R2 short", "U1 open"):
        row = ids.index(name)
        assert shown.value[row] == approx(of(planted(machine, name), "R1", "watts", Setup()), rel=1e-6)
    assert not any(model.suspects[model.cells[span.cell].suspect].unlisted for span in each.spans)
    assert len(set(ids)) < each.size == len(shown.value)


def test_a_case_sums_its_watts_and_takes_the_greatest_of_all_else():
    text = """
machine: Two amplifiers in one case
parts:
  V1: source 10V series 1R  SUP > GND
  U1: opamp dual  vplus=SUP vminus=GND
  U1A: of U1  plus=P minus=A out=A
  U1B: of U1  plus=P minus=B out=B
  R1: resistor 10k  SUP > P
  R2: resistor 10k  P > GND
  R3: resistor 470R  A > GND
"""
    bank = middle(text)
    units = [of(bank, unit, "watts", Setup()) for unit in ("U1A", "U1B")]
    assert of(bank, "U1", "watts", Setup()) == approx(sum(units)) and units[0] > units[1]
    assert of(bank, "U1", "supply volts", Setup()) == approx(of(bank, "U1A", "supply volts", Setup()))


def test_in_time_a_few_sound_machines_stand_for_all():
    shown = borne(sound_ones(build_model(read(FULL_WAVE), "k")), "C1", RUN)["ripple amps"]
    assert shown.value.shape == shown.judged.shape == (SOUND,) and shown.judged.all()
    assert np.array_equal(shown.value[:SOUND_IN_TIME], shown.value[SOUND_IN_TIME : 2 * SOUND_IN_TIME])
    assert len(np.unique(shown.value)) == SOUND_IN_TIME


@pytest.mark.parametrize("part", ["TR1", "C1"])
def test_what_cannot_be_said_is_left_out(part: str):
    """Watts of a capacitor in time, and all of a source that moves by itself."""
    shown = borne(middle(FULL_WAVE), part, RUN)
    assert "watts" not in shown and (shown == {}) == (part == "TR1")
    assert all(np.isfinite(one.value).all() for one in shown.values())
