"""Worked examples from books: the circuit as printed, the readings as printed, the source beside each."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from probewright.hypotheses import Fault, Severity, Suspect
from probewright.hypotheses.modes import edits, middle
from probewright.machine import Machine, read
from probewright.machine.edits import AddPath
from probewright.machine.model import GROUND
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import Cell, Model
from probewright.prediction.latents import find_latents
from probewright.prediction.outcomes import show
from probewright.readings import Question, Setup
from probewright.simulation.alternating import small_signal
from probewright.simulation.circuit import compile_circuit, healthy_batch
from probewright.simulation.newton import come_to_rest

BOOK = 0.12  # V: the worst row of the table, 9.29 for a printed 9.4, is 0.11 off
RECOMPUTED = 0.01  # V: two decimals, and a thermal voltage of 25.85 for our 25.865 mV


def machine(*lines: str) -> Machine:
    return read("machine: example\nparts:\n" + "".join(f"  {line}\n" for line in lines))


def faulty(bench: Machine, *faults: Fault) -> Bank:
    """One variant a fault, every figure in the middle of its law, every severity in the middle of its own."""

    def exact(fault: Fault) -> Fault:
        law = fault.severity
        return (
            fault if law is None else replace(fault, severity=replace(law, low=middle(law), high=middle(law), bins=1))
        )

    healthy = Suspect("nothing-wrong", (), 0.5, 0.5, "", "")
    broken = tuple(Suspect(f"{one.item} {one.mode}", (exact(one),), 0.5, 0.5, "", "") for one in faults)
    cells = tuple(Cell(n, 0) for n in range(1 + len(broken)))
    latents = find_latents(bench)
    spans = [Span(n, n - 1, n) for n in range(1, len(cells))] or [Span(0, 0, 1)]
    model = Model(bench, (healthy, *broken), cells, latents, "books")
    return Bank(model, spans, np.zeros((len(latents.keys) + 1, len(spans))))


def meter(bench: Machine, *faults: Fault, at: str) -> list[float]:
    """What the 10 Mohm meter shows at these nets with one fault, or with none."""
    bank = faulty(bench, *faults)
    shown = [show(bank, Question("dc", net)) for net in at.split()]
    assert all(one.judged.all() for one in shown)
    return [float(one.value[0]) for one in shown]


# A. P. Malvino and D. Bates, Electronic Principles, 7th edition, example 8-1 (circuit) and the table
# "Troubles and symptoms" of the same chapter. Worked with 1e-14 A, gain 150, reverse gain 1.
DIVIDER_BIAS = (
    "PSU: source 10V  VCC > GND",
    "R1: resistor 10k  VCC > B",
    "R2: resistor 2k2  B > GND",
    "RC: resistor 3k6  VCC > C",
    "RE: resistor 1k  E > GND",
    "Q1: npn gain 150 saturation 1e-14A reverse gain 1  c=C b=B e=E",
)
TROUBLES = [  # fault, base, emitter, collector: printed, then worked again
    (None, (1.8, 1.1, 6.0), (1.79, 1.13, 5.95)),
    (Fault("R1", "short"), (10.0, 9.3, 9.4), (10.00, 9.27, 9.29)),
    (Fault("R1", "open"), (0.0, 0.0, 10.0), (0.00, 0.00, 10.00)),
    (Fault("R2", "short"), (0.0, 0.0, 10.0), (0.00, 0.00, 10.00)),
    (Fault("R2", "open"), (3.4, 2.7, 2.8), (3.37, 2.68, 2.73)),
    (Fault("RE", "short"), (0.71, 0.0, 0.06), (0.69, 0.00, 0.05)),
    (Fault("RE", "open"), (1.8, 1.37, 10.0), (1.80, 1.38, 10.00)),
    (Fault("RC", "short"), (1.79, 1.08, 10.0), (1.79, 1.13, 10.00)),
    (Fault("RC", "open"), (1.07, 0.4, 0.43), (1.06, 0.41, 0.43)),
    (Fault("Q1", "all-short"), (2.06, 2.06, 2.06), (2.06, 2.06, 2.06)),
    (Fault("Q1", "all-open"), (1.8, 0.0, 10.0), (1.80, 0.00, 10.00)),
    (Fault("PSU", "dead"), (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)),
]


@pytest.mark.parametrize(
    ("fault", "printed", "again"), TROUBLES, ids=lambda one: f"{one.item} {one.mode}" if isinstance(one, Fault) else ""
)
def test_troubles_and_symptoms_of_a_divider_biased_stage(
    fault: Fault | None, printed: tuple[float, ...], again: tuple[float, ...]
) -> None:
    found = meter(machine(*DIVIDER_BIAS), *([fault] if fault else []), at="B E C")
    assert found == approx(printed, abs=BOOK)
    assert found == approx(again, abs=RECOMPUTED)


def test_example_8_1_itself() -> None:
    """The same page: collector-emitter voltage 4.92 V, with 0.7 V assumed and no base current.

    Both assumptions together leave 0.1 V: the junction has 0.66 V at 1.1 mA, and 7.5 uA of base
    current lower the divider by 14 mV.
    """
    _, emitter, collector = meter(machine(*DIVIDER_BIAS), at="B E C")
    assert collector - emitter == approx(4.92, abs=BOOK)


def test_the_emitter_reads_by_the_meter_alone_when_its_resistor_is_open() -> None:
    """Without the meter's 10 Mohm nothing would set the emitter; a tenth of the ohms, 60 mV lower."""
    bench = machine(*DIVIDER_BIAS, "M1: resistor 1M  E > GND")
    ten = meter(machine(*DIVIDER_BIAS), Fault("RE", "open"), at="E")[0]
    one = meter(bench, Fault("RE", "open"), at="E")[0]
    assert ten - one == approx(0.025865 * np.log(11.0), abs=2e-3)  # 10 M, then 10 M beside 1 M


def test_two_troubles_read_alike() -> None:
    """R1 open and R2 short give the same three voltages; the printed table does not separate them."""
    bank = faulty(machine(*DIVIDER_BIAS), Fault("R1", "open"), Fault("R2", "short"))
    for net in ("B", "E", "C"):
        first, second = show(bank, Question("dc", net)).value
        assert first == approx(second, abs=1e-3)


# T. L. Floyd, Electronic Devices, "Troubleshooting a biased transistor": VBB 3 V, VCC 9 V, gain 200;
# RB 56k and RC 560 as recalled. Base current (3 - 0.7) / 56k = 41.1 uA, collector 9 - 200 x 41.1 uA x 560.
BASE_BIAS = (
    "VBB: source 3V  BB > GND",
    "VCC: source 9V  CC > GND",
    "RB: resistor 56k  BB > B",
    "RC: resistor 560R  CC > C",
    "Q1: npn gain 200 saturation 1e-14A  c=C b=B e=GND",
)


def test_base_bias_when_all_is_well() -> None:
    """0.71 V across the junction at 8.2 mA instead of 0.7 V: 1.3 mV of collector for each mV of base, 2 mV a mV."""
    base, collector = meter(machine(*BASE_BIAS), at="B C")
    assert base == approx(0.7, abs=0.02)
    assert collector == approx(4.40, abs=0.03)
    assert (9.0 - collector) / 560.0 == approx(8.21e-3, rel=0.01)


@pytest.mark.parametrize(
    ("fault", "base", "collector"),
    [
        (Fault("RB", "open"), (0.0, 0.0), (9.0, 9.0)),
        (Fault("RC", "open"), (0.5, 0.7), (0.0, 0.1)),
        (Fault("Q1", "base-open"), (3.0, 3.0), (9.0, 9.0)),
        (Fault("Q1", "emitter-open"), (3.0, 3.0), (9.0, 9.0)),
        (Fault("Q1", "collector-open"), (0.5, 0.7), (9.0, 9.0)),
    ],
    ids=lambda one: f"{one.item} {one.mode}" if isinstance(one, Fault) else "",
)
def test_base_bias_symptoms(fault: Fault, base: tuple[float, float], collector: tuple[float, float]) -> None:
    """The same page. A meter at the base takes 17 mV off 3 V behind 56k, and leaves 30 mV of 3 V behind
    an open part, which is 1 Gohm here; 0.7 V stands for 0.71 as well."""
    at_base, at_collector = meter(machine(*BASE_BIAS), fault, at="B C")
    assert base[0] - 0.03 <= at_base <= base[1] + 0.03
    assert collector[0] - 0.02 <= at_collector <= collector[1] + 0.02


# A. P. Malvino and D. Bates, Electronic Principles, 7th edition, examples 5-3 (p. 149) and 5-7 (p. 153),
# and the table of troubles of the same chapter as recalled.
ZENER = (
    "PSU: source 18V  IN > GND",
    "RS: resistor 270R  IN > Z",
    "D1: zener 10V slope 8.5R  GND > Z",
    "W1: lead 1mR  Z > LOAD",
    "RL: load 1k  LOAD > GND",
)


def test_zener_current() -> None:
    """Example 5-3: 19.6 mA with an ideal 10 V; 1 ohm here, since a knee of 20 mV asks for more than none."""
    zener = meter(machine(*(line.replace("8.5R", "1R") for line in ZENER)), at="Z")[0]
    assert (18.0 - zener) / 270.0 - zener / 1e3 == approx(19.63e-3, rel=0.01)


def test_zener_slope() -> None:
    """Example 5-7: 20 mA through 8.5 ohm above 10 V makes 10.17 V."""
    bench = machine("I1: source 1020V series 50k  Z > GND", "D1: zener 10V slope 8.5R  GND > Z")
    assert meter(bench, at="Z")[0] == approx(10.17, abs=RECOMPUTED)


# The printed 10.3 and 10.5 V ask for a slope of about 20 ohm; with the 8.5 ohm of example 5-7 the
# zener reads 10.16 and 10.24 V. A zener of 10 V is good to 5 %, so the table cannot mean less than
# 0.3 V; where no zener current flows nothing but Ohm's law is left.
ZENER_PRINTED, OHMS_LAW = 0.3, 0.06


@pytest.mark.parametrize(
    ("fault", "printed", "within"),
    [
        (None, (18.0, 10.3, 10.3), ZENER_PRINTED),
        (Fault("D1", "short", Severity(0.05, 5.0, "ohm")), (18.0, 0.0, 0.0), OHMS_LAW),
        (Fault("D1", "open"), (18.0, 14.2, 14.2), OHMS_LAW),
        (Fault("RS", "short"), (18.0, 18.0, 18.0), ZENER_PRINTED),  # 0.9 A through a supply of 0.1 ohm
        (Fault("RS", "open"), (18.0, 0.0, 0.0), OHMS_LAW),
        (Fault("W1", "open"), (18.0, 10.5, 0.0), ZENER_PRINTED),
        (Fault("PSU", "dead"), (0.0, 0.0, 0.0), OHMS_LAW),
    ],
    ids=lambda one: f"{one.item} {one.mode}" if isinstance(one, Fault) else "",
)
def test_troubles_of_a_zener_regulator(fault: Fault | None, printed: tuple[float, ...], within: float) -> None:
    found = meter(machine(*ZENER), *([fault] if fault else []), at="IN Z LOAD")
    assert found == approx(printed, abs=within)


def test_a_zener_that_is_open_leaves_the_divider() -> None:
    """18 V x 1000 / 1270 = 14.17 V; an open zener and one not connected read alike."""
    bank = faulty(machine(*ZENER), Fault("D1", "open"), Fault("D1.k", "joint-open"))
    assert show(bank, Question("dc", "Z")).value == approx([14.17, 14.17], abs=RECOMPUTED)


# M. Aminian and F. Aminian, IEEE Trans. Circuits and Systems II 47 (2000) 151-156: Sallen-Key
# band-pass; C1 = C2 = 5 nF, R2 = 3k, R3 = 2k, faults of 50 % either way; R1 = 1k and R4 = R5 = 4k as
# recalled. Figures from w0^2 = (R1 + R2) / (R1 R2 R3 C1 C2),
# w0 / Q = 1/(R1 C1) + 1/(R3 C1) + 1/(R3 C2) + (1 - K)/(R2 C1), peak = K / (R1 C1) / (w0 / Q), K = 2.
BAND_PASS = (
    "P: source 12V  HIGH > GND",
    "N: source 12V  GND > LOW",
    "GEN: source 0V series 1mR  IN > GND",
    "R1: resistor 1k  IN > A",
    "R2: resistor 3k  OUT > A",
    "C1: capacitor 5n film  A > GND",
    "C2: capacitor 5n film  A > PLUS",
    "R3: resistor 2k  PLUS > GND",
    "U1: opamp bandwidth 900MHz gain 1M output 100mR input 1G  plus=PLUS minus=FB out=OUT vplus=HIGH vminus=LOW",
    "R4: resistor 4k  OUT > FB",
    "R5: resistor 4k  FB > GND",
)
CLASSES = [  # part, factor, f0 Hz, Q, peak gain
    ("", 1.0, 25990.0, 0.4899, 1.2000),
    ("C1", 1.5, 21221.0, 0.5217, 1.0435),
    ("C1", 0.5, 36755.0, 0.4075, 1.4118),
    ("C2", 1.5, 21221.0, 0.4444, 1.3333),
    ("C2", 0.5, 36755.0, 0.5329, 0.9231),
    ("R2", 1.5, 24883.0, 0.4397, 1.1250),
    ("R2", 0.5, 29058.0, 0.6847, 1.5000),
    ("R3", 1.5, 21221.0, 0.5000, 1.5000),
    ("R3", 0.5, 36755.0, 0.4330, 0.7500),
]


class Sweep:
    """All nine classes of the band-pass at once, one frequency after the other."""

    def __init__(self) -> None:
        self.circuit = compile_circuit(machine(*BAND_PASS))
        healthy = healthy_batch(self.circuit)
        figures = {**healthy.figures, ("GEN", "signal"): 1e-3}
        for name, figure in (("C1", "capacitance"), ("C2", "capacitance"), ("R2", "resistance"), ("R3", "resistance")):
            factor = np.array([times if part == name else 1.0 for part, times, *_ in CLASSES])
            figures[name, figure] = healthy.figures[name, figure] * factor
        self.batch = replace(healthy, size=len(CLASSES), figures=figures)
        self.rest = come_to_rest(self.circuit, self.batch)
        hertz = np.geomspace(4e3, 2e5, 160)
        self.log_hertz = np.log(hertz)
        self.gain = np.array([self.at(one) for one in hertz])  # (frequency, class)

    def at(self, hertz: float) -> np.ndarray:
        found = small_signal(self.circuit, self.batch, self.rest, hertz)
        assert found.solved.all()
        return np.abs(found.volts[self.circuit.at("OUT")]) / 1e-3

    def peak(self, which: int) -> tuple[float, float]:
        """Frequency and gain at the top, by a parabola through the three highest points."""
        gain = np.log(self.gain[:, which])
        top = int(np.argmax(gain))
        a, b, c = gain[top - 1 : top + 2]
        shift = 0.5 * (a - c) / (a - 2.0 * b + c)
        step = self.log_hertz[1] - self.log_hertz[0]
        return float(np.exp(self.log_hertz[top] + shift * step)), float(np.exp(b - 0.25 * (a - c) * shift))

    def quality(self, which: int) -> float:
        """Centre over width at 3 dB down."""
        centre, best = self.peak(which)
        gain, top = self.gain[:, which], int(np.argmax(self.gain[:, which]))
        low = np.interp(best / 2.0**0.5, gain[: top + 1], self.log_hertz[: top + 1])
        high = np.interp(best / 2.0**0.5, gain[top:][::-1], self.log_hertz[top:][::-1])
        return centre / float(np.exp(high) - np.exp(low))


@pytest.fixture(scope="module")
def sweep() -> Sweep:
    return Sweep()


@pytest.mark.parametrize("which", range(len(CLASSES)), ids=lambda n: f"{CLASSES[n][0] or 'healthy'} x{CLASSES[n][1]}")
def test_band_pass_by_a_sweep(sweep: Sweep, which: int) -> None:
    """0.3 %: three for the sweep's steps, the rest for an amplifier that is not ideal."""
    _, _, hertz, quality, gain = CLASSES[which]
    found, best = sweep.peak(which)
    assert found == approx(hertz, rel=3e-3)
    assert best == approx(gain, rel=3e-3)
    assert sweep.quality(which) == approx(quality, rel=3e-3)


def test_only_gain_separates_three_band_pass_faults(sweep: Sweep) -> None:
    """C1, C2 and R3 move the centre alike, and the gain not."""
    tops = [sweep.peak(which) for which in (1, 3, 7)]
    assert max(f for f, _ in tops) / min(f for f, _ in tops) < 1.003
    assert min(abs(a - b) for n, (_, a) in enumerate(tops) for _, b in tops[:n]) > 0.1


# Directions only


def changes(bench: Machine, fault: Fault, at: str) -> list[float]:
    """How far the meter moves from healthy, V."""
    return [b - a for a, b in zip(meter(bench, at=at), meter(bench, fault, at=at), strict=True)]


def test_directions_of_a_divider_biased_stage() -> None:
    """G. Knott, Transistor fault finding, at 9 V; the values of his figure are not known, so ours stand in."""
    bench = machine(*(line.replace("10V", "9V") for line in DIVIDER_BIAS))
    assert meter(bench, Fault("R1", "open"), at="B E C") == approx([0.0, 0.0, 9.0], abs=0.01)
    base, emitter, collector = changes(bench, Fault("R2", "open"), "B E C")
    assert base > 1.0 and emitter > 1.0 and collector < -1.0
    base, emitter, collector = meter(bench, Fault("RC", "open"), at="B E C")
    assert base < meter(bench, at="B")[0] and 0.5 < base - emitter < 0.7 and abs(collector - emitter) < 0.1
    base, _, collector = changes(bench, Fault("RE", "open"), "B E C")
    assert base > 0.0 and meter(bench, Fault("RE", "open"), at="C")[0] == approx(9.0, abs=0.01)
    assert meter(bench, Fault("RE", "short"), at="E C") == approx([0.0, 0.05], abs=0.05)


def test_directions_in_a_second_book() -> None:
    """V. K. Mehta, Principles of Electronics, example 12.19: cut off, hard on, saturated at the supply, cut off."""
    bench = machine(*DIVIDER_BIAS)
    for fault in (Fault("R2", "short"), Fault("R1", "open")):
        assert meter(bench, fault, at="C")[0] == approx(10.0, abs=0.01)
    _, emitter, collector = meter(bench, Fault("R2", "open"), at="B E C")
    assert collector - emitter < 0.2
    base, emitter, collector = meter(bench, Fault("R1", "short"), at="B E C")
    assert base == approx(10.0, abs=0.01) and collector - emitter < 0.2


def test_a_molten_transistor_makes_one_node_of_three() -> None:
    """M. Robinson, troubleshooting textbook, figure 6.2: 12 V, 39k, 6k8, 5k6, 1k2. By hand 2.07 V."""
    values = (("10V", "12V"), ("10k", "39k"), ("2k2", "6k8"), ("3k6", "5k6"), ("1k ", "1k2 "))
    lines = list(DIVIDER_BIAS)
    for old, new in values:
        lines = [line.replace(old, new) for line in lines]
    up, down = 1 / 39e3 + 1 / 5.6e3, 1 / 6.8e3 + 1 / 1.2e3
    assert 12.0 * up / (up + down) == approx(2.07, abs=RECOMPUTED)
    assert meter(machine(*lines), Fault("Q1", "all-short"), at="B E C") == approx([2.07] * 3, abs=RECOMPUTED)


SUPPLIES = ("P: source 12V  HIGH > GND", "N: source 12V  GND > LOW")


def test_troubles_of_a_non_inverting_stage() -> None:
    """Slides "Troubleshooting techniques": feedback open, output at a rail; grounded resistor open, gain one."""
    bench = machine(
        *SUPPLIES,
        "G: source 0.1V series 1k  IN > GND",
        "U1: opamp offset 0V 0%  plus=IN minus=FB out=OUT vplus=HIGH vminus=LOW",
        "RF: resistor 10k  OUT > FB",
        "RI: resistor 1k  FB > GND",
    )
    assert meter(bench, at="OUT")[0] == approx(1.1, rel=1e-3)
    assert meter(bench, Fault("RF", "open"), at="OUT")[0] > 10.0
    assert meter(bench, Fault("RI", "open"), at="OUT")[0] == approx(0.1, rel=1e-3)


def test_troubles_of_an_inverting_stage() -> None:
    """The same slides, 1k, 10k and 910 ohm: feedback open, a rail; input open, nothing; shorted, nothing;
    exchanged, a tenth; 10k for the 910, no change; the 910 open, a rail."""

    def stage(r1: str = "1k", rf: str = "10k", r3: str = "910R") -> Machine:
        return machine(
            *SUPPLIES,
            "G: source 0.1V  IN > GND",
            "U1: opamp offset 0V 0%  plus=PLUS minus=FB out=OUT vplus=HIGH vminus=LOW",
            f"R1: resistor {r1}  IN > FB",
            f"RF: resistor {rf}  OUT > FB",
            f"R3: resistor {r3}  PLUS > GND",
        )

    assert meter(stage(), at="OUT")[0] == approx(-1.0, rel=1e-3)
    assert meter(stage(), Fault("RF", "open"), at="OUT")[0] < -10.0
    assert meter(stage(), Fault("R1", "open"), at="OUT")[0] == approx(0.0, abs=2e-3)
    assert meter(stage(), Fault("U1.out~U1.minus", "bridge", Severity(0.1, 0.1, "ohm")), at="OUT")[0] == approx(
        0.0, abs=2e-3
    )
    assert meter(stage("10k", "1k"), at="OUT")[0] == approx(-0.01, rel=2e-3)
    assert meter(stage(r3="10k"), at="OUT")[0] == approx(-1.0, rel=1e-3)


# Pages on active filters with answers; the values of their figures are not known, so ours stand in: a Sallen-Key low-pass
# of gain one, corner 1 / (2 pi sqrt(R1 R2 C1 C2)) = 1.13 kHz, C1 from the output back, C2 to ground.
LOW_PASS = (
    *SUPPLIES,
    "GEN: source 0V series 1R  IN > GND",
    "R1: resistor 10k  IN > A",
    "R2: resistor 10k  A > PLUS",
    "C1: capacitor 20n film  A > OUT",
    "C2: capacitor 10n film  PLUS > GND",
    "U1: opamp bandwidth 100MHz gain 1M offset 0V 0%  plus=PLUS minus=OUT out=OUT vplus=HIGH vminus=LOW",
)


def steepness(bench: Machine, *faults: Fault) -> tuple[float, float]:
    """Gain at 10 Hz, and how many dB an octave lose far above the corner, 20 to 40 kHz; one fault or none."""
    levels = []
    for hertz in (10.0, 20e3, 40e3):
        setup = Setup(stimulus=f"tone {hertz:g}")
        levels.append(float(show(faulty(bench, *faults), Question("pp", "OUT", setup=setup)).value[0]) / 2.0)
    return levels[0], 20.0 * float(np.log10(levels[1] / levels[2]))


def test_troubles_of_a_second_order_low_pass() -> None:
    """C1 open: first order, 6 dB an octave; C2 leaking by 12k: low frequencies are weak."""
    tones = "".join(f"  tone {hertz:g}: {{GEN: sine 1V peak {hertz:g}Hz}}\n" for hertz in (10.0, 20e3, 40e3))
    parts = "".join(f"  {line}\n" for line in LOW_PASS)
    bench = read(f"machine: example\nparts:\n{parts}stimuli:\n{tones}")
    assert steepness(bench) == approx((1.0, 12.04), rel=0.01)
    assert steepness(bench, Fault("C1", "open")) == approx((1.0, 6.02), rel=0.01)
    # by Ohm's law 12k below two of 10k; C1 then carries the rest of the slope as before
    assert steepness(bench, Fault("C2", "leak", Severity(12e3, 12e3, "ohm")))[0] == approx(12.0 / 32.0, rel=0.01)


def test_a_drift_multiplies_the_marked_value_and_a_leak_stands_beside_it() -> None:
    """Ohm's law: 10 V over 10k and 2k2; R2 at three times 2k2; 100k of leak beside 2k2."""
    bench = machine(
        "PSU: source 10V series 1mR  A > GND",
        "R1: resistor 10k  A > B",
        "R2: resistor 2k2  B > GND",
        "C1: capacitor 1u film  B > GND",
    )
    drifted = Fault("R2", "drift-up", Severity(3.0, 3.0, "x"))
    leaking = Fault("C1", "leak", Severity(1e5, 1e5, "ohm"))
    beside = 1.0 / (1 / 2.2e3 + 1 / 1e5)
    assert meter(bench, at="B")[0] == approx(10.0 * 2.2 / 12.2, abs=2e-3)
    assert meter(bench, drifted, at="B")[0] == approx(10.0 * 6.6 / 16.6, abs=3e-3)
    assert meter(bench, leaking, at="B")[0] == approx(10.0 * beside / (1e4 + beside), abs=2e-3)


def test_a_short_of_all_terminals_is_two_paths() -> None:
    """The mode behind the row "all terminals shorted"."""
    made = edits(machine(*DIVIDER_BIAS), Fault("Q1", "all-short"))
    assert {type(one) for one in made} == {AddPath} and len(made) == 2
    assert GROUND not in {place for one in made for place in (one.a, one.b)}  # type: ignore[union-attr]
