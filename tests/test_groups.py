"""Readings in one go: what they tell together, what they have in common, and what never belongs into them."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from conftest import Run
from hidden import NOW
from probewright import jobs, machine
from probewright.inference.answers import gain, standing_so
from probewright.inference.drawn import DrawnPopulation
from probewright.inference.population import Table
from probewright.jobs import adding, bench
from probewright.jobs.case_view import typed
from probewright.jobs.cases import Intake
from probewright.jobs.group_words import cut
from probewright.jobs.telling import decide, tell
from probewright.jobs.view import BurstView, GroupStepView, GroupView, JobView, WordView, plain
from probewright.planning import groups
from probewright.planning.bench_ahead import answers_of, gathered
from probewright.planning.bursts import Hot
from probewright.planning.choosing import Choice, ranked
from probewright.planning.circuit_ways import CircuitWays
from probewright.planning.groups import BURST, MOST, Group, Said, Together, group, is_beside, leaned, said_of
from probewright.planning.heat import bare
from probewright.planning.ways import ways
from probewright.readings import Question, Reading, is_live
from probewright.readings.as_told import AsTold
from probewright.readings.cooling import Bare
from probewright.readings.instruments import UNPOWERED
from probewright.readings.kit import Kit
from probewright.record import Book
from test_danger import TALL
from test_told_heat import BOARD, SMALL

SUSPECTS = 5


# What readings tell together: arithmetic ------------------------------------------------------------


def drawn(number: int, readings: int, draws: int = 0) -> tuple[Together, list[Said]]:
    """A random problem: suspects, and what each reading answers to each of their draws; draws: of each, 0 for a table,
    where every suspect stands for itself."""
    rng = np.random.default_rng(number)
    count = draws or 1
    order = rng.permutation(SUSPECTS * count)
    member = np.repeat(np.arange(SUSPECTS), count)[order]
    weight = (np.repeat(rng.dirichlet(np.ones(SUSPECTS)), count) / count)[order]
    said = []
    for _ in range(readings):
        answers = int(rng.integers(2, 4))
        rows = rng.dirichlet(np.full(answers, 0.4), len(member))
        said.append(Said(rows))
    return Together.nothing(member, weight), said


def of(nothing: Together, said: Sequence[Said]) -> float:
    for one in said:
        nothing = nothing.after(one)
    return nothing.nats


@given(st.integers(0, 10_000))
@settings(max_examples=60, deadline=None)
def test_readings_together_tell_what_the_sum_over_all_answers_says(number: int) -> None:
    """Mutual information by its definition, over every set of answers; each suspect has four draws, in any order."""
    nothing, said = drawn(number, 3, draws=4)
    weight = nothing.joint[:, 0]
    prior = np.bincount(nothing.member, weight)
    told = 0.0
    for answers in np.ndindex(*(one.rows.shape[1] for one in said)):
        by_draw = weight * np.prod([one.rows[:, a] for one, a in zip(said, answers, strict=True)], axis=0)
        both = np.bincount(nothing.member, by_draw)
        given_each = both / prior
        told += float(np.sum(both * np.log(np.maximum(given_each, 1e-300) / both.sum())))
    assert of(nothing, said) == approx(told, abs=1e-9)


@given(st.integers(0, 10_000))
@settings(max_examples=60, deadline=None)
def test_more_readings_never_tell_less_and_their_order_is_nothing(number: int) -> None:
    nothing, said = drawn(number, 4)
    whole = of(nothing, said)
    assert all(of(nothing, [one]) <= whole + 1e-9 for one in said)
    assert whole == approx(of(nothing, said[::-1]), abs=1e-9)
    assert of(nothing, said) <= sum(of(nothing, [one]) for one in said) + 1e-9, "independent given the suspect"


def test_what_two_readings_have_in_common_is_counted_once() -> None:
    """The same answer read twice adds nothing, where a table of suspects alone would add again."""
    member, weight = np.repeat(np.arange(2), 2), np.full(4, 0.25)
    nothing = Together.nothing(member, weight)
    sure = Said(np.array([[1.0, 0.0], [1.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))  # each draw is certain of its answer
    once = nothing.after(sure)
    assert once.nats > 0.1 and once.after(sure).nats == approx(once.nats, abs=1e-12)
    by_suspect = Said(np.array([[1.0, 0.0], [1.0, 0.0], [0.5, 0.5], [0.5, 0.5]]))
    assert nothing.after(by_suspect).after(by_suspect).nats > once.nats + 0.05


def test_two_channels_that_stray_together_tell_by_their_difference() -> None:
    """Levels of both channels go with the same unknown: neither alone tells which is weak, both together do."""
    member = np.array([0, 0, 1, 1])
    nothing = Together.nothing(member, np.full(4, 0.25))
    left, right = np.array([0, 1, 0, 1]), np.array([0, 1, 1, 0])
    eye = np.eye(2)
    assert nothing.after(Said(eye[left])).nats == approx(0.0) and nothing.after(Said(eye[right])).nats == approx(0.0)
    assert nothing.after(Said(eye[left])).after(Said(eye[right])).nats == approx(math.log(2.0))


@pytest.mark.parametrize(("suspects", "draws"), [(5, 12), (40, 6), (20, 20)])
def test_what_few_draws_seem_to_have_in_common_is_not_believed(suspects: int, draws: int) -> None:
    """Answers that have nothing to do with the suspect, four readings of them: counted as they fall the sample would
    swear that they tell more than half a nat together; leaned on their suspects a fifth of that is left."""
    rng = np.random.default_rng(7)
    member, weight = np.repeat(np.arange(suspects), draws), np.full(suspects * draws, 1.0 / (suspects * draws))
    fallen, believed = [], []
    for _ in range(10):
        nothing = Together.nothing(member, weight)
        as_it_fell = leaned_on = nothing
        alone = 0.0
        for _ in range(4):
            rows = np.eye(3)[rng.integers(0, 3, suspects * draws)]
            alone += nothing.after(Said(rows)).nats
            as_it_fell = as_it_fell.after(Said(rows))
            leaned_on = leaned_on.after(Said(leaned(rows, member, weight, np.full(suspects, draws))))
        fallen.append(as_it_fell.nats - alone)
        believed.append(leaned_on.nats - alone)
    assert np.mean(fallen) > 0.5 and np.mean(believed) < 0.2 * np.mean(fallen)


def test_leaning_leaves_what_one_reading_tells_as_it_is() -> None:
    rng = np.random.default_rng(5)
    member, weight = np.repeat(np.arange(3), (7, 5, 9)), rng.dirichlet(np.ones(21))
    rows = rng.dirichlet(np.full(4, 0.3), 21)
    other = leaned(rows, member, weight, np.array([7, 5, 9]))
    nothing = Together.nothing(member, weight)
    assert other.sum(axis=1) == approx(1.0) and not np.allclose(other, rows)
    assert nothing.after(Said(other)).nats == approx(nothing.after(Said(rows)).nats, abs=1e-12)
    many = leaned(rows, member, weight, np.full(3, 10**9))
    assert many == approx(rows, abs=1e-6)


@pytest.mark.parametrize("size", [2, 3])
def test_one_after_the_other_is_nearly_the_best_of_all_pairs_and_triples(size: int) -> None:
    """Each time what adds most: of gains that diminish at least 1 - 1/e of the best of all sets of that size (Nemhauser,
    Wolsey and Fisher, Mathematical Programming 14, 1978; information diminishes so where readings are independent given
    the suspect: Krause and Guestrin, UAI 2005). Measured on these 60 tables the least is far above that."""
    shares = []
    for number in range(60):
        nothing, said = drawn(number, 7)
        taken: list[Said] = []
        for _ in range(size):
            left = [one for one in said if not any(one is each for each in taken)]
            taken.append(max(left, key=lambda one: of(nothing, [*taken, one])))
        best = max(of(nothing, chosen) for chosen in combinations(said, size))
        shares.append(of(nothing, taken) / best)
    assert min(shares) >= 1.0 - 1.0 / math.e
    assert min(shares) > 0.9 and np.mean(shares) > 0.99  # measured: 0.94 and more


def test_answers_put_together_are_those_of_the_plan() -> None:
    rng = np.random.default_rng(3)
    for _ in range(20):
        prior = rng.dirichlet(np.ones(SUSPECTS))
        chance = rng.dirichlet(np.full(17, 0.3), SUSPECTS)
        label = answers_of(chance, prior)
        few = np.zeros((SUSPECTS, label[-1] + 1))
        np.add.at(few.T, label, chance.T)
        assert (np.diff(label) >= 0).all() and few == approx(gathered(chance, prior), abs=1e-12)


# On circuits ------------------------------------------------------------------------------------------


def opened(text: str, bare_: tuple[Bare, ...] = (), kit: Kit | None = None) -> tuple[DrawnPopulation, list[Choice]]:
    search = jobs.open_search(machine.read(text), **({} if kit is None else {"kit": kit}))
    population = standing_so(search.population, AsTold(bare=bare_))
    assert isinstance(population, DrawnPopulation)
    return population, decide(search.belief, population)[3]


BARE = (Bare("U1", 0.0, None),)


@pytest.fixture(scope="module")
def board() -> tuple[DrawnPopulation, list[Choice]]:
    return opened(BOARD)


@pytest.fixture(scope="module")
def tall() -> tuple[DrawnPopulation, list[Choice]]:
    return opened(TALL)


def live_group(population: DrawnPopulation, choices: Sequence[Choice]) -> Group | None:
    """The group of the best live reading, as if it were the step of today."""
    live = next(
        one for one in choices if one.action.ask and is_live(one.action.ask.setup) and one.action.kind == "reading"
    )
    return group(population, CircuitWays(population), [live, *(one for one in choices if one is not live)])


def test_a_group_begins_with_the_step_of_today_and_needs_nothing_changed(board) -> None:  # type: ignore[no-untyped-def]
    population, choices = board
    found = group(population, CircuitWays(population), choices)
    assert found is not None and found.choices[0] is choices[0] and 2 <= len(found.choices) <= MOST
    setups = {one.action.ask.setup for one in found.choices}
    assert len(setups) == 1 and max(one.action.rung for one in found.choices) == choices[0].action.rung
    assert len({one.action.ask for one in found.choices}) == len(found.choices)
    assert found.minutes < found.apart and found.minutes > choices[0].action.minutes


def test_a_group_tells_at_least_as_much_as_any_of_its_own(board, tall) -> None:  # type: ignore[no-untyped-def]
    for population, choices in (board, tall):
        found = group(population, CircuitWays(population), choices)
        assert found is not None and all(one >= 0.0 for one in found.gains)
        nothing = Together.nothing(population.member, population.weight)
        alone = [nothing.after(said_of(population, one)).nats for one in found.choices]
        assert found.gain >= max(alone) - 1e-9 and found.gain <= sum(alone) + 0.3


def test_a_draw_says_what_its_suspect_says_on_average(board) -> None:  # type: ignore[no-untyped-def]
    """Answers of the draws, averaged for each suspect, are the table that the step was chosen with, in few answers."""
    population, choices = board
    for one in [each for each in choices if each.action.kind == "reading"][:8]:
        rows = said_of(population, one).rows
        mean = np.stack(
            [
                np.average(rows[population.member == n], axis=0, weights=population.weight[population.member == n])
                for n in range(len(population.suspects))
            ]
        )
        few = gathered(one.table.chance, population.chance)
        assert mean.shape == few.shape and mean.sum(axis=1) == approx(1.0)
        assert np.average(np.abs(mean - few).max(axis=1), weights=population.chance) < 0.1
        assert gain(population, Table(mean, np.zeros(0))) == approx(gain(population, Table(few, np.zeros(0))), abs=0.12)


def test_in_a_burst_there_are_no_more_readings_than_seconds(monkeypatch: pytest.MonkeyPatch) -> None:
    """Bare, the regulator leaves seconds for one reading; on a sink for several. Nothing else that would be worth more
    stops the list here."""
    monkeypatch.setattr(groups, "OTHERS", 0)
    population, choices = opened(SMALL, BARE)
    how = CircuitWays(population)
    reading = next(one.action for one in choices if one.action.ask and is_live(one.action.ask.setup))
    alone = how.allowance(reading)
    assert alone is not None and alone.allowed and alone.clipped and live_group(population, choices) is None
    seconds = alone.burst(alone.cold).seconds
    for count in range(1, 5):
        together = how.together([reading] * count)
        assert together is not None and together.allowed == (alone.need * count <= seconds)
    population, choices = opened(SMALL, (Bare("U1", 60.0, None),))
    found = live_group(population, choices)
    assert found is not None and found.allowance is not None and len(found.choices) > 1
    assert found.allowance.need <= found.allowance.burst(found.allowance.cold).seconds


def test_more_sink_more_readings_and_all_of_them_on_clips() -> None:
    sizes = []
    for clip in (0.0, 40.0, 20.0):
        population, choices = opened(BOARD, (Bare("U1", clip, None),))
        found = live_group(population, choices)
        sizes.append(1 if found is None else len(found.choices))
        if (
            found is not None
            and found.allowance is not None
            and math.isfinite(found.allowance.burst(found.allowance.cold).seconds)
        ):
            assert found.allowance.need <= found.allowance.burst(found.allowance.cold).seconds
            assert (found.kind == BURST) == found.allowance.clipped
    assert sizes == sorted(sizes) and sizes[-1] > 1


def test_what_danger_and_the_kit_forbid_is_in_no_group(tall) -> None:  # type: ignore[no-untyped-def]
    """OUT is off limits while live; what kills is left alone unless somebody is trained; no instrument that is not there."""
    population, choices = tall
    for found in (group(population, CircuitWays(population), choices), live_or_none(population, choices)):
        for one in found.choices if found else ():
            ask = one.action.ask
            assert not (is_live(ask.setup) and {"OUT", "B+"} & {ask.red, ask.black})
    trained, every = opened(TALL, kit=Kit(trained=True))
    found = live_group(trained, every)
    assert found is None or (found.kind == BURST and all(one.action.ask.red != "OUT" for one in found.choices))
    meter, few = opened(BOARD, kit=Kit(has=frozenset({"meter"})))
    found = group(meter, CircuitWays(meter), few)
    assert found is not None and all(not meter.kit.lacks(one.action.ask.instrument) for one in found.choices)


def live_or_none(population: DrawnPopulation, choices: Sequence[Choice]) -> Group | None:
    live = [one for one in choices if one.action.ask and is_live(one.action.ask.setup) and one.action.kind == "reading"]
    return live_group(population, choices) if live else None


def test_a_reading_that_repeats_nothing_is_beside_only_in_the_same_set_up(board) -> None:  # type: ignore[no-untyped-def]
    _, choices = board
    readings = [one.action for one in choices if one.action.kind == "reading"]
    off, on = (
        next(one for one in readings if (one.ask.instrument in UNPOWERED) == unpowered) for unpowered in (True, False)
    )
    assert not is_beside(off, on) and not is_beside(on, off)
    assert is_beside(on, replace(on, ask=replace(on.ask, red="RAW"))) and not is_beside(on, replace(on, kind="repair"))
    assert not is_beside(on, replace(on, rung=on.rung + 1))
    assert not is_beside(on, replace(on, ask=replace(on.ask, setup=replace(on.ask.setup, lifted=("R1.1",)))))


def test_what_is_measured_again_or_cures_stands_alone_and_a_rough_answer_has_no_group(board) -> None:  # type: ignore[no-untyped-def]
    population, choices = board
    how = CircuitWays(population)
    for why in ("measure again", "refute", "verify", "cure"):
        assert group(population, how, [replace(choices[0], why=why), *choices[1:]]) is None
    assert group(population, how, []) is None
    assert group(replace(population, known=()), how, choices) is None


def test_a_group_stops_where_another_set_up_would_tell_more(board) -> None:  # type: ignore[no-untyped-def]
    """The same readings beside a step elsewhere that settles everything in no time: the first stands alone."""
    population, choices = board
    other = next(one for one in choices if one.action.kind == "repair")
    sure = replace(
        other, table=Table(np.eye(len(population.suspects)), np.zeros(0)), action=replace(other.action, minutes=0.2)
    )
    assert group(population, CircuitWays(population), choices) is not None
    assert group(population, CircuitWays(population), [choices[0], sure, *choices[1:]]) is None


# As it is told ------------------------------------------------------------------------------------------


def test_a_warm_part_leaves_fewer_of_a_group() -> None:
    """Cold, all of them; warm, as many as fit without a longer wait than the first; too hot, none."""
    hot = (Hot("U1", "TO-220", 0.0, bare("TO-220"), 1.6, 1.6, -1, True),)
    body = hot[0].body
    step = GroupStepView("V5", "V5", WordView("fine"), 0.5, Question("dc", "V5"), 12.0)
    burst = BurstView(50.0, 0.0, 60.0, True, ("U1",), (1.6,), "", 48.0)
    view = GroupView(BURST, 9.0, 12.0, tuple(replace(step, do=f"P{n}") for n in range(4)), ("black to GND",), "", burst)
    sizes = []
    for seconds in (0.0, 10.0, 20.0, 30.0, 40.0, 60.0):
        warmth = body.after(body.cold, 1.6, 1.6, seconds)
        left = cut(view, hot, [warmth], 0.0, False, None)
        sizes.append(1 if left is None else len(left.steps))
        if left is not None:
            assert hot[0].seconds(warmth) >= 12.0 * len(left.steps) and left.burst is not None
            assert hot[0].seconds(warmth) < 12.0 * (len(left.steps) + 1) or len(left.steps) == 4
    assert sizes[0] == 4 and sizes[-1] == 1 and sizes == sorted(sizes, reverse=True) and len(set(sizes)) > 2
    under_way = cut(view, hot, [body.cold], 0.0, True, None)
    assert under_way is not None and under_way.clips == () and "Clip" not in under_way.burst.says


def test_the_view_has_the_group_and_can_be_read_back(board) -> None:  # type: ignore[no-untyped-def]
    search = jobs.open_search(machine.read(BOARD))
    view = search.view
    assert view.group is not None and view.group.steps[0].do == view.actions[0].do and not view.group.clips
    assert typed(JobView, json.loads(json.dumps(plain(view)))) == view
    quick = jobs.quick_look(search, [Reading(view.group.steps[0].ask, 2.4, "a")])
    assert tell(quick.machine, quick.belief).group is None


def test_after_one_of_a_group_was_answered_the_rest_is_weighed_anew(board) -> None:  # type: ignore[no-untyped-def]
    """Whichever came first; what was read is not in the next group."""
    search = jobs.open_search(machine.read(BOARD))
    group_ = search.view.group
    assert group_ is not None
    second = group_.steps[1].ask
    after = jobs.enter_readings(search, [Reading(second, 1.7, "a")]).view
    assert after.group is None or all(step.ask != second for step in after.group.steps)
    assert after.actions[0].ask != second


def test_next_tells_it_and_json_has_it(book: Book, own_book: Path, probewright: Run) -> None:
    case = bench.open_job(book, Intake("amplifier", key="group"), NOW)
    case = adding.tie(book, case, BOARD, adding.propose_tie(case, BOARD, "f.yaml", {}), NOW)
    assert "In one go" not in probewright("next").stdout  # first power stands alone
    bench.enter_line(book, case, "first power done", NOW)
    said = probewright("next").stdout
    assert "In one go while the power is" in said and ", set up anew for each [" in said
    told = json.loads(probewright("next", "--json").stdout)["search"]["group"]
    assert told["kind"] in ("unpowered", "powered") and len(told["steps"]) >= 2
    assert told["minutes"] < told["apart"] and f"  2 {told['steps'][1]['do']}" in said


def test_where_it_can_hurt_one_place_is_clipped_at_a_time() -> None:
    """Of several clips on one meter the free ends are live: no list in one go on a flash of 320 V, and none on its low places
    beside them."""
    file = (Path(__file__).parent.parent / "benchmarks" / "machines" / "flash-300.yaml").read_text("utf-8")
    search = jobs.open_search(machine.read(file), kit=Kit(trained=True))
    search = jobs.enter_readings(search, [Reading(Question("works", "ready lamp"), "dark", "owner")])
    how = ways(search.population)
    live = [
        c
        for c in ranked(search.population)
        if c.action.ask is not None and is_live(c.action.ask.setup) and c.action.kind == "reading"
    ]
    hurting = [c for c in live if c.action.ask is not None and how.clips(c.action.ask)]
    assert hurting and isinstance(how, CircuitWays)
    found = group(search.population, how, [hurting[0], *(c for c in live if c is not hurting[0])])
    assert found is None
    harmless = [c for c in live if c not in hurting]
    beside = group(search.population, how, [*harmless, *hurting]) if len(harmless) > 1 else None
    assert beside is None or not any(c in hurting for c in beside.choices)
