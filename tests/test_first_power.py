"""First power: when it is due, through what, how much a sound machine takes, what to watch and when to switch off."""

from __future__ import annotations

import math
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from hidden import HiddenBench
from probewright.inference.answers import standing_so
from probewright.jobs import bench
from probewright.jobs.case_view import BenchView, FirstPowerView
from probewright.jobs.cases import Intake
from probewright.jobs.powering import (
    SEEK,
    _draws,
    _how,
    _lasts,
    _off,
    _watch,
    comes_first,
    due,
    power_stays_off,
    tripped,
)
from probewright.jobs.searching import open_search
from probewright.jobs.standing import kept_view, stand
from probewright.jobs.view import is_powered
from probewright.jobs.weighing import weighed_of
from probewright.machine import read
from probewright.machine.chains import read_chain
from probewright.planning.first_power import LAMPS, FirstPower, first_power, lamp_for, rounded_up
from probewright.prediction.outcomes import show
from probewright.readings import DRAWN, Question, Setup
from probewright.readings.as_told import AsTold
from probewright.readings.cooling import Bare
from probewright.readings.hearing import Context, hear
from probewright.readings.kit import Kit
from probewright.readings.powering import NOTHING_FOUND
from probewright.report import bench as words
from probewright.units import read_value
from probewright.web import showing
from probewright.web.urgent import first_choice
from test_powering import ADAPTOR, TWO_RAILS
from timed_machines import SUPPLY

UNIT = (files("probewright") / "demo/fernside-ds-3.yaml").read_text("utf-8")
NOW = "2026-11-25T10:00:00+00:00"
LIMITED = "set-up: power off, bench supply 9V limit 0.1A on RAW"
TUBES = """
machine: Tube stage of a hearing loop
parts:
  HT: source mains 230V rms 50Hz series 20R  L > GND
  R1: resistor 22k 5W  L > GND
works:
  hums: L pp at on above 100V
stimuli:
  on: {}
"""

RESERVOIR = (
    "DC: source 250V 5% series 1k  B > GND",
    "C1: capacitor 47u electrolytic  B > GND",
    "R2: resistor 300k  B > GND",
)
FLASH = (Path(__file__).parent.parent / "benchmarks" / "machines" / "flash-300.yaml").read_text("utf-8")


def known(text: str, own: Setup = Setup()) -> FirstPower:  # noqa: B008 - frozen
    found = first_power(open_search(read(text), "k").population, own)
    assert found is not None
    return found


def with_parts(text: str, *lines: str) -> str:
    return text.replace("parts:\n", "parts:\n" + "".join(f"  {line}\n" for line in lines))


def standing(one: HiddenBench) -> BenchView:
    return stand(one.book, one.case, one.at)


def card(one: HiddenBench) -> FirstPowerView:
    found = standing(one).first_power
    assert found is not None
    return found


# What is worked out -------------------------------------------------------------------------------


def test_the_limit_is_a_little_above_what_sound_machines_take_and_lets_every_one_of_them_run() -> None:
    """9 V into 320 ohm: 28 mA, and no tolerance takes a sound machine to the limit."""
    (feed,) = known(ADAPTOR).feeds
    assert feed.low < 9.0 / 320.0 < feed.high < feed.limit < 2.0 * feed.high
    machine = read(ADAPTOR)
    fed = Setup(power="off", supplied=((feed.place, feed.volts, feed.limit),))
    sound = open_search(machine, "k").laws.sound
    shown = show(sound, Question(DRAWN, feed.place, setup=fed))
    assert shown.judged.all() and np.max(shown.value) < 0.99 * feed.limit


def test_each_of_two_rails_has_a_limit_of_its_own_and_the_negative_one_stays_negative() -> None:
    found = known(TWO_RAILS)
    assert [(one.part, one.place, one.volts) for one in found.feeds] == [("VP", "VCC", 12.0), ("VN", "VEE", -9.0)]
    assert found.feeds[1].limit > found.feeds[0].limit > found.feeds[0].high > 0.0
    stops = {one.net: one.stop for one in found.rails}
    assert stops["VCC"] > 12.6 and stops["VEE"] < -9.4


def test_a_suspect_that_takes_more_is_named_with_its_amps_and_the_limit_holds_it() -> None:
    found, machine = known(ADAPTOR), open_search(read(ADAPTOR), "k")
    worst = found.draws[0]
    assert machine.belief.suspects[worst.suspect].id == "D1 short"
    assert worst.amps > 10 * found.feeds[0].limit
    assert found.short == approx(machine.belief.probability[worst.suspect], rel=0.5)


def test_what_the_bench_supply_stands_in_for_is_no_suspect_of_it() -> None:
    """A dead adaptor takes nothing; a bench supply in its place gives what a sound machine takes."""
    found, search = known(ADAPTOR), open_search(read(ADAPTOR), "k")
    assert search.belief.suspects[[s.id for s in search.belief.suspects].index("PSU dead")].prior > 0.01
    assert "PSU dead" not in {search.belief.suspects[one.suspect].id for one in found.draws}


def test_a_new_part_takes_its_fault_out_of_what_could_flow() -> None:
    before, after = known(ADAPTOR), known(ADAPTOR, Setup(replaced=("D1",)))
    suspects = open_search(read(ADAPTOR), "k").belief.suspects
    assert "D1 short" in {suspects[one.suspect].id for one in before.draws}
    assert "D1 short" not in {suspects[one.suspect].id for one in after.draws}
    assert after.short < 0.5 * before.short


@pytest.mark.parametrize(("amps", "limit"), [(0.0301, 0.031), (0.13, 0.13), (1.234, 1.3), (0.02, 0.02)])
def test_a_limit_has_two_digits_and_is_never_less(amps: float, limit: float) -> None:
    assert rounded_up(amps) == approx(limit)


def test_what_cannot_be_fed_by_a_bench_supply_gets_a_lamp_of_some_times_its_watts() -> None:
    found = known(SUPPLY)
    assert found.way == "series lamp" and not found.mains
    assert found.lamp == min(one for one in LAMPS if one >= 3.0 * found.idle)
    assert found.idle > 1.0  # 11 V over 100 ohm, and the bridge
    assert lamp_for(18.0) == 60.0 and lamp_for(0.0) == 0.0 and lamp_for(1e4) == LAMPS[-1]


def test_what_is_left_alone_while_live_is_not_among_the_rails_to_watch() -> None:
    def watched(trained: bool) -> set[str]:
        found = first_power(open_search(read(FLASH), "k", kit=Kit(trained=trained)).population, Setup())
        assert found is not None
        return {rail.net for rail in found.rails}

    assert not {"LIN", "RES", "TRIG"} & watched(False)
    assert "RES" in watched(True) and "TRIG" not in watched(True)


def test_a_machine_with_mains_inside_is_told_so() -> None:
    found = known(TUBES)
    assert found.way == "series lamp" and found.mains


def test_a_chain_that_knows_ratios_only_has_no_first_power() -> None:
    text = "machine: Chain\nextras:\n  IN: source 0V series 600R  A > GND\nparts:\n  R1: resistor 1k  A > GND\n"
    assert first_power(open_search(read(text), "k").population, Setup()) is None


def test_a_rule_of_the_file_says_when_the_power_goes_off() -> None:
    ruled = known(ADAPTOR + "never without:\n  - RAW below 9.5V\n  - OUT above 4V\n")
    rails = {one.net: one for one in ruled.rails}
    assert rails["RAW"].stop == 9.5 and rails["OUT"].least == 4.0
    off = list(_off(ruled))
    assert "RAW goes above 9.5 V" in off and any("OUT does not come above 4 V" in said for said in off)


# When it is due -----------------------------------------------------------------------------------


def test_it_is_due_until_power_was_on_and_again_after_a_repair(on_bench) -> None:
    one = on_bench(ADAPTOR)
    assert "since it came in" in due(one.case)[0]
    one.type("OUT ? V")
    assert due(one.case) == ("", False)
    one.type("fitted a new R1")
    assert "since R1 was fitted" in due(one.case)[0]
    one.type("supply current ? A".replace("? A", "28 mA"))
    assert due(one.case) == ("", True)
    one.type("resoldered R2.1")
    assert "mended" in due(one.case)[0]
    one.type("first power done")
    assert due(one.case) == ("", True)


def test_what_was_heard_with_power_on_needs_no_first_power(book) -> None:
    case = bench.open_job(book, Intake("amplifier", key="k"), NOW)
    case = bench.enter_line(book, case, "fitted a new C3", NOW)
    assert "was fitted" in due(case)[0]
    assert due(bench.enter_line(book, case, "power on: sound left ok", NOW)) == ("", False)


def test_a_part_that_was_fitted_just_now_is_no_fault_of_the_next_power(on_bench) -> None:
    """No reading tells of it yet."""
    one = on_bench(ADAPTOR)
    assert "D1 is short" in {draws.suspect for draws in card(one).draws}
    one.type("fitted a new D1")
    assert "D1 is short" not in {draws.suspect for draws in card(one).draws}


def test_a_reading_of_another_machine_or_with_power_off_is_no_first_power(on_bench) -> None:
    one = on_bench(ADAPTOR)
    one.type("OUT 6 V on the sister", "R1 101 ohm off")
    assert "since it came in" in due(one.case)[0]


def test_taking_the_answer_back_makes_it_due_again(on_bench) -> None:
    one = on_bench(ADAPTOR)
    one.type("first power done")
    assert standing(one).first_power is None
    assert standing(one).left_out == ("first power: noted; it is not asked again until something is mended",)
    one.case = bench.undo(one.book, one.case, NOW)
    assert "since it came in" in card(one).because


def test_a_supply_that_tripped_keeps_it_due_and_raises_the_short(on_bench) -> None:
    one = on_bench(ADAPTOR, "D1 short")
    one.type(LIMITED, "trips")
    assert "too much flowed" in due(one.case)[0]
    assert standing(one).search.suspects[0].id == "D1 short"


def test_after_a_trip_nothing_wants_power_before_its_cause_was_looked_for(on_bench) -> None:
    one = on_bench(ADAPTOR, "D1 short")
    one.type(LIMITED, "trips")
    view = standing(one)
    offered = [view.card, *view.search.actions]
    assert view.first_power is None and not any(is_powered(step) for step in offered)
    assert view.search.group is None or view.search.group.kind == "unpowered"
    said = words.standing(view)
    assert "First power" not in said and "ower on" not in said[said.index("Next:") :]
    one.type("set-up: power on", "OUT 5 V")  # read live: somebody had it on, whatever was said
    assert not tripped(one.case)
    for line in ("RAW to ground 0.3 ohm", "D1 burnt", "fitted a new D1"):
        one.type("set-up: power off", LIMITED, "trips")
        assert tripped(one.case)
        one.type("set-up: power off", line)
        assert not tripped(one.case), line
    assert any(is_powered(step) for step in standing(one).search.actions)


@pytest.mark.parametrize(
    "seen", ["R1 smokes", "smoke from D1", "it smokes", "it's smoking", "I smell burning", "R1 hot and smoking"]
)
def test_what_smokes_is_switched_off_before_anything_is_asked_and_stays_off_till_it_was_looked_at(
    on_bench, seen
) -> None:
    one = on_bench(ADAPTOR, "D1 short")
    one.type("set-up: power on", seen)
    view = standing(one)
    assert view.card is not None and view.card.kind == "stop" and "Switch the power off now" in view.card.do
    assert not any(is_powered(step) for step in view.search.actions)
    one.type("off")
    view = standing(one)
    assert view.card is not None and view.card.kind != "stop" and not any(map(is_powered, view.search.actions))
    one.type("D1 burnt")
    assert not tripped(one.case) and standing(one).first_power is not None


@pytest.mark.parametrize(
    "line", ["OUT 5 V, R1 smoking", "OUT 5 V, it smokes", "OUT 5 V and it smokes", "OUT 5 V; series lamp stays bright"]
)
def test_what_is_read_in_the_same_breath_makes_a_trip_not_good(on_bench, line: str) -> None:
    one = on_bench(ADAPTOR)
    one.type(line)
    assert {reading.question.instrument for reading in one.case.lines[-1].readings} == {"dc", "look"}
    assert tripped(one.case) and "too much flowed" in due(one.case)[0]


@pytest.mark.parametrize("lamp", ["stays bright", "goes dim"])
def test_a_rail_read_behind_the_lamp_is_kept_and_not_weighed(on_bench, lamp: str) -> None:
    """It reads low there, which says nothing of the machine."""
    one = on_bench(ADAPTOR)
    one.type(f"OUT 3 V; series lamp {lamp}")
    assert weighed_of(one.case).readings == ()
    assert any("behind the lamp" in why for _, why in weighed_of(one.case).left_out)
    one.type("OUT 6 V")
    assert [reading.answer for reading in weighed_of(one.case).readings] == [6.0]


def test_smoke_of_yesterday_and_with_the_power_off_stops_nothing(on_bench) -> None:
    one = on_bench(ADAPTOR)
    one.type("set-up: power off", "R1 burnt", "R1 smoke")
    assert not tripped(one.case)


def test_with_nothing_left_to_read_with_the_power_off_it_is_looked_for_by_hand(on_bench) -> None:
    view = standing(on_bench(ADAPTOR)).search
    live = replace(view, actions=tuple(step for step in view.actions if is_powered(step)))
    assert live.actions
    (seek,) = power_stays_off(live).actions
    assert "ohms from each rail" in seek.do and not is_powered(seek)


@pytest.mark.parametrize("fed", [LIMITED, "set-up: power on"])
def test_who_looked_and_found_nothing_goes_on_with_a_limit_once_more(on_bench, fed: str) -> None:
    one = on_bench(ADAPTOR, "D1 short")
    one.type(fed, "trips")
    assert NOTHING_FOUND in SEEK.why and tripped(one.case)
    doubted = bench.enter_line(one.book, one.case, "nothing hot, no smell", NOW)  # says nothing of the power
    assert NOTHING_FOUND in doubted.lines[-1].says[0] and tripped(doubted)
    one.type(NOTHING_FOUND)
    assert not tripped(one.case)
    assert any(is_powered(step) for step in standing(one).search.actions)
    again = card(one)
    assert "nothing was found with the power off" in again.because and again.way == "bench supply" and again.setting
    one.case = bench.undo(one.book, one.case, NOW)
    assert tripped(one.case)


@pytest.mark.parametrize("chain", ["", "left, right: head > preamp > volume > phones"])
def test_where_nobody_knows_what_feeds_it_a_trip_is_followed_by_a_lamp_and_never_by_full_power(book, chain) -> None:
    case = bench.open_job(book, Intake("amplifier", ticks={"sound left": "bad"}, key="k"), NOW)
    case = bench.know(book, case, "chain", chain, read_chain(chain), "chain", NOW) if chain else case
    case = bench.enter_line(book, case, "series lamp stays bright", NOW)
    assert tripped(case) and stand(book, case, NOW).first_power is None
    case = bench.enter_line(book, case, NOTHING_FOUND, NOW)
    view = stand(book, case, NOW)
    assert not tripped(case) and view.first_power is not None and view.first_power.way == "series lamp"
    assert comes_first(view.first_power, view.card)
    assert "25 to 60 W" in words.standing(view).partition("After that:")[0]


RULED = """
machine: Small logic supply
parts:
  VIN: source 9V series 1R  RAW > GND
  U1: regulator 5V  in=RAW gnd=GND out=V5
  R1: resistor 100  V5 > GND
works:
  runs: V5 dc at idle between 4V and 6V; below 4V = dead
stimuli:
  idle: {do: switch it on}
never without: [V5 above 4V, V5 below 6V]
"""


def test_once_it_is_off_the_power_stays_off_and_what_can_be_read_comes_first(on_bench) -> None:
    one = on_bench(RULED, "U1 open")
    one.type("runs: dead", "V5 0.2 V")
    first = standing(one)
    assert first.card is not None and (first.card.kind, first.card.do) == ("stop", "Switch the power off now.")
    one.type("set-up: power off")
    view = standing(one)
    assert view.card is not None and (view.card.kind, view.card.do) == ("stop", "Leave the power off, and find why.")
    kinds = [action.kind for action in view.search.actions[1:]]
    assert "reading" in kinds and kinds == sorted(kinds, key=lambda kind: kind == "repair")
    assert not any(action.live for action in view.search.actions[1:])
    assert "Leave the power off" in words.card(view) and "must stay above 4 V" in words.card(view)
    machine, now = read(RULED), one.case.bench.setup
    assert first_choice(view, now) == 1
    on_page = showing.card(view, machine, {}, now, 1)
    assert on_page is not None and on_page.title != showing.TITLES["stop"]
    assert on_page.caution.startswith("Keep the power off: V5 reads")
    fed = replace(now, supplied=(("RAW", 9.0, 0.1),))  # the plug is out, and yet it has power
    assert first_choice(view, fed) == 0
    on_page = showing.card(view, machine, {}, fed, 1)
    assert on_page is not None and "Keep the power off" not in on_page.caution


@pytest.mark.parametrize(
    "line",
    [
        "nothing found, power off", "power off: nothing hot, no smell", "power off: no rail near 0 ohm, nothing hot",
        "looked inside with the power off, nothing burnt", "inside: nothing found, power off and discharged",
    ],
)  # fmt: skip
def test_nothing_found_is_heard_as_it_is_said(line: str) -> None:
    (reading,) = hear(line, Context()).readings
    ask = reading.question
    assert (ask.instrument, ask.red, ask.setup.power, reading.answer) == ("look", "inside", "off", "nothing found")


def test_a_plausible_short_makes_it_due_though_power_was_on(on_bench) -> None:
    one = on_bench(ADAPTOR, "D1 short")
    one.type("OUT 1.5 V")
    assert due(one.case) == ("", False)
    told = card(one)
    assert "a short is plausible" in told.because and "D1 is short" in told.because
    sound = on_bench(UNIT)
    sound.type("VCC ? V")
    assert any(action.live for action in standing(sound).search.actions)
    assert standing(sound).first_power is None


# How it is told -----------------------------------------------------------------------------------


def test_its_set_up_line_is_understood_and_its_answers_are_too(on_bench) -> None:
    one = on_bench(ADAPTOR)
    told = card(one)
    assert told.way == "bench supply" and told.ready
    one.type(told.setting)
    (place, volts, limit) = one.case.bench.setup.supplied[0]
    assert (place, volts, limit) == ("RAW", 9.0, told.feeds[0].limit)
    amps = read_value(told.answers[0].removeprefix("supply current "), "A").si
    assert told.feeds[0].low <= amps <= told.feeds[0].high < told.feeds[0].limit
    for line in told.answers:
        one.case = bench.enter_line(one.book, one.case, line, NOW)
        assert one.case.lines[-1].status == "counts", one.case.lines[-1].says


def test_the_card_says_how_what_and_when_to_stop(on_bench) -> None:
    one = on_bench(ADAPTOR)
    view = standing(one)
    live = next(action for action in view.search.actions if is_powered(action))
    head, _, rest = words.standing(replace(view, card=live)).partition(
        "First power: nothing was read with power on since it came in."
    )
    assert "After that:" in rest and "After that:" not in head
    for part in ("A sound machine takes", "Switch off at once when", "RAW goes above", "smells", "10 s the first time"):
        assert part in rest, part
    one.type("supply current 28 mA")
    assert "First power" not in words.standing(standing(one))


def test_it_stands_before_steps_with_power_on_only_and_blocks_nothing(on_bench) -> None:
    one = on_bench(ADAPTOR)
    view = standing(one)
    assert view.card is not None and view.first_power is not None
    one.type("OUT ? V")  # read on without it
    assert standing(one).first_power is None


def test_what_was_shown_of_it_is_in_the_record_and_comes_back_from_what_was_kept(on_bench) -> None:
    one = on_bench(ADAPTOR)
    told = card(one)
    (shown,) = [event for event in one.book.events(one.case.number) if event.kind == "shown"]
    assert shown.payload["first power"] == told.because
    kept = kept_view(one.book, one.case)
    assert kept is not None and kept.first_power == told


def test_a_heatsink_that_is_off_limits_how_long() -> None:
    text = ADAPTOR.replace("R1: resistor 100R  RAW > OUT", "U1: regulator fixed 5V  in=RAW out=OUT com=GND")
    population = open_search(read(text), "k").population
    bare = first_power(standing_so(population, AsTold(bare=(Bare("U1"),))), Setup())
    whole = first_power(population, Setup())
    assert bare is not None and whole is not None
    assert whole.seconds == float("inf") and "as long as it takes" in _lasts(whole)
    assert bare.seconds < 10.0 and "heatsink is off" in _lasts(bare)


def test_the_first_time_lasts_until_the_limit_has_charged_the_capacitors() -> None:
    """2 C U / I of 33 mF on 9 V at the limit: longer than ten seconds, and it may stand at its limit for as long."""
    large = known(with_parts(ADAPTOR, "C1: capacitor 33000u electrolytic  RAW > GND"))
    assert large.charging == approx(2 * 33e-3 * 9.0 / large.feeds[0].limit) and large.charging > 10.0
    assert _lasts(large).startswith(f"{math.ceil(large.charging)} s the first time")
    small = known(ADAPTOR)
    assert small.charging < 10.0 and _lasts(small).startswith("10 s the first time")


def test_a_lamp_in_series_holds_nothing_at_a_limit() -> None:
    """A lamp of 100 W passes most of what a short behind a rectifier asks for: nobody is told that a limit holds it."""
    search = open_search(read(with_parts(TUBES, *RESERVOIR)), "k")
    found = first_power(search.population, Setup())
    assert found is not None and found.way == "series lamp"
    names = [one.says for one in search.belief.suspects]
    told = {one.suspect: one for one in _draws(found, names.__getitem__)}
    assert "less behind the lamp" in told["C1 is short"].says and not told["C1 is short"].held
    assert not any("limit" in one.says for one in told.values())


def test_with_mains_inside_the_isolating_transformer_comes_first() -> None:
    found = known(TUBES)
    assert any("isolating transformer first" in said for said in _how(found))
    assert not any("isolating transformer" in said for said in _how(known(SUPPLY)))
    # nothing knows how much the lamp takes, so nobody is led to type what it takes from a rail
    assert any("Rails read low behind the lamp" in said for said in _watch(known(SUPPLY), str))
    assert not any("lamp" in said for said in _watch(known(ADAPTOR), str))


def test_what_was_lifted_or_joined_is_put_back_before_the_power_comes_on(on_bench) -> None:
    one = on_bench(ADAPTOR)
    one.type("set-up: power off, lift R1.1, link RAW to GND", "R2 ? ohm")
    (said,) = (how for how in card(one).how if "Before it comes on" in how)
    assert "solder R1.1 back in" in said and "Take away the wire from GND to RAW" in said
    one.type("set-up: power off")
    assert not any("Before it comes on" in how for how in card(one).how)
