"""A part measured by itself: what lies beside it on the board is told from it by a hot iron, and by nothing else."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from probewright import jobs, machine
from probewright.inference.answers import sample
from probewright.inference.lookalikes import LookAlikes
from probewright.inference.verdict import judge
from probewright.jobs.pretend_bench import PretendBench
from probewright.jobs.telling import decide
from probewright.planning.actions import bench_now
from probewright.planning.minutes import minutes
from probewright.planning.parting import put_back
from probewright.planning.ways import ways
from probewright.prediction.cells import build_model
from probewright.prediction.outcomes import show
from probewright.readings import Question, Reading, Setup

STAGE = """\
machine: Stage between two rails
extras:
  SUPPLY: source 12V 1% series 1R        VCC > GND
known good: [SUPPLY]
parts:
  R1: resistor 47k 1%                    VCC > B
  R2: resistor 10k 1%                    B > GND
  R3: resistor 2k2 1%                    VCC > C
  R4: resistor 470R 1%                   E > GND
  Q1: npn small-signal gain 150..300     c=C b=B e=E
stimuli:
  idle: {do: switch it on}
works:
  rest: C dc at idle; below 80% of healthy = low; above 120% of healthy = high
"""


@pytest.fixture(scope="module")
def stage() -> machine.Machine:
    return machine.read(STAGE, "stage.yaml")


def bench_with(stage: machine.Machine, fault: str) -> PretendBench:
    model = build_model(stage)
    return PretendBench(model, model.suspects[model.index[fault]], "parting")


def ohms(bench: PretendBench, red: str, black: str, **setup: tuple[str, ...]) -> float:
    return float(show(bench.bank, Question("ohms", red, black, Setup(power="off", **setup))).value[0])


def test_a_bridge_stays_on_the_copper_and_a_short_goes_with_the_part(stage: machine.Machine) -> None:
    outside, inside = bench_with(stage, "Q1.b~Q1.e bridge"), bench_with(stage, "Q1 be-short")
    assert ohms(outside, "B", "E") < 40.0 and ohms(inside, "B", "E") < 40.0  # in place both read alike
    beside = 1.0 / (1.0 / 10e3 + 1.0 / 47e3) + 470.0  # what is left between the pads: R2 beside R1, and R4
    assert ohms(outside, "B", "E", unplugged=("Q1",)) < 40.0
    assert ohms(inside, "B", "E", unplugged=("Q1",)) == pytest.approx(beside, rel=0.4)


def test_a_new_part_clears_the_bridge_beside_it(stage: machine.Machine) -> None:
    outside = bench_with(stage, "Q1.b~Q1.e bridge")
    assert ohms(outside, "B", "E", replaced=("Q1",)) > 1e3
    assert outside.is_cured_by("Q1") and outside.is_cured_by("B~E") and not outside.is_cured_by("B~C")


def told(stage: machine.Machine, bench: PretendBench, *asks: Question, without: tuple[str, ...] = ()) -> jobs.Search:
    """A search that was told what this bench reads."""
    search = jobs.open_search(stage, "parting", without)
    said = [*bench.owner(), *(one for ask in asks for one in bench.answers(ask))]
    return jobs.enter_readings(search, said)


BASE, EMITTER, COLLECTOR = (Question("dc", net) for net in "BEC")
BASE_TO_EMITTER = Question("ohms", "B", "E", Setup(power="off"))


@pytest.fixture(scope="module")
def shorted(stage: machine.Machine) -> jobs.Search:
    """Base and emitter read as one; the list has no bridge."""
    bench = bench_with(stage, "Q1.b~Q1.e bridge")
    gone = tuple(one.id for one in build_model(stage).suspects if one.id.endswith(" bridge"))
    return told(stage, bench, BASE, EMITTER, COLLECTOR, BASE_TO_EMITTER, without=gone)


def test_story_a_bridge_that_is_not_listed_is_not_called_the_transistor(
    stage: machine.Machine, shorted: jobs.Search
) -> None:
    _, verdict, classes, choices = decide(shorted.belief, shorted.population)
    first = choices[0].action.ask
    assert verdict.finding == "undecided" and choices[0].why == "refute"
    assert first is not None and first.setup.unplugged == ("Q1",) and {first.red, first.black} == {"B", "E"}
    bench = bench_with(stage, "Q1.b~Q1.e bridge")
    after = jobs.enter_readings(shorted, bench.answers(first))
    _, verdict, classes, _ = decide(after.belief, after.population)
    assert verdict.finding == "unexplained"
    assert after.belief.suspects[classes[0].members[0]].id == "B~E joins"


def test_the_iron_is_charged_and_comes_after_the_probes(shorted: jobs.Search) -> None:
    population = sample(shorted.belief)
    apart = [
        one for one in ways(population).possible() if one.ask and (one.ask.setup.unplugged or one.ask.setup.lifted)
    ]
    plain = [one for one in ways(population).possible() if one.ask and one.ask == BASE_TO_EMITTER]
    assert apart and not plain  # it was asked already
    assert all(one.minutes >= minutes("lift a leg") and one.rung >= 7 for one in apart)


def test_what_the_same_repair_cures_is_not_worth_a_hot_iron(stage: machine.Machine) -> None:
    """R3 risen, listed or not: a new R3 it is, so nothing is desoldered to find out which."""
    search = told(stage, bench_with(stage, "R3 open"), BASE, EMITTER, COLLECTOR)
    how, belief = ways(sample(search.belief)), search.belief
    index = belief.laws.model.index
    assert belief.suspects[int(np.argmax(belief.probability))].id == "R3 open"
    found = how.refuting(index["R3 open"], (index["R3 otherwise"],))
    assert all(not action.ask.setup.lifted for _, action in found if action.ask)


def test_the_board_is_whole_again_for_the_next_step(stage: machine.Machine) -> None:
    apart = Setup(power="off", unplugged=("Q1",))
    assert put_back(stage, apart) == Setup(power="off")
    assert put_back(stage, Setup(power="off", lifted=("R4.1",))) == Setup(power="off")
    running = Setup(lifted=("R4.1",))
    assert put_back(stage, running) == running  # lifted to run without it: that is how the bench stands
    said = (Reading(replace(BASE_TO_EMITTER, setup=apart), 7.5, "x"),)
    assert bench_now(stage, said).setup == apart


def test_a_region_is_no_place(stage: machine.Machine) -> None:
    """Sure of a few dozen look-alikes all over the board is sure of nothing that could be mended."""
    belief = told(stage, bench_with(stage, "R3 open"), BASE, EMITTER, COLLECTOR).belief
    leader = int(np.argmax(belief.probability))
    assert judge(belief, [LookAlikes((leader,), 0.99)]).finding == "located"
    even = replace(belief, log_weight=np.log(np.full(len(belief.log_weight), 1.0 / len(belief.log_weight))))
    places = [n for n, one in enumerate(belief.suspects) if one.faults and not one.stranger and n != leader]
    found = judge(even, [LookAlikes((leader, *places), 0.99)])
    assert found.vague and found.finding == "undecided"
