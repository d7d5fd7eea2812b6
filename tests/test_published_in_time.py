"""Published figures of supplies and resets that only time can show. The source stands beside each."""

from __future__ import annotations

import numpy as np
import pytest
from pytest import approx

from probewright.machine.waves import Course, Sine
from probewright.simulation import scope
from probewright.simulation.repeating import Repeated, repeat
from probewright.simulation.tracing import trace
from test_simulation import alone, many

NOTHING = 1e-12
VT = 8.617333262e-5 * 300.15  # k T / q at 27 C


def rectified(hertz: float, peak: float, reservoir: str, load: str, size: int, **figures) -> Repeated:
    """A settled period of a bridge fed by `peak` V, its reservoir and load on OUT; diodes that drop 40 mV, if any."""
    circuit, _ = alone(
        "V1: source 0V series 0.01R  A > B",
        "D1: bridge  ac1=A ac2=B plus=OUT minus=GND",
        f"C1: capacitor {reservoir} esr 1mR leak 1e12R  OUT > GND",
        f"R1: resistor {load}  OUT > GND",
    )
    batch = many(circuit, size, **{"V1_signal": peak, "D1_ideality": 0.1, **figures})
    found = repeat(circuit, batch, [Course("V1", swing=Sine(hertz))], ["OUT"], 1.0 / hertz, 1.0 / hertz / 400)
    assert found.trace.solved.all()
    return found


def test_a_diode_open_doubles_the_ripple_and_halves_its_frequency():
    """Malvino, Electronic Principles, 7e, examples 4-6 and 4-8 (p. 110): 24 V rms 60 Hz, 5 kohm, 100 uF. Bridge 34 V and
    0.57 V pp, half-wave 34 V and 1.1 V pp, by I / f C, which is for small ripple; stepped through in time by another
    program 0.529 and 1.068 V pp. One diode of the bridge open is the half-wave row."""
    found = rectified(60.0, 33.94, "100u", "5k", 2, D1_ac1_plus=np.array([1.0, 0.0])).trace
    ripple = scope.peak_to_peak(found.volts["OUT"])
    assert ripple == approx([0.529, 1.068], rel=0.02)
    assert ripple == approx([0.57, 1.1], rel=0.1)
    assert ripple[1] / ripple[0] == approx(2.0, rel=0.03)
    assert scope.top(found.volts["OUT"]) == approx([34.0, 34.0], abs=0.4)
    ratio = scope.once_or_twice(found.seconds, found.volts["OUT"], 60.0)
    assert ratio[0] < 0.02 and ratio[1] > 1.0


def test_a_centre_tapped_winding_gives_half_the_volts_and_half_the_ripple():
    """Malvino, Electronic Principles, 7e, example 4-7 (p. 109): the winding of 33.94 V peak with its tap to ground, two
    diodes, 60 Hz, 5 kohm, 100 uF: 17 V and 0.28 V pp by I / f C, which is for small ripple. One diode open: the half-wave
    row of half the volts."""
    circuit, _ = alone(
        "V1: source 0V series 0.01R  A > GND", "V2: source 0V series 0.01R  GND > B",
        "D1: bridge  ac1=A ac2=B plus=OUT minus=NONE",
        "C1: capacitor 100u esr 1mR leak 1e12R  OUT > GND", "R1: resistor 5k  OUT > GND",
    )  # fmt: skip
    batch = many(circuit, 2, V1_signal=16.97, V2_signal=16.97, D1_ideality=0.1, D1_ac2_plus=np.array([1.0, 0.0]))
    courses = [Course(name, swing=Sine(60.0)) for name in ("V1", "V2")]
    found = repeat(circuit, batch, courses, ["OUT"], 1.0 / 60.0, 1.0 / 60.0 / 400).trace
    assert found.solved.all()
    ripple = scope.peak_to_peak(found.volts["OUT"])
    assert scope.top(found.volts["OUT"]) == approx([17.0, 17.0], abs=0.2)
    assert ripple == approx([0.28, 0.56], rel=0.1) and ripple[1] / ripple[0] == approx(2.0, rel=0.03)


def test_a_loaded_bridge_has_less_ripple_than_the_small_ripple_formula_says():
    """Floyd, Electronic Devices, example 2.7 (p. 58): 14.86 V peak behind the diodes, 60 Hz, 2.2 kohm, 50 uF: ripple
    factor 0.079 by V / 2 f R C, with a diode open 0.164. In truth the reservoir runs down for a shorter time, to where
    the sine meets it: sin a = exp (-(c + a) / w R C), c = pi / 2, or 3 pi / 2 with a diode open."""
    found = rectified(60.0, 14.86, "50u", "2k2", 2, D1_minus_ac1=np.array([1.0, 0.0])).trace
    ripple, turn = scope.peak_to_peak(found.volts["OUT"]), 2.0 * np.pi * 60.0 * 2200.0 * 50e-6
    meets = np.array([1.2, 1.2])
    for _ in range(100):
        meets = np.arcsin(np.exp(-(np.array([0.5, 1.5]) * np.pi + meets) / turn))
    assert ripple == approx(14.86 * (1.0 - np.sin(meets)), rel=0.02)
    factor = ripple / scope.mean(found.seconds, found.volts["OUT"])
    assert np.all(factor < [0.079, 0.164]) and np.all(factor > [0.06, 0.12])


def test_four_readings_of_a_bridge_and_what_is_open():
    """A published student exercise, 20 V rms 50 Hz, 1000 uF, 40 ohm: 24 V, capacitor open 18, load open 28, one diode and
    the capacitor open 9. Stepped through by another program with ideal diodes: 25.8, 18.0, 28.3, 9.0."""
    found = rectified(
        50.0, 28.28, "1000u", "40R", 4,
        C1_capacitance=np.array([1e-3, NOTHING, 1e-3, NOTHING]),
        R1_resistance=np.array([40.0, 40.0, 1e9, 40.0]),
        D1_ac2_plus=np.array([1.0, 1.0, 1.0, 0.0]),
    ).trace  # fmt: skip
    mean = scope.mean(found.seconds, found.volts["OUT"])
    assert mean == approx([24.0, 18.0, 28.0, 9.0], rel=0.08)
    assert mean == approx([25.8, 18.0, 28.3, 9.0], rel=0.03)


def test_the_same_bridge_of_silicon_and_with_one_diode_open():
    """The same exercise with diodes that drop 0.7 V: 24.5, 16.6, 26.9 and 8.3 V, and with one diode open and the capacitor in
    place 22.1 V, stepped through by another program; the 12 V that the exercise says of the last are not a mean of it."""
    found = rectified(
        50.0, 28.28, "1000u", "40R", 5,
        D1_ideality=1.0,
        D1_saturation=1.0 / np.exp(0.7 / VT),  # 0.7 V at 1 A, 40 mV more or less at five times and a fifth
        C1_capacitance=np.array([1e-3, NOTHING, 1e-3, NOTHING, 1e-3]),
        R1_resistance=np.array([40.0, 40.0, 1e9, 40.0, 40.0]),
        D1_ac2_plus=np.array([1.0, 1.0, 1.0, 0.0, 0.0]),
    ).trace  # fmt: skip
    mean = scope.mean(found.seconds, found.volts["OUT"])
    assert mean == approx([24.5, 16.6, 26.9, 8.3, 22.1], rel=0.03)


@pytest.mark.parametrize(("level", "seconds"), [(2.0, 51.08e-3), (1.7, 41.55e-3)])
def test_a_reset_takes_rc_times_the_logarithm(level: float, seconds: float):
    """t = R C ln (VCC / (VCC - V)): 10 kohm, 10 uF and 5 V, to 2.0 V, and to the 1.7 V of a Schmitt gate (VT+ of the 7413
    data sheet). The gate is typed with half its hysteresis of 0.8 V below that; its output falls then."""
    circuit, _ = alone(
        "VP: source 5V series 1mR  VCC > GND",
        "R1: resistor 10k  VCC > A",
        "C1: capacitor 10u esr 1mR leak 1e12R  A > GND",
        "U1: schmitt hct  in=A out=OUT vplus=VCC vminus=GND",
    )
    batch = many(circuit, 2, U1_threshold=np.array([level - 0.4, 9.0]))
    found = trace(circuit, batch, [], ["A", "OUT"], 0.08, 5e-4, from_nought=True)
    assert found.solved.all()
    assert scope.rise_through(found.seconds, found.volts["A"], level)[1] == approx(seconds, rel=1e-3)
    falls = scope.fall_through(found.seconds, found.volts["OUT"], 2.5)
    assert falls[0] == approx(seconds, rel=0.02)  # the gate's corner is 50 mV wide
    assert np.isnan(falls[1])  # a threshold that is never reached: it never lets go
    assert 10e-3 < falls[0] < 500e-3  # as long as a reset usually is: common practice, no source
