"""What an instrument does to the place it is put on, and what an open place shows: figures of the trade beside ours."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from pytest import approx

from probewright.hypotheses import Fault, Severity
from probewright.machine import Machine, read
from probewright.readings import instruments
from probewright.simulation.alternating import small_signal
from probewright.simulation.circuit import compile_circuit, healthy_batch
from probewright.simulation.meters import ac_volts, dc_volts
from probewright.simulation.newton import come_to_rest, source_ohms
from test_active_kinds import LIMITS, volts
from test_published import machine, meter

# Error of a divider, -Rth / (Rin + Rth), in per cent: a meter of 10 Mohm and one of 1 Mohm.
LOADING = {
    1e3: (-0.01, -0.1),
    10e3: (-0.1, -0.99),
    50e3: (-0.498, -4.762),
    100e3: (-0.99, -9.091),
    1e6: (-9.091, -50.0),
    2.2e6: (-18.033, -68.75),
}


@pytest.mark.parametrize("source", LOADING)
def test_how_far_a_meter_pulls_a_place_down(source: float) -> None:
    bench = machine(
        "G: source 10V series 1mR  A > GND",
        f"R1: resistor {source:g}R  A > B",
        "C1: capacitor 1p film leak 1000G  B > GND",
    )
    circuit = compile_circuit(bench)
    batch = healthy_batch(circuit)
    rest = come_to_rest(circuit, batch)
    for ohms, off in zip((10e6, 1e6), LOADING[source], strict=True):
        shown = dc_volts(circuit, batch, rest, source_ohms(circuit, batch, rest), "B", "GND", ohms).value[0]
        assert 100.0 * (shown / 10.0 - 1.0) == approx(off, abs=0.006)  # two or three decimals as printed


def test_the_meter_and_the_probe_of_the_table_are_those_of_the_trade() -> None:
    """10 Mohm: meter makers' data sheets; a x10 probe is 9 Mohm and 1 Mohm, 10 to 16 pF: an oscilloscope maker's manual."""
    assert instruments.law("dc").input_ohms == 10e6
    assert instruments.law("pp").input_ohms == 10e6
    assert 10e-12 <= instruments.law("pp").input_farads <= 16e-12
    assert 0.7e-3 <= 3.0 / 3e3 <= 1.5e-3 and instruments.law("diode").open_volts == approx(3.0)  # four makers' pages


# Corner of a place loaded by a probe, 1 / (2 pi (Rth beside Rin) C): x1 with 1 Mohm and 110 pF, x10 with 10 Mohm and 12 pF.
@pytest.mark.parametrize(
    ("source", "ohms", "farads", "corner"),
    [
        (1e3, 1e6, 110e-12, 1.45e6),
        (1e3, 10e6, 12e-12, 13.3e6),
        (10e3, 1e6, 110e-12, 146e3),
        (10e3, 10e6, 12e-12, 1.33e6),
        (100e3, 1e6, 110e-12, 15.9e3),
        (100e3, 10e6, 12e-12, 134e3),
    ],
)
def test_where_a_probe_takes_the_treble(source: float, ohms: float, farads: float, corner: float) -> None:
    """At its corner a pole of first order has lost 3 dB; corners are printed to three figures."""
    bench = read(
        "machine: example\nparts:\n  G: source 0V series 1mR  A > GND\n"
        f"  R1: resistor {source:g}R  A > B\n  R2: resistor 1000M  B > GND\n"
    )
    circuit = compile_circuit(bench)
    batch = healthy_batch(circuit)
    batch = type(batch)(1, {**batch.figures, ("G", "signal"): 1.0})
    rest = come_to_rest(circuit, batch)

    def shown(hertz: float) -> float:
        phasors = small_signal(circuit, batch, rest, hertz)
        return float(ac_volts(circuit, batch, phasors, "B", "GND", hertz, ohms, farads).value[0])

    assert shown(corner) / shown(corner / 1e4) == approx(0.5**0.5, rel=5e-3)


def test_a_place_that_hangs_free_reads_what_the_meter_leaves() -> None:
    """Common practice, no source: behind a few pF or an open joint a meter of 10 Mohm shows next to nothing, and a volt
    or two of ghost is left where a megohm-sized leak reaches the place. By Ohm's law 12 V x 10 / (10 + leak)."""
    bench = machine(
        "PSU: source 12V series 1mR  A > GND",
        "R1: resistor 10k  A > B",
        "R2: resistor 10k  B > C",
        "C1: capacitor 1u film  C > GND",
    )
    assert meter(bench, Fault("R1", "open"), at="B")[0] == approx(12.0 * 10e6 / (10e6 + 1e9), rel=0.02)
    for ohms, ghost in ((10e6, 6.0), (100e6, 12.0 / 11.0)):
        loose = Fault("R1.1", "joint-resistance", Severity(ohms, ohms, "ohm"))
        assert meter(bench, loose, at="B")[0] == approx(ghost, rel=0.01)


# Guaranteed margins by family, V: a low out and still a low in, a high out and still a high in. TTL, second source 7413
# data sheet; LS, Texas Instruments SDLS025B (0.8 - 0.5, 2.7 - 2.0).
MARGINS = {"ttl": (0.4, 0.4), "ls": (0.3, 0.7)}


def worst(bench: Machine, names: tuple[str, ...]) -> tuple[dict[tuple[str, str], np.ndarray], int]:
    """Every corner of what is assumed of these gates, thresholds at both ends of what is promised."""
    moved = [
        (name, word, figure)
        for name in names
        for word, figure in bench.parts[name].figures.items()
        if word in ("threshold", "ohms_low", "ohms_high", "drop_low", "drop_high", "takes")
        and (figure.spread or figure.low != figure.high)
    ]
    corners = np.array(list(product((-1.0, 1.0), repeat=len(moved))))
    figures = {}
    for n, (name, word, one) in enumerate(moved):
        if one.law == "range":  # a gate moves over 50 mV: its threshold lies so far inside the promised limits
            figures[name, word] = np.where(corners[:, n] < 0, one.low + 0.15, one.high - 0.15)
        else:
            figures[name, word] = one.nominal * (1.0 + one.spread * corners[:, n])
    return figures, len(corners)


def told(driver: str, taker: str, noise: tuple[float, float], supply: float = 4.75) -> tuple[float, float]:
    """Worst answer of a buffer behind a buffer with noise between: to a low (should be low) and to a high."""
    found = []
    (_, _, _, (_, sunk), (_, given)) = LIMITS[driver]
    for bit, push, amps in ((0.0, noise[0], -sunk), (1.0, -noise[1], given)):
        bench = machine(
            f"V: source {supply}V series 1mR  VCC > GND", f"VI: source {bit * supply}V  I > GND",
            f"U1: buffer {driver}  in=I out=OUT vcc=VCC gnd=GND", f"VN: source {push:g}V series 1mR  IN > OUT",
            f"IL: source {-amps * 1e6:g}V series 1M  OUT > GND",
            f"U2: buffer {taker}  in=IN out=SAYS vcc=VCC gnd=GND", "RL: resistor 100k  SAYS > GND",
        )  # fmt: skip
        figures, count = worst(bench, ("U1", "U2"))
        says = volts(bench, "SAYS", figures=figures, size=count)[0]
        found.append(float(says.max() if bit == 0.0 else says.min()))
    return found[0], found[1]


@pytest.mark.parametrize("family", MARGINS)
def test_noise_margins_are_kept_by_every_gate_we_assume(family: str) -> None:
    low, high = told(family, family, MARGINS[family])
    assert low < 0.5 and high > 2.4


@pytest.mark.parametrize(("driver", "taker"), [("ls", "hct"), ("hc", "ls"), ("hct", "hc")])
def test_families_that_understand_each_other_at_5_v(driver: str, taker: str) -> None:
    """VOH above VIH and VOL below VIL by their data sheets; LS into HC does not, and has a test of its own."""
    low, high = told(driver, taker, (0.0, 0.0))
    assert low < 0.5 and high > 2.4


def test_ls_into_cmos_fails_at_some_corner() -> None:
    """2.7 V may be a low to a gate that asks for 3.5 V."""
    _, high = told("ls", "hc", (0.0, 0.0))
    assert high < 2.4
