"""Steps in time: closed forms, the phasors of the same circuit, and laws that hold for every kind."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from probewright.machine import read
from probewright.machine.kinds import KINDS
from probewright.machine.waves import Course, Pulse, Sine, Step
from probewright.simulation import compiled, scope, stepping
from probewright.simulation.alternating import small_signal
from probewright.simulation.circuit import Batch, Circuit, compile_circuit, healthy_batch
from probewright.simulation.newton import come_to_rest
from probewright.simulation.stepping import Stepper, ticks
from probewright.simulation.storing import admittance
from probewright.simulation.tracing import trace
from test_simulation import alone, many, one_of

IDEAL = "esr 1mR leak 1e12R"  # a capacitor that is nearly nothing else
STEPS = (4e-3, 2e-3, 1e-3)


def on(circuit: Circuit, batch: Batch, stop: float, step: float, place: str = "A") -> tuple[np.ndarray, np.ndarray]:
    """Seconds and volts (variant, time) after a switch-on at nought."""
    found = trace(circuit, batch, [], [place], stop, step, from_nought=True)
    assert found.solved.all()
    return found.seconds, found.volts[place]


def errors_of(circuit: Circuit, batch: Batch, stop: float, steps: tuple[float, ...], closed_form) -> list[float]:
    """Greatest error in V with each step."""
    found = []
    for step in steps:
        seconds, volts = on(circuit, batch, stop, step)
        found.append(float(np.abs(volts - closed_form(seconds)).max()))
    return found


# closed forms


def test_rc_charges_by_its_exponential_with_the_square_of_the_step():
    """v = E (1 - exp (-t / RC)), three values of R; an error of the second order falls to a quarter with half the step."""
    circuit, _ = alone(
        "V1: source 5V series 1mR  IN > GND", "R1: resistor 10k  IN > A", f"C1: capacitor 10u {IDEAL}  A > GND"
    )
    ohms = np.array([5e3, 10e3, 47e3])
    found = errors_of(
        circuit,
        many(circuit, 3, R1_resistance=ohms),
        0.3,
        STEPS,
        lambda t: 5.0 * (1.0 - np.exp(-t / (ohms[:, None] * 10e-6))),
    )
    assert found[2] < 1.5e-4
    assert found[0] / found[1] == approx(4.0, rel=0.25) and found[1] / found[2] == approx(4.0, rel=0.25)


def test_rl_current_rises_by_its_exponential():
    """i = E / R (1 - exp (-t R / L)), seen across 10 ohm of the 15."""
    circuit, batch = alone(
        "V1: source 6V series 1mR  IN > GND", "L1: inductor 100mH 5R  IN > A", "R1: resistor 10R  A > GND"
    )
    found = errors_of(circuit, batch, 0.03, (4e-4, 2e-4), lambda t: 4.0 * (1.0 - np.exp(-t * 15.001 / 0.1)))
    assert found[1] < 6e-4 and found[0] / found[1] == approx(4.0, rel=0.25)


def test_lc_rings_at_its_frequency_and_dies_by_its_loss():
    """Series R L C on a step: v = E (1 - exp (-a t) (cos w t + a / w sin w t)), a = R / 2L, w^2 = 1 / LC - a^2."""
    circuit, batch = alone(
        "V1: source 5V series 1mR  IN > GND", "L1: inductor 10mH 5R  IN > A", f"C1: capacitor 1u {IDEAL}  A > GND"
    )
    a = 5.002 / 2.0 / 10e-3
    w = np.sqrt(1.0 / (10e-3 * 1e-6) - a * a)
    found = errors_of(
        circuit,
        batch,
        5e-3,
        (5e-6, 2.5e-6),
        lambda t: 5.0 * (1.0 - np.exp(-a * t) * (np.cos(w * t) + a / w * np.sin(w * t))),
    )
    assert found[1] < 5e-3 and found[0] / found[1] == approx(4.0, rel=0.1)


def test_a_half_wave_rectifier_conducts_from_where_the_sine_meets_the_reservoir():
    """An ideal diode lets go at pi - atan (w R C) and takes on again where the exponential meets the next sine."""
    farads, ohms, peak = 100e-6, np.array([200.0, 500.0, 1500.0]), 1000.0
    circuit, _ = alone(
        "V1: source 0V series 1mR  AC > GND",
        "D1: diode schottky  AC > A",
        f"C1: capacitor 100u {IDEAL}  A > GND",
        "R1: resistor 500R  A > GND",
    )
    batch = many(circuit, 3, R1_resistance=ohms, V1_signal=peak)
    found = trace(circuit, batch, [Course("V1", swing=Sine(50.0))], ["A", "AC"], 0.06, 4e-5, since=0.04)
    assert found.solved.all()
    turn = 2.0 * np.pi * 50.0 * ohms * farads
    lets_go = np.pi - np.arctan(turn)
    angle = np.full(3, 0.3)
    for _ in range(200):  # sin a = sin b exp (-(2 pi + a - b) / w R C), a fixed point
        angle = np.arcsin(np.sin(lets_go) * np.exp(-(2.0 * np.pi + angle - lets_go) / turn))
    valley = peak * np.sin(angle)
    assert scope.valley(found.volts["A"]) == approx(valley, rel=3e-3)
    assert scope.top(found.volts["A"]) == approx(peak, rel=1e-3)
    turned = 2.0 * np.pi * 50.0 * (found.seconds - 0.04)
    conducts = [turned[one] for one in found.volts["AC"] - found.volts["A"] > 0.1]  # V; Schottky, amps to milliamps
    assert [one[0] for one in conducts] == approx(angle, abs=2.0 * turned[1])
    assert [one[-1] for one in conducts] == approx(lets_go, abs=2.0 * turned[1])


def test_coupled_windings_share_their_field():
    """No load: the secondary has 1 / ratio of the primary's volts, but for the leakage: k / ratio."""
    circuit, batch = alone(
        "V1: source 0V series 1R  A > GND", "T1: transformer ratio 10 primary 1R inductance 10H  p1=A p2=GND s1=S s2=nc tap=GND",
        "R1: resistor 1M  S > GND",
    )  # fmt: skip
    batch = many(circuit, 1, V1_signal=100.0)
    found = trace(circuit, batch, [Course("V1", swing=Sine(50.0))], ["S"], 0.06, 1e-4, since=0.04)
    assert scope.level_at(found.seconds, found.volts["S"], 50.0)[0] == approx(
        100.0 / 10.0 / 2.0 * np.sqrt(0.98), rel=2e-3
    )


# corners


def test_what_jumps_does_not_ring():
    """An edge on a capacitor behind next to nothing: by the trapezoidal rule alone its current would alternate."""
    circuit, batch = alone(
        "V1: source 0V series 1R  IN > GND", "R1: resistor 1R  IN > A", f"C1: capacitor 1u {IDEAL}  A > GND"
    )
    batch = many(circuit, 1, V1_signal=10.0)
    course = Course("V1", swing=Pulse(period=0.02, high=0.01, delay=0.005))
    found = trace(circuit, batch, [course], ["IN", "A"], 0.03, 5e-4)  # 2 us against steps of 500
    amps = (found.volts["IN"] - found.volts["A"])[0]
    late = (found.seconds % 0.01 - 0.005) % 0.01 > 0.3e-3
    # two soft steps of 125 us against 2 us leave 1 / (1 + 62.5) of the 5 A each
    left = 1.05 * 5.0 / 63.5**2
    assert np.abs(amps[late]).max() < left
    assert found.volts["A"][0].max() < 10.0 + 2.0 * left


def test_a_ringing_variant_takes_soft_steps_and_its_neighbours_do_not():
    """A coil cut off by a diode is left with a current that is nought and volts that the rule would turn for ever."""
    circuit, _ = alone(
        "V1: source 0V series 1R  IN > GND", "L1: inductor 200mH 1R  IN > A", "D1: diode rectifier  A > B", "R1: resistor 100R  B > GND",
        "R2: resistor 100k  A > GND",
    )  # fmt: skip
    batch = many(circuit, 2, V1_signal=np.array([10.0, 0.0]))
    found = trace(circuit, batch, [Course("V1", swing=Sine(50.0))], ["A"], 0.06, 2e-4)
    cut = (found.seconds % 0.02 > 0.0145) & (found.seconds % 0.02 < 0.0195)
    expected = 10.0 * np.sin(2 * np.pi * 50 * found.seconds[cut])
    assert found.volts["A"][0, cut] == approx(expected, abs=0.25)  # L di/dt of the 100 uA left is nothing
    assert found.volts["A"][1] == approx(0.0, abs=1e-9)


def test_ticks_end_at_every_corner_and_are_never_too_long():
    course = Course("V1", swing=Pulse(period=1.0, high=0.33))
    found = ticks([course], 0.0, 2.0, 0.1)
    ends = [tick.stop for tick in found]
    assert all(any(abs(end - bend) < 1e-12 for end in ends) for bend in (0.33, 1.0, 1.33, 2.0))
    assert sum(tick.seconds for tick in found) == approx(2.0, rel=1e-8)
    assert max(tick.seconds for tick in found) <= 0.1
    assert [tick.fresh for tick in found].count(True) == 4  # 0, 0.33, 1 and 1.33 s
    for n, tick in enumerate(found):
        if tick.fresh:
            assert tick.soft and found[n + 1].soft and not found[n + 2].soft
            assert tick.seconds == approx(0.25 * found[n + 3].seconds)


def test_a_switch_moves_in_time_and_a_capacitor_holds():
    """Sample and hold: it follows while closed, then falls by exp (-t / R C) of its leak."""
    circuit, batch = alone(
        "V1: source 3V series 1R  IN > GND", "S1: switch 100R  IN > A", "C1: capacitor 1u esr 1mR leak 100k  A > GND"
    )
    course = Course("S1", "closed", share=Pulse(period=0.1, high=0.01, delay=0.02))
    found = trace(circuit, batch, [course], ["A"], 0.1, 1e-3, from_nought=True)
    held = scope.sag(found.seconds, found.volts["A"], 0.03, 0.09)
    assert scope.at(found.seconds, found.volts["A"], np.array([0.0199, 0.03]))[0] == approx([0.0, 3.0], abs=4e-3)
    assert held[0] == approx(3.0 * (1.0 - np.exp(-0.06 / 0.1)), rel=2e-3)


def test_a_step_of_a_source_takes_its_rise():
    circuit, batch = alone("V1: source 8V series 1R  A > GND", "R1: resistor 1k  A > GND")
    found = trace(circuit, batch, [Course("V1", share=Step(0.01, 0.004))], ["A"], 0.02, 1e-3)
    assert scope.at(found.seconds, found.volts["A"], np.array([0.009, 0.012, 0.02]))[0] == approx(
        [0.0, 4.0 / 1.001, 8.0 / 1.001], abs=1e-4
    )


# laws


STORING = [kind for kind in dict.fromkeys(KINDS.values()) if kind.storing is not None]


@pytest.mark.parametrize("kind", STORING, ids=lambda kind: kind.name)
def test_a_settled_sine_is_the_phasor(kind):
    """Every kind that keeps something, fed through 1 kohm: steps in time and the complex solve are one law."""
    circuit = compile_circuit(one_of(kind, "A", *[f"N{n}" for n in range(1, len(kind.pins))]))
    names = "".join(f"  R{n}: resistor 1k  N{n} > GND\n" for n in range(1, len(kind.pins)))
    text = f"machine: m\nparts:\n  V1: source 0V series 1k  A > GND\n{names}"
    fed = read(text)
    whole = replace(fed, parts={**fed.parts, **circuit.machine.parts})
    circuit = compile_circuit(whole)
    batch = healthy_batch(circuit)
    figures = {**batch.figures, ("V1", "signal"): 1.0, ("X1", "capacitance"): 2e-6, ("X1", "inductance"): 0.5}
    batch = replace(batch, figures={key: value for key, value in figures.items() if key in batch.figures})
    hertz = 200.0
    place = "N1"
    phasors = small_signal(circuit, batch, come_to_rest(circuit, batch), hertz)
    found = trace(circuit, batch, [Course("V1", swing=Sine(hertz))], [place, "A"], 0.1, 1.0 / hertz / 100, since=0.08)
    assert found.solved.all()
    for where in (place, "A"):
        size = np.abs(phasors.volts[circuit.at(where)])
        assert scope.level_at(found.seconds, found.volts[where], hertz) == approx(size, rel=2e-3, abs=1e-6)


def test_an_op_amp_follows_late_as_its_pole_says():
    """Gain 100 of a 100 kHz part, at 3 kHz: as its phasor, far beyond the 1 kHz at which it begins to fall."""
    circuit, batch = alone(
        "VP: source 12V  VCC > GND", "VN: source -12V  VEE > GND", "V1: source 0V series 1R  IN > GND",
        "U1: opamp offset 0V  plus=IN minus=F out=OUT vplus=VCC vminus=VEE", "R1: resistor 99k  OUT > F", "R2: resistor 1k  F > GND",
        "R3: resistor 10k  OUT > GND",
    )  # fmt: skip
    batch = many(circuit, 2, V1_signal=np.array([0.01, 0.02]), U1_bandwidth=1e5)
    phasors = small_signal(circuit, batch, come_to_rest(circuit, batch), 3e3)
    found = trace(circuit, batch, [Course("V1", swing=Sine(3e3))], ["OUT"], 2e-3, 1e-6, since=1e-3)
    size = np.abs(phasors.volts[circuit.at("OUT")])
    assert size[0] < 0.5  # of 1 V without its pole
    assert scope.level_at(found.seconds, found.volts["OUT"], 3e3) == approx(size, rel=0.01)


@pytest.mark.parametrize("step", [1e-4, 1e-9])
def test_an_output_at_its_rail_stands_there_however_short_the_steps(step: float):
    """A lag is held where the output has reached its rail, and is heard no further: one level, whatever the step."""
    circuit, _ = alone(
        "VP: source 12V  VCC > GND", "VN: source -12V  VEE > GND", "V1: source 0V series 1R  IN > GND",
        "U1: opamp offset 0V  plus=IN minus=GND out=OUT vplus=VCC vminus=VEE", "R3: resistor 10k  OUT > GND",
    )  # fmt: skip
    batch = many(circuit, 3, V1_volts=np.array([1.0, -0.3, 5.0]))
    found = trace(circuit, batch, [], ["OUT"], 20 * step, step)
    assert found.volts["OUT"][:, -1] == approx(come_to_rest(circuit, batch).volts[circuit.at("OUT")], abs=1e-3)
    assert np.abs(found.volts["OUT"][:, -1]) == approx(10.5, abs=0.1)  # 1.5 V below the supply, 75 ohm into 10 kohm


@pytest.mark.parametrize("kind", list(dict.fromkeys(KINDS.values())), ids=lambda kind: kind.name)
def test_what_is_at_rest_stays_at_rest(kind):
    """No kind moves by itself: 10 V behind 1 kohm on its first pin, 10 kohm to ground on the others, no wave anywhere."""
    part = one_of(kind)
    names = "".join(f"  R{n}: resistor 10k  N{n} > GND\n" for n in range(1, len(kind.pins)))
    fed = read(f"machine: m\nparts:\n  V1: source 10V series 1k  N0 > GND\n{names}")
    circuit = compile_circuit(replace(fed, parts={**fed.parts, **part.parts}))
    batch = healthy_batch(circuit)
    rest = come_to_rest(circuit, batch)
    places = [place for place in circuit.node if place != "GND"]
    found = trace(circuit, batch, [], places, 0.05, 1e-3)
    assert rest.solved.all() and found.solved.all()
    for place in places:
        assert found.volts[place][0] == approx(rest.volts[circuit.at(place)][0], abs=2e-5)


STAGES = (
    "V1: source 0V series 1R  AC > GND",
    "D1: diode rectifier  AC > RAW",
    "C1: capacitor 470u electrolytic  RAW > GND",
    "U1: regulator 5V  in=RAW out=OUT com=GND",
    "R1: resistor 47R  OUT > GND",
)


def supply(size: int) -> tuple[Circuit, Batch, list[Course]]:
    circuit, _ = alone(*STAGES)
    batch = many(
        circuit,
        size,
        V1_signal=np.linspace(9.0, 15.0, size),
        C1_capacitance=np.geomspace(1e-8, 1e-3, size),
        D1_scale=np.where(np.arange(size) == 3, 0.0, 1.0),
    )
    return circuit, batch, [Course("V1", swing=Sine(50.0))]


def test_a_variant_goes_the_same_way_alone():
    circuit, batch, courses = supply(7)
    whole = trace(circuit, batch, courses, ["RAW", "OUT"], 0.05, 2e-4)
    assert whole.solved.all() and whole.volts["RAW"].shape == (7, len(whole.seconds))
    for n in (0, 3, 6):
        one = trace(circuit, batch.take(np.array([n])), courses, ["OUT"], 0.05, 2e-4)
        assert one.volts["OUT"][0] == approx(whole.volts["OUT"][n], abs=2e-4)


def test_blocks_are_put_together_again(monkeypatch):
    circuit, batch, courses = supply(7)
    whole = trace(circuit, batch, courses, ["OUT"], 0.02, 5e-4)
    monkeypatch.setattr("probewright.simulation.tracing.BLOCK", 3)
    apart = trace(circuit, batch, courses, ["OUT"], 0.02, 5e-4)
    assert apart.volts["OUT"] == approx(whole.volts["OUT"], abs=2e-4)


def test_only_what_comes_late_is_kept():
    circuit, batch, courses = supply(2)
    whole = trace(circuit, batch, courses, ["OUT"], 0.05, 2e-4)
    late = trace(circuit, batch, courses, ["OUT"], 0.05, 2e-4, since=0.03)
    assert late.seconds[0] == approx(0.03, abs=2e-4)
    assert late.volts["OUT"] == approx(whole.volts["OUT"][:, -len(late.seconds) :])


def test_a_step_that_is_not_closed_is_taken_in_halves(monkeypatch):
    """With four steps of Newton's method a step hardly ever closes at once; the answer is the same, and none is lost."""
    circuit, batch, courses = supply(5)
    whole = trace(circuit, batch, courses, ["OUT"], 0.02, 1e-4)
    monkeypatch.setattr(stepping, "ITERATIONS", 4)
    depths = []
    plain = Stepper.advance

    def spied(self, now, begin, tick, depth=0):
        depths.append(depth)
        return plain(self, now, begin, tick, depth)

    monkeypatch.setattr(Stepper, "advance", spied)
    with compiled.plainly():
        halved = trace(circuit, batch, courses, ["OUT"], 0.02, 1e-4)
    assert max(depths) >= 1 and halved.solved.all()
    assert halved.volts["OUT"] == approx(whole.volts["OUT"], abs=0.02)


def test_a_variant_that_is_lost_is_said_and_leaves_the_others_alone(monkeypatch):
    circuit, batch, courses = supply(5)
    whole = trace(circuit, batch, courses, ["OUT"], 0.02, 2e-4)
    plain = stepping._close_in

    def stubborn(sheet, start, memory, tried):
        """The variant with the third of the five reservoirs is never closed."""
        volts, controls, closed = plain(sheet, start, memory, tried)
        same = np.isclose(
            np.broadcast_to(sheet.batch.figures["C1", "capacitance"], len(closed)), np.geomspace(1e-8, 1e-3, 5)[2]
        )
        return volts, controls, closed & ~(same & tried)

    monkeypatch.setattr(compiled, "wanted", lambda: False)
    monkeypatch.setattr(stepping, "_close_in", stubborn)
    monkeypatch.setattr(stepping, "settle", lambda sheet, start: (start, np.zeros(sheet.width, bool)))
    found = trace(circuit, batch, courses, ["OUT"], 0.02, 2e-4)
    assert list(found.solved) == [True, True, False, True, True]
    assert np.isnan(found.volts["OUT"][2]).all()
    kept = [0, 1, 3, 4]
    assert found.volts["OUT"][kept] == approx(whole.volts["OUT"][kept], abs=2e-4)


def test_a_latch_goes_over_though_its_step_has_no_close_answer():
    """A Schmitt gate on a slow ramp: at its threshold the answer it was on is gone."""
    circuit, batch = alone(
        "VP: source 5V  VCC > GND", "V1: source 0V series 1k  IN > GND", "U1: schmitt hct  in=IN out=OUT vplus=VCC vminus=GND",
        "R1: resistor 10k  OUT > GND",
    )  # fmt: skip
    batch = many(circuit, 3, V1_signal=np.array([5.0, 4.0, 1.0]))
    course = Course("V1", swing=Pulse(period=4.0, high=2.0, edge=1.0))
    found = trace(circuit, batch, [course], ["IN", "OUT"], 4.0, 0.01)
    assert found.solved.all()
    low = scope.fall_through(found.seconds, found.volts["OUT"], 2.5)
    high = scope.rise_through(found.seconds, found.volts["OUT"], 2.5)
    up, down = (scope.at(found.seconds, found.volts["IN"], t[:, None])[:, 0] for t in (low, high))
    assert (up - down)[:2] == approx(0.8, abs=0.12)  # its hysteresis
    assert np.isnan([low[2], high[2]]).all()


def test_storing_branches_conduct_at_rest_what_their_law_says():
    coil, plates = KINDS["inductor"].storing, KINDS["capacitor"].storing
    assert coil is not None and plates is not None
    p = {"resistance": np.array([[4.0, 5.0]]), "inductance": np.array([[2.0, 3.0]])}
    assert admittance(coil(p), 0.0)[0, 0] == approx(np.array([[0.25, 0.2]]))
    assert admittance(coil(p), 10.0)[0, 0] == approx(np.array([[1 / 24.0, 1 / 35.0]]))
    q = {"esr": np.array([[1.0]]), "capacitance": np.array([[0.5]])}
    assert admittance(plates(q), 0.0)[0, 0] == approx(0.0)
    assert admittance(plates(q), np.array([2.0, 4.0]))[0, 0] == approx(np.array([[0.5, 1 / 1.5]]))


def test_an_oscillator_starts_by_itself_and_beats_as_its_thresholds_say():
    """Three equal resistors put the thresholds at (VCC + OUT) / 3; the output swings from 0.02 V to 1.5 V under 12 V:
    T = R C (ln ((10.5 - 4.007) / (10.5 - 7.5)) + ln ((7.5 - 0.02) / (4.007 - 0.02)))."""
    circuit, batch = alone(
        "VP: source 12V series 1mR  VCC > GND", "R1: resistor 100k  VCC > REF", "R2: resistor 100k  REF > GND",
        "R3: resistor 100k  REF > OUT", "R4: resistor 47k  OUT > RC", f"C1: capacitor 100n {IDEAL}  RC > GND",
        "U1: opamp single-supply  plus=REF minus=RC out=OUT vplus=VCC vminus=GND",
    )  # fmt: skip
    found = trace(
        circuit, batch, [Course("VP", share=Step(0.0, 1e-3))], ["OUT"], 0.03, 1e-4, from_nought=True, since=8e-3
    )
    assert found.solved.all()
    period = 47e3 * 100e-9 * (np.log(6.493 / 3.0) + np.log(7.48 / 3.987))
    assert scope.period(found.seconds, found.volts["OUT"])[0] == approx(period, rel=0.02)
    assert scope.unsteady(found.seconds, found.volts["OUT"])[0] < 0.02


def test_two_transistors_beat_as_their_coupling_discharges():
    """T = (R3 K1 + R4 K2) ln ((2 VCC - Vbe - Vce) / (VCC - Von)): a base is driven down by VCC - Vce from its 0.71 V and rises
    towards VCC until its transistor begins to carry at some 0.6 V."""
    circuit, batch = alone(
        "VP: source 9V series 0.5R  VCC > GND", "R1: resistor 1k  VCC > C1", "R2: resistor 1k  VCC > C2",
        "R3: resistor 47k  VCC > B2", "R4: resistor 47k  VCC > B1", f"K1: capacitor 1u {IDEAL}  C1 > B2",
        f"K2: capacitor 470n {IDEAL}  C2 > B1", "Q1: npn small-signal  c=C1 b=B1 e=GND", "Q2: npn small-signal  c=C2 b=B2 e=GND",
    )  # fmt: skip
    found = trace(
        circuit, batch, [Course("VP", share=Step(0.0, 1e-3))], ["C1"], 0.25, 2e-4, from_nought=True, since=0.06
    )
    assert found.solved.all()
    period = 47e3 * 1.47e-6 * np.log((18.0 - 0.71 - 0.06) / (9.0 - 0.6))
    assert scope.period(found.seconds, found.volts["C1"])[0] == approx(period, rel=0.02)
    assert scope.peak_to_peak(found.volts["C1"])[0] == approx(9.0, abs=0.1)
