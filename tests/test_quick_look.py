"""The card that comes at once: on the draws at hand, among the questions that the last refined look weighed up."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from pytest import approx

from probewright import jobs, machine
from probewright.inference.answers import sample
from probewright.inference.belief import weigh
from probewright.jobs.searching import open_table, weigh_anew
from probewright.jobs.standing import would_read
from probewright.machine.chains import read_chain
from probewright.machine.tables import Cause, TableSection, Test
from probewright.planning.actions import possible
from probewright.readings import Question, Reading, Setup
from probewright.readings.lines import read_readings
from probewright.simulation import alternating, newton

TAKEN = 3  # readings of the demo before the quick look
CHAIN = "left, right: head > preamp > equaliser > volume > driver > phones"


@pytest.fixture(scope="module")
def said(demo_folder: Path) -> tuple[machine.Machine, list[Reading]]:
    loaded = machine.read((demo_folder / "fernside-ds-3.yaml").read_text(), "ds-3")
    return loaded, list(read_readings((demo_folder / "fernside-ds-3.readings").read_text(), loaded, "readings"))


@pytest.fixture(scope="module")
def before(said: tuple[machine.Machine, list[Reading]]) -> jobs.Search:
    loaded, readings = said
    return jobs.enter_readings(jobs.open_search(loaded), readings[:TAKEN])


@pytest.fixture(scope="module")
def chain() -> jobs.Search:
    told = [Reading(Question("works", "phones left"), "silent", "a")]
    return jobs.enter_readings(jobs.open_search(machine.read(read_chain(CHAIN))), told)


@pytest.fixture
def solves(monkeypatch: pytest.MonkeyPatch) -> Callable[[], int]:
    """How often a set of equations was solved since the test began."""
    counted = []
    for module in (newton, alternating):
        real = module.eliminate
        monkeypatch.setattr(module, "eliminate", lambda *given, real=real: (counted.append(1), real(*given))[1])
    return lambda: len(counted)


def fitting(search: jobs.Search, ask: Question) -> Reading:
    """An answer to a question as the likeliest draw gives it."""
    best = int(search.belief.log_weight.argmax())
    answer: float | str = {"swap": "same", "beep": "beeps"}.get(ask.instrument, "")
    return Reading(ask, answer or float(search.belief.laws.outcome(ask).value[best]), "quick")


def metered(view: jobs.Any) -> list[Question]:
    return [action.ask for action in view.actions if action.ask is not None and action.kind == "reading"]


def test_a_glance_believes_what_the_quick_look_believes(before: jobs.Search, said: object) -> None:
    quick = jobs.quick_look(before, [said[1][TAKEN]])  # type: ignore[index]
    view = jobs.glance(quick, before)
    assert view.rough
    believed = {suspect.id: suspect.probability for suspect in view.suspects}
    for n, suspect in enumerate(quick.belief.suspects):
        assert believed.get(suspect.id, 0.0) == approx(float(quick.belief.probability[n]), abs=1e-4)
    assert len(view.readings) == TAKEN + 1 == len(view.suspects[0].evidence)


def test_a_glance_says_of_suspects_what_a_full_look_says(before: jobs.Search, said: object) -> None:
    quick = jobs.quick_look(before, [said[1][TAKEN]])  # type: ignore[index]
    short, full = jobs.glance(quick, before), jobs.look(quick)
    assert [replace(one, class_=0) for one in short.suspects] == [replace(one, class_=0) for one in full.suspects]
    assert short.quality == full.quality and short.finding == full.finding


def test_what_it_offers_is_possible_and_was_not_just_answered(before: jobs.Search) -> None:
    for ask in metered(jobs.look(before)):
        quick = jobs.quick_look(before, [fitting(before, ask)])
        view = jobs.glance(quick, before)
        permitted = possible(sample(quick.belief))
        asks, items = {action.ask for action in permitted}, {action.item for action in permitted}
        assert view.actions
        for action in view.actions:
            assert action.ask in asks if action.ask is not None else action.where in items
            assert action.ask != ask


def test_a_slip_is_not_asked_for_again_before_it_is_weighed_well(before: jobs.Search) -> None:
    ask = next(ask for ask in metered(jobs.look(before)) if ask.instrument in ("dc", "pp"))
    wrong = replace(fitting(before, ask), answer=77.0)
    quick = jobs.quick_look(before, [wrong])
    assert len(before.readings) + 1 in [one.reading for one in jobs.glance(quick, before).surprises]
    assert ask not in metered(jobs.glance(quick, before))
    assert ask in metered(jobs.look(quick))  # the full look does ask


def test_the_same_twice(before: jobs.Search) -> None:
    reading = fitting(before, metered(jobs.look(before))[0])
    first = jobs.glance(jobs.quick_look(before, [reading]), before)
    fresh = jobs.enter_readings(jobs.open_search(before.machine), before.readings)  # type: ignore[arg-type]
    assert jobs.glance(jobs.quick_look(fresh, [reading]), fresh) == first
    jobs.prepare(before)
    assert jobs.glance(jobs.quick_look(before, [reading]), before) == first


@pytest.mark.parametrize("which", ["before", "chain"])
def test_once_prepared_nothing_is_solved(which: str, solves: Callable[[], int], request: pytest.FixtureRequest) -> None:
    search: jobs.Search = request.getfixturevalue(which)
    jobs.prepare(search)
    offered = [action.ask for action in jobs.look(search).actions if action.ask is not None]
    assert offered
    before = solves()
    for ask in offered:
        said = fitting(search, ask)
        assert jobs.glance(jobs.quick_look(search, [said]), search).actions
    assert solves() == before


def test_what_nobody_foresaw_is_weighed_in_the_sample_alone(said: object) -> None:
    loaded, readings = said  # type: ignore[misc]
    search = jobs.enter_readings(jobs.open_search(loaded), readings[:TAKEN])
    cold = Setup(power="off", lifted=("R7.2",))
    quick = jobs.quick_look(search, [Reading(Question("ohms", "R7.1", "R7.2", cold), 47e3, "x")])
    assert jobs.glance(quick, search).actions
    assert quick.belief.laws is search.few.belief.laws
    assert len(quick.belief.log_weight) == search.population.bank.size
    assert not any(cold == ask.setup for bank in search.belief.laws.banks for ask in bank.shown)


def test_the_few_say_what_all_say(before: jobs.Search) -> None:
    all_, few = before.belief, before.few.belief
    sampled = sum(all_.probability[n] for n in before.population.suspects)
    for n in before.population.suspects:
        assert few.probability[n] == approx(all_.probability[n] / sampled, rel=1e-6)


def test_a_reading_taken_back_is_weighed_in_all_draws(before: jobs.Search) -> None:
    rough = weigh_anew(before, before.readings[:-1])
    assert rough.belief.laws is before.belief.laws
    assert jobs.glance(rough, before).rough


def test_preparing_stops_when_it_is_told_to(said: object, solves: Callable[[], int]) -> None:
    loaded, readings = said  # type: ignore[misc]
    search = jobs.enter_readings(jobs.open_search(loaded), readings[:1])
    jobs.look(search)
    at, left = solves(), iter((True, True))  # two steps more
    jobs.prepare(search, lambda: next(left, False))
    some = solves() - at
    jobs.prepare(search)
    assert some < solves() - at


def test_a_bench_that_stands_otherwise_is_offered_what_was_foreseen(before: jobs.Search) -> None:
    elsewhere = Question("dc", "VCC", setup=Setup(lifted=("R7.2",)))
    quick = jobs.quick_look(before, [Reading(elsewhere, 9.0, "x")])
    offered = metered(jobs.glance(quick, before))
    assert offered and all("R7.2" not in ask.setup.lifted for ask in offered)


def test_a_table_has_no_rough_answer() -> None:
    tests = tuple(Test(name, f"Look at {name}", ("fine", "bad"), 1.0, "ask") for name in ("one", "two"))
    causes = tuple(Cause(name, f"{name} is broken", 1.0, name, "made up") for name in ("left", "right"))
    chance = {("one", "left"): (0.1, 0.9), ("two", "right"): (0.1, 0.9), ("one", "right"): (0.9, 0.1)}
    section = TableSection("bench", causes, tests, chance)
    search = open_table(section)
    quick = jobs.quick_look(search, [Reading(Question("test", "one"), "bad", "a")])
    assert jobs.glance(quick, search) == jobs.look(quick)
    jobs.prepare(search)


def test_draws_of_other_laws_are_refused(before: jobs.Search) -> None:
    other = jobs.Search(before.machine, before.laws, weigh(before.laws, before.readings))
    assert other.belief.laws is not before.belief.laws
    with pytest.raises(ValueError, match="quick look"):
        jobs.glance(other, before)


def test_volts_that_hurt_are_warned_of_at_once() -> None:
    hot = machine.read(
        "machine: hot\nparts:\n  BAT: source 250V 5% series 100R  B+ > GND\n"
        "  R1: resistor 100k  B+ > MID\n  R2: resistor 47k  MID > GND\n"
    )
    search = jobs.open_search(hot)
    quick = jobs.quick_look(search, [Reading(Question("ohms", "R2.1", "R2.2", Setup(power="off")), 47e3, "a")])
    live = [action for action in jobs.glance(quick, search).actions if action.live]
    assert live and all("DC" in (action.caution or "") for action in live)


def test_what_each_suspect_would_read_is_at_hand_and_agrees_with_every_draw(
    before: jobs.Search, solves: Callable[[], int]
) -> None:
    view = jobs.look(before)
    card = next(action for action in view.actions if action.ask in metered(view) and action.ask.instrument != "works")
    at = solves()
    found = would_read(before, view, card)
    assert found and solves() == at
    for one in found:
        here = before.belief.suspect_of == before.belief.laws.model.index[one.suspect]
        low, high = before.belief.quantiles(card.ask, here, (0.01, 0.99))
        assert one.low <= one.mid <= one.high and low - 0.01 * abs(low) <= one.mid <= high + 0.01 * abs(high)
    assert would_read(before, replace(view, rough=True), card) == ()
