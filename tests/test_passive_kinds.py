"""Coils, contacts, lamps and the like: each against the closed form of its law, and in the file."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from probewright import machine
from probewright.errors import BadInput
from probewright.hypotheses import Fault, Suspect
from probewright.hypotheses.modes import middle, mode_of
from probewright.hypotheses.suspects import suspects_of
from probewright.machine import Machine
from probewright.machine.writing import write
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import Cell, Model
from probewright.prediction.latents import find_latents
from probewright.prediction.outcomes import show
from probewright.readings import Question, Setup

VT = 1.380649e-23 * 300.15 / 1.602176634e-19  # k T / q at 27 C
ON, OFF = Setup(), Setup(power="off")


def bench(*lines: str, more: str = "") -> Machine:
    return machine.read("machine: bench\nparts:\n" + "".join(f"  {line}\n" for line in lines) + more)


def bank_of(one: Machine, *faults: Fault) -> Bank:
    """The healthy machine, then one variant a fault; every figure and severity in the middle of its law."""

    def exact(fault: Fault) -> Fault:
        law = fault.severity
        return (
            fault if law is None else replace(fault, severity=replace(law, low=middle(law), high=middle(law), bins=1))
        )

    healthy = Suspect("nothing-wrong", (), 0.5, 0.5, "", "")
    broken = tuple(Suspect(f"{f.item} {f.mode}", (exact(f),), 0.5, 0.5, "", "") for f in faults)
    cells = tuple(Cell(n, 0) for n in range(1 + len(broken)))
    latents = find_latents(one)
    model = Model(one, (healthy, *broken), cells, latents, "passive")
    spans = [Span(n, n, n + 1) for n in range(len(cells))]
    return Bank(model, spans, np.zeros((len(latents.keys) + 1, len(cells))))


def shown(one: Machine, ask: Question, *faults: Fault) -> list[float]:
    """What the instrument shows: healthy, then with each fault."""
    found = show(bank_of(one, *faults), ask)
    assert found.judged.all()
    return [float(value) for value in found.value]


def volts(one: Machine, place: str, *faults: Fault, black: str = "GND", setup: Setup = ON) -> list[float]:
    return shown(one, Question("dc", place, black, setup), *faults)


def ohms(one: Machine, red: str, black: str, *faults: Fault) -> list[float]:
    return shown(one, Question("ohms", red, black, OFF), *faults)


def level(one: Machine, place: str, *faults: Fault) -> list[float]:
    """Volts rms of the stimulus `tone` at a net without a meter on it."""
    solved = bank_of(one, *faults).solved(Setup(stimulus="tone"))
    phasors = solved.phasors(one.stimuli["tone"].frequency)
    assert phasors.solved.all()
    return [float(peak) / math.sqrt(2.0) for peak in np.abs(phasors.volts[solved.circuit.at(place)])]


def tone(hertz: float, also: str = "") -> str:
    return f"stimuli:\n  tone: {{GEN: sine 1V rms {hertz:g}Hz{also}}}\n"


def names(one: Machine) -> set[str]:
    return {suspect.id for suspect in suspects_of(one)}


# LED


@pytest.mark.parametrize(
    ("colour", "marked"), [("infrared", 1.2), ("red", 1.8), ("green", 2.1), ("blue", 3.2), ("white", 3.2)]
)
def test_an_led_stands_at_its_marked_volts_at_ten_milliamps(colour: str, marked: float) -> None:
    """A source of 1000 V behind 100k is 10 mA to 0.4 %, which moves n Vt ln by 0.3 mV."""
    one = bench("I1: source 1000V series 100k  A > GND", f"D1: led {colour}  A > GND")
    assert volts(one, "A")[0] == approx(marked, abs=1e-3)


def test_an_led_follows_shockley() -> None:
    """A decade of current is n Vt ln 10 of volts: 2.4 x 25.865 mV x 2.3026 = 142.9 mV."""
    ten = bench("I1: source 1000V series 100k  A > GND", "D1: led red  A > GND")
    one = bench("I1: source 1000V series 1M  A > GND", "D1: led red  A > GND")
    assert volts(ten, "A")[0] - volts(one, "A")[0] == approx(2.4 * VT * math.log(10.0), abs=1e-3)


def test_an_led_breaks_as_a_diode_does() -> None:
    one = bench("PSU: source 12V  SUP > GND", "R1: resistor 1k  SUP > A", "D1: led 2V  A > GND")
    healthy, opened, short = volts(
        one, "A", Fault("D1", "open"), Fault("D1", "short", mode_of("short", "diode").severity)
    )
    assert healthy == approx(2.0, abs=0.01)
    assert opened == approx(12.0, abs=0.01)
    assert short < 0.02
    assert one.parts["D1"].classes == ("red",)
    assert write("machine: X\nparts:\n  D1: diode led green  A > GND\n").splitlines()[-1] == "  D1: led green  A > GND"


# bridge


def test_a_bridge_gives_the_same_whichever_way_it_is_fed() -> None:
    """Two junctions in the way: 2 n Vt ln(I / Is + 1), read back from the volts on the load."""
    lines = ("BR1: bridge  ac1=A ac2=B plus=RAW minus=GND", "R1: resistor 1k  RAW > GND")
    up = volts(bench("PSU: source 14V series 1mR  A > B", *lines), "RAW")[0]
    down = volts(bench("PSU: source -14V series 1mR  A > B", *lines), "RAW")[0]
    assert up == approx(down, abs=1e-6)
    assert 14.0 - up == approx(2.0 * 1.75 * VT * math.log(up / 1e3 / 1e-8 + 1.0), abs=1e-3)


def test_one_leg_open_is_felt_one_way_only() -> None:
    lines = ("BR1: bridge  ~1=A ~2=B +=RAW -=GND", "R1: resistor 1k  RAW > GND")
    lost = Fault("BR1", "open-ac1-plus")
    up = volts(bench("PSU: source 14V  A > B", *lines), "RAW", lost)
    down = volts(bench("PSU: source -14V  A > B", *lines), "RAW", lost)
    assert up[0] > 12.5 and abs(up[1]) < 0.2
    assert down[1] == approx(down[0], abs=1e-6)


def test_a_bridge_has_three_ways_to_break_in_each_leg() -> None:
    found = names(
        bench("PSU: source 14V  A > B", "BR1: bridge  ac1=A ac2=B plus=RAW minus=GND", "R1: resistor 1k  RAW > GND")
    )
    assert sum(one.startswith("BR1 ") for one in found) == 12


# inductor, transformer, loudspeaker


def test_a_coil_is_its_wire_at_rest_and_halves_the_power_at_its_corner() -> None:
    """R L low pass: |H| = 1 / sqrt(2) at f = R / (2 pi L) = 15.9 kHz for 1k and 10 mH."""
    corner = 1e3 / (2.0 * math.pi * 10e-3)
    one = bench(
        "GEN: source 0V series 1mR  IN > GND",
        "L1: coil 10mH 1mR  IN > OUT",
        "R1: resistor 1k  OUT > GND",
        more=tone(corner),
    )
    assert level(one, "OUT")[0] == approx(1.0 / math.sqrt(2.0), rel=1e-3)
    loaded = bench("L1: coil 10mH 12R  A > GND", "R1: resistor 12R  A > GND")
    assert ohms(loaded, "A", "GND", Fault("L1", "open")) == approx([6.0, 12.0], rel=0.01)


def test_a_transformer_turns_volts_by_its_ratio_and_ohms_by_the_square() -> None:
    """Ideal transformer: 10 to 1 makes 100 mV of 1 V, and 100 x 8 ohm stand before a source of 800 ohm."""
    lines = ("T1: transformer ratio 10 primary 1mR secondary 1mR inductance 10H leakage 0.01%  p1=P p2=GND s1=S s2=GND",
             "R1: resistor 8R  S > GND")  # fmt: skip
    stiff = bench("GEN: source 0V series 1mR  P > GND", *lines, more=tone(1000))
    assert level(stiff, "S")[0] == approx(0.1, rel=2e-3)
    matched = bench("GEN: source 0V series 800R  P > GND", *lines, more=tone(1000))
    assert level(matched, "P")[0] == approx(0.5, rel=2e-3)


def test_what_is_left_of_a_transformer_that_is_shorted_is_its_leakage() -> None:
    """Seen into the primary with the secondary shorted: w L (1 - k^2); 10 H with 2 % at 1 kHz are 1257 ohm."""
    one = bench(
        "GEN: source 0V series 1257R  P > GND",
        "T1: transformer ratio 10 primary 1mR secondary 1mR inductance 10H leakage 2%  p1=P p2=GND s1=S s2=GND",
        "W1: lead 1mR  S > GND",
        more=tone(1000),
    )
    # a resistance and as much reactance share 1 V as 1 / sqrt(2) each
    assert level(one, "P")[0] == approx(1.0 / math.sqrt(2.0), rel=0.01)


def test_windings_by_the_ohmmeter() -> None:
    one = bench(
        "T1: transformer ratio 20 primary 400R secondary 3R  p1=A p2=B s1=C s2=D tap=GND",
        "R1: resistor 1M  A > GND",
        "R2: resistor 1M  B > GND",
    )
    assert ohms(one, "A", "B")[0] == approx(400.0, rel=0.01)
    assert ohms(one, "C", "D")[0] == approx(3.0, rel=0.02)
    assert ohms(one, "C", "GND")[0] == approx(1.5, rel=0.03)
    assert np.isinf(ohms(one, "C", "GND", Fault("T1", "upper-open"))[1])
    assert ohms(one, "D", "GND", Fault("T1", "upper-open"))[1] == approx(1.5, rel=0.03)


def test_a_transformer_may_be_unknown() -> None:
    one = bench("T1: transformer ratio ? primary ? secondary ?  p1=A p2=GND s1=B s2=GND", "R1: resistor 1k  A > B")
    assert all(one.parts["T1"].figures[name].unknown for name in ("ratio", "primary", "secondary"))


@pytest.mark.parametrize(("kind", "rated", "share"), [("loudspeaker", 8.0, 0.8), ("headphone", 600.0, 0.95)])
def test_a_voice_coil_reads_less_on_the_ohmmeter_than_it_is_rated(kind: str, rated: float, share: float) -> None:
    one = bench(f"GEN: source 0V series {rated:g}R  A > GND", f"LS1: {kind} {rated:g}R  A > GND", more=tone(1000))
    assert ohms(one, "A", "GND")[0] == approx(share * rated, rel=0.02)
    # |Z| = rated at 1 kHz, its angle from cos = share: the divider with as many ohms gives 1 / |1 + R / Z|
    z = rated * complex(share, math.sqrt(1.0 - share**2))
    assert level(one, "A")[0] == approx(abs(z / (z + rated)), rel=2e-3)
    assert level(one, "A", Fault("LS1", "open"))[1] == approx(1.0, rel=1e-3)


# relay


RELAY = (
    "PSU: source 12V  SUP > GND",
    "DRV: source 12V series 0.1R  COIL > GND",
    "K1: relay 12V coil 270R contact 0.1R pull 50%  coil1=COIL coil2=GND com=SUP no=NO nc=NC",
    "R1: resistor 1k  NO > GND",
    "R2: resistor 1k  NC > GND",
)
DRIVEN = (
    "stimuli:\n"
    + "".join(f"  fed {v:g}: {{DRV: {v:g}V}}\n" for v in (0.0, 5.0, 7.0, -7.0))
    + ("  pressed: {DRV: 0V, K1: energised}\n  let go: {K1: released}\n")
)


@pytest.mark.parametrize(
    ("stimulus", "over"),
    [("", 1), ("fed 0", 0), ("fed 5", 0), ("fed 7", 1), ("fed -7", 1), ("pressed", 1), ("let go", 0)],
)
def test_a_relay_goes_over_at_its_pull_in(stimulus: str, over: int) -> None:
    """6 V for a coil of 12 V with pull 50 %; either sign. A finger on the armature outweighs the coil."""
    one = bench(*RELAY, more=DRIVEN)
    setup = Setup(stimulus=stimulus)
    made, broken = volts(one, "NO", setup=setup)[0], volts(one, "NC", setup=setup)[0]
    assert (made, broken) == approx((12.0, 0.0) if over else (0.0, 12.0), abs=0.02)


def test_a_relay_breaks_in_coil_armature_and_contacts() -> None:
    one = bench(*RELAY, more=DRIVEN)
    faults = [Fault("K1", mode) for mode in ("coil-open", "not-pulling", "make-open", "make-stuck")]
    assert volts(one, "NO", *faults) == approx([12.0, 0.0, 0.0, 0.0, 12.0], abs=0.02)
    assert volts(one, "NC", *faults, setup=Setup(stimulus="fed 0")) == approx([12.0] * 5, abs=0.02)
    assert volts(one, "NO", *faults, setup=Setup(stimulus="fed 0")) == approx([0, 0, 0, 0, 12.0], abs=0.02)
    assert ohms(one, "COIL", "GND", *faults[:1])[0] == approx(270.0, rel=0.01)
    assert np.isinf(ohms(one, "COIL", "GND", *faults[:1])[1])


def test_a_contact_that_is_not_wired_is_no_suspect() -> None:
    found = names(bench(*RELAY[:2], "K1: relay 12V  coil1=COIL coil2=GND com=SUP no=NO", "R1: resistor 1k  NO > GND"))
    assert "K1 make-open" in found
    assert not any(one.startswith("K1 break") for one in found)


def test_a_relay_that_holds_itself_stays_out_until_it_is_pressed() -> None:
    """Its coil hangs on its own make contact: both states last, and it is found in the one it was not pulled from."""
    one = bench(
        "PSU: source 12V  SUP > GND",
        "K1: relay 12V  coil1=HOLD coil2=GND com=SUP no=HOLD",
        more="stimuli:\n  pressed: {K1: energised}\n",
    )
    assert volts(one, "HOLD")[0] == approx(0.0, abs=0.02)
    assert volts(one, "HOLD", setup=Setup(stimulus="pressed"))[0] == approx(12.0, abs=0.02)


# jack


JACK = (
    "AMP: source 5V  TIP > GND",
    "J1: jack  tip=TIP rest=LS plug=HP",
    "R1: resistor 100R  LS > GND",
    "R2: resistor 100R  HP > GND",
)


def test_a_plug_lifts_the_spring_off_its_break_contact() -> None:
    one = bench(*JACK, more="stimuli:\n  phones: {do: plug the phones in, J1: plugged}\n")
    assert volts(one, "LS")[0] == approx(5.0, abs=0.01) and volts(one, "HP")[0] == approx(0.0, abs=0.01)
    there = Setup(stimulus="phones")
    assert volts(one, "LS", setup=there)[0] == approx(0.0, abs=0.01)
    assert volts(one, "HP", setup=there)[0] == approx(5.0, abs=0.01)
    # unplugging a jack takes the plug out; it does not take the jack out of the circuit
    pulled = Setup(stimulus="phones", unplugged=("J1",))
    assert volts(one, "LS", setup=pulled)[0] == approx(5.0, abs=0.01)


def test_a_plug_may_rest_in_its_jack() -> None:
    one = bench(
        JACK[0], "J1: jack plugged  tip=TIP rest=LS plug=HP", *JACK[2:], more="stimuli:\n  bare: {J1: unplugged}\n"
    )
    assert volts(one, "HP")[0] == approx(5.0, abs=0.01)
    assert volts(one, "LS", setup=Setup(stimulus="bare"))[0] == approx(5.0, abs=0.01)


def test_a_break_contact_that_stays_closed_is_heard_with_the_plug_in_only() -> None:
    one = bench(*JACK, more="stimuli:\n  phones: {J1: plugged}\n")
    stuck, lost = Fault("J1", "break-stuck"), Fault("J1", "break-open")
    assert volts(one, "LS", stuck, lost) == approx([5.0, 5.0, 0.0], abs=0.01)
    assert volts(one, "LS", stuck, lost, setup=Setup(stimulus="phones")) == approx([0.0, 5.0, 0.0], abs=0.02)


# resistor network, lamp, thermistor, battery, crystal


def test_a_network_reads_twice_its_value_between_two_of_its_ends() -> None:
    one = bench("RN1: network 10k  com=COM 1=A 2=B 3=C", "R1: resistor 1M  COM > GND")
    assert ohms(one, "A", "B", Fault("RN1", "open-1"), Fault("RN1", "open-3"))[0] == approx(20e3, rel=0.01)
    assert (
        np.isinf(ohms(one, "A", "B", Fault("RN1", "open-1"))[1]) or ohms(one, "A", "B", Fault("RN1", "open-1"))[1] > 1e7
    )
    assert ohms(one, "A", "B", Fault("RN1", "open-3"))[1] == approx(20e3, rel=0.01)
    found = names(one)
    assert {"RN1 open-1", "RN1 open-3", "RN1 drift-up"} <= found and "RN1 open-4" not in found


def test_a_lamp_is_lit_at_its_rated_watts_and_reads_a_tenth_when_cold() -> None:
    one = bench("PSU: source 12V series 1mR  A > GND", "LA1: lamp 12V 100mA  A > B", "R1: resistor 1mR  B > GND")
    amps = volts(one, "B")[0] / 1e-3
    assert amps == approx(0.1, rel=1e-2)
    assert ohms(one, "A", "B")[0] == approx(12.0, rel=0.02)


def test_amps_of_a_lamp_go_with_volts_to_the_power_of_0_55() -> None:
    """The lamp makers' fit, for a filament far above its cold ohms: a lamp with a cold share of 2 % at half its volts."""

    def amps(at: float) -> float:
        one = bench(
            f"PSU: source {at:g}V series 1mR  A > GND", "LA1: lamp 12V 1A cold 2%  A > B", "R1: resistor 1mR  B > GND"
        )
        return volts(one, "B")[0] / 1e-3

    assert amps(6.0) / amps(12.0) == approx(0.5**0.55, rel=2e-3)
    assert amps(12.0) == approx(1.0, rel=2e-3)


def test_a_lamp_given_in_ohms_has_them_when_lit() -> None:
    one = bench(
        "PSU: source 12V series 1mR  A > GND", "LA1: lamp 100R  A > GND", more="stimuli:\n  heavy: {LA1: 33R}\n"
    )
    assert one.parts["LA1"].figures["resistance"].nominal == 100.0
    assert one.stimuli["heavy"].edits[0].value == 33.0  # type: ignore[union-attr]


@pytest.mark.parametrize(("celsius", "share"), [(25.0, 1.0), (0.0, 3.361), (50.0, 0.3586), (100.0, 0.06975)])
def test_a_thermistor_by_the_beta_law(celsius: float, share: float) -> None:
    """R / R25 = exp(B (1/T - 1/298.15 K)) with B = 3950, worked by hand."""
    one = bench(
        "PSU: source 10V series 1mR  SUP > GND",
        "R1: resistor 10k  SUP > A",
        f"TH1: thermistor 10k beta 3950 at {celsius:g}C  A > GND",
    )
    assert volts(one, "A")[0] == approx(10.0 * share / (1.0 + share), rel=2e-3)


def test_a_stimulus_warms_a_thermistor() -> None:
    one = bench(
        "PSU: source 10V  SUP > GND",
        "R1: resistor 10k  SUP > A",
        "TH1: ntc 10k beta 3950  A > GND",
        more="stimuli:\n  hot: {TH1: 100C}\n",
    )
    assert volts(one, "A", setup=Setup(stimulus="hot"))[0] == approx(10.0 * 0.06975 / 1.06975, rel=5e-3)


def test_a_battery_gives_way_by_its_own_ohms_and_is_out_with_power_off() -> None:
    """E R / (R + r): 9 V behind 1 ohm into 8 ohm is 8 V; the ohmmeter then sees the 8 ohm alone."""
    one = bench("B1: battery 9V series 1R  A > GND", "R1: resistor 8R  A > GND")
    worn = mode_of("low-output", "battery").severity
    assert worn is not None
    assert volts(one, "A", Fault("B1", "dead"), Fault("B1", "low-output", worn)) == approx(
        [8.0, 0.0, 8.0 * middle(worn)], abs=1e-3
    )
    assert ohms(one, "A", "GND")[0] == approx(8.0, rel=0.01)
    assert one.parts["B1"].figures["charge"].nominal == 1.0
    assert bench("B1: battery 9V  A > GND", "R1: resistor 1k  A > GND").parts["B1"].figures["series"].nominal == approx(
        1.2
    )


def test_a_crystal_is_open_at_rest_and_a_small_capacitance_for_a_signal() -> None:
    """1 / (2 pi f C): 50 pF at 100 kHz are 31.8k, so as many ohms before it leave 1 / sqrt(2)."""
    reactance = 1.0 / (2.0 * math.pi * 1e5 * 50e-12)
    one = bench(
        f"GEN: source 5V series {reactance:.0f}R  A > GND",
        "Y1: crystal 4MHz 50p  A > GND",
        "C1: capacitor 1p  A > GND",
        more=tone(1e5),
    )
    assert volts(one, "A", Fault("Y1", "open")) == approx([5.0, 5.0], abs=0.02)
    healthy, dead = level(one, "A", Fault("Y1", "open"))
    assert healthy == approx(1.0 / math.sqrt(1.0 + (51.0 / 50.0) ** 2), rel=2e-3)
    assert dead == approx(1.0, rel=1e-3)


# tracks and wires


ROW = ("PSU: source 5V series 1mR  IN > GND", "T1: track 20m  IN > A > B > C", "R1: resistor 5R  C > GND")


def test_a_row_of_pads_is_a_part_between_each_two() -> None:
    one = bench(*ROW)
    assert [name for name in one.parts if name.startswith("T1")] == ["T1-1", "T1-2", "T1-3"]
    assert one.parts["T1-2"].pins == {"1": "A", "2": "B"}
    text = "machine: X\nparts:\n  T1: track   0R02   IN > A > B > C\n"
    assert write(text).splitlines()[-1] == "  T1: track 0R02  IN > A > B > C"
    assert write(write(text)) == write(text)
    assert {f"T1-{n} {mode}" for n in (1, 2, 3) for mode in ("open", "contact-resistance")} <= names(one)
    assert not any(".1 joint" in name for name in names(one) if name.startswith("T1"))


def test_readings_along_a_row_fall_evenly() -> None:
    """1 A through 20 mohm is 20 mV a segment; a bad segment takes the rest of the fall for itself."""
    one = bench(*ROW)
    bad = Fault("T1-2", "contact-resistance", mode_of("contact-resistance", "track_or_via.dry").severity)
    steps = [
        volts(one, red, bad, Fault("T1-2", "open"), black=black) for red, black in (("IN", "A"), ("A", "B"), ("B", "C"))
    ]
    amps = 5.0 / (5.0 + 0.06 + 1e-3)
    assert [step[0] for step in steps] == approx([0.02 * amps] * 3, rel=1e-3)
    assert steps[1][1] > 4.0 and steps[0][1] < 1e-3 and steps[2][1] < 1e-3
    assert steps[1][2] == approx(5.0, abs=1e-2)


def test_a_wire_may_be_a_row_and_a_segment_is_unplugged_by_its_name() -> None:
    one = bench(
        "PSU: source 5V  IN > GND",
        "W1: wire  IN > A > B",
        "R1: resistor 1k  B > GND",
        more="stimuli:\n  cut: {W1: unplugged}\n",
    )
    assert {edit.part for edit in one.stimuli["cut"].edits} == {"W1-1", "W1-2"}
    assert volts(one, "B", setup=Setup(unplugged=("W1-2",)))[0] == approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    "line", ["T1: track  A > B >", "T1: track  > A > B > C", "T1: track  A > B C > D", "R1: resistor 1k  A > B > C"]
)
def test_a_row_that_is_none_is_refused(line: str) -> None:
    with pytest.raises(BadInput, match="net"):
        bench(line, "R9: resistor 1k  A > GND")


def test_a_zone_breaks_a_hundred_times_as_often() -> None:
    """2 against 0.02, the table for old machines."""
    one = bench(*ROW[:1], "T1: track  IN > A", "T2: track zone  A > C", ROW[2])
    by = {suspect.id: suspect.prior for suspect in suspects_of(one)}
    assert by["T2 open"] == approx(100.0 * by["T1 open"], rel=1e-6)


# settings


@pytest.mark.parametrize(
    ("line", "setting", "mend"),
    [("J1: jack  tip=A rest=B", "in", "plugged or empty"), ("K1: relay 12V  coil1=A coil2=GND com=B no=A", "on", "energised or released"),
     ("L1: coil 1mH  A > B", "3", "can be `unplugged`")],
)  # fmt: skip
def test_a_setting_nobody_knows_is_refused_with_those_that_are(line: str, setting: str, mend: str) -> None:
    name = line.partition(":")[0]
    with pytest.raises(BadInput) as caught:
        bench(line, "R9: resistor 1k  A > GND", more=f"stimuli:\n  odd: {{{name}: {setting}}}\n")
    assert mend in str(caught.value)
