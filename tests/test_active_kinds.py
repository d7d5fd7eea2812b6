"""Field-effect transistors, regulators, comparators and gates against closed forms, data sheets and books."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from pytest import approx

from probewright.errors import BadInput
from probewright.hypotheses import Fault
from probewright.hypotheses.modes import edits, mode_of
from probewright.machine import Machine, read
from probewright.machine.edits import SetFigure
from probewright.machine.kinds import KINDS
from probewright.simulation.circuit import compile_circuit, healthy_batch
from probewright.simulation.newton import come_to_rest

OURS = (
    "n-jfet p-jfet n-mosfet p-mosfet comparator regulator negative-regulator adjustable-regulator "
    "negative-adjustable-regulator inverter buffer schmitt and nand or nor xor nand3 nor3 nand4 nor4"
).split()


def machine(*lines: str) -> Machine:
    return read("machine: example\nparts:\n" + "".join(f"  {line}\n" for line in lines))


def volts(bench: Machine, *nets: str, figures=None, size: int = 1) -> np.ndarray:
    """(net, variant) at rest; figures: (part, figure) -> (variant,) that differ."""
    circuit = compile_circuit(bench)
    batch = healthy_batch(circuit)
    rest = come_to_rest(circuit, replace(batch, size=size, figures={**batch.figures, **(figures or {})}))
    assert rest.solved.all()
    return np.array([rest.volts[circuit.at(net)] for net in nets])


def at(bench: Machine, *nets: str) -> list[float]:
    return [float(one) for one in volts(bench, *nets)[:, 0]]


# laws of every kind


@pytest.mark.parametrize("name", OURS)
def test_slopes_are_those_of_the_amps_and_no_current_is_lost(name: str) -> None:
    """Central differences of the law itself, at places where it bends."""
    kind = KINDS[name]
    bench = machine(f"X: {name} " + ("5V " if name in ("regulator", "negative-regulator") else "")
                    + " ".join(f"{pin}=N{pin}" for pin in kind.pins))  # fmt: skip
    figures = {n: np.array([[figure.nominal]]) for n, figure in bench.parts["X"].figures.items()}
    rng = np.random.default_rng(7)
    law = kind.nonlinear
    assert law is not None
    for _ in range(30):
        v = rng.uniform(-1.0, 6.0, (len(kind.pins), 1, 1))
        here = law(v, figures, None)
        assert sum(float(here.amps[pin][0, 0]) for pin in kind.pins) == approx(0.0, abs=1e-12 + 1e-9 * _most(here))
        for column, by in enumerate(kind.pins):
            step = np.zeros_like(v)
            step[column] = 1e-7
            up, down = law(v + step, figures, None), law(v - step, figures, None)
            for pin in kind.pins:
                measured = float((up.amps[pin] - down.amps[pin])[0, 0]) / 2e-7
                told = float(np.ravel(here.slope.get((pin, by), 0.0))[0])
                assert told == approx(measured, rel=2e-3, abs=1e-8 + 1e-6 * _most(here) / 1e-3), (pin, by)


def _most(here) -> float:
    return max(float(np.max(np.abs(one))) for one in here.amps.values())


# field effect: the square law, W. Shockley 1952; textbook bias problems in closed form

EXACT = "early 10kV"  # no channel-length modulation, as in the books


def test_self_biased_jfet() -> None:
    """Id = Idss (1 - Id Rs / |Vp|)^2: 8 mA, -4 V, 500 ohm give 3.15 mA, whatever the drain resistor below pinch-off."""
    roots = np.roots([8e-3 * (500 / 4) ** 2, -2 * 8e-3 * 500 / 4 - 1.0, 8e-3])
    amps = float(min(roots.real))
    for line in (f"Q1: n-jfet idss 8mA pinch-off -4V {EXACT}", f"Q1: jfet n idss 8mA pinch-off 4V {EXACT}"):
        bench = machine("V: source 20V series 1mR  A > GND", f"{line}  d=D g=GND s=S",
                        "RD: resistor 1k  A > D", "RS: resistor 500R  S > GND")  # fmt: skip
        drain, source = at(bench, "D", "S")
        assert source == approx(500 * amps, rel=1e-3)
        assert 20.0 - drain == approx(1e3 * amps, rel=1e-3)


def test_a_p_channel_is_an_n_channel_turned_over() -> None:
    for n, p in (
        ("n-jfet idss 8mA pinch-off 4V", "p-jfet idss 8mA pinch-off 4V"),
        ("n-mosfet power", "p-mosfet power"),
    ):
        lines = ("V: source {sign}12V  A > GND", "Q1: {kind}  d=D g=G s=S", "R1: resistor 1k  A > D",
                 "R2: resistor 220R  S > GND", "R3: resistor 10k  A > G", "R4: resistor 10k  G > GND")  # fmt: skip
        first, second = (
            at(machine(*(line.format(kind=kind, sign=sign) for line in lines)), "D", "S", "G")
            for kind, sign in ((n, ""), (p, "-"))
        )
        assert first == approx([-one for one in second], abs=1e-9)


def test_a_jfet_conducts_alike_from_either_end() -> None:
    lines = ("V: source 10V  A > GND", "R1: resistor 1k  A > X", "Q1: n-jfet  {}")
    one, other = (at(machine(*lines[:2], lines[2].format(pins)), "X")[0]
                  for pins in ("d=X g=GND s=GND", "d=GND g=GND s=X"))  # fmt: skip
    assert one == approx(other)


def test_a_mosfet_is_a_resistance_well_above_threshold_and_a_diode_backwards() -> None:
    """R_on at 10 V of gate by definition; the body diode n Vt ln(I / Is) at 20 mA."""
    on = machine("V: source 10V series 1mR  A > GND", "R1: resistor 1k  A > D",
                 f"Q1: n-mosfet on 5R threshold 2V {EXACT}  d=D g=A s=GND")  # fmt: skip
    assert at(on, "D")[0] == approx(10.0 * 5.0 / 1005.0, rel=4e-3)  # v_ds / 2 u is 0.3 %
    off = machine("V: source -20V series 1mR  A > GND", "R1: resistor 1k  A > D",
                  "Q1: n-mosfet saturation 1pA  d=D g=GND s=GND")  # fmt: skip
    assert at(off, "D")[0] == approx(-0.025865 * np.log((20.0 - 0.61) / 1e3 / 1e-12), abs=2e-3)


def test_a_mosfet_past_pinch_off_by_the_square_law() -> None:
    """Gate at 4 V, threshold 2 V, 5 ohm at 10 V of gate: beta = 1 / (2 x 5 x 8) S/V, Id = beta 2^2 = 50 mA."""
    bench = machine("V: source 30V series 1mR  A > GND", "VG: source 4V  G > GND", "R1: resistor 100R  A > D",
                    f"Q1: n-mosfet on 5R threshold 2V {EXACT}  d=D g=G s=GND")  # fmt: skip
    assert (30.0 - at(bench, "D")[0]) / 100.0 == approx(50e-3, rel=5e-3)


# regulators


def set_by(ohms: str) -> Machine:
    return machine("V: source 35V  IN > GND", "U1: regulator adjustable  in=IN out=OUT adj=ADJ",
                   "R1: resistor 220R  OUT > ADJ", f"R2: resistor {ohms}  ADJ > GND")  # fmt: skip


def test_adjustable_regulator() -> None:
    """Floyd, Electronic Devices, example 2.8, p. 62: 1.25 V, R1 220, R2 0 to 5k, 50 uA make 1.25 to 29.91 V."""
    assert at(set_by("1mR"), "OUT")[0] == approx(1.25, abs=0.005)
    assert at(set_by("5k"), "OUT")[0] == approx(29.91, abs=0.005)


def test_adjustable_regulator_by_its_formula() -> None:
    """Vout = 1.25 (1 + R2 / R1) + Iadj R2: 5.036 V for 240 and 720 ohm (a data sheet)."""
    bench = machine("V: source 12V  IN > GND", "U1: adjustable-regulator  in=IN out=OUT adj=ADJ",
                    "R1: resistor 240R  OUT > ADJ", "R2: resistor 720R  ADJ > GND", "R3: resistor 50R  OUT > GND")  # fmt: skip
    assert at(bench, "OUT")[0] == approx(5.036, abs=0.003)


def test_too_little_load_lifts_an_adjustable_regulator() -> None:
    """Its own 1.5 mA must go somewhere: through R1 and R2 of 2k2 in all, less the 50 uA of adj."""
    bench = machine("V: source 12V  IN > GND", "U1: adjustable-regulator least 3mA  in=IN out=OUT adj=ADJ",
                    "R1: resistor 1k  OUT > ADJ", "R2: resistor 1k2  ADJ > GND")  # fmt: skip
    assert at(bench, "OUT")[0] == approx(3e-3 * 2.2e3 + 50e-6 * 1.2e3, abs=0.02)


def test_negative_regulators_mirror_positive_ones() -> None:
    figures = "drop 2V limit 1A output 0.02R quiescent 5mA"
    for kind, other, volt in (("regulator", "negative-regulator", "12V"), ("regulator", "regulator negative", "-12V")):
        plus = machine("V: source 14.5V series 1R  IN > GND", f"U1: {kind} 12V {figures}  in=IN out=OUT com=GND",
                       "R1: resistor 20R  OUT > GND")  # fmt: skip
        minus = machine("V: source -14.5V series 1R  IN > GND", f"U1: {other} {volt} {figures}  in=IN out=OUT com=GND",
                        "R1: resistor 20R  OUT > GND")  # fmt: skip
        assert at(plus, "IN", "OUT") == approx([-one for one in at(minus, "IN", "OUT")], abs=1e-9)


def test_a_negative_regulator_drops_out_and_limits() -> None:
    """1.1 V below its input where that is short; 1.5 A into a short, whatever it is set to."""
    low = machine("V: source -10V series 1mR  IN > GND", "U1: negative-regulator 12V  in=IN out=OUT com=GND",
                  "R1: resistor 100R  OUT > GND")  # fmt: skip
    assert at(low, "OUT")[0] == approx(-8.9, abs=0.05)
    short = machine("V: source -20V series 1mR  IN > GND", "U1: negative-regulator 12V  in=IN out=OUT com=GND",
                    "R1: resistor 0R1  OUT > GND")  # fmt: skip
    assert at(short, "OUT")[0] == approx(-0.15, rel=0.01)


@pytest.mark.parametrize("kind", ["regulator 5V", "negative-regulator 5V", "adjustable-regulator"])
def test_in_thermal_cut_out_the_output_falls_away_and_comes_back(kind: str) -> None:
    bench = machine("V: source " + ("-" if "negative" in kind else "") + "12V  IN > GND",
                    f"U1: {kind}  in=IN out=OUT com=GND", "R1: resistor 100R  OUT > GND")  # fmt: skip
    assert mode_of("cut-out", "regulator.three_terminal").comes_and_goes
    made = edits(bench, Fault("U1", "cut-out"))
    found = volts(bench, "OUT", figures={(e.part, e.figure): e.value for e in made if isinstance(e, SetFigure)})
    assert abs(float(found[0, 0])) < 1e-3
    assert abs(at(bench, "OUT")[0]) > 1.2


# comparator


def watched(volt: str, *more: str) -> Machine:
    return machine("V: source 12V  A > GND", f"VI: source {volt}  I > GND", "VR: source 2.5V  R > GND",
                   "U1: comparator input 10G  in+=I in-=R out=OUT v+=A v-=GND", "RP: resistor 4k7  A > OUT", *more)  # fmt: skip


def test_a_comparator_pulls_down_or_lets_go() -> None:
    """Below the other input 40 ohm against 4k7, softened by its limit of 16 mA; above it the pull-up alone."""
    low, high = (at(watched(one), "OUT")[0] for one in ("2.49V", "2.51V"))
    assert low == approx(12.0 * 40.0 / 4740.0, rel=0.02)
    assert high == approx(12.0, abs=1e-3)


def test_a_comparator_without_pull_up_says_nothing_and_without_supply_lets_go() -> None:
    loaded = watched("2.6V", "RL: resistor 1k  OUT > GND")
    assert at(loaded, "OUT")[0] == approx(12.0 / 5.7, rel=1e-3)
    bench = machine("V: source 12V  A > GND", "VI: source 1V  I > GND", "VR: source 2.5V  R > GND",
                    "U1: comparator  in+=I in-=R out=OUT v+=GND v-=GND", "RP: resistor 4k7  A > OUT")  # fmt: skip
    assert at(bench, "OUT")[0] == approx(12.0, abs=1e-3)


# logic: limits at 5 V retyped from the data sheets and standards named in kinds/logic.py

FAMILIES = ("ttl", "ls", "hct", "hc", "4000b", "nmos")
# family -> supply, VIL, VIH, VOL at IOL, VOH at IOH
LIMITS = {
    "ttl": (4.75, 0.8, 2.0, (0.4, 16e-3), (2.4, 0.4e-3)),
    "ls": (4.75, 0.8, 2.0, (0.5, 8e-3), (2.7, 0.4e-3)),
    "hct": (4.5, 0.8, 2.0, (0.33, 4e-3), (3.84, 4e-3)),
    "hc": (4.5, 1.35, 3.15, (0.33, 4e-3), (3.84, 4e-3)),
    "4000b": (5.0, 1.5, 3.5, (0.4, 0.51e-3), (4.6, 0.51e-3)),
    "nmos": (4.75, 0.8, 2.0, (0.4, 1.6e-3), (2.4, 0.1e-3)),
}
ONE_INPUT = {"inverter": lambda a: not a, "buffer": lambda a: a, "schmitt": lambda a: not a}
SEVERAL = {
    "and": (2, all), "nand": (2, lambda bits: not all(bits)), "or": (2, any), "nor": (2, lambda bits: not any(bits)),
    "xor": (2, lambda bits: sum(bits) % 2 == 1), "nand3": (3, lambda bits: not all(bits)),
    "nor3": (3, lambda bits: not any(bits)), "nand4": (4, lambda bits: not all(bits)), "nor4": (4, lambda bits: not any(bits)),
}  # fmt: skip


@pytest.mark.parametrize("family", FAMILIES)
def test_outputs_hold_their_levels_and_inputs_know_theirs(family: str) -> None:
    """Every corner of what is assumed of a sound inverter, its input at the very limit, its output fully loaded."""
    supply, vil, vih, (vol, iol), (voh, ioh) = LIMITS[family]
    for volt, load in ((vil, ioh), (vih, -iol)):
        bench = machine(f"V: source {supply}V series 1mR  VCC > GND", f"VI: source {volt}V  I > GND",
                        f"U1: inverter {family}  in=I out=OUT vcc=VCC gnd=GND",
                        f"IL: source {-load * 1e6:g}V series 1M  OUT > GND")  # fmt: skip
        moved = [(name, figure) for name, figure in bench.parts["U1"].figures.items() if figure.spread or figure.low]
        corners = np.array(list(product((-1.0, 1.0), repeat=len(moved))))
        figures = {}
        for n, (name, one) in enumerate(moved):
            if one.law == "range":
                figures["U1", name] = np.where(corners[:, n] < 0, one.low + 0.15, one.high - 0.15)
            else:
                figures["U1", name] = one.nominal * (1.0 + one.spread * corners[:, n])
        out = volts(bench, "OUT", figures=figures, size=len(corners))[0]
        assert np.all(out >= voh) if load > 0 else np.all(out <= vol), (family, out.min(), out.max())


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("kind", [*ONE_INPUT, *SEVERAL])
def test_truth_tables(kind: str, family: str) -> None:
    count, rule = SEVERAL.get(kind, (1, lambda bits: ONE_INPUT[kind](bits[0])))
    pins = ("in",) if count == 1 else tuple("abcd"[:count])
    for bits in product((False, True), repeat=count):
        inputs = [f"V{n}: source {3.6 if bit else 0.4}V  I{n} > GND" for n, bit in enumerate(bits)]
        wired = " ".join(f"{pin}=I{n}" for n, pin in enumerate(pins))
        bench = machine("V: source 5V  VCC > GND", *inputs, f"U1: {kind} {family}  {wired} out=OUT vcc=VCC gnd=GND",
                        "RL: resistor 100k  OUT > GND")  # fmt: skip
        out = at(bench, "OUT")[0]
        assert out > 3.2 if rule(bits) else out < 0.3, (bits, out)


def test_an_open_ttl_input_floats_where_the_trade_expects_it() -> None:
    """1.1 to 1.8 V on a 10 Mohm meter, and the gate takes it for a high."""
    for family in ("ttl", "ls"):
        bench = machine("V: source 5V  VCC > GND", f"U1: inverter {family}  in=I out=OUT vcc=VCC gnd=GND",
                        "M1: resistor 10M  I > GND")  # fmt: skip
        floating, out = at(bench, "I", "OUT")
        assert 1.1 <= floating <= 1.8 and out < 0.4


def test_two_outputs_that_fight_stand_between_the_levels() -> None:
    """Two LS totem poles, one high, one low: 0.5 to 1.7 V (trade practice)."""
    bench = machine("V: source 5V  VCC > GND", "U1: inverter ls  in=GND out=OUT vcc=VCC gnd=GND",
                    "U2: inverter ls  in=VCC out=OUT vcc=VCC gnd=GND")  # fmt: skip
    assert 0.5 <= at(bench, "OUT")[0] <= 1.7


def test_ls_reaches_cmos_only_with_a_pull_up() -> None:
    """VOH 2.7 < VIH 3.5: needs 2k2 to 10k; then a totem pole that is high lets itself be lifted to 5 V."""
    lines = ("V: source 5V  VCC > GND", "U1: buffer ls  in=VCC out=OUT vcc=VCC gnd=GND", "RL: resistor 8k2  OUT > GND")
    assert at(machine(*lines), "OUT")[0] < 3.5
    for pull in ("2k2", "10k"):
        assert at(machine(*lines[:2], f"RP: resistor {pull}  VCC > OUT"), "OUT")[0] == approx(5.0, abs=0.01)


@pytest.mark.parametrize(
    ("driver", "load", "count"),
    [
        ("ttl", "ttl", 10),
        ("ls", "ls", 20),
        ("ls", "ttl", 5),
        ("ttl", "ls", 20),
        ("hc", "ls", 10),
        ("hc", "ttl", 2),
        ("4000b", "ls", 1),
        ("nmos", "ls", 4),
        ("nmos", "ttl", 1),
    ],
)
def test_fan_out(driver: str, load: str, count: int) -> None:
    """Loads a low output can carry (data sheet limits, 16/1.6, 8/0.4, 8/1.6, 16/0.4, 4/0.4, 4/1.6, 0.51/0.4, 1.6/0.4, 1.6/1.6): all of them still see a low."""
    limit = {"ttl": "1.6mA", "ls": "0.4mA"}[load]
    bench = machine("V: source 5V  VCC > GND", f"U0: inverter {driver}  in=VCC out=BUS vcc=VCC gnd=GND",
                    *(f"U{n}: inverter {load} input {limit}  in=BUS out=O{n} vcc=VCC gnd=GND" for n in range(1, count + 1)))  # fmt: skip
    found = at(bench, "BUS", *(f"O{n}" for n in range(1, count + 1)))
    assert found[0] <= 0.5 and min(found[1:]) > 2.4


def test_a_4000b_output_carries_no_standard_ttl_load() -> None:
    """0.51 / 1.6 is less than one: a low is lifted past the 0.4 V of its data sheet."""
    bench = machine("V: source 5V  VCC > GND", "U0: inverter 4000b  in=VCC out=BUS vcc=VCC gnd=GND",
                    "U1: inverter ttl input 1.6mA  in=BUS out=O1 vcc=VCC gnd=GND")  # fmt: skip
    assert at(bench, "BUS")[0] > 0.4


ADDER = ("V: source 5V  VCC > GND", "G1: xor hc  a=X b=Y out=N1 vcc=VCC gnd=GND", "G2: and hc  a=X b=Y out=N2 vcc=VCC gnd=GND",
         "G3: xor hc  a=N1 b=CIN out=S vcc=VCC gnd=GND", "G4: and hc  a=N1 b=CIN out=N4 vcc=VCC gnd=GND",
         "G5: or hc  a=N2 b=N4 out=C vcc=VCC gnd=GND", "RX: resistor 1k  X > GND", "RY: resistor 1k  Y > GND",
         "RC: resistor 1k  CIN > GND")  # fmt: skip


def test_full_adder_stuck_at_faults() -> None:
    """CSPLib problem 042: inputs 000, sum 1, carry 0 is gate 1 or gate 3 stuck at one, and no other single fault."""
    bench = machine(*ADDER)
    explains = []
    for gate, mode in product(("G1", "G2", "G3", "G4", "G5"), ("stuck-high", "stuck-low")):
        made = edits(bench, Fault(gate, mode))
        s, c = volts(bench, "S", "C", figures={(e.part, e.figure): e.value for e in made if isinstance(e, SetFigure)})[
            :, 0
        ]
        if s > 2.5 > c:
            explains.append((gate, mode))
    assert explains == [("G1", "stuck-high"), ("G3", "stuck-high")]


def test_c17_as_published() -> None:
    """ISCAS-85 c17, six NAND gates: both outputs over all 32 inputs by Python's own logic."""
    nets = {
        "10": ("1", "3"),
        "11": ("3", "6"),
        "16": ("2", "11"),
        "19": ("11", "7"),
        "22": ("10", "16"),
        "23": ("16", "19"),
    }
    gates = [f"U{out}: nand ls  a=N{a} b=N{b} out=N{out} vcc=VCC gnd=GND" for out, (a, b) in nets.items()]
    drive = [f"V{n}: source 0V  N{n} > GND" for n in "12367"]
    bits = np.array(list(product((False, True), repeat=5)))
    figures = {(f"V{n}", "volts"): np.where(bits[:, k], 3.5, 0.2) for k, n in enumerate("12367")}
    found = volts(machine("V: source 5V  VCC > GND", *gates, *drive), "N22", "N23", figures=figures, size=32)
    for k, row in enumerate(bits):
        value = dict(zip("12367", map(bool, row), strict=True))
        for out, (a, b) in nets.items():
            value[out] = not (value[a] and value[b])
        assert [one > 2.0 for one in found[:, k]] == [value["22"], value["23"]]


def test_a_latch_of_two_equal_gates_lasts_on_either_side_only() -> None:
    bench = machine("V: source 5V  VCC > GND", "U1: nand ls  a=VCC b=Q2 out=Q1 vcc=VCC gnd=GND",
                    "U2: nand ls  a=VCC b=Q1 out=Q2 vcc=VCC gnd=GND")  # fmt: skip
    both = volts(bench, "Q1", "Q2", size=2).T
    assert sorted(one > 2.0 for one, _ in both) == [False, True]
    assert all((one > 2.0) != (other > 2.0) for one, other in both)


def test_a_schmitt_gate_keeps_its_level_between_two_thresholds() -> None:
    """0.8 V apart about 1.4 V: 1.0 V and 1.8 V; outside both there is one answer."""
    for volt, low in (("0.9V", False), ("1.9V", True)):
        bench = machine("V: source 5V  VCC > GND", f"VI: source {volt}  I > GND",
                        "U1: schmitt ls  in=I out=OUT vcc=VCC gnd=GND")  # fmt: skip
        assert (at(bench, "OUT")[0] < 1.0) == low


# names


@pytest.mark.parametrize(
    ("typed", "kind"),
    [("regulator adjustable", "adjustable-regulator"), ("adjustable regulator", "adjustable-regulator"),
     ("regulator adjustable negative", "negative-adjustable-regulator"), ("N-channel JFET", "n-jfet"), ("jfet p", "p-jfet"),
     ("pmos", "p-mosfet"), ("n channel mosfet", "n-mosfet"), ("mosfet n power", "n-mosfet")],
)  # fmt: skip
def test_names_of_several_words(typed: str, kind: str) -> None:
    pins = "in=A out=B adj=C" if "reg" in kind else "d=A g=B s=C"
    assert machine(f"X: {typed}  {pins}").parts["X"].kind == kind


@pytest.mark.parametrize("line", ["gate  a=A b=B out=C", "jfet  d=A g=B s=C", "mosfet power  g=A d=B s=C"])
def test_a_name_that_leaves_it_open_is_refused_with_the_names_that_do_not(line: str) -> None:
    with pytest.raises(BadInput) as refused:
        machine(f"X: {line}")
    assert "does not say which" in refused.value.complaints[0].text
    offered = [one for one in ("nand", "n-jfet", "n-mosfet") if one in refused.value.complaints[0].mend]
    assert len(offered) == 1


def test_families_are_understood_as_they_are_printed_and_cases_hold_six() -> None:
    bench = machine("U1: inverter hex 4000B  vdd=VCC vss=GND", *(f"U1{c}: of U1  in=A{c} out=B{c}" for c in "ABCDEF"))
    assert bench.parts["U1F"].classes == ("4000b",) and len(bench.parts) == 6
