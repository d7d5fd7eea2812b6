"""Whole repairs, one for each kind of thing that a person can tell: a planted fault, lines as typed, the finding."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from conftest import Run
from hidden import HiddenBench, opened, planted, reads, says, sound_one
from probewright.jobs import open_search
from probewright.jobs.loading import say_taken
from probewright.jobs.searching import enter_readings
from probewright.machine import read
from probewright.planning.choosing import ranked
from probewright.readings import Question, Setup
from probewright.readings.lines import read_readings
from probewright.record import Book


def found(bench: HiddenBench, *ids: str) -> None:
    """The job ends located, and what it names first is one of these."""
    search = bench.now().search
    assert search.finding == "located", (search.finding, bench.leaders(6), bench.now().card)
    members = search.classes[0].members
    assert set(ids) & set(members), (members, ids)


# Parts of all kinds ----------------------------------------------------------------------------

RELAY = """
machine: Lamp switched by a relay
extras:
  PSU: source 12V 2% series 0.2R  SUP > GND
known good: [PSU]
parts:
  R1: resistor 1k  SUP > B1
  S1: switch open  B1 > BASE
  R2: resistor 10k  BASE > GND
  Q1: npn  c=COIL b=BASE e=GND
  D1: diode  COIL > SUP
  K1: relay 12V coil 270R  coil1=SUP coil2=COIL com=SUP no=LAMP
  R3: resistor 100R  LAMP > GND
stimuli:
  rest: {S1: open}
  pressed: {do: hold the button, S1: closed}
works:
  lamp: LAMP dc at pressed; below 8V = dark
"""
MUTE = """
machine: Output with a mute
extras:
  GEN: source 0V series 600R  IN > GND
  MUTE: source -9V series 1k  GATE > GND
known good: [GEN, MUTE]
parts:
  C1: capacitor 10u electrolytic  IN > A
  R1: resistor 4k7  A > OUT
  J1: n-jfet idss 10mA pinch-off 2V  d=OUT g=G s=GND
  R2: resistor 100k  GATE > G
  R3: resistor 100k  OUT > GND
stimuli:
  tone: {do: feed the tone, GEN: sine 1V rms 1kHz}
works:
  sound: OUT level at tone; below 60% of healthy = weak
"""
ADJUSTABLE = """
machine: Supply with an adjustable regulator
extras:
  PSU: source 20V 2% series 0.5R  RAW > GND
known good: [PSU]
parts:
  C1: capacitor 1000u electrolytic  RAW > GND
  U1: adjustable-regulator  adj=ADJ out=OUT in=RAW
  R1: resistor 220R 1%  OUT > ADJ
  R2: resistor 1k8 1%  ADJ > GND
  R3: resistor 470R  OUT > GND
stimuli:
  idle: {do: switch it on}
works:
  rail: OUT dc at idle; below 10V = low; above 13V = high
"""
WINDING = """
machine: Small mains set, seen from the low side
extras:
  MAINS: source 0V series 1R  P1 > GND
known good: [MAINS]
parts:
  TR1: transformer ratio 10 primary 100R secondary 2R  p1=P1 p2=GND s1=W1 s2=GND tap=MID
  R1: resistor 1k  W1 > GND
  R2: resistor 1k  MID > GND
stimuli:
  hum: {do: feed ten volts from a safe source, MAINS: sine 10V rms 50Hz}
works:
  winding: W1 level at hum; below 80% of healthy = weak
"""
JACK = """
machine: Amplifier with a headphone socket
extras:
  GEN: source 0V series 100R  IN > GND
known good: [GEN]
parts:
  R1: resistor 10R  IN > AMP
  J1: jack  tip=AMP rest=LSP plug=PHONES
  LS1: loudspeaker 8R  LSP > GND
  HP1: headphone 32R  PHONES > GND
stimuli:
  speaker: {do: play the tone, GEN: sine 2V rms 1kHz}
  phones: {do: plug the headphones in, GEN: sine 2V rms 1kHz, J1: plugged}
works:
  loudspeaker: LSP level at speaker; below 60% of healthy = silent
  headphones: PHONES level at phones; below 60% of healthy = silent
"""
BATTERY = """
machine: Torch with a meter
parts:
  B1: battery 4.5V alkaline  BAT > GND
  S1: switch open  BAT > SUP
  LP1: lamp 3.8V 0.3A  SUP > X
  R1: resistor 2R2  X > GND
stimuli:
  off: {S1: open}
  lit: {do: press the button, S1: closed}
works:
  light: SUP to X dc at lit; below 2.5V = dim
"""
TRACKS = """
machine: Supply along one edge of the board
extras:
  PSU: source 5V 2% series 0.05R limit 3A  IN > GND
known good: [PSU]
parts:
  T1: track 20m  IN > E1 > E2 > E3
  F1: fuse 4A  E3 > SUP
  R1: resistor 3R3 5W  SUP > GND
stimuli:
  on: {do: switch it on}
works:
  rail: SUP dc at on; below 4.7V = low
"""


@pytest.mark.parametrize(
    ("text", "fault", "lines"),
    [
        pytest.param(RELAY, "K1 make-open", ["lamp: ?", "set-up: pressed", "COIL ? V", "LAMP ? V"], id="relay"),
        pytest.param(MUTE, "J1 ds-short", ["sound: ?"], id="mute"),
        pytest.param(ADJUSTABLE, "R2 open", ["rail: ?"], id="R2"),
        pytest.param(ADJUSTABLE, "U1 low-output", ["rail: ?"], id="regulator"),
        pytest.param(WINDING, "TR1 upper-open", ["winding: ?"], id="winding"),
        pytest.param(JACK, "J1 break-open", ["loudspeaker: ?", "headphones: ?"], id="jack"),
        pytest.param(BATTERY, "B1 low-under-load", ["light: ?"], id="battery"),
        pytest.param(TRACKS, "T1-2 contact-resistance", ["rail: ?"], id="track"),
    ],
)
def test_a_fault_in_each_of_the_newer_kinds_is_located(book: Book, text: str, fault: str, lines: list[str]) -> None:
    bench = opened(book, text, fault)
    bench.type(*lines)
    bench.follow()
    found(bench, fault)


# The unpowered board ---------------------------------------------------------------------------

SUPPLY = """
machine: Old supply on the bench, nothing switched on
extras:
  PSU: source 12V 2% series 0.5R  IN > GND
known good: [PSU]
parts:
  F1: fuse 1A  IN > RAW
  D1: diode rectifier  RAW > SUP
  C1: capacitor 1000u electrolytic  SUP > GND
  R1: resistor 1k  SUP > OUT
  D2: zener 5V1  GND > OUT
  C2: capacitor 10u electrolytic  OUT > GND
  R2: resistor 10k  OUT > GND
stimuli:
  idle: {do: switch it on}
works:
  rail: OUT dc at idle; below 4.5V = low; above 5.6V = high
"""


@pytest.mark.parametrize(
    ("fault", "lines"),
    [
        pytest.param("R1 drift-up", ["R1 ? ohm off", "D1.a to D1.k ? V diode off"], id="ohms above the mark"),
        pytest.param(
            "D2 short", ["D2.a to D2.k ? V diode off", "D2.k to D2.a ? V diode off"], id="diode range, both ways"
        ),
        pytest.param("F1 open", ["F1.1 to F1.2 beep ? off", "F1 ? ohm off"], id="continuity"),
        pytest.param("C1 high-esr", ["C1 esr ? ohm off", "C1 ? F off"], id="esr in place"),
        pytest.param("C1 low-value", ["C1 ? F off", "C1 esr ? ohm off"], id="capacitance in place"),
    ],
)
def test_a_fault_is_found_on_the_unpowered_board(book: Book, fault: str, lines: list[str]) -> None:
    bench = opened(book, SUPPLY, fault)
    bench.type(*lines)
    assert bench.now().search.suspects[0].id == fault
    bench.follow()
    found(bench, fault)


def test_a_charge_left_behind_is_asked_about_before_ohms(book: Book) -> None:
    bench = opened(book, SUPPLY, "R1 drift-up")
    assert "a charge is left with power off" in bench.type("C1.1 9.3 V off")[-1]
    asked = bench.ask("R1 2k6 ohm off")
    assert "9.3 V was left at C1.1" in asked and "discharge" in asked
    bench.type("C1.1 0 V off", "R1 ? ohm off")
    found_first = bench.now()
    assert found_first.search.suspects[0].id == "R1 drift-up"
    assert any("a charge left" in one for one in found_first.left_out)


# Live, but passive -----------------------------------------------------------------------------

COUPLED = """
machine: Coupling and treble
extras:
  GEN: source 0V series 10R  A > GND
known good: [GEN]
parts:
  C1: capacitor electrolytic 10u  A > B
  R1: resistor 1k 1%  B > GND
  R2: resistor 100k 1%  B > C
  C2: capacitor 1n film  B > C
  R3: resistor 100k 1%  C > GND
stimuli:
  tone: {do: feed a tone, GEN: sine 1V rms 1kHz}
works:
  sound: C level at tone; below 60% of healthy = weak
"""
RAIL = """
machine: Rail with three loads
extras:
  PSU: source 5V 2% series 0.05R limit 2A  IN > GND
known good: [PSU]
parts:
  T1: track 20m  IN > E1 > E2 > E3
  C1: capacitor 10u tantalum  E1 > GND
  C2: capacitor 10u tantalum  E2 > GND
  C3: capacitor 10u tantalum  E3 > GND
  R1: resistor 100R  E3 > GND
stimuli:
  on: {do: switch it on}
works:
  rail: E3 dc at on; below 4.5V = low
"""
REGULATED = """
machine: Set with a regulator
extras:
  PSU: source 12V 2% series 1R  RAW > GND
known good: [PSU]
parts:
  C1: capacitor 470u electrolytic  RAW > GND
  U1: regulator 5V  in=RAW com=GND out=V5
  R1: resistor 100R  V5 > A
  D1: led red  A > GND
  R2: resistor 1k  V5 > B
  R3: resistor 1k  B > GND
stimuli:
  on: {do: switch it on}
works:
  light: A dc at on; below 1.2V = dark
"""


@pytest.mark.parametrize(
    ("fault", "low", "high"),
    [
        ("C1 low-value", "C ? V rms at 50 Hz", "C ? V rms at 1 kHz"),
        ("C2 open", "C ? Vpp at 50 Hz", "C ? Vpp at 20 kHz"),
    ],
)
def test_a_signal_at_two_frequencies_is_two_questions(book: Book, fault: str, low: str, high: str) -> None:
    bench = opened(book, COUPLED, fault)
    said = bench.type(low, high)
    assert any("of the same place at tone, 50 Hz" in one or "as the same place at tone, 50 Hz" in one for one in said)
    bench.follow()
    found(bench, fault)


def test_millivolts_along_a_path_become_ohms_and_watts_and_weigh(book: Book) -> None:
    bench = opened(book, TRACKS, "T1-2 contact-resistance")
    bench.type("set-up: power off, bench supply 2V limit 0.5A on IN")
    for pads in ("IN to E1 ? V", "E1 to E2 ? V", "E2 to E3 ? V"):
        bench.type(pads)
    bench.follow()
    found(bench, "T1-2 contact-resistance")


def test_a_short_on_a_rail_is_found_by_the_gradient_along_its_pads(book: Book) -> None:
    bench = opened(book, RAIL, "C2 short")
    bench.type("rail: bad", "set-up: power off, bench supply 1V limit 0.5A on IN")
    for pads in ("IN to E1 ? V", "E1 to E2 ? V", "E2 to E3 ? V"):
        bench.type(pads)
    bench.follow()
    found(bench, "C2 short")


def test_a_bench_supply_behind_a_removed_regulator_tells_it_from_its_load(book: Book) -> None:
    bench = opened(book, REGULATED, "U1 open")
    bench.type("light: ?", "V5 ? V")
    bench.type("set-up: power off, lift U1.out, bench supply 5V limit 0.2A on V5", "V5 ? V", "A ? V")
    bench.type("set-up: power on")
    bench.follow()
    found(bench, "U1 open")


HIGH = """
machine: High-resistance divider
extras:
  PSU: source 9V 1% series 1R  SUP > GND
known good: [PSU]
parts:
  R1: resistor 1M 1%  SUP > HI
  R2: resistor 1M 1%  HI > GND
  R3: resistor 1M 1%  HI > LO
  R4: resistor 1M 1%  LO > GND
stimuli:
  on: {do: switch it on}
works:
  level: LO dc at on; below 1.2V = low; above 2.2V = high
"""


def test_a_second_meter_left_on_is_part_of_the_circuit(book: Book) -> None:
    """Each meter of 10 Mohm pulls HI down by a few per cent: that is no fault, and beside a card it is said."""
    bench = opened(book, HIGH, "R4 drift-up")
    sound = opened(book, HIGH)
    for one in (bench, sound):
        one.type("set-up: power on, second meter on HI", "LO ? V", "HI ? V")
    assert sound.now().search.suspects[0].id == "nothing-wrong", sound.leaders()
    with_it, alone = (Question("dc", "HI", setup=Setup(metered=metered)) for metered in ((("HI", "GND"),), ()))
    assert reads(sound.hidden, with_it) < 0.97 * reads(sound.hidden, alone)
    middle = open_search(sound.machine, "k").laws.base.middle
    assert "The meter itself takes" in say_taken(middle, alone) and "The meter itself takes" in say_taken(
        middle, with_it
    )
    bench.follow()
    found(bench, "R4 drift-up")


# Now and then ----------------------------------------------------------------------------------

LIGHT = """
machine: Panel light that goes out at times
extras:
  PSU: source 12V 2% series 0.5R  SUP > GND
known good: [PSU]
parts:
  R1: resistor 470R 1%  SUP > A
  J1: contact  A > B
  D1: led red  B > C
  S1: switch closed  C > D
  R2: resistor 100R 1%  D > GND
stimuli:
  on: {do: switch it on}
works:
  light: A to D dc at on; above 4V = dark
"""


def test_when_nothing_is_to_be_seen_it_proposes_to_provoke_and_finds_the_contact(book: Book) -> None:
    bench = opened(book, LIGHT)
    bench.hidden = planted(read(LIGHT), "J1 contact-resistance", bad=2)  # as bad as is sharp beside the meter's leads
    bench.asleep = True
    bench.type("A ? V", "B ? V", "D ? V")
    before = bench.now().search.actions
    assert not {"swap", "repair"} & {one.kind for one in before}  # nobody would see whether they cured
    (tap, *_) = [one for one in before if one.kind == "provoke"]
    assert "with something that insulates" in tap.do and tap.minutes > 0.0 and tap.why
    assert {one.if_ for one in tap.outcomes} == {"the fault comes", "nothing changes"}
    bench.follow(12)
    assert not bench.asleep
    found(bench, "J1 contact-resistance")


def test_a_joint_that_is_another_after_every_knock_is_still_one_joint(book: Book) -> None:
    """A contact of half an ohm, of twenty and of three, each after it was disturbed: one suspect explains all three."""
    bench = opened(book, LIGHT, "J1 contact-resistance")
    for bad, tail in ((0, ""), (2, "; new sitting"), (1, "; new sitting")):
        bench.hidden = planted(read(LIGHT), "J1 contact-resistance", bad=bad)
        said = bench.type(f"across J1 ? V{tail}")
    assert any("in an earlier sitting" in one for one in said), said
    bench.follow()
    found(bench, "J1 contact-resistance")


def test_a_place_that_is_never_live_is_not_provoked_either(book: Book) -> None:
    bench = opened(book, f"{LIGHT}never live: [B]\n", "J1 contact-resistance")
    bench.asleep = True
    bench.type("A ? V", "D ? V")
    at = [one.where.removeprefix("near ") for one in bench.now().search.actions if one.kind == "provoke"]
    assert at and not {"J1", "D1"} & set(at)


FOLLOWER = """
machine: Follower
extras:
  PSU: source 12V 2% series 0.2R  SUP > GND
known good: [PSU]
parts:
  R1: resistor 10k 1%  SUP > B
  R2: resistor 10k 1%  B > GND
  Q1: npn  c=SUP b=B e=OUT
  R3: resistor 1k 1%  OUT > GND
stimuli:
  on: {do: switch it on}
works:
  level: OUT dc at on; below 4.5V = low; above 6V = high
"""


@pytest.mark.parametrize(
    ("fault", "said", "lines", "leads"),
    [
        ("Q1 leak-ce", "level: high", ["freeze Q1: cured", "warm Q1: fault comes", "freeze Q1: cured"], "Q1 "),
        ("Q1.b joint-open", "level: low", ["works while I probe Q1.b", "tap near Q1: cured"], "Q1.b"),
        ("Q1.e joint-open", "level: low", ["flex near Q1: crackles", "press Q1: works"], "Q1."),
    ],
)
def test_what_tapping_bending_warming_chilling_and_probing_do_is_weighed(
    book: Book, fault: str, said: str, lines: list[str], leads: str
) -> None:
    bench = opened(book, FOLLOWER, fault)
    bench.type(said)
    before = sum(one.probability for one in bench.now().search.suspects if one.id.startswith(leads))
    bench.type(*lines)
    after = sum(one.probability for one in bench.now().search.suspects if one.id.startswith(leads))
    assert after / (1.0 - after) > 3.0 * before / (1.0 - before), (before, after)
    bench.follow(10)
    found(bench, fault)


LEADED = """
machine: Light on a lead
extras:
  ADAPTOR: source 12V 2% series 0.5R  PLUG > GND
  LEAD: lead  PLUG > SUP
parts:
  R1: resistor 470R 1%  SUP > A
  D1: led red  A > GND
stimuli:
  on: {do: switch it on}
works:
  light: A dc at on; below 1.4V = dark
"""


def test_a_swap_that_cures_is_put_back_before_it_counts(book: Book) -> None:
    bench = opened(book, LEADED, "LEAD open")
    bench.type("light: ?")
    before = bench.now().search
    bench.type("LEAD swapped: cured")
    waiting = bench.now()
    assert waiting.card is not None and waiting.card.kind == "reverse"
    assert waiting.search.suspects == before.suspects  # it does not count yet
    bench.type("old LEAD back, fault back")
    bench.follow()
    view = bench.now().search
    assert view.finding == "outside" and view.suspects[0].id.startswith("LEAD"), bench.leaders()


# Side by side ----------------------------------------------------------------------------------

TWO_CHANNELS = """
machine: Two equal channels
extras:
  GEN: source 0V series 10R  IN > GND
  PSU: source 12V 1% series 1R  SUP > GND
known good: [GEN, PSU]
each: {A: left, B: right}
parts:
  C*1: capacitor 1u film  IN > IX*
  R*1: resistor 100k..400k  SUP > IX*
  R*2: resistor 100k  IX* > GND
  R*3: resistor 10k  IX* > OUT*
  R*4: resistor 10k  OUT* > GND
stimuli:
  tone: {do: feed the tone, GEN: sine 0.5V rms 1kHz}
works:
  sound *: OUT* level at tone; below 60% of healthy = weak
"""
SWITCHED = """
machine: Input switch
extras:
  GEN: source 0V series 100R  IN > GND
known good: [GEN]
parts:
  R1: resistor 10k  IN > AUX
  R2: resistor 10k  IN > TAPE
  S1: switch open  AUX > OUT
  S2: switch closed  TAPE > OUT
  R3: resistor 10k  OUT > GND
stimuli:
  aux: {do: switch to aux, S1: closed, S2: open, GEN: sine 0.5V rms 1kHz}
  tape: {do: switch to tape, S1: open, S2: closed, GEN: sine 0.5V rms 1kHz}
works:
  aux input: OUT level at aux; below 60% of healthy = weak
  tape input: OUT level at tape; below 60% of healthy = weak
"""


def test_the_equal_channel_says_what_the_bad_one_should_read(book: Book) -> None:
    bench = opened(book, TWO_CHANNELS, "RB1 drift-up", unknown=0.8)
    bench.type("IXA ? V at tone")  # nobody knows the value of R*1: the good channel tells
    assert any("of IXA" in one for one in bench.type("IXB ? V at tone"))
    bench.follow(10)
    found(bench, "RB1 drift-up")


ALONE = TWO_CHANNELS.replace("each: {A: left, B: right}\n", "").replace(" *:", ":").replace("*", "")


def test_a_sister_read_before_there_was_a_file_is_tied_with_the_rest(
    book: Book, probewright: Run, tmp_path: Path
) -> None:
    """Free names, another frequency and a sister machine, all typed before anybody had the schematic."""
    hidden = planted(read(ALONE), "C1 low-value", unknown=0.8)
    file = tmp_path / "alone.yaml"
    file.write_text(ALONE, "utf-8")
    probewright("job", "open", "--kind", "amplifier", "--bad", "sound left", "--says", "thin")
    for line in ("input leg {}V", "input leg {}V on the sister"):
        shown = says(sound_one(hidden), Question("dc", "IX"))
        assert probewright("reading", "add", line.format(shown.replace("V", ""))).returncode == 0
    for hertz in (20.0, 0.0):
        for where in ("", " on the sister"):
            there = sound_one(hidden) if where else hidden
            shown = says(there, Question("rms", "OUT", setup=Setup(stimulus="tone", hertz=hertz)))
            at = " at 20 Hz" if hertz else ""
            done = probewright("reading", "add", f"output post {shown}{at}{where}")
            assert done.returncode == 0, (done.stdout, done.stderr)
    assert "the same: as that on this machine" in done.stdout and "of the same place at 20 Hz" not in done.stdout
    done = probewright("job", "tie", file, "--as", "input leg=IX", "--as", "output post=OUT", "--yes")
    assert done.returncode == 0, done.stderr
    view = json.loads(probewright("suspects", "--json").stdout)
    assert not view["left_out"], view["left_out"]
    assert view["search"]["suspects"][0]["id"] == "C1 low-value", [one["id"] for one in view["search"]["suspects"][:4]]


def test_two_positions_of_a_switch_are_two_questions_and_the_ratio_tells(book: Book) -> None:
    bench = opened(book, SWITCHED, "R1 drift-up")
    bench.type("aux input: ?", "tape input: ?", "set-up: power on, tape", "OUT ? Vpp")
    said = bench.type("set-up: power on, aux", "OUT ? Vpp; same hook-up")
    assert any("of the same place at tape" in one for one in said), said
    bench.follow(10)
    found(bench, "R1 drift-up")


PLAYING = ALONE.replace("GEN: sine 0.5V rms 1kHz", "GEN: whatever it is playing")


def test_whatever_it_is_playing_only_shares_count_and_they_find_it(book: Book) -> None:
    bench = opened(book, PLAYING, "R3 drift-up")
    bench.type("sound: ?")
    for line in ("IN ok", "OUT half"):
        bench.type(line)
    bench.follow(10)
    found(bench, "R3 drift-up")


# What a machine teaches ------------------------------------------------------------------------


def test_a_machine_repaired_before_teaches_this_one(probewright: Run, tmp_path: Path) -> None:
    """Through the command, the teacher without any schematic: nobody knows the value of R1, the sound machine tells."""
    hidden = planted(read(ALONE), "R1 drift-up", unknown=0.8)
    asks = {"IX": Question("dc", "IX"), "OUT": Question("dc", "OUT")}
    file = tmp_path / "alone.yaml"
    file.write_text(ALONE, "utf-8")

    def told(*words: object) -> str:
        done = probewright(*words)
        assert done.returncode == 0, (words, done.stdout, done.stderr)
        return str(done.stdout)

    told("job", "open", "--kind", "amplifier", "--model", "Model 7", "--bad", "sound left")
    for place, ask in asks.items():
        told("reading", "add", f"{place} {says(sound_one(hidden), ask)}")
    told("job", "close", "--as", "nothing wrong")
    told("job", "open", "--kind", "amplifier", "--model", "model 7", "--says", "it drifts")
    learnt = told("job", "learn", 1, "--meter", "M1", "--same-meter")
    assert "2 healthy values learnt from job 1, with meter M1" in learnt
    said = told("reading", "add", f"IX {says(hidden, asks['IX'])}")
    assert "not the same" in said and "a healthy one" in said and "learnt from job 1, with meter M1" in said
    told("job", "tie", file, "--yes")
    across = Question("ohms", "R2.1", "R2.2", Setup(power="off"))
    told("reading", "add", f"OUT {says(hidden, asks['OUT'])}")
    told("reading", "add", f"R2.1 to R2.2 {says(hidden, across)} off")
    view = json.loads(told("suspects", "--json"))
    with_it = {one["id"]: one["probability"] for one in view["search"]["suspects"]}
    assert next(iter(with_it)).startswith("R1"), with_it
    refused = probewright("job", "learn", 7)
    assert refused.returncode == 2 and "no job 7" in refused.stderr
    for _ in ("two readings", "the file", "the reading", "what was learnt", ""):
        told("reading", "undo")
    assert "learnt from job 1" not in told("reading", "add", f"IX {says(hidden, asks['IX'])}")


@pytest.mark.parametrize(("said", "mends"), [("ok", False), ("bad", True)])
def test_where_nothing_is_complained_of_nothing_is_mended_on_suspicion(said: str, mends: bool) -> None:
    """The owner says that all is well: whether a repair cured nobody would see."""
    made = read(LIGHT)
    search = enter_readings(open_search(made), read_readings(f"light: {said}\n", made))
    offered = {one.action.kind for one in ranked(search.population)}
    assert "reading" in offered and ("repair" in offered) == mends
