"""A second meter left on and a bench supply as set-ups: said, kept, and computed against Ohm's law."""

from __future__ import annotations

import numpy as np
import pytest

from probewright.errors import BadInput
from probewright.jobs.keeping import keep_setup, kept_setup
from probewright.machine import read
from probewright.prediction.bank import Bank, Span
from probewright.prediction.cells import build_model
from probewright.prediction.outcomes import show
from probewright.readings import Question, Setup
from probewright.readings.bench import Bench
from probewright.readings.hearing import Context, hear
from probewright.readings.setups import read_setup, say, write

BOARD = read(
    """machine: Tone box
extras:
  PSU: source 10V series 1R  VIN > GND
sections:
  divider:
    parts:
      R1: resistor 1M  VIN > MID
      R2: resistor 1M  MID > GND
      R3: resistor 100k  MID > FREE
      U1: regulator fixed 5V  in=VIN out=V5 com=GND
      T1: resistor 0R1  V5 > A
      T2: resistor 0R1  A > B
      R4: resistor 2R2  B > GND
""",
    "tone box",
)


def reads(place: str, setup: Setup, black: str = "GND") -> float:
    model = build_model(BOARD, "x").only_healthy()
    bank = Bank(model, [Span(0, 0, 1)], np.zeros((len(model.latents.keys) + 1, 1)))
    shown = show(bank, Question("dc", place, black, setup))
    assert shown.judged[0]
    return float(shown.value[0])


def across(*ohms: float) -> float:
    return 1.0 / sum(1.0 / one for one in ohms)


@pytest.mark.parametrize(
    "said",
    ["meter left on MID to ground", "second meter on MID", "meter on FREE to MID", "bench supply 5V limit 0.5A on V5",
     "power off, bench supply 3V3 limit 200mA on V5, unplug U1", "bench supply -12V limit 1A on MID",
     "load 1k on V5", "test load 4R7 on A to B", "added load 100k on MID, load 1k on V5", "load 22k from FREE to ground"],
)  # fmt: skip
def test_what_is_said_is_written_kept_and_read_back_the_same(said):
    setup = read_setup(said, BOARD)
    assert setup != Setup() and read_setup(write(setup), BOARD) == setup
    assert kept_setup(keep_setup(setup)) == setup and say(setup, BOARD)


@pytest.mark.parametrize(
    ("said", "word"),
    [("meter on MID to MID", "both ends"), ("bench supply 5V on V5", "current limit"), ("bench supply 5X limit 1A on V5", "5X"),
     ("bench supply 5V limit 1A on ground", "no bench supply"), ("bench supply 500V limit 1A on V5", "60 V"),
     ("bench supply 5V limit 1A on V55", "V5"), ("bench supply 5V limit 1A on V5, bench supply 6V limit 1A on V5", "twice"),
     ("load on V5", "ohms"), ("load 1k on V55", "V55"), ("load 1k on GND", "both ends"), ("load 0R on V5", "link"),
     ("load 1X on V5", "1X")],
)  # fmt: skip
def test_a_set_up_that_cannot_be_is_refused_with_its_mend(said, word):
    with pytest.raises(BadInput) as refused:
        read_setup(said, BOARD)
    assert word in str(refused.value)


def test_a_load_that_no_file_speaks_of_loads_any_place_as_ohms_law_says():
    """1 M and 1 M from 10 V, 1 M more from the middle to ground, and the meter's own 10 M: 10 V x 0.476 / 1.476."""
    lower = across(1e6, 1e6, 10e6)
    loaded = reads("MID", read_setup("unplug U1, load 1M on MID", BOARD))
    assert loaded == pytest.approx(10.0 * lower / (1e6 + lower), rel=1e-3)
    # 1 M from MID back to VIN: 0.5 M above, 1 M below
    lifted = reads("MID", read_setup("unplug U1, load 1M on MID to VIN", BOARD))
    lower = across(1e6, 10e6)
    assert lifted == pytest.approx(10.0 * lower / (0.5e6 + lower), rel=1e-3)


def test_a_second_meter_loads_a_high_resistance_divider_as_ohms_law_says():
    """Two meters of 10 Mohm on a divider of 1 M and 1 M from 10 V: 5 V becomes 4.76 V with one, 4.55 V with two."""
    one, two = reads("MID", read_setup("unplug U1", BOARD)), reads("MID", read_setup("unplug U1, meter on MID", BOARD))
    for seen, meters in ((one, [10e6]), (two, [10e6, 10e6])):
        lower = across(1e6, *meters)
        assert seen == pytest.approx(10.0 * lower / (lower + 1e6), rel=1e-4)


def test_a_meter_left_between_a_floating_place_and_ground_makes_a_ghost():
    """The free end of 100 k reads what the divider gives; with a meter left on it two meters load the divider."""
    seen = reads("FREE", read_setup("unplug U1, second meter on MID", BOARD))
    inner = across(1e6, 10e6, 100e3 + 10e6)
    assert seen == pytest.approx(10.0 * inner / (inner + 1e6) * 10e6 / 10.1e6, rel=1e-4)


def test_a_bench_supply_behind_a_removed_regulator_feeds_its_rail():
    """5 V behind 0.05 ohm into 0.1 + 0.1 + 2.2 ohm, below its limit; the gradient along the track is I R."""
    setup = read_setup("power off, unplug U1, bench supply 5V limit 3A on V5", BOARD)
    amps = 5.0 / (0.05 + 2.4)
    assert reads("V5", setup) == pytest.approx(amps * 2.4, rel=0.02)
    assert reads("V5", setup, "A") == pytest.approx(reads("A", setup, "B"), rel=1e-6)
    assert reads("V5", setup, "A") == pytest.approx(amps * 0.1, rel=0.03)


def test_its_current_limit_holds_into_a_short():
    """The limit alone decides: 0.2 A through 2.4 ohm."""
    setup = read_setup("power off, unplug U1, bench supply 5V limit 0.2A on V5", BOARD)
    assert reads("V5", setup) == pytest.approx(0.2 * 2.4, rel=0.02)


@pytest.mark.parametrize(("ohms", "share"), [("1M", 0.5e6 / 10.5e6), ("100k", 0.0), ("10M", 5e6 / 15e6)])
def test_what_the_meter_takes_is_said_where_it_is_worth_saying(ohms, share):
    """Source resistance over itself and the meter: half of two equal resistors against 10 Mohm (Ohm's law)."""
    from probewright.jobs.loading import say_taken, taken

    machine = read(
        f"machine: Box\nextras:\n  PSU: source 10V series 1R  VIN > GND\nsections:\n  a:\n    parts:\n"
        f"      R1: resistor {ohms}  VIN > MID\n      R2: resistor {ohms}  MID > GND\n",
        "box",
    )
    model = build_model(machine, "x").only_healthy()
    middle = Bank(model, [Span(0, 0, 1)], np.zeros((len(model.latents.keys) + 1, 1)))
    ask = Question("dc", "MID")
    said = say_taken(middle, ask)
    if share:
        assert taken(middle, ask) == pytest.approx(share, rel=0.01) and f"{share:.0%}" in said
    else:
        assert said == "" and taken(middle, ask) < 0.01
    assert say_taken(middle, Question("dc", "MID", setup=Setup(power="off"))) == ""


@pytest.mark.parametrize("line", ["R4 2.3 ohm", "T1.1 to T1.2 0.1 ohm", "R4 2R3", "R4 beeps"])
def test_ohms_beside_a_bench_supply_are_asked_about_and_not_counted(line):
    """Ohms ranges are for boards without power: common practice, no source."""
    fed = Bench(setup=read_setup("power off, unplug U1, bench supply 5V limit 1A on V5", BOARD), power_said=True)
    plain = Bench(setup=Setup(power="off"), power_said=True)
    heard = hear(line, Context(machine=BOARD, bench=fed))
    assert heard.readings == () and "bench supply feeds V5" in heard.doubts[0].text
    assert hear(line, Context(machine=BOARD, bench=plain)).readings


def test_a_negative_figure_of_ohms_is_asked_about_as_a_charge_left_behind():
    """An ohmmeter beside a charged capacitor reads anything, minus too: common practice, no source."""
    context = Context(machine=None, bench=Bench(setup=Setup(power="off"), power_said=True))
    heard = hear("C4 -200 ohm", context)
    assert heard.readings == () and "discharge it, prove it" in heard.doubts[0].mend
    assert "discharge" not in hear("Q7 c -0.2 Vpp", context).doubts[0].mend


@pytest.mark.parametrize(
    "said", ["lift R3.1", "R3.1 lifted", "unplug R3", "link A to B", "bench supply 5V limit 0.5A on V5", "load 1k on B"]
)
def test_how_it_stands_said_by_itself_is_asked_back_as_the_set_up_that_it_is(said):
    """Whether the power is on nobody said, so nothing of it counts; what is offered can be typed."""
    heard = hear(said, Context(BOARD, Bench()))
    (doubt,) = heard.doubts
    assert doubt.text == "is that how it stands now?" and heard.bench == Bench()
    line = doubt.mend.split("`")[1]
    typed = hear(line, Context(BOARD, Bench()))
    assert not typed.doubts and typed.bench.setup == read_setup(f"power off, {said}", BOARD)


def test_a_place_without_a_figure_is_no_set_up():
    (doubt,) = hear("MID", Context(BOARD, Bench())).doubts
    assert "no answer" in doubt.text


@pytest.mark.parametrize(
    ("stands", "done", "left"),
    [
        ("power off, lift R3.1, lift R1.2", "fitted a new R3", Setup(power="off", lifted=("R1.2",))),
        ("power off, unplug R3, lift R1.2", "fitted a new R3", Setup(power="off", lifted=("R1.2",))),
        ("power off, lift R3.1, lift R3.2", "resoldered R3.1", Setup(power="off", lifted=("R3.2",))),
    ],
)
def test_what_is_soldered_in_is_lifted_no_more(stands, done, left):
    """Else the next reading would be weighed with a leg in the air that is not."""
    bench = Bench(setup=read_setup(stands, BOARD), power_said=True)
    after = hear(done, Context(BOARD, bench)).bench.setup
    assert (after.lifted, after.unplugged) == (left.lifted, left.unplugged)


def test_a_part_with_a_leg_lifted_is_not_said_to_have_others_across_it():
    lifted = Bench(setup=read_setup("power off, lift R3.1", BOARD), power_said=True)
    assert not any("lie across" in said for said in hear("R3 92k ohm", Context(BOARD, lifted)).echo)
    in_place = Bench(setup=read_setup("power off, lift R1.1", BOARD), power_said=True)
    assert any("lie across" in said for said in hear("R3 92k ohm", Context(BOARD, in_place)).echo)
