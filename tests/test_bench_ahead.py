"""The planner at the bench looks ahead: with the minutes of the bench, in the order of risk, and no further than it pays."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from probewright import jobs, machine
from probewright.inference.answers import sample
from probewright.inference.belief import Belief, weigh
from probewright.jobs.telling import decide
from probewright.machine.tables import TableSection
from probewright.planning.actions import Action, bench_now
from probewright.planning.ahead import solve, value_of
from probewright.planning.bench_ahead import ANSWERS, CLEARLY, PLIES, bench_problem, gathered, may_begin
from probewright.planning.choosing import choose, ranked
from probewright.planning.minutes import Stand, change, minutes, rung
from probewright.planning.parting import TAKE_OUT, out_and_back
from probewright.planning.problem import Problem
from probewright.planning.problem import weigh as weigh_steps
from probewright.planning.ways import Ways, ways
from probewright.prediction.outcomes import show
from probewright.prediction.table_laws import TableLaws
from probewright.readings import Question, Reading, Setup
from test_ahead import least_by_all
from test_parting import STAGE
from test_tables import BENCH, answer, cause, certain, six_states, trial

TEXTBOOK = Path(__file__).parent.parent / "benchmarks" / "machines" / "common-emitter.yaml"

# The bench as it is moved ---------------------------------------------------------------------------


@pytest.fixture(scope="module")
def stage() -> jobs.Search:
    """A stage of one transistor after one reading that makes its parts suspect."""
    search = jobs.open_search(machine.read(STAGE, "stage.yaml"))
    return jobs.enter_readings(search, [Reading(Question("dc", "C"), 0.2, "first")])


def test_minutes_after_a_step_are_those_once_it_is_done(stage: jobs.Search) -> None:
    """Whatever comes first, what follows takes what the planner charges when it was really read."""
    how = ways(stage.population)
    asked = [one for one in how.possible() if one.kind == "reading" and one.ask is not None]
    setups = {(one.ask.setup, one.ask.instrument): one for one in asked if one.ask}
    assert len({one.rung for one in setups.values()}) >= 3  # live, off, and by itself
    compared = 0
    for first in setups.values():
        assert first.ask is not None
        value = float(show(stage.laws.base.middle, first.ask).value[0])
        belief = weigh(stage.laws, (*stage.readings, Reading(first.ask, value, "second")))
        later = {one.ask: one.minutes for one in ways(sample(belief)).possible()}
        for then in asked:
            if then.ask in later:
                assert how.following(then, first) == approx(later[then.ask]), (first.ask, then.ask)
                compared += 1
    assert compared > 60


def test_what_is_out_already_is_not_taken_out_again(stage: jobs.Search) -> None:
    """Between the pads of a transistor that is out there is more than one reading: it comes out and goes back once."""
    now = bench_now(stage.laws.model.machine, stage.readings)
    out = Setup(power="off", unplugged=("Q1",))
    pads = [Question("ohms", *ends, setup=out) for ends in (("B", "E"), ("C", "E"))]
    spent = minutes("ohms") + change(now, Stand(out, "ohms")) + out_and_back(now.setup, pads[0], TAKE_OUT)
    first, then = (Action("reading", one, one.red, spent, rung(TAKE_OUT)) for one in pads)
    assert ways(stage.population).following(then, first) == approx(minutes("ohms"))
    live = Action("reading", Question("dc", "C", setup=Setup(stimulus="idle")), "C", minutes("dc"), rung("dc"))
    back = minutes("ohms") + minutes("power off") + minutes("instrument") + minutes(TAKE_OUT)
    assert ways(stage.population).following(then, live) == approx(back)


def test_tests_of_a_table_are_charged_as_the_power_is_left() -> None:
    how, after = ways(sample(weigh(TableLaws.of(BENCH), []))), {}
    for first in how.possible():
        assert first.ask is not None
        word = next(one for one in BENCH.tests if one.id == first.item).outcomes[0]
        after = {
            one.item: one.minutes
            for one in ways(sample(weigh(TableLaws.of(BENCH), [Reading(first.ask, word, "1")]))).possible()
        }
        for then in how.possible():
            if then.item in after:
                assert how.following(then, first) == after[then.item], (first.item, then.item)
    assert after  # something was compared


# What it chooses ------------------------------------------------------------------------------------


def first_of(belief: Belief, ahead: bool = True) -> str:
    population, verdict, classes, _ = decide(belief)
    return choose(population, verdict, classes, ahead)[0].action.item


def test_the_bench_begins_the_published_example_as_the_optimum_does() -> None:
    """After Pattipati and Alexandridis (1990): t1 tells most, and 2.18 tests, until all is certain, begin with t2 or t4."""
    belief = six_states()
    assert first_of(belief, ahead=False) == "t1"
    problem = replace(bench_of(belief), sure=1.0)
    assert solve(problem).plan.expected == approx(2.18, abs=1e-6)
    steps = np.arange(len(problem.steps))
    ahead = value_of(problem, weigh_steps(problem, problem.begin), np.zeros(len(steps), int), steps, PLIES)[0]
    assert problem.steps[int(np.argmin(ahead))].name in ("t2", "t4")


def test_a_finding_asks_for_less_than_certainty() -> None:
    """At the bench 0.9 will do: where t1 passes, nothing wrong stands at 0.70 / 0.73, and it is named at once. t4 would
    still begin the shortest way, but saves less than a tenth: the best gain comes first."""
    problem = bench_of(six_states())
    found = solve(problem)
    assert found.plan.expected == approx(least_by_all(problem), abs=1e-6)
    assert CLEARLY * found.one_step < found.plan.expected < found.one_step
    assert first_of(six_states()) == "t1"


SWITCHING = TableSection(
    "the power on",
    (cause("a", 1.0), cause("b", 3.0), cause("c", 3.0), cause("d", 3.0)),
    (
        trial("hum", state="live", minutes=1.0),
        trial("look", state="ask", minutes=0.6),
        trial("ohms", state="off", minutes=0.1),
        trial("left", state="live", minutes=1.0),
        trial("right", state="live", minutes=1.0),
    ),
    certain(
        {"a": (0, 1, 0, 0, 0), "b": (0, 0, 0, 1, 0), "c": (0, 0, 1, 0, 1), "d": (0, 0, 1, 0, 0)},
        ("hum", "look", "ohms", "left", "right"),
    ),
)


def test_the_power_is_not_switched_off_and_on_again_for_one_good_reading() -> None:
    """With the power on ohms tell most, at 1.1 minutes. But then c and d are told apart with the power on only:
    1.1 + 0.4 x 0.6 + 0.6 x 3 = 3.14 minutes; with a look first and the power left on 0.6 + 0.9 x (1 + 2/3 x 1) = 2.1."""
    belief = weigh(TableLaws.of(SWITCHING, {}, floor=0.0), [answer("hum", "pass")])
    problem = bench_of(belief)
    steps = np.array([[one.name for one in problem.steps].index(name) for name in ("ohms", "look")])
    first = value_of(problem, weigh_steps(problem, problem.begin), np.zeros(2, int), steps, (4, 4, 4, 4))[0, steps]
    assert first == approx([3.14, 2.1], abs=1e-3)
    assert first_of(belief, ahead=False) == "ohms"
    assert first_of(belief) == "look"


@pytest.mark.parametrize("number", range(25))
def test_the_step_that_comes_first_begins_a_short_way(number: int) -> None:
    """Beside a second reckoning over everything that can happen: what its steps are thought to take is no less than
    the shortest way, and at most a quarter more."""
    problem = bench_of(weigh(TableLaws.of(random_section(number), {}), []))
    seen = weigh_steps(problem, problem.begin)
    steps = np.arange(len(problem.steps))
    ahead = value_of(problem, seen, np.zeros(len(steps), int), steps, (1,) * 6)[0]
    least = least_by_all(problem)
    assert ahead.min() >= least - 1e-9
    assert ahead.min() <= 1.25 * least


def random_section(number: int) -> TableSection:
    """Five causes and four tests with chances, live and off in turn."""
    dice = np.random.default_rng([number, 3])
    causes, tests = [f"c{n}" for n in range(5)], [f"t{n}" for n in range(4)]
    chance = {(t, c): tuple(dice.dirichlet((0.3, 0.3))) for t in tests for c in causes}
    states = ("live", "off", "ask", "live")
    return TableSection(
        f"number {number}",
        tuple(cause(name, float(dice.uniform(0.5, 3.0))) for name in causes),
        tuple(trial(name, state=states[n], minutes=float(dice.uniform(0.5, 3.0))) for n, name in enumerate(tests)),
        chance,
    )


def bench_of(belief: Belief) -> Problem:
    """What the planner thinks of before the first test: all steps, in its order."""
    population, _, classes, _ = decide(belief)
    choices = ranked(population)
    return bench_problem(population, ways(population), classes, [c.action for c in choices], [c.table for c in choices])


@pytest.mark.parametrize("number", range(20))
def test_names_and_their_order_change_no_choice(number: int) -> None:
    section, dice = random_section(number), np.random.default_rng(number)
    new_cause = {one.id: f"z{9 - n}" for n, one in enumerate(section.causes)}
    new_test = {one.id: f"y{9 - n}" for n, one in enumerate(section.tests)}
    other = TableSection(
        "otherwise",
        tuple(replace(one, id=new_cause[one.id], item=new_cause[one.id]) for one in dice.permuted(section.causes)),
        tuple(replace(one, id=new_test[one.id]) for one in dice.permuted(section.tests)),
        {(new_test[t], new_cause[c]): row for (t, c), row in section.chance.items()},
    )
    first, second = (first_of(weigh(TableLaws.of(one, {}), [])) for one in (section, other))
    assert second == new_test[first]


# The order of risk ----------------------------------------------------------------------------------


def test_looking_ahead_steps_up_in_risk_only_from_ohms_to_live_readings_that_need_no_care(stage: jobs.Search) -> None:
    how, actions = ways(stage.population), [c.action for c in ranked(stage.population)]
    assert len({one.rung for one in actions}) >= 3
    steps_up = 0
    for start in range(len(actions)):
        rest = actions[start:]
        few = may_begin(how, rest, [1.0] * len(rest))
        assert few[0] == 0
        for one in (rest[n] for n in few if rest[n].rung > rest[0].rung):
            assert rest[0].rung >= rung("unpowered") and one.rung == rung("dc") and one.kind == "reading"
            assert one.ask is not None and how.carefree(one.ask)
            steps_up += 1
    assert steps_up


def test_where_every_reading_needs_care_looking_ahead_never_steps_up(stage: jobs.Search) -> None:
    """The same steps, were there volts at every place."""
    actions = [c.action for c in ranked(stage.population)]
    wary = cast(Ways, SimpleNamespace(carefree=lambda ask: False))
    for start in range(len(actions)):
        rest = actions[start:]
        assert all(rest[n].rung <= rest[0].rung for n in may_begin(wary, rest, [1.0] * len(rest)))


def test_a_probe_on_the_running_stage_comes_before_ohms_that_tell_less() -> None:
    """A textbook stage that is silent: by gain a minute its ohms come first, nine of them; two volts are the shorter way."""
    search = jobs.open_search(machine.read(TEXTBOOK.read_text("utf-8"), TEXTBOOK.name))
    search = jobs.enter_readings(search, [Reading(Question("works", "tone"), "silent", "owner")])
    population, verdict, classes, _ = decide(search.belief)
    plain, ahead = (choose(population, verdict, classes, far)[0].action for far in (False, True))
    assert plain.ask is not None and plain.ask.setup.power == "off"
    assert ahead.ask is not None and (ahead.ask.instrument, ahead.ask.setup.power) == ("dc", "on")


# Fewer answers --------------------------------------------------------------------------------------


def nats(chance: np.ndarray, prior: np.ndarray) -> float:
    """Mutual information of state and answer."""
    joint = chance * prior[:, None]
    some = joint > 0.0
    return float((joint[some] * np.log((joint / (prior[:, None] * joint.sum(axis=0)))[some])).sum())


@given(st.integers(2, 9), st.integers(1, 30), st.integers(0, 10**6))
def test_answers_put_together_never_tell_more(states: int, bins: int, number: int) -> None:
    dice = np.random.default_rng(number)
    prior, chance = dice.dirichlet(np.ones(states)), dice.dirichlet(np.full(bins, 0.2), states)
    few = gathered(chance, prior)
    assert few.shape[0] == states and few.shape[1] <= ANSWERS
    assert few.sum(axis=1) == approx(np.ones(states))
    assert nats(few, prior) <= nats(chance, prior) + 1e-9


def test_answers_put_together_keep_nine_tenths_of_the_best_way_to_do_it() -> None:
    """Beside every way to cut nine bins into four runs."""
    kept = []
    for number in range(40):
        dice = np.random.default_rng(number)
        prior, chance = dice.dirichlet(np.ones(5)), dice.dirichlet(np.full(9, 0.3), 5)
        ways_to_cut = ([0, *cuts] for cuts in combinations(range(1, 9), ANSWERS - 1))
        best = max(nats(np.add.reduceat(chance, cuts, axis=1), prior) for cuts in ways_to_cut)
        kept.append(nats(gathered(chance, prior), prior) / best)
        assert kept[-1] <= 1.0 + 1e-9
    assert np.mean(kept) > 0.9


def test_two_levels_of_many_bins_become_two_answers() -> None:
    chance = np.array([[0.2] * 5 + [0.0] * 5, [0.0] * 5 + [0.2] * 5, [0.0] * 5 + [0.2] * 5])
    assert gathered(chance, np.array([0.5, 0.25, 0.25])) == approx(np.array([[1.0, 0.0], [0.0, 1.0], [0.0, 1.0]]))
