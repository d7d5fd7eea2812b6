"""Nobody is hurt in a rehearsal: what the onlooker counts, against volts worked by hand, and what it counts as nought."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from benchmarks import campaign as bench_campaign
from benchmarks.campaign import FOLDER
from probewright import machine
from probewright.inference.answers import sample
from probewright.jobs import campaign, onlooking
from probewright.jobs.onlooking import ES1, NEVER_LIVE, UNDERTOLD, UNTRAINED, UNWARNED, Onlooker, Watched
from probewright.jobs.pretend_bench import PretendBench
from probewright.jobs.rehearsing import Rehearsals, Terms, _Course
from probewright.jobs.scoring import Rehearsed, score
from probewright.planning.actions import Action
from probewright.planning.circuit_ways import CircuitWays
from probewright.planning.ways import ways
from probewright.readings import Question, Setup
from probewright.report import rehearsals as words

FLASH = FOLDER / "flash-300.yaml"
IDLE = Setup(stimulus="idle")
TRAINED = Terms("watched", most=8, quick=True, brought=True, trained=True)


@pytest.fixture(scope="module")
def flash() -> machine.Machine:
    return machine.read(FLASH.read_text("utf-8"), str(FLASH))


@pytest.fixture(scope="module")
def trained(flash: machine.Machine) -> Rehearsals:
    return Rehearsals(flash, TRAINED)


# Volts worked by hand ------------------------------------------------------------------------------

OPEN = 1e12


def by_hand(**changed: float) -> dict[str, float]:
    """RES and ARM of the flash by Ohm's law: 325 V behind 47 ohm and a diode, then a divider of 300k over 68k beside
    10k and 100k; 330k and some 6.7 mA through 47k into 12 V hang on RES."""
    r = {"R1": 330e3, "R2": 300e3, "R3": 68e3, "R4": 10e3, "R5": 100e3, "R6": 47e3} | changed
    below = 1.0 / (1.0 / r["R3"] + 1.0 / (r["R4"] + r["R5"]))
    across = 1.0 / (1.0 / r["R1"] + 1.0 / (r["R2"] + below) + 1.0 / r["R6"])
    res = (325.0 - 0.6 + 12.0 * across / r["R6"] * 47.0 / across) * across / (across + 47.0)
    return {"RES": res, "ARM": res * below / (r["R2"] + below)}


@pytest.mark.parametrize(
    ("suspect", "changed"),
    [
        ("nothing-wrong", {}), ("R3 open", {"R3": OPEN}), ("R2 open", {"R2": OPEN}), ("R5 open", {"R5": OPEN}),
        ("R1 open", {"R1": OPEN}), ("R6 open", {"R6": OPEN}),
    ],
)  # fmt: skip
def test_volts_of_every_suspect_are_those_worked_by_hand(
    trained: Rehearsals, suspect: str, changed: dict[str, float]
) -> None:
    """Within 1 %: the leak of an electrolytic and what an open part still passes."""
    onlooker, volts = trained.onlooker, by_hand(**changed)
    cell = next(n for n, one in enumerate(trained.model.cells) if trained.model.suspects[one.suspect].id == suspect)
    for net in ("RES", "ARM"):
        share = onlooker.share(onlooker.every, Question("dc", net, setup=IDLE), ES1)[cell]
        assert share * 60.0 == approx(volts[net], rel=0.01, abs=0.05), net


def test_the_node_that_one_suspect_lifts_is_at_40_volts_and_goes_to_90(trained: Rehearsals) -> None:
    assert by_hand()["ARM"] == approx(40.0, abs=1.0) and by_hand(R3=OPEN)["ARM"] == approx(87.0, abs=3.0)
    search = trained.search()
    truth = trained.bench(0).bank
    assert trained.onlooker.hurts(Question("dc", "ARM", setup=IDLE), search.belief, truth)
    assert not trained.onlooker.kills(Question("dc", "ARM", setup=IDLE))
    assert trained.onlooker.kills(Question("dc", "RES", setup=IDLE))
    assert not trained.onlooker.hurts(Question("dc", "E1", setup=Setup("off", "idle")), search.belief, truth)


def test_between_two_probes_and_round_a_part_counts_too(trained: Rehearsals) -> None:
    onlooker = trained.onlooker
    across = onlooker.share(onlooker.every, Question("dc", "RES", "ARM", IDLE), ES1)[trained.model.healthy_cell]
    assert across * 60.0 == approx(by_hand()["RES"], rel=0.01), "RES to ground is more than RES to ARM"
    assert set(onlooker.touched(Question("provoke", "near Q1", "flex", IDLE))) == {"V12", "B1", "E1"}
    assert NEVER_LIVE == onlooker.wrong(
        Question("provoke", "R5", "tap", IDLE), None, trained.search().belief, trained.bench(0).bank
    )


# What is counted -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("place", "allowed", "caution", "why"),
    [
        ("TRIG", True, "Warning: up to 320 V DC at TRIG, which can kill.", NEVER_LIVE),
        ("RES", False, "Warning: up to 340 V DC at RES, which can kill.", UNTRAINED),
        ("RES", True, None, UNWARNED),
        ("RES", True, "Caution: up to 90 V DC at RES.", UNDERTOLD),
        ("RES", True, "Warning: up to 340 V DC at RES, which can kill.", ""),
        ("ARM", False, None, UNWARNED),
        ("ARM", False, "Caution: C1 may keep 300 V (2 J)", UNWARNED),
        ("ARM", False, "Warning: up to 330 V DC at ARM, which can kill.", ""),
    ],
)
def test_what_is_unsafe_about_a_step(
    trained: Rehearsals, monkeypatch: pytest.MonkeyPatch, place: str, allowed: bool, caution: str | None, why: str
) -> None:
    onlooker, search = Onlooker(trained.model, allowed), trained.search()
    monkeypatch.setattr(CircuitWays, "caution", lambda self, ask: caution)
    steps = [
        Action("reading", Question("dc", place, setup=IDLE), place, 1.0, 4),
        Action("reading", Question("ohms", "R5.1", "R5.2", Setup("off")), "R5", 1.0, 2),
        Action("repair", None, "R5", 9.0, 10),
    ]
    seen = onlooker.watch(steps, ways(sample(search.belief)), search.belief, trained.bench(0).bank)
    assert (seen.live, seen.hurting) == (1, 1)
    assert seen.unsafe == ((f"{place}: {why}",) if why else ())


def test_what_is_hidden_hurts_though_nobody_thinks_of_it(flash: machine.Machine) -> None:
    """R3 open, withheld, and a belief that has ruled out all that lifts ARM: the hand still meets 90 V there."""
    rehearsals = Rehearsals(flash, replace(TRAINED, withhold="resistor:open"))
    model, search = rehearsals.model, rehearsals.search()
    truth = next(one for n in range(60) if (one := rehearsals.bench(n)).hidden.id == "R3 open").bank
    weight = search.belief.log_weight.copy()
    weight[search.belief.suspect_of != search.laws.model.index["nothing-wrong"]] = -np.inf
    belief = replace(search.belief, log_weight=weight)
    ask = Question("dc", "ARM", setup=IDLE)
    assert rehearsals.onlooker.hurts(ask, belief, truth)
    sound_one = PretendBench(model, model.suspects[model.index["nothing-wrong"]], "k").bank
    assert not rehearsals.onlooker.hurts(ask, belief, sound_one)


def test_counts_of_rehearsals_are_added_up_and_told() -> None:
    one = Rehearsed(0, "R1 open", True, "located", "R1 open", True, 0.95, True, 0.95, True, 2, 0, 3, 4.0)
    rows = [replace(one, live=5, hurting=3, unsafe=1), replace(one, live=2, hurting=0)]
    found = score(rows)
    assert (found.live, found.hurting, found.unsafe) == (7, 3, 1)
    assert Watched(2, 1, ("a",)) + Watched(3, 0) == Watched(5, 1, ("a",))
    row = bench_campaign.safety("f danger", rows)
    assert row.figure == 1.0 and row.met is False
    assert row.note == "of 7 live steps shown in 2 rehearsals, 3 of them where it can hurt"


# Rehearsed -------------------------------------------------------------------------------------------


HIDDEN = ("R3 open", "R4 open", "LINE dead")  # one lifts ARM, one lies before what is off limits, one is the supply


def rehearsed(flash: machine.Machine, terms: Terms) -> list[Rehearsed]:
    """One rehearsal with each of these hidden."""
    rehearsals, found = Rehearsals(flash, terms), []
    for number, one in enumerate(HIDDEN):
        model = rehearsals.model
        bench = PretendBench(model, model.suspects[model.index[one]], f"{terms.key} {number}")
        found.append(_Course(rehearsals, bench).run(number))
    return found


@pytest.mark.slow
@pytest.mark.parametrize("terms", [TRAINED, replace(TRAINED, trained=False, quick=False)], ids=["trained", "untrained"])
def test_no_card_of_a_few_rehearsals_is_unsafe(flash: machine.Machine, terms: Terms) -> None:
    """`make campaign` rehearses two hundred."""
    found = rehearsed(flash, terms)
    assert sum(one.live for one in found) > 0 and sum(one.hurting for one in found) > 0
    assert [one.unsafe for one in found] == [0] * len(HIDDEN)


@pytest.mark.slow
@pytest.mark.parametrize("broken", ["cautions", "limits of the file", "what kills"])
def test_a_plan_that_forgets_is_found_out(flash: machine.Machine, monkeypatch: pytest.MonkeyPatch, broken: str) -> None:
    terms = replace(TRAINED, trained=broken != "what kills")
    if broken == "cautions":
        monkeypatch.setattr(CircuitWays, "caution", lambda self, ask: None)
    elif broken == "limits of the file":
        monkeypatch.setattr("probewright.planning.actions.off_limits", lambda machine: set())
    else:
        monkeypatch.setattr("probewright.planning.actions.deadly", lambda belief, setup, nets: set())
    assert sum(one.unsafe for one in rehearsed(flash, terms)) > 0


def test_the_command_and_the_table_say_it(tmp_path: Path) -> None:
    view = campaign.rehearse(FLASH.read_text("utf-8"), str(FLASH), replace(TRAINED, most=2), 1, processes=1)
    assert view.trained and view.unsafe == 0
    said = words.campaign(view)
    assert "live steps on the cards" in said and "0 unsafe" in said and "trained" in said
    assert onlooking.STILL_THOUGHT_OF == 1e-6
