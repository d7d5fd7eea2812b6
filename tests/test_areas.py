"""Large machines, drawn and solved area by area: what belief and planner make of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchmarks.large import hidden, long_line
from probewright import jobs, machine
from probewright.hypotheses import NOTHING_WRONG
from probewright.inference.belief import Belief
from probewright.inference.population import CONSIDERED, considered
from probewright.machine.model import Machine
from probewright.prediction.areas import find_areas
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import draw_laws
from probewright.prediction.latents import find_latents
from probewright.prediction.outcomes import fed_ahead, quick_show
from probewright.prediction.redraw import stands_apart
from probewright.readings import Question, Reading, Setup

TONE = Setup(stimulus="tone")


@pytest.fixture(scope="module")
def line() -> Machine:
    """Three sections of the long line amplifier, 89 parts."""
    return machine.read(long_line(3), "line.yaml")


@pytest.fixture(scope="module")
def sound(line: Machine) -> jobs.Search:
    """The middle section read at three places, all as a sound one reads, near the middle of what tolerances do."""
    job = jobs.open_search(line)
    asks = [Question("dc", net, setup=TONE) for net in ("O2", "E2", "V2")]
    healthy = [job.laws.healthy(ask)[1] for ask in asks]
    said = [Reading(ask, round(value, 2), f"h{n}") for n, (ask, value) in enumerate(zip(asks, healthy, strict=True))]
    return jobs.enter_readings(job, said)


def test_sections_are_areas_and_what_they_share_joins_them(line: Machine) -> None:
    areas = find_areas(line, find_latents(line))
    assert areas.many and sorted(areas.parts) == [0, 1, 2, 3]
    assert {areas.of_part[part] for part in ("PSU", "GEN")} == {0}
    assert areas.of_place("MAIN") == {0, 1, 2, 3} and areas.of_place("S2") == {1, 2} and areas.of_place("R23.1") == {2}
    alone = machine.read(long_line(1), "line.yaml")
    assert not find_areas(alone, find_latents(alone)).many
    matched = long_line(3).replace("Q21: npn gain 100..400 ", "Q21: npn gain 100..400 matched Q11 5% ")
    pair = machine.read(matched, "line.yaml")
    joined = find_areas(pair, find_latents(pair))
    assert joined.of_part["R13"] == joined.of_part["R23"] != joined.of_part["R33"]


def belief_of(search: jobs.Search) -> tuple[Belief, np.ndarray]:
    """The belief and (suspect,) which suspects the readings tell nothing of."""
    model, belief = search.laws.model, search.belief
    return belief, np.unique(model.suspect_of[stands_apart(search.laws, belief.readings)])


def test_what_stands_apart_keeps_its_odds_against_nothing_wrong(sound: jobs.Search) -> None:
    """Readings of one section say the same under a fault that moves none of them as under none at all (Bayes)."""
    belief, apart = belief_of(sound)
    assert len(apart) > 300
    prior = np.array([suspect.prior for suspect in belief.suspects])
    healthy = sound.laws.model.index[NOTHING_WRONG]
    odds = belief.probability[apart] / belief.probability[healthy] * prior[healthy] / prior[apart]
    fault_far = [n for n, one in enumerate(apart) if belief.suspects[one].faults[0].item.startswith(("R1", "R3"))]
    assert np.median(odds[fault_far]) == pytest.approx(1.0, abs=0.05)
    assert belief.probability[apart].sum() > 0.3


def test_a_hidden_fault_is_found_in_its_section_and_twice_alike(line: Machine) -> None:
    said = hidden(line, "R23", "open", ["O2", "C2", "E2"])
    first = jobs.enter_readings(jobs.open_search(line), said)
    belief = first.belief
    places = [(suspect.faults[0].item if suspect.faults else "") for suspect in belief.suspects]
    there = np.array([place.split("~")[0].split(".")[0][1:2] == "2" for place in places])
    assert belief.probability[there].sum() > 0.9
    assert belief.probability[first.laws.model.index["R23 open"]] > 0.05
    again = jobs.enter_readings(jobs.open_search(line), said)
    assert np.array_equal(again.belief.probability, belief.probability)


def test_the_planner_thinks_of_a_crowd_and_of_the_parts_most_in_doubt(line: Machine) -> None:
    job = jobs.open_search(machine.read(long_line(4), "line.yaml"))
    chosen, chance = considered(job.belief), job.belief.probability
    assert len(chosen) >= 200 > np.count_nonzero(chance >= CONSIDERED)
    assert min(chance[list(chosen)]) >= max(np.delete(chance, list(chosen)))


def test_a_joint_resoldered_in_a_large_machine_is_out_of_the_search(line: Machine) -> None:
    """Two rooms at once: a section solved for itself and something mended in place, of which nothing round it knows."""
    said = hidden(line, "R23", "open", ["C2", "E2"])
    mended = replace(said[0].question.setup, mended=("R23.1", "R23.2"))
    more = [
        replace(one, question=replace(one.question, setup=mended), hookup=f"again {one.hookup}", sitting=1)
        for one in said
    ]
    before = jobs.enter_readings(jobs.open_search(line), said)
    found = jobs.enter_readings(before, more)
    assert found.laws.base.ring is not None
    chance, index = found.belief.probability, found.laws.model.index
    assert chance[index["R23 open"]] > 0.9 and before.belief.probability[index["R23.1 joint-open"]] > 0.01
    assert chance[[index["R23.1 joint-open"], index["R23.2 joint-open"]]].max() < 1e-3


def test_a_large_machine_with_an_unsure_board_is_solved_whole() -> None:
    board = "added boards:\n  lamp:\n    fitted: unknown\n    parts:\n      R7: resistor 1k 1%  O2 > LAMP\n"
    board += "      R8: resistor 1 1%   LAMP > GND\n"
    model = build_model(machine.read(long_line(3) + board, "line.yaml"))
    assert model.areas.many and not model.by_areas
    laws = draw_laws(model, 2)
    assert laws.base.ring is None
    ask = Question("diode", "R7.1", "R7.2", Setup(power="off"))
    fed_ahead(laws.base, [ask])
    shown, there = quick_show(laws.base, ask), np.array([not model.cells[n].absent for n in laws.base.cell_of])
    assert there.any() and not there.all()
    assert not shown.judged[~there].any() and shown.judged[there].mean() > 0.95
