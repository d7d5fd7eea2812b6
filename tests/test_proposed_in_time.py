"""What the card may ask where something moves in time."""

from __future__ import annotations

from functools import cache

from probewright.inference.answers import sample
from probewright.inference.belief import weigh
from probewright.inference.drawn import DrawnPopulation
from probewright.planning.actions import possible
from probewright.planning.circuit_ways import CircuitWays
from probewright.planning.foresight import foreseen
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import Laws, draw_laws
from probewright.readings import Look, Question, Reading, Setup
from timed_machines import HOLD, STAGE, SUPPLY, read

TEXTS = {"stage": STAGE, "supply": SUPPLY, "hold": HOLD}


@cache
def laws_of(name: str) -> Laws:
    return draw_laws(build_model(read(TEXTS[name]), name))


def after(name: str, *readings: Reading) -> DrawnPopulation:
    """The sample that the next step is chosen with."""
    population = sample(weigh(laws_of(name), readings))
    assert isinstance(population, DrawnPopulation)
    return population


def offered(population: DrawnPopulation) -> list[Question]:
    return [one.ask for one in possible(population) if one.kind == "reading" and one.ask is not None]


def complained(function: str, stimulus: str) -> Reading:
    return Reading(Question("works", function, setup=Setup(stimulus=stimulus)), "bad", "owner")


def test_which_side_clips_is_asked_at_every_net_that_moves_and_in_a_quick_look_too() -> None:
    tone = Setup(stimulus="tone")
    population = after("stage", complained("clean", "tone"))
    for asks in (offered(population), offered(foreseen(population))):
        for word in ("top", "valley", "pp", "distortion"):
            assert Question(word, "C", setup=tone) in asks, word
        assert Question("distortion", "B", setup=tone) not in asks  # no function is judged by it there


def test_what_a_function_is_judged_by_is_asked_as_the_function_says() -> None:
    asks = offered(after("hold", complained("holds", "play")))
    assert Question("sag", "OUT", setup=Setup(stimulus="play"), look=Look(window=(3e-3, 19e-3))) in asks


def test_what_was_read_without_a_stimulus_is_not_asked_with_one_that_changes_nothing() -> None:
    run = Setup(stimulus="run")
    fresh = offered(after("supply", complained("quiet", "run")))
    assert Question("dc", "RAW", setup=run) in fresh and Question("dc", "W1", setup=run) in fresh
    read_ = offered(after("supply", complained("quiet", "run"), Reading(Question("dc", "RAW"), 9.7, "h1")))
    assert Question("dc", "RAW", setup=run) not in read_ and Question("dc", "W1", setup=run) in read_


def test_a_place_is_verified_by_a_second_placing_of_the_probes_and_by_no_third() -> None:
    ask = Question("frequency", "RAW", setup=Setup(stimulus="run"))
    placings = [Reading(ask, 50.0, one) for one in ("h1", "h2")]
    assert CircuitWays(after("supply", placings[0]))._metered() == [ask]
    assert CircuitWays(after("supply", *placings))._metered() == []
    assert CircuitWays(after("supply", placings[0], Reading(ask, 50.1, "h1")))._metered() == [ask]  # one placing
