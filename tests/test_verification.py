"""The reading that proves a leader: a figure it names sharply and far from healthy, and of those the one worth most; and
what has to be read before a search gives up."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from probewright import jobs, machine
from probewright.inference.answers import gain
from probewright.inference.circuit_fit import unlisted_as_measured
from probewright.inference.verdict import LEADS
from probewright.jobs.telling import decide
from probewright.planning.choosing import PROOF, called_for
from probewright.planning.minutes import SHORTEST
from probewright.planning.ways import table_of, ways
from probewright.readings import Question, Reading, Setup

DEMO = Path(jobs.__file__).parent.parent / "demo"
DOOR, MIXER = DEMO / "fernside-ds-3.yaml", DEMO / "fernside-lm-2.yaml"


@pytest.fixture(scope="module")
def led() -> jobs.Search:
    """A door unit whose R7 is open: it leads after two volts, C2's ohms would be over the range whatever is wrong."""
    search = jobs.open_search(machine.read(DOOR.read_text("utf-8"), DOOR.name))
    voice = Setup(stimulus="voice")
    said = [
        Reading(Question("works", "speech"), "silent", "owner"),
        Reading(Question("dc", "C1N", setup=voice), 5.46, "1"),
        Reading(Question("dc", "E2", setup=voice), 5.0, "2"),
    ]
    return jobs.enter_readings(search, said)


def test_over_the_range_is_no_figure_to_be_foretold(led: jobs.Search) -> None:
    population = led.population
    leader = population.belief.suspects[population.suspects[0]].id
    found = [action for _, action in ways(population).verifying()]
    assert leader == "R7 open" and found
    for action in found:
        assert action.ask is not None
        shown = population.now(action.ask).value[population.member == 0]
        assert np.isfinite(np.median(shown)), action.item
    assert "C2.1" not in {action.item for action in found}


def test_of_all_proofs_the_one_that_tells_most_for_its_minutes_comes_first(led: jobs.Search) -> None:
    population, verdict, classes, _ = decide(led.belief, led.population)
    (first,) = (one for one in called_for(population, verdict, classes) if one.why == "verify")
    found = [(sharp, action, gain(population, table_of(population, ways(population), action)))
             for sharp, action in ways(population).verifying()]  # fmt: skip
    worth = {action.ask: (PROOF + nats) / max(action.minutes, SHORTEST) for _, action, nats in found}
    assert worth[first.action.ask] == max(worth.values()) and len(worth) > 1
    by_sharpness = max(found, key=lambda one: one[0] / max(one[1].minutes, SHORTEST))
    assert first.action.ask != by_sharpness[1].ask, "else this machine tells the two rules not apart"


def test_one_wrong_word_and_a_healthy_figure_are_no_reason_to_give_up() -> None:
    """Left silent and right too loud: nothing in the file does both, so what is not in it leads before anything is read.
    A healthy volt does not speak for it; the search goes on, and finds the lead."""
    search = jobs.open_search(machine.read(MIXER.read_text("utf-8"), MIXER.name))
    words = [
        Reading(Question("works", "left output"), "silent", "o"),
        Reading(Question("works", "right output"), "too loud", "o"),
    ]
    search = jobs.enter_readings(search, [*words, Reading(Question("dc", "FBR"), 3.95, "1")])
    _, verdict, classes, _ = decide(search.belief, search.population)
    assert classes[0].members[0] == search.laws.model.index["not-listed"] and classes[0].probability > LEADS
    assert unlisted_as_measured(search.belief, classes[0]) < LEADS and verdict.finding == "undecided"
    volts = [
        Reading(Question("dc", place), volt, place) for place, volt in (("OUTL", 0.033), ("OUTR", 0.016), ("ENDL", 0.0))
    ]
    search = jobs.enter_readings(search, volts)
    _, verdict, classes, _ = decide(search.belief, search.population)
    assert verdict.finding == "outside" and "LEADL open" in {search.belief.suspects[n].id for n in classes[0].members}
