"""Circuits in the place of something dead: against the book, in the demo machines, on a job, at both doors."""

from __future__ import annotations

import json
import math
import re

import numpy as np
import pytest

from conftest import ROOT
from probewright import machine
from probewright.errors import BadInput
from probewright.jobs import adding, bench
from probewright.jobs.added_circuits import added_of, as_option, look, place, placing_said, said_of, take_back, variant
from probewright.jobs.added_verdict import FITS, HOT, OFF, TOLD, _heat, drivers, twins
from probewright.jobs.cases import Intake
from probewright.jobs.files import healthy_laws
from probewright.machine import shelf
from probewright.machine.model import Measure
from probewright.machine.ratings import WATTS, rated
from probewright.planning.margins import margin
from probewright.prediction.fitted import Spread, spread
from probewright.prediction.outcomes import quantity, show
from probewright.readings import Question, Setup
from spice import Deck

NOW = "2026-11-26T13:00:00+00:00"
EVERY = [(one.name, form) for one in shelf.added_circuits() for form in one.forms]
FOLLOWER = {"in": "FADR", "out": "OPAR", "supply": "V8"}

# A source behind 1 kohm, a rail and a load: what a textbook draws round a follower or an op-amp.
BENCH = """machine: Textbook bench
extras:
  PSU: source 12V series 0R1  VCC > GND
  GEN: source 6V series 1k  SIG > GND
  RL: load 10k  OUT > GND
parts:
  X1: block gain 1 output 100R  in=SIG out=OUT
stimuli:
  tone: {GEN: 6V sine 0.1V rms 1kHz}
works:
  passes: OUT level at tone; below 50% of healthy = weak
"""
LOGIC = """machine: Textbook logic
extras:
  PSU: source 5V 0% series 0R1  VCC > GND
parts:
  R1: resistor 100k  RES > GND
  IC1: inverter hc  in=GND out=RES vplus=VCC vminus=GND
stimuli:
  rest: {}
works:
  runs: RES dc at rest above 3V
"""
BITS = "machine: Textbook bits\nextras:\n" + "".join(f"  D{n}: source 0V series 1R  B{n} > GND\n" for n in range(4))
BITS += "  RL: load 100M  SUM > GND\nparts:\n  R99: resistor 10M  SUM > GND\nstimuli:\n  none: {}\n"
BITS += "".join(f"  bit {n}: {{D{n}: 8V}}\n" for n in range(4))


def demo(folder, name):
    return (folder / f"fernside-{name}.yaml").read_text("utf-8")


def seen(text, circuit, joins, lift=(), wants=None, at="", **values):
    """The circuit judged in a machine file."""
    return look(text, placing_said(machine.read(text), circuit, values, joins, lift, wants or {}, at))


def line(view, what, place=""):
    return next(one for one in view.lines if one.what == what and place in ("", one.place))


def middle(text, place, quantity_="dc", at="", setup=None):
    """A figure of the middling machine of a file."""
    found = quantity(healthy_laws(machine.read(text)).base.middle, Measure(place, quantity_, at), setup or Setup())
    assert found.judged[0]
    return float(found.value[0])


# Against the book ------------------------------------------------------------------------------


def test_a_follower_stands_a_junction_lower_and_drives_through_little_resistance():
    """Horowitz and Hill, The Art of Electronics, chapter 2: 0.6 to 0.7 V below; output resistance r_e + R_source / (beta +
    1), r_e = 25 mV / I_c, here with the stopper and the 1 kohm of the source, and the series resistor after it."""
    view = seen(BENCH, "follower-output", {"in": "SIG", "out": "OUT", "supply": "VCC"}, ["X1.out"],
                emitter="4k7", stopper="100R", series="10R")  # fmt: skip
    free = middle(view.variant, "A1-EMIT", "level", "tone")
    loaded = middle(view.variant, "A1-EMIT", "level", "tone", Setup(loaded=(("A1-EMIT", "GND", 100.0),)))
    at_rest = middle(view.variant, "A1-EMIT")
    assert 0.6 < middle(view.variant, "A1-BASE") - at_rest < 0.7
    drop = middle(view.variant, "A1-EMIT", setup=Setup(loaded=(("A1-EMIT", "GND", 100.0),)))
    amps = drop / 100.0 + drop / 4.7e3 + drop / 10010.0  # what the transistor carries while it is loaded
    gain = 200.0  # middle of 100..400 in the logarithm, the kind's own assumption
    expected = 0.0258 / amps + (1000.0 + 100.0) / (gain + 1.0)
    emitter = 1.0 / (1.0 / 4700.0 + 1.0 / 10010.0)  # both loads that are there without the 100 ohm
    # two dividers of one source: free = e R / (R + r), loaded = e (R || 100) / (R || 100 + r)
    ratio = loaded / free
    both = 1.0 / (1.0 / emitter + 1.0 / 100.0)
    unloaded_re = 0.0258 / (at_rest / emitter)
    r_free = unloaded_re + 1100.0 / (gain + 1.0)
    assert ratio == pytest.approx((both / (both + expected)) / (emitter / (emitter + r_free)), rel=0.03)


def test_an_op_amp_amplifies_by_its_resistors_and_its_band_shrinks_by_as_much():
    """Horowitz and Hill, chapter 4: gain 1 + R2 / R1, and at that gain the band is the gain-bandwidth product by it."""
    view = seen(BENCH, "op-amp-buffer", {"in": "SIG", "out": "OUT", "supply": "VCC", "ref": "SIG"}, ["X1.out"],
                {"gain": "5"}, form="gain", feedback="40k 0.1%", gain="10k 0.1%")  # fmt: skip
    assert view.values["amplifier"] == "generic"
    # its reference is the signal itself here, so that direct volts stay put: the signal passes at 1
    assert line(view, "gain").middle == pytest.approx(1.0, rel=0.01)
    text = BENCH.replace("  RL: load", "  MID: source 6V series 0R1  HALF > GND\n  RL: load")
    view = seen(text, "op-amp-buffer", {"in": "SIG", "out": "OUT", "supply": "VCC", "ref": "HALF"}, ["X1.out"],
                {"gain": "5"}, form="gain", feedback="40k 0.1%", gain="10k 0.1%", series="1R")  # fmt: skip
    assert line(view, "gain").verdict == FITS and line(view, "gain").middle == pytest.approx(5.0, rel=2e-3)
    assert line(view, "bandwidth").middle == pytest.approx(2e6 / 5.0, rel=0.02)  # 2 MHz: the kind's own assumption


def test_a_ladder_of_r_and_2r_halves_from_bit_to_bit():
    """Horowitz and Hill, chapter 13, converters: bit n from the top gives V / 2^(n + 1)."""
    joins = {"out": "SUM", **{f"bit{n}": f"B{n}" for n in range(4)}}
    view = seen(BITS, "ladder-repair", joins, form="r-2r")
    steps = [middle(view.variant, "SUM", at=f"bit {n}") for n in (3, 2, 1, 0)]
    # R || 2R chains end in R; 10 Mohm of leak at the end and 1 ohm of each bit take 0.1 %
    assert steps == pytest.approx([4.0, 2.0, 1.0, 0.5], rel=3e-3)


def test_an_adjustable_regulator_holds_what_its_resistors_say(demo_folder):
    """Data sheets of adjustable regulators: 1.25 V (1 + R2 / R1) + 50 uA R2."""
    view = seen(demo(demo_folder, "lm-2"), "regulator", {"in": "RAW", "out": "V8"}, ["U1.out"],
                form="adjustable", upper="240R 1%", lower="1k3 1%")  # fmt: skip
    assert middle(view.variant, "V8") == pytest.approx(1.25 * (1 + 1300 / 240) + 50e-6 * 1300, rel=2e-3)


@pytest.mark.parametrize(
    ("form", "share", "slack"),
    # a comparator turns at half of the supply, its hysteresis of 1 Mohm about 1 % off; the thresholds of the gate are
    # the middle of the kind's band, and move by a tenth with the output
    [("comparator", 0.5, 0.05), ("comparator-high", 0.5, 0.05), ("schmitt", 1 - 2.1 / 5, 0.1), ("schmitt-high", 2.9 / 5, 0.1)],
)  # fmt: skip
def test_a_reset_lets_go_when_its_capacitor_has_charged(form, share, slack):
    """t = R C ln(1 / (1 - share)), as in every book."""
    view = seen(LOGIC, "reset-generator", {"out": "RES", "supply": "VCC"}, ["IC1.out"],
                form=form, resistor="100k", capacitor="1u")  # fmt: skip
    found = line(view, "delay")
    assert found.verdict == TOLD
    assert found.middle == pytest.approx(0.1 * math.log(1 / (1 - share)), rel=slack)
    assert line(view, "rests").verdict == FITS


def test_ngspice_finds_the_same_follower(ngspice):
    """The machine with the circuit in it as a deck whose laws are typed afresh."""
    text = BENCH.replace("X1: block gain 1 output 100R  in=SIG out=OUT", "X1: resistor 4k7  SIG > OUT")
    view = seen(text, "follower-output", {"in": "SIG", "out": "OUT", "supply": "VCC"}, ["X1.2"], form="coupled")
    bank = healthy_laws(machine.read(view.variant)).base.middle
    solved, nets = bank.solved(Setup()), ["A1-BASE", "A1-EMIT", "A1-NEAR", "SIG", "VCC"]
    ours = [
        show(bank, Question("dc", net)).value[0] for net in nets
    ]  # ngspice's deck has a meter on each place in turn
    theirs, _ = Deck(solved.circuit, solved.batch, 0, nets).run()
    assert theirs == pytest.approx(ours, abs=1e-5) and ours[1] > 4.0


# In a machine ----------------------------------------------------------------------------------


def test_a_dead_channel_is_held_against_the_sound_one(demo_folder):
    view = seen(demo(demo_folder, "lm-2"), "follower-output", FOLLOWER, ["U3R.out"])
    level = line(view, "level")
    assert view.fits and "left (OPAL)" in level.says and level.verdict == FITS
    assert level.low < level.middle < level.high
    assert line(view, "works", "right output").says == "right output: works again"
    assert "C12R keeps that from what follows" in line(view, "direct volts").says


def test_the_other_channel_reads_as_before(demo_folder):
    text = demo(demo_folder, "lm-2")
    view = seen(text, "follower-output", FOLLOWER, ["U3R.out"])
    assert middle(view.variant, "ENDL", "level", "tone") == pytest.approx(
        middle(text, "ENDL", "level", "tone"), rel=1e-4
    )


def test_direct_volts_that_nothing_keeps_back_do_not_fit(demo_folder):
    """The same follower where what follows is not behind a capacitor: after the fader's own amplifier."""
    text = demo(demo_folder, "lm-2").replace("C12*: capacitor 22u 20% electrolytic      OPA* > SER*", "R19*: resistor 1R  OPA* > SER*")  # fmt: skip
    found = line(seen(text, "follower-output", FOLLOWER, ["U3R.out"]), "direct volts")
    assert found.verdict == OFF and "off by" in found.says and "lower" in found.says


def test_a_capacitor_the_wrong_way_round_is_named_and_none_of_the_library_is(demo_folder):
    text, to = demo(demo_folder, "lm-2"), {**FOLLOWER, "out": "OUTR"}
    view = seen(text, "follower-output", to, ["R15R.2"], form="coupled")
    assert line(view, "volts across", "A1-C3").verdict == FITS
    # the same capacitor into a place that stands higher than the emitter
    high = seen(text.replace("R16*: resistor 47k", "R17*: resistor 1k  V8 > OUT*\n      R16*: resistor 47k"), "follower-output",
                to, ["R15R.2"], form="coupled")  # fmt: skip
    found = line(high, "volts across", "A1-C3")
    assert found.verdict == OFF and found.middle < -0.3 and "wrong way round" in found.says


def test_an_output_that_was_not_lifted_is_named(demo_folder):
    view = seen(demo(demo_folder, "lm-2"), "follower-output", FOLLOWER)
    assert not view.fits and line(view, "still drives it").place == "U3R.out"
    assert not any("Lift" in step for step in view.steps)
    lifted = seen(demo(demo_folder, "lm-2"), "follower-output", FOLLOWER, ["U3R.out"])
    assert lifted.steps[0].startswith("Lift U3R.out off OPAR")


def test_too_little_of_a_resistor_is_too_hot_and_the_next_size_is_named(demo_folder):
    """8 V rail, some 3.2 V and a tone on 68 ohm: 0.16 W on a quarter watt, more than half of it."""
    view = seen(demo(demo_folder, "lm-2"), "follower-output", FOLLOWER, ["U3R.out"], emitter="68R")
    hot = line(view, "watts", "A1-R2")
    rest, tone = middle(view.variant, "A1-EMIT"), middle(view.variant, "A1-EMIT", "level", "tone")
    assert hot.middle == pytest.approx((rest**2 + tone**2) / 68.0, rel=5e-3)
    assert hot.verdict == HOT and "take one of 0.5 W" in hot.says and not view.fits
    again = seen(demo(demo_folder, "lm-2"), "follower-output", FOLLOWER, ["U3R.out"], emitter="68R", bears="0.5W")
    assert line(again, "watts", "A1-R2").verdict == FITS


def test_a_capacitor_gets_the_share_of_its_volts_that_any_new_part_gets():
    """A ceramic one of 50 V is let to bear 70 % of that: Reliability Analysis Center, in `planning/data/margins.csv`."""

    def across(volts: int):
        text = BENCH.replace("source 12V", f"source {volts}V")
        to = {"in": "SIG", "out": "OUT", "supply": "VCC"}
        return line(seen(text, "follower-output", to, ["X1.out"]), "volts across", "A1-C1")

    assert across(30).verdict == FITS
    tight = across(40)
    assert tight.verdict == OFF and "more than 70 % of that" in tight.says and "take one of 63 V" in tight.says


def test_a_part_without_a_case_of_its_own_bears_what_the_tables_say():
    """Ratings and margins of `planning`, whatever the kind; what the line types comes before the table."""
    parts = machine.read("""machine: m
parts:
  V1: source 5V  VCC > GND
  U1: opamp  plus=A minus=OUT out=OUT vplus=VCC vminus=GND
  U2: comparator  plus=A minus=OUT out=LINE vplus=VCC vminus=GND
  D1: diode  A > GND
  D2: diode rectifier  A > GND
  R1: resistor 10k  A > VCC
  R2: resistor 10k 2W  A > VCC
  R3: resistor 10k  OUT > LINE
""")
    for part in (parts.parts[name] for name in ("U1", "U2", "D1", "D2", "R1", "R2")):
        most = margin(part, WATTS).share * rated(part, WATTS).value
        for share, verdict in ((0.99, FITS), (1.01, HOT)):
            watts = share * most
            assert _heat(part, parts, Spread(watts, watts, watts, np.array([watts]))).verdict == verdict, part.name


def test_a_transistor_is_judged_by_the_warmth_inside():
    """11.3 V on 47 ohm: 0.2 A through it with 6 V across: 1.2 W in a case without a tab is far too hot."""
    text = BENCH.replace("series 1k  SIG", "series 10R  SIG")
    found = line(seen(text, "follower-output", {"in": "SIG", "out": "OUT", "supply": "VCC"}, ["X1.out"],
                      emitter="47R", bears="2W"), "watts", "A1-Q1")  # fmt: skip
    assert found.verdict == HOT and "°C inside" in found.says and "take a medium one" in found.says


def test_what_is_wanted_and_not_reached_is_off_by_so_much(demo_folder):
    told = {"level": "0.5V 5%", "bandwidth": "5MHz"}
    view = seen(demo(demo_folder, "lm-2"), "op-amp-buffer", FOLLOWER, ["U3R.out"], told)
    level, band = line(view, "level"), line(view, "bandwidth")
    assert level.verdict == OFF and "wanted 475 mV to 525 mV" in level.says
    assert float(re.search(r"off by ([+-]\d+) %", level.says).group(1)) == pytest.approx(
        100 * (level.middle / 0.5 - 1), abs=1
    )
    assert band.verdict == OFF and band.middle < 5e6


def test_a_driving_place_that_gives_way_is_named(demo_folder):
    pulled = seen(demo(demo_folder, "lm-2"), "follower-output", {**FOLLOWER, "in": "MIDR"}, ["U3R.out"],
                  form="coupled", upper="1k", lower="1k")  # fmt: skip
    found = line(pulled, "level at its input", "MIDR")
    assert found.verdict == OFF and found.middle < -0.05 and "changes by -" in found.says


def test_a_reset_that_cannot_lift_its_line_is_found(demo_folder):
    """10 kohm up against the 10 kohm that hangs on the line: it never passes half of the supply."""
    told = {"out": "RUN", "supply": "V5"}
    weak = seen(
        demo(demo_folder, "tg-8"), "reset-generator", told, ["IC1.out"], {"delay": "50ms"}, form="comparator-high"
    )
    assert line(weak, "delay").verdict == OFF and "does not fall through" in line(weak, "delay").says
    strong = seen(demo(demo_folder, "tg-8"), "reset-generator", told, ["IC1.out"], {"delay": "50ms"},
                  form="comparator-high", pull="1k")  # fmt: skip
    assert strong.fits and strong.chosen == ("resistor 75k",)
    assert 0.04 <= line(strong, "delay").middle <= 0.06


def test_a_regulator_without_room_above_its_output_is_found(demo_folder):
    text = demo(demo_folder, "lm-2").replace("source 12V 5%", "source 9.5V 5%")
    found = line(seen(text, "regulator", {"in": "RAW", "out": "V8"}, ["U1.out"], output="8V"), "room")
    assert found.verdict == OFF and "wants 2 V at least" in found.says


@pytest.mark.parametrize(("circuit", "form"), EVERY)
def test_every_circuit_of_the_library_goes_into_a_machine(circuit, form):
    """Each can be written into a file that reads back, with every door joined and nothing that looks like a slip."""
    stage = shelf.added_circuit(circuit)
    body = stage.forms[form]
    nets = [door for door in body.doors if door not in body.usual]
    host = "machine: Host\nparts:\n" + "".join(
        f"  R{n}: resistor 1k  N{net} > GND\n  V{n}: source 5V  N{net} > GND\n" for n, net in enumerate(nets)
    )
    filled = shelf.fill_in(stage, {"form": form} if form else {}, "A1")
    text = shelf.put_added(host, filled, {net: f"N{net}" for net in nets}, ["R0.1"])
    read = machine.read(text)
    assert read.warnings == () and read.parts["R0"].pins["1"] == "nc:R0.1"
    assert machine.read(machine.write(text)).parts == machine.read(text).parts
    assert read.added_boards[0].parts and all(read.parts[one].role == "added" for one in read.added_boards[0].parts)


def test_what_an_added_board_lifts_stands_by_itself():
    text = (
        BENCH
        + "added boards:\n  A:\n    fitted: yes\n    lifted: [X1.out]\n    parts:\n      R9: resistor 1k  SIG > OUT\n"
    )
    assert machine.read(text).parts["X1"].pins["out"] == "nc:X1.out"
    assert machine.read(text.replace("fitted: yes", "fitted: no")).parts["X1"].pins["out"] == "OUT"
    for wrong, says in ((("[X1.out]", "[OUT]"), "is a net"), (("[X1.out]", "[X1.bse]"), "no pin"),
                        (("fitted: yes", "fitted: unknown"), "nothing is known to be lifted")):  # fmt: skip
        with pytest.raises(BadInput, match=says):
            machine.read(text.replace(*wrong))


def test_equal_places_and_what_drives_one(demo_folder):
    read = machine.read(demo(demo_folder, "lm-2"))
    assert list(twins(read, "OPAR")) == ["OPAL"] and list(twins(read, "V8")) == []
    assert list(drivers(read, "OPAR")) == [("U3R", "out")] and list(drivers(read, "V8")) == [("U1", "out")]
    assert list(drivers(read, "OPAR", ("U3R",))) == []


def test_a_share_counts_machines():
    spread_ = spread(healthy_laws(machine.read(BENCH)), lambda bank: quantity(bank, Measure("SIG", "dc", ""), Setup()))
    inside = np.mean((spread_.draws >= spread_.low) & (spread_.draws <= spread_.high))
    assert spread_.share(spread_.low, spread_.high) == pytest.approx(inside) and inside >= 0.94
    assert spread_.share(-1.0, 0.0) == 0.0
    moved = spread_.less(1.0).times(2.0)
    assert moved.middle == pytest.approx(2.0 * (spread_.middle - 1.0)) and moved.share(-1e9, 1e9) == 1.0


@pytest.mark.parametrize(
    ("joins", "lift", "wants", "values", "says"),
    [({"in": "FADX"}, [], {}, {}, "no place of the machine"), ({"into": "FADR"}, [], {}, {}, "has no place"),
     (FOLLOWER, ["U3R.oot"], {}, {}, "no leg that can be lifted"), (FOLLOWER, [], {"levl": "1V"}, {}, "nothing that is judged"),
     (FOLLOWER, [], {"level": "1A"}, {}, "level"), (FOLLOWER, [], {"pull": "?"}, {}, "no target"),
     ({"in": "FADR"}, [], {}, {}, "needs a place for out"), (FOLLOWER, [], {}, {"emiter": "1k"}, "does not ask for"),
     (FOLLOWER, [], {}, {"transistor": "big"}, "none of the words"), (FOLLOWER, [], {}, {"form": "odd"}, "not a way")],
)  # fmt: skip
def test_what_cannot_be_put_in_is_refused(demo_folder, joins, lift, wants, values, says):
    with pytest.raises(BadInput, match=says):
        seen(demo(demo_folder, "lm-2"), "follower-output", joins, lift, wants, **values)


# On a job --------------------------------------------------------------------------------------


def tied(book, folder):
    """A mixer whose right side is dead, its file tied."""
    case = bench.open_job(book, Intake("mixer", ticks={"sound right": "bad"}, key="k"), NOW)
    text = demo(folder, "lm-2")
    return adding.tie(book, case, text, adding.propose_tie(case, text, "lm-2.yaml", {}), NOW)


def test_a_placed_circuit_is_kept_and_can_be_taken_back(book, demo_folder):
    case = tied(book, demo_folder)
    placing = said_of(case, "follower-output", {}, FOLLOWER, ["U3R.out"], {"load": "10k"})
    placed = place(book, case, placing, NOW)
    assert bench.find_case(book, case.number).added == placed.added and placed.mark == case.mark
    assert [one.name for one in added_of(placed).placed] == ["A1"]
    again = said_of(placed, "regulator", {}, {"in": "RAW", "out": "V8"}, ["U1.out"], {"dc": "8V"})
    both = place(book, placed, again, NOW)
    assert again.name == "A2" and [one.placing.name for one in both.added] == ["A1", "A2"]
    read = machine.read(variant(both))
    assert {one.name for one in read.added_boards} == {"A1", "A2"} and read.parts["A2-U1"].pins["out"] == "V8"
    left = take_back(book, both, "A1", NOW)
    assert [one.placing.name for one in bench.find_case(book, case.number).added] == ["A2"]
    assert "A1" not in variant(left)
    with pytest.raises(BadInput, match="no circuit 'A1'"):
        take_back(book, left, "A1", NOW)


def test_it_is_put_to_the_ways_to_go_on_with_its_hours(book, demo_folder):
    case = place(book, tied(book, demo_folder), said_of(tied(book, demo_folder), "follower-output", {}, FOLLOWER,
                                                        ["U3R.out"], {}), NOW)  # fmt: skip
    case = as_option(book, case, "A1", 2.5, NOW)
    (option,) = case.options
    view = added_of(case).placed[0]
    assert (option.kind, option.parts, option.hours) == ("added circuit", 2.5, view.hours) and not option.original
    assert view.hours > 0.5 and option.name == view.option


def test_the_owner_who_wants_it_original_is_named(book, demo_folder):
    from probewright.jobs.deciding import agree

    case = agree(book, tied(book, demo_folder), {"keep": True}, NOW)
    case = place(book, case, said_of(case, "follower-output", {}, FOLLOWER, ["U3R.out"], {}), NOW)
    assert "wants it original" in added_of(case).placed[0].cautions[-1]


def test_without_a_machine_file_there_is_nowhere_to_put_it(book):
    case = bench.open_job(book, Intake("mixer", ticks={}, key="k"), NOW)
    with pytest.raises(BadInput, match="no machine file is tied"):
        said_of(case, "follower-output", {}, FOLLOWER, [], {})


def on_bench(book):
    """A job with the textbook bench tied: quick to judge."""
    case = bench.open_job(book, Intake("mixer", ticks={}, key="k"), NOW)
    return bench.know(book, case, "file", "textbook", BENCH, "textbook.yaml", NOW)


def test_the_command_places_judges_and_reckons(probewright, book, tmp_path):
    on_bench(book)
    book.close()
    words = ["--to", "in=SIG", "--to", "out=OUT", "--to", "supply=VCC", "--lift", "X1.out"]
    kept = probewright("add-circuit", "place", "op-amp-buffer", *words, "--json", "--want", "level=0.5V")
    view = json.loads(kept.stdout)
    assert kept.returncode == 3 and not view["fits"] and {"fits", "off"} <= {one["verdict"] for one in view["lines"]}
    written = tmp_path / "with.yaml"
    placed = probewright("add-circuit", "placed", "--write", str(written)).stdout
    assert "A1, Op-amp" in placed and "A2" not in placed and "lifted: [X1.out]" in written.read_text("utf-8")
    assert "A way to go on now: op-amp" in probewright("add-circuit", "option", "A1", "--parts", "2").stdout
    assert "no circuit is placed" in probewright("add-circuit", "back", "A1").stdout
    wrong = probewright("add-circuit", "show", "folower")
    assert wrong.returncode == 2 and "follower-output" in wrong.stderr


def test_the_page_chooses_judges_keeps_and_takes_back(page, book):
    on_bench(book)
    at = "/jobs/1/added"
    chosen = page.get(f"{at}?circuit=follower-output&form=coupled").text
    token = re.search(r'name="token" value="([^"]*)"', chosen).group(1)
    assert 'name="value coupling"' in chosen and 'name="to SUPPLY"' in chosen
    told = {"token": token, "circuit": "follower-output", "value form": "direct", "to IN": "SIG", "to OUT": "OUT",
            "to SUPPLY": "VCC", "lift": "X1.out", "value emitter": "68R"}  # fmt: skip
    tried = page.post(at, data={**told, "do": "try"}).text
    assert "judged, not kept" in tried and "too hot" in tried and 'value="68R"' in tried
    assert not bench.find_case(book, 1).added
    assert "A1, Emitter follower" in page.post(at, data={**told, "do": "keep"}).text
    assert bench.find_case(book, 1).added[0].placing.values["emitter"] == "68R"
    assert "lifted: [X1.out]" in page.get("/jobs/1/added.yaml").text
    refused = page.post(at, data={**told, "to IN": "SIX", "do": "keep"})
    assert refused.status_code == 422 and "SIX" in refused.text and "no place of the machine" in refused.text
    assert "upper" in page.get(f"{at}?kind=divider&target=0.4").text
    page.post(at, data={"token": token, "do": "option", "name": "A1", "parts": "2,50"}, follow_redirects=False)
    assert bench.find_case(book, 1).options[0].parts == 2.5
    page.post(at, data={"token": token, "do": "back", "name": "A1"})
    assert not bench.find_case(book, 1).added


def test_the_page_asks_for_a_machine_file_first(page, book):
    bench.open_job(book, Intake("mixer", ticks={}, key="k"), NOW)
    assert "tell a chain, a stage or a machine file first" in page.get("/jobs/1/added").text


def test_the_page_of_the_library_names_every_circuit_and_form():
    words = (ROOT / "docs" / "added-circuits.md").read_text("utf-8")
    assert [f"`{name}`" for pair in EVERY for name in pair if f"`{name}`" not in words] == []


def test_what_is_not_judged_of_a_circuit_cannot_be_wanted_of_it(demo_folder):
    with pytest.raises(BadInput, match="'delay' is nothing that is judged of follower-output"):
        seen(demo(demo_folder, "lm-2"), "follower-output", FOLLOWER, ["U3R.out"], {"delay": "5ms"})


def test_a_target_that_nothing_here_shows_is_left_open():
    """Where nothing plays, gain and distortion are not judged, and the answer says so."""
    text = BENCH.replace("tone: {GEN: 6V sine 0.1V rms 1kHz}", "tone: {GEN: 6V}").replace("level at tone; below 50%", "dc at tone; below 50%")  # fmt: skip
    view = seen(text, "op-amp-buffer", {"in": "SIG", "out": "OUT", "supply": "VCC"}, ["X1.out"],
                {"gain": "1", "distortion": "1%", "bandwidth": "20kHz"})  # fmt: skip
    assert {one.what for one in view.lines if one.verdict == "not judged"} == {"gain", "distortion", "bandwidth"}
    assert "as far as it can be judged" in view.advice and "gain" in view.advice


def test_a_circuit_that_a_newer_file_does_not_bear_can_be_taken_back(page, book):
    case = on_bench(book)
    case = place(
        book, case, said_of(case, "op-amp-buffer", {}, {"in": "SIG", "out": "OUT", "supply": "VCC"}, [], {}), NOW
    )
    case = bench.know(book, case, "file", "newer", BENCH.replace("VCC", "V12"), "newer.yaml", NOW)
    with pytest.raises(BadInput, match="A1 does not go into the job's file any more: .*no net 'VCC'"):
        added_of(case)
    shown = page.get("/jobs/1/added").text
    token = re.search(r'name="token" value="([^"]*)"', shown).group(1)
    assert "Take A1 back" in shown and "“Take back” below" in shown
    assert "any more" not in page.post("/jobs/1/added", data={"token": token, "do": "back", "name": "A1"}).text
