"""Orders of readings beside the program's own: all measure the same machines, permitted places only, to the same end."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from itertools import permutations
from pathlib import Path
from statistics import NormalDist

import numpy as np
import pytest

from benchmarks import campaign as bench_campaign
from benchmarks.circuits import demo
from dividers import DIVIDERS
from probewright import machine
from probewright.errors import BadInput
from probewright.inference.answers import Table
from probewright.jobs import campaign
from probewright.jobs.orders import ORDERS, OURS, Listed, named
from probewright.jobs.pretend_bench import PretendBench
from probewright.jobs.rehearsing import Rehearsals, Terms, _Course
from probewright.jobs.scoring import Rehearsed, by_order, mean_of, ratio_of, wilson
from probewright.jobs.telling import find
from probewright.jobs.trying import bin_of, trials
from probewright.jobs.view import plain
from probewright.planning.actions import Action, repair_minutes
from probewright.planning.fixed_order import Trials, best_order, best_place, spent
from probewright.planning.minutes import minutes, rows, varied
from probewright.planning.usual_orders import one_by_one, signal_path, supply_path, symptom_list
from probewright.prediction.latents import random_stream
from probewright.readings import Question, Reading, Setup
from probewright.readings.kit import UNTOLD
from probewright.report import rehearsals as words

SMALL = DIVIDERS.replace("known good: [SUPPLY]\n", "")  # its supply may be at fault too
TERMS = Terms("test", brought=True, most=8, quick=True)
BASELINES = tuple(name for name in ORDERS if name != OURS)


@pytest.fixture(scope="module")
def small() -> Rehearsals:
    found = Rehearsals(machine.read(SMALL, "small.yaml"), TERMS)
    found.best = tuple(reversed(found.permitted))  # any order will do where it is not the order that is tested
    return found


def drained(rehearsals: Rehearsals, name: str, said: tuple[Reading, ...] = ()) -> list[Action]:
    """All steps of an order on a bench on which nothing is ever found."""
    search = rehearsals.search()
    population, verdict, classes = find(search.belief, search.population)
    order, found = rehearsals.order(name, rehearsals.bench(0), said), []
    while (action := order.next(population, verdict, classes, ())) is not None:
        found.append(action)
    return found


# Permitted readings, each once ----------------------------------------------------------------


@pytest.mark.parametrize("name", BASELINES)
def test_an_order_has_every_permitted_reading_once(small: Rehearsals, name: str):
    asks = [one.ask for one in drained(small, name)]
    assert len(set(asks)) == len(asks) == len(small.permitted) >= 10
    assert set(asks) == set(small.permitted)
    assert len({(ask.instrument, ask.red, ask.black) for ask in small.permitted}) == len(asks)  # `idle` changes nothing


@pytest.mark.parametrize("name", BASELINES)
def test_no_order_goes_where_the_file_forbids_it(name: str):
    forbidding = Rehearsals(machine.read(SMALL + "never live: [MID]\n", "small.yaml"), TERMS)
    forbidding.best = forbidding.permitted
    touched = {(one.ask.red, one.ask.setup.power) for one in drained(forbidding, name) if one.ask}
    assert ("OUT", "on") in touched and not {("MID", "on"), ("R1.2", "on"), ("R3.1", "on")} & touched


def test_a_list_that_names_a_forbidden_or_deadly_place_leaves_it_out():
    text = SMALL.replace("12V 2%", "320V 2%") + "never live: [MID]\n"  # 320 V: above ES2 of IEC 62368-1, so deadly
    high = Rehearsals(machine.read(text, "high.yaml"), TERMS)
    search = high.search()
    population, verdict, classes = find(search.belief, search.population)
    off = Question("ohms", "R2.1", "R2.2", Setup(power="off"))
    order = Listed([Question("dc", "MID"), Question("dc", "RAW"), off, Question("dc", "VIN")])
    action = order.next(population, verdict, classes, ())
    assert action is not None and action.ask == off
    assert order.next(population, verdict, classes, ()) is None


def test_random_orders_differ_from_machine_to_machine_and_stay_with_one(small: Rehearsals):
    turns = [tuple(small.order("random", small.bench(n), ()).left) for n in (0, 0, 1)]  # type: ignore[attr-defined]
    assert turns[0] == turns[1] != turns[2]


# The same end ---------------------------------------------------------------------------------


class Noted(_Course):
    """A rehearsal that keeps what was asked."""

    def __init__(self, *given: object) -> None:
        super().__init__(*given)  # type: ignore[arg-type]
        self.asked: list[Question] = []

    def _do(self, action: Action) -> None:
        if action.ask is not None:
            self.asked.append(action.ask)
        super()._do(action)


@pytest.mark.parametrize("number", [0, 1, 3])
def test_a_baseline_that_asks_what_ours_asks_ends_as_ours_does(small: Rehearsals, number: int):
    ours = Noted(small, small.bench(number), OURS)
    end = ours.run(number)
    assert len(ours.asked) == end.readings >= 2
    other = Noted(small, small.bench(number), "random")
    other.order = Listed(list(ours.asked))
    assert replace(other.run(number), order=OURS) == replace(end, live=0, hurting=0, unsafe=0)  # nobody watches a list
    assert other.asked == ours.asked


def test_a_baseline_puts_its_leader_to_the_test_as_ours_does_however_short_its_list(small: Rehearsals):
    """An end without a proof would be another end."""
    bench = PretendBench(small.model, small.model.suspects[small.model.index["R2 open"]], "story")
    course = Noted(small, bench, "random")
    course.order = Listed([Question("dc", "OUT")])
    end = course.run(0)
    assert end.finding == "located" and end.right
    assert course.asked[0] == Question("dc", "OUT") and len(course.asked) > 1


def test_a_list_that_stands_alone_measures_nothing_else(small: Rehearsals):
    bench = PretendBench(small.model, small.model.suspects[small.model.index["R2 open"]], "story")
    course = Noted(small, bench, "random")
    course.order = Listed([Question("dc", "OUT")], alone=True)
    assert course.run(0).finding == "undecided"
    assert course.asked == [Question("dc", "OUT")]
    strict = Rehearsals(small.machine, replace(TERMS, alone=True))
    strict.best = strict.permitted
    started = [strict.order(name, strict.bench(0), strict.bench(0).owner()) for name in BASELINES]
    assert [isinstance(one, Listed) and one.alone for one in started] == [True] * 5


def test_where_nothing_was_found_what_is_mended_in_vain_is_counted(small: Rehearsals):
    course = _Course(
        small, PretendBench(small.model, small.model.suspects[small.model.index["R3 open"]], "vain"), "random"
    )
    course.order = Listed([])
    end = course.run(0)
    assert end.finding == "undecided" and end.readings == 0 and end.minutes == 0.0
    belief, spent_so = course.search.belief, 0.0
    for n in np.argsort(-belief.probability, kind="stable"):
        for item in (fault.item for fault in belief.suspects[n].faults):
            if item == "R3":
                assert end.vain == pytest.approx(spent_so) and spent_so > 0.0
                return
            part = item.partition(".")[0]
            row = "repair extra" if item == "SUPPLY" else "repair two pins"
            assert "~" not in item and part in small.machine.parts  # no bridges before R3 in this file
            mended = {"R1": 8.0, "R2": 8.0, "R4": 8.0, "F1": 8.0, "SUPPLY": 3.0}
            assert minutes(row) == mended.get(item, minutes(row))
            spent_so += repair_minutes(small.machine, item, UNTOLD)
    pytest.fail("R3 is not suspected")


def test_a_sound_machine_has_nothing_to_be_mended_in_vain(small: Rehearsals):
    course = _Course(
        small, PretendBench(small.model, small.model.suspects[small.model.index["nothing-wrong"]], "s"), "random"
    )
    course.order = Listed([])
    assert course.run(0).vain == 0.0


# What the trade does --------------------------------------------------------------------------


def test_the_ways_through_the_door_unit_are_those_of_its_schematic():
    door, _ = demo("ds-3")
    assert supply_path(door).nets == ("RAW", "VCC")
    # the coupling capacitor, base to collector, the follower, the output capacitor
    assert signal_path(door, door.works[0]).nets == ("VOICE", "B1", "C1N", "E2", "SPKR")
    small = machine.read(SMALL, "small.yaml")
    assert signal_path(small, small.works[0]).nets == ("VIN", "RAW", "MID", "OUT")
    assert signal_path(small, small.works[0]).instruments == ("dc",)


def test_halving_clears_the_supply_halves_the_way_and_then_goes_round_the_stage(small: Rehearsals):
    course = Noted(
        small, PretendBench(small.model, small.model.suspects[small.model.index["R3 open"]], "halves"), "half_split"
    )
    halving, asked = course.order, []
    while len(asked) < 5:
        action = halving._from_list(course.search.population)  # type: ignore[attr-defined]
        asked.append(action.ask)
        course._do(action)
    # VIN is good; of VIN, RAW, MID, OUT the middle is RAW, and MID lies between it and OUT, which is bad
    assert [ask.red for ask in asked[:3]] == ["VIN", "RAW", "MID"] and {ask.instrument for ask in asked[:3]} == {"dc"}
    assert [(ask.instrument, ask.red) for ask in asked[3:]] == [("dc", "OUT"), ("ohms", "R1.1")]


def test_halving_turns_to_the_supply_where_the_furthest_rail_is_bad():
    """Answered by hand: VREF of the mixer is dead, so the way of the supply is halved, not that of the signal."""
    mixer, _ = demo("lm-2")
    rehearsals = Rehearsals(mixer, TERMS)
    bench = PretendBench(rehearsals.model, rehearsals.model.suspects[rehearsals.model.index["R1 open"]], "rail")
    course = Noted(rehearsals, bench, "half_split")
    reds = []
    while len(reds) < 3:
        action = course.order._from_list(course.search.population)  # type: ignore[attr-defined]
        reds.append(action.ask.red)
        course._do(action)
    assert reds == ["VREF", "RAW", "V8"]  # of VIN, RAW, V8, VREF


def test_a_symptom_list_takes_the_rails_and_then_what_is_nearest(small: Rehearsals):
    door, _ = demo("ds-3")
    permitted = Rehearsals(door, TERMS).permitted
    listed = symptom_list(door, permitted, door.works)
    assert [ask.red for ask in listed[:4]] == ["RAW", "VCC", "SPKR", "E2"]  # SPKR is heard, E2 is a capacitor away
    states = [(ask.instrument != "dc") + (ask.setup.power == "off") + 2 * (ask.instrument == "swap") for ask in listed]
    assert states == sorted(states)


def test_one_by_one_begins_with_the_kind_that_fails_most_and_needs_the_power_on_once(small: Rehearsals):
    failing = {"F1": 0.5, "R1": 0.01, "R2": 0.3, "R3": 0.01, "R4": 0.01, "SUPPLY": 0.2}
    listed = one_by_one(small.machine, small.permitted, failing)
    assert [ask.red for ask in listed[:6]] == ["F1.1", "SUPPLY", "R1.1", "R2.1", "R3.1", "R4.1"]
    powers = [ask.setup.power for ask in listed if ask.instrument != "swap"]
    assert powers == sorted(powers)  # off before on


# The best fixed order -------------------------------------------------------------------------


def made_up(seed: int, trial_count: int = 40, readings: int = 6, causes: int = 5) -> Trials:
    """A small table of chance: three answers to each reading, two set-ups, some readings that move nothing."""
    dice = np.random.default_rng(seed)
    table = 0.96 * dice.dirichlet(np.full(3, 0.3), (readings, causes)) + 0.04 / 3.0
    prior = dice.dirichlet(np.ones(causes))
    truth = dice.choice(causes, trial_count, p=prior)
    came = np.array([[dice.choice(3, p=table[n, cause]) for n in range(readings)] for cause in truth])
    says = np.log(np.stack([table[n][:, came[:, n]].T for n in range(readings)], axis=1))
    stand = dice.integers(0, 2, readings)
    change = np.where(np.append(stand, 2)[:, None] != stand, 2.5, 0.0)
    return Trials(np.log(np.tile(prior, (trial_count, 1))), says, truth, dice.uniform(3.0, 30.0, (trial_count, causes)),
                  dice.uniform(0.5, 3.0, readings) + change, dice.random(readings) < 0.2, 0.85, 4 + seed % 4)  # fmt: skip


@pytest.mark.parametrize("seed", range(8))
def test_the_best_fixed_order_is_hardly_worse_than_the_best_of_all_permutations(seed: int):
    table = made_up(seed)
    each = [float(spent(table, one).mean()) for one in permutations(range(table.count))]
    found = best_order(table, [range(table.count)])
    assert sorted(found) == list(range(table.count))
    assert float(spent(table, found).mean()) <= 1.03 * min(each)
    assert float(np.mean(each)) > 1.1 * min(each)  # the order matters here


def test_minutes_of_an_order_are_those_counted_by_hand():
    # two causes, even; reading 0 says nothing, 1 settles it, 2 is a swap; 1 needs another set-up than 0
    says = np.log(np.array([[[0.5, 0.5], [0.98, 0.02], [0.5, 0.5]], [[0.5, 0.5], [0.98, 0.02], [0.5, 0.5]]]))
    minutes_of = np.array([[1.0, 4.0, 3.0], [2.5, 2.0, 3.0], [1.0, 2.0, 3.0], [1.5, 3.0, 3.0]])
    table = Trials(np.log(np.full((2, 2), 0.5)), says, np.array([0, 1]), np.array([[8.0, 6.0], [8.0, 6.0]]),
                   minutes_of, np.array([False, False, True]), 0.9, 3)  # fmt: skip
    # 0 from nothing 1.5, a swap 3, 1 after 0 4.0; the second trial, in which a slip speaks for cause 0, goes on to the
    # end of the list and mends that in vain, 8 min
    assert spent(table, [0, 2, 1]).tolist() == [8.5, 16.5]
    assert spent(table, [1, 0, 2]).tolist() == [3.0, 8.5 + 8.0]  # 3 from nothing, 2.5 for 0 after 1, 3
    # cut short before it is settled: two even causes, so nothing stands before the true one
    assert spent(replace(table, most=1), [0, 1, 2]).tolist() == [1.5, 1.5]


@pytest.mark.parametrize("seed", range(3))
def test_the_best_place_is_that_of_trying_each(seed: int):
    table = made_up(seed)
    for one in range(table.count):
        rest = [other for other in range(table.count) if other != one]
        each = [float(spent(table, [*rest[:n], one, *rest[n:]]).mean()) for n in range(table.count)]
        least, place = best_place(table, rest, one)
        assert least == pytest.approx(min(each)) and each[place] == pytest.approx(min(each))


def test_machines_that_an_order_is_made_on_are_none_of_those_rehearsed(
    small: Rehearsals, monkeypatch: pytest.MonkeyPatch
):
    made, make = [], small.bench
    monkeypatch.setattr(small, "bench", lambda *given: made.append(make(*given)) or made[-1])
    trials(small, 5)
    rehearsed = [make(n) for n in range(20)]
    assert len(made) == 5 and not {one.key for one in made} & {one.key for one in rehearsed}
    for one in made:
        assert not any(np.isclose(one.bank.z[0], other.bank.z[0]).any() for other in rehearsed)


def test_a_table_of_trials_has_the_truth_in_it_and_says_most_for_it(small: Rehearsals):
    table = trials(small, 24)
    count, readings, causes = table.says.shape
    assert 18 <= count <= 24 and readings == len(small.permitted) and len({count, readings, causes}) == 3
    known = table.known(range(readings))[:, -1]
    named_right = table.truth == known.argmax(axis=1)
    assert named_right.mean() > 0.7  # all readings taken, most of the truths lead
    assert np.isfinite(table.says).all() and (table.mending >= 0.0).all()


def test_answers_fall_into_the_bins_of_a_table():
    volts = Table(np.full((2, 3), 1.0 / 3.0), np.array([0.0, 1.0, 2.0, 4.0]))
    ask = Question("dc", "OUT")
    assert [bin_of(volts, Reading(ask, v, "h")) for v in (-1.0, 0.5, 1.5, 3.0, np.inf)] == [0, 0, 1, 2, 2]
    swap = Table(np.full((2, 2), 0.5), np.zeros(0), ("better", "same"))
    assert [bin_of(swap, Reading(ask, v, "h")) for v in ("cured", "same")] == [0, 1]
    assert bin_of(Table(np.full((2, 2), 0.5), np.zeros(0), ("none", "some")), Reading(ask, 1.0, "h")) is None


# Campaigns ------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def few() -> campaign.CampaignView:
    return campaign.rehearse(SMALL, "small.yaml", TERMS, 2, processes=1, orders=tuple(ORDERS))


def test_the_same_number_gives_the_same_result_however_many_processes(few: campaign.CampaignView, tmp_path: Path):
    keep, orders = tmp_path / "kept", (OURS, "half_split", "random")
    alone = campaign.rehearse(SMALL, "small.yaml", TERMS, 2, keep, 1)
    assert alone.minutes == {OURS: few.minutes[OURS]}
    before = keep.read_text().splitlines()
    more = campaign.rehearse(SMALL, "small.yaml", TERMS, 2, keep, 2, orders=orders)
    assert more == replace(few, minutes={name: few.minutes[name] for name in orders})
    after = keep.read_text().splitlines()
    assert after[: len(before)] == before and len(after) == 1 + 2 * len(orders)  # what was there is not done again


def test_the_view_has_the_minutes_of_every_order_and_the_table_names_them(few: campaign.CampaignView):
    said = json.loads(json.dumps(plain(few)))["minutes"]
    assert tuple(said) == tuple(ORDERS)
    for name, one in said.items():
        assert one["n"] == 2 and one["mean"] > 0.0 and one["to_cure"] >= one["mean"], name
    assert said[OURS]["ratio"] == said[OURS]["ratio_to_cure"] == 1.0
    assert few.n == 2  # the scores are those of ours
    table = words.campaign(few)
    assert all(name.replace("_", " ") in table for name in ORDERS)
    assert "ours to it" not in words.campaign(replace(few, minutes={OURS: few.minutes[OURS]}))


def row(number: int, order: str, finding: str, spent_so: float, vain: float = 0.0) -> Rehearsed:
    return Rehearsed(number, "R1 open", True, finding, "R1 open", True, 0.95, True, 0.95, True, 1, 0, 3, spent_so,
                     order=order, vain=vain)  # fmt: skip


def test_orders_are_compared_where_both_decided_and_on_all_to_a_cure():
    found = by_order([
        row(0, OURS, "located", 5.0), row(1, OURS, "located", 7.0), row(2, OURS, "undecided", 30.0, 8.0),
        row(0, "random", "located", 15.0), row(1, "random", "undecided", 40.0, 24.0), row(2, "random", "outside", 20.0, 3.0),
    ])  # fmt: skip
    one = found["random"]
    assert (one.n, one.both) == (3, 1)
    assert one.decided == pytest.approx(2 / 3) and one.decided_ci95 == wilson(2, 3)
    assert one.mean == pytest.approx(25.0) and one.to_cure == pytest.approx((15.0 + 64.0 + 23.0) / 3)
    assert one.ratio == pytest.approx(5.0 / 15.0) and one.ratio_ci95 is None  # one pair has no interval
    assert one.ratio_to_cure == pytest.approx((5.0 + 7.0 + 38.0) / (15.0 + 64.0 + 23.0))


def test_intervals_of_means_and_ratios_are_those_worked_by_hand():
    z = NormalDist().inv_cdf(0.975)
    assert mean_of([1.0, 3.0])[1] == pytest.approx((2.0 - z, 2.0 + z))  # sd sqrt 2, over sqrt 2
    # Cochran, Sampling Techniques, 1977, section 6.4: r = 1/2; off by -0.5, 0.5; s2 = 0.5, over n 0.25; mean of y 5
    ratio, span = ratio_of([(2.0, 5.0), (3.0, 5.0)])
    assert ratio == pytest.approx(0.5)
    assert span == pytest.approx(tuple(0.5 * math.exp(sign * z * math.sqrt(0.25) / 5.0 / 0.5) for sign in (-1.0, 1.0)))
    assert ratio_of([]) == (None, None)


def test_an_interval_of_a_ratio_holds_the_truth_about_as_often_as_it_says():
    dice, held = np.random.default_rng(5), 0
    for _ in range(400):
        y = dice.gamma(4.0, 5.0, 30)
        span = ratio_of(list(zip(0.4 * y * dice.gamma(6.0, 1.0 / 6.0, 30), y, strict=True)))[1]
        held += span is not None and span[0] < 0.4 < span[1]
    assert 0.90 < held / 400 < 0.98  # 0.95 less what thirty pairs cost, within four standard errors of 0.011


def test_names_of_orders_are_read_and_what_is_none_is_answered():
    assert named("all") == tuple(ORDERS)
    assert named("random, best_fixed") == (OURS, "best_fixed", "random")
    with pytest.raises(BadInput, match="'best_fixd'") as bad:
        named("best_fixd")
    assert "best_fixed" in bad.value.complaints[0].mend
    with pytest.raises(BadInput, match="one fault"):
        campaign.rehearse(SMALL, "small.yaml", replace(TERMS, pairs=True), 1, orders=("random",))


# Another bench's minutes ----------------------------------------------------------------------


def test_a_bench_of_drawn_minutes_is_within_half_and_twice_the_table_and_the_same_by_its_key():
    kits = [varied(random_stream(key, ("paces",))) for key in ("a", "a", "b")]
    assert kits[0] == kits[1] != kits[2]
    factors = [kits[0].minutes[what] / minutes(what) for what in rows()]
    assert 0.5 <= min(factors) < 0.8 and 1.25 < max(factors) <= 2.0  # of 35 or so, some are near each end
    assert sum(one > 1.0 for one in factors) not in (0, len(factors))


def test_drawn_minutes_count_in_the_rehearsal_and_in_the_fixed_order(small: Rehearsals):
    other = Rehearsals(small.machine, replace(TERMS, paces="a"))
    course = _Course(other, other.bench(1), "random")
    population = course.search.population
    action = course.order.next(*find(course.search.belief, population), ())
    assert action is not None and action.ask is not None
    kit = other.terms.kit
    if action.kind == "reading" and action.ask.setup.power == "on":
        begin = kit.minutes["power on"] + kit.minutes[action.ask.instrument]
        assert action.minutes == pytest.approx(begin + (kit.minutes["inner pin"] if "." in action.ask.red else 0.0))
    table = trials(other, 3)
    plainly = trials(small, 3)
    assert np.array_equal(table.says, plainly.says)
    assert not np.isclose(table.minutes, plainly.minutes).any()


# The printed comparison -----------------------------------------------------------------------


def test_the_printed_comparison_holds_ours_to_the_best_other_order():
    plan = next(one for one in bench_campaign.PLANS if one.name == "orders")
    assert set(plan.orders) == set(ORDERS)
    taken = {OURS: 6.0, "best_fixed": 14.0, "half_split": 11.0}
    rows_of = [row(n, order, "located", spent_so + n) for n in range(3) for order, spent_so in taken.items()]
    printed = {one.what: one for one in bench_campaign.figures("ds-3", plan, rows_of)}
    assert printed["ds-3 orders: ours to half_split, the best of the others"].figure == pytest.approx(21.0 / 36.0)
    assert printed["ds-3 orders: ours to half_split, the best of the others"].met is False
    assert printed["ds-3 orders: ours to best_fixed"].figure == pytest.approx(21.0 / 45.0)
    assert printed["ds-3 orders: minutes, half_split"].figure == pytest.approx(12.0)
