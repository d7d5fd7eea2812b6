"""What is seen when power comes on: amps of a supply, a limit that holds, a lamp in series; and what they weigh."""

from __future__ import annotations

import math

import numpy as np
import pytest
from pytest import approx

from agreement import prepared, some
from benchmarks.large import long_line
from hidden import planted
from probewright import jobs
from probewright.machine import Machine, read
from probewright.prediction.bank import Bank
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import draw_laws
from probewright.prediction.outcomes import show
from probewright.readings import DRAWN, Question, Reading, Setup
from probewright.readings.bench import Bench
from probewright.readings.hearing import Context, hear
from probewright.readings.instruments import law
from probewright.readings.powering import supplies
from probewright.readings.setups import read_setup, say
from spice import Deck
from test_against_ngspice import GOLDEN
from test_watts import BOARD
from timed_machines import STAGE, SUPPLY

ON = Setup()
TWO_RAILS = """
machine: Two rails of a weather station
parts:
  VP: source 12V series 2R  VCC > GND
  VN: source -9V series 1R  VEE > GND
  R1: resistor 470R  VCC > GND
  R2: resistor 100R  VEE > GND
  R3: resistor 1k  VCC > VEE
"""
ADAPTOR = """
machine: Adaptor of a door chime
extras:
  PSU: source 9V series 0R5 limit 2A  RAW > GND
parts:
  D1: diode rectifier  GND > RAW
  R1: resistor 100R  RAW > OUT
  R2: resistor 220R  OUT > GND
works:
  chime: OUT dc at call; below 4V = silent
stimuli:
  call: {}
"""


def drawn(bank: Bank, setup: Setup = ON, which: int = 0) -> np.ndarray:
    """(variant,) A of one of the supplies that feed in this set-up."""
    shown = show(bank, supplies(bank.model.machine, setup)[which])
    assert shown.judged.all()
    return shown.value


def middle(text: str) -> Bank:
    return draw_laws(build_model(read(text), "k"), 3).base.middle


# Against laws and other programs ------------------------------------------------------------------


def test_a_supply_gives_what_ohms_law_says_and_a_negative_one_counts_up_too() -> None:
    """Two loops with R3 in common; of each supply (E - U) / r, by the node equations solved by hand."""
    siemens = np.array([[1 / 2 + 1 / 470 + 1e-3, -1e-3], [-1e-3, 1 + 1 / 100 + 1e-3]])
    vcc, vee = np.linalg.solve(siemens, [12 / 2, -9 / 1])
    bank = middle(TWO_RAILS)
    assert drawn(bank)[0] == approx((12 - vcc) / 2, rel=1e-6)
    assert drawn(bank, which=1)[0] == approx((9 + vee) / 1, rel=1e-6)


def test_it_agrees_with_ngspice_in_sound_and_broken_machines(ngspice) -> None:
    """Volts that ngspice finds behind the 1 ohm of the source, by Ohm's law; no meter of its own on the net."""
    _, bank, nets, _ = prepared("two-transistor-amplifier")
    ours, solved = drawn_in(bank), bank.solved(Setup())
    for variant in some("two-transistor-amplifier", 7):
        deck = Deck(solved.circuit, solved.batch, variant, nets)
        deck.start_near(solved.rest.volts)
        volts, _ = deck.run(metered=False)
        assert ours[variant] == approx(12.0 - volts[nets.index("RAW")], rel=1e-3, abs=2e-6)


def test_it_agrees_with_the_golden_figures() -> None:
    """ngspice 39: (12 V - VCC) / 23 ohm, but for what a meter of 10 Mohm on VCC takes."""
    _, bank, _, _ = prepared("two-transistor-amplifier")
    assert drawn_in(bank)[0] == approx((12.0 - GOLDEN["two-transistor-amplifier"]["VCC"]) / 23.0, abs=5e-6)


def drawn_in(bank: Bank) -> np.ndarray:
    return show(bank, supplies(bank.model.machine, Setup())[0]).value


def test_a_bench_supply_gives_what_its_load_takes_and_no_more_than_its_limit() -> None:
    """5 V behind 0.05 ohm, i = L tanh((E - u) / (r L)) by the law of the source; then the limit alone decides."""
    bank = middle(BOARD)
    fed = Setup(power="off", lifted=("U1.out",), supplied=(("V5", 5.0, 2.0),))
    rail = float(bank.solved(fed).volts_of("V5")[0])
    assert drawn(bank, fed)[0] == approx(2.0 * math.tanh((5.0 - rail) / 0.05 / 2.0), rel=1e-6)
    assert 0.5 < drawn(bank, fed)[0] < 0.52
    held = Setup(power="off", lifted=("U1.out",), supplied=(("V5", 5.0, 0.1),))
    assert drawn(bank, held)[0] == approx(0.1, rel=0.01)


def test_a_short_takes_all_that_the_supply_can_give() -> None:
    """A rectifier across 9 V that is shorted: the short and 0.5 ohm in a row, far above the 28 mA of a sound machine."""
    machine = read(ADAPTOR)
    assert drawn(planted(machine, "R1 open"))[0] < 1e-4
    assert drawn(middle(ADAPTOR))[0] == approx(9.0 / 320.5, rel=1e-3)
    assert drawn(planted(machine, "D1 short"))[0] > 1.5


def test_without_power_nobody_says_anything_of_the_supply() -> None:
    machine = read(ADAPTOR)
    assert supplies(machine, Setup(power="off")) == []
    shown = show(middle(ADAPTOR), Question(DRAWN, "PSU.plus", setup=Setup(power="off")))
    assert not shown.judged.any()


def test_where_something_moves_it_is_the_mean() -> None:
    """A stage in class A takes on the average what it takes at rest, as long as it does not clip."""
    loud, soft = middle(STAGE), middle(STAGE.replace("0.9V peak", "0.01V peak"))
    sounding, still = drawn(loud, Setup(stimulus="tone")), drawn(soft, Setup(stimulus="tone"))
    quiet = drawn(loud)
    assert still[0] == approx(quiet[0], rel=0.01)
    assert sounding[0] == approx(quiet[0], rel=0.25) and sounding[0] != approx(quiet[0], rel=1e-4)


def test_areas_draw_what_the_whole_machine_does() -> None:
    machine: Machine = read(long_line(3))
    base = draw_laws(build_model(machine, "k"), 2).base
    assert base.is_split
    few = base.part(np.arange(0, base.size, 37), base.ring.take(np.arange(0, base.size, 37)))
    whole = base.part(np.arange(0, base.size, 37), None)
    ask = supplies(machine, Setup())[0]
    here, there = show(few, ask), show(whole, ask)
    both = here.judged & there.judged
    assert both.mean() > 0.9
    assert here.value[both] == approx(there.value[both], rel=0.02, abs=1e-6)
    assert np.ptp(there.value[both]) > 0.0


# As it is typed -----------------------------------------------------------------------------------


def heard(text: str, machine: Machine | None, setup: Setup = ON) -> list[tuple]:
    found = hear(text, Context(machine=machine, bench=Bench(setup)))
    assert not found.doubts, found.doubts
    return [(one.question.instrument, one.question.red, one.answer, one.bound) for one in found.readings]


@pytest.mark.parametrize(
    "text",
    [
        "supply current 0.21 A", "idle current 0.21A", "idle current: 210 mA", "supply gives 0,21 A",
        "bench supply 210 mA", "PSU gives 210mA", "PSU current 0.21 A", "current of PSU 0.21A",
    ],
)  # fmt: skip
def test_amps_of_the_only_supply(text: str) -> None:
    assert heard(text, read(ADAPTOR)) == [(DRAWN, "PSU.plus", 0.21, None)]


def test_amps_of_a_bench_supply_are_of_that_and_of_nothing_else() -> None:
    machine = read(ADAPTOR)
    fed = read_setup("power off, bench supply 9V limit 0.1A on RAW", machine)
    assert heard("supply current 28 mA", machine, fed) == [(DRAWN, "RAW", 0.028, None)]
    assert heard("trips", machine, fed) == [(DRAWN, "RAW", 0.09, (0.09, float("inf")))]


def test_with_two_supplies_it_is_asked_which() -> None:
    machine = read(TWO_RAILS)
    (doubt,) = hear("supply current 30 mA", Context(machine=machine)).doubts
    assert "VP, VN" in doubt.text and "VP gives" in doubt.mend
    assert heard("VN gives 95 mA", machine) == [(DRAWN, "VN.plus", 0.095, None)]


def test_a_lamp_in_series_is_told_from_a_lamp_of_the_machine() -> None:
    lit = read(ADAPTOR.replace("R2: resistor 220R", "R2: lamp 6V 50mA"))
    assert heard("lamp stays bright", read(ADAPTOR)) == [("look", "series lamp", "stays bright", None)]
    assert heard("series lamp goes dim", lit) == [("look", "series lamp", "goes dim", None)]
    assert heard("lamp stays bright", lit)[0][1] != "series lamp"
    assert heard("first power done", None) == [("look", "first power", "done", None)]


@pytest.mark.parametrize(
    ("typed", "how"),
    [
        ("series lamp is bright", "stays bright"),
        ("series lamp: bright", "stays bright"),
        ("the series bulb glows bright", "stays bright"),
        ("series lamp lights up and stays bright", "stays bright"),
        ("series lamp is dim", "goes dim"),
        ("series lamp flares and goes dim", "goes dim"),
        ("series lamp flashes briefly, then goes out", "goes dim"),
        ("series lamp flashes once", "goes dim"),
    ],
)
def test_a_lamp_in_series_is_understood_and_the_echo_says_that_it_is_not_weighed(typed: str, how: str) -> None:
    assert heard(typed, read(ADAPTOR)) == heard(typed, None) == [("look", "series lamp", how, None)]
    (said,) = (one for one in hear(typed, Context(machine=read(ADAPTOR))).echo if "kept and not weighed" in one)
    instead = "ohms from each rail" if how == "stays bright" else "`PSU gives 0.21 A`"
    assert instead in said and "machine file" not in said
    assert any("once a machine file is tied" in one for one in hear(typed, Context()).echo)


def test_amps_are_not_asked_for_in_place_of_the_lamp_where_they_weigh_nothing() -> None:
    """A mains winding gives alternating volts: its amps are kept only."""
    echo = hear("series lamp goes dim", Context(machine=read(SUPPLY))).echo
    assert any("kept and not weighed; the volts of a rail weigh" in one for one in echo)
    assert heard("PSU gives 0.21 A", read(ADAPTOR))[0][0] == DRAWN  # what the echo offers elsewhere is understood


def test_a_lamp_in_series_that_is_neither_bright_nor_dim_is_asked_about() -> None:
    (doubt,) = hear("series lamp is lit", Context(machine=read(ADAPTOR))).doubts
    assert "`series lamp stays bright` or `series lamp goes dim`" in doubt.mend


def test_without_a_file_amps_are_kept_as_they_are_said() -> None:
    assert heard("bench supply 340 mA", None) == [("amps", "bench supply", 0.34, None)]


@pytest.mark.parametrize("machine", [None, read(ADAPTOR)])
def test_amps_without_a_unit_are_asked_about_and_never_taken_for_volts(machine: Machine | None) -> None:
    (doubt,) = hear("supply current 0.5", Context(machine=machine)).doubts
    assert doubt.mend == "write 0.5 A or 0.5 mA"


@pytest.mark.parametrize("text", ["left out 5 ohms Vpp", "left out 5 V ohm", "left out 5 V uF"])
def test_a_figure_with_two_units_is_asked_about(text: str) -> None:
    (doubt,) = hear(text, Context()).doubts
    assert "second unit" in doubt.text


def test_the_unit_behind_a_letter_is_no_second_one() -> None:
    heard = hear("off: R2 2k02 ohm", Context())
    assert [(one.question.instrument, one.answer) for one in heard.readings] == [("ohms", 2020.0)]


def test_the_echo_can_be_typed_again() -> None:
    machine = read(ADAPTOR)
    (echo,) = hear("supply current 0.21 A", Context(machine=machine)).echo
    assert echo == "PSU gives 210 mA, power on"
    assert heard(echo, machine) == [(DRAWN, "PSU.plus", 0.21, None)]


def test_a_machine_that_a_bench_supply_feeds_is_not_called_discharged() -> None:
    machine = read(ADAPTOR)
    fed = read_setup("power off, bench supply 9V limit 0.1A on RAW", machine)
    assert say(fed, machine) == "own power off, bench supply 9 V limit 100 mA on RAW"
    assert read_setup(say(fed, machine), machine) == fed
    assert say(Setup(power="off"), machine) == "power off and discharged"


# What it weighs -----------------------------------------------------------------------------------


def test_a_current_far_above_healthy_raises_shorts_and_one_of_nothing_raises_opens() -> None:
    search = jobs.open_search(read(ADAPTOR))
    before = chances(search)
    high, none = (enter(search, amps) for amps in (1.9, 0.0))
    assert chances(high)["D1 short"] > 0.7 > 0.1 > before["D1 short"] and chances(high)["R1 open"] < before["R1 open"]
    assert chances(none)["R1 open"] > 3 * before["R1 open"] and chances(none)["D1 short"] < before["D1 short"]


def test_a_supply_that_trips_weighs_as_at_least_its_limit() -> None:
    search = jobs.open_search(read(ADAPTOR))
    before = chances(search)
    fed = Setup(power="off", supplied=(("RAW", 9.0, 0.1),))
    after = chances(jobs.enter_readings(
        search, [Reading(Question(DRAWN, "RAW", setup=fed), 0.09, "h1", bound=(0.09, float("inf")))]
    ))  # fmt: skip
    assert after["D1 short"] > 0.7 > 0.1 > before["D1 short"]
    assert after["R1 open"] < 0.2 * before["R1 open"]


def enter(search: jobs.Search, amps: float) -> jobs.Search:
    return jobs.enter_readings(search, [Reading(supplies(search.machine, Setup())[0], amps, "h1")])


def chances(search: jobs.Search) -> dict[str, float]:
    return dict(zip((one.id for one in search.belief.suspects), search.belief.probability, strict=True))


def test_its_error_is_a_hundredth_and_two_digits() -> None:
    """JCGM 100:2008, 4.3.7: a limit over the root of three."""
    assert law(DRAWN).shared(0.5) == approx(0.005 / 3**0.5)
    assert law(DRAWN).own(0.5) == approx(0.002 / 3**0.5)


def test_a_part_fitted_while_the_set_up_says_power_on_is_taken_to_be_fitted_with_it_off() -> None:
    def said(setup: Setup) -> str:
        return " ".join(hear("fitted a new C3", Context(bench=Bench(setup, power_said=True))).echo)

    assert "fitted with the power off and discharged, and the power to be on again after it" in said(Setup("on"))
    assert "after it" not in said(Setup("off"))
