"""Provoke and see: how a line is heard, how it is weighed, and a repair that is found by tapping."""

from __future__ import annotations

from math import log

import numpy as np
import pytest

import brute_force
from probewright.hypotheses import NOT_LISTED, NOTHING_WRONG
from probewright.hypotheses.priors import rows
from probewright.hypotheses.provoking import distance_of, reaction
from probewright.inference.belief import weigh
from probewright.jobs import adding, bench
from probewright.jobs.cases import Case, Intake
from probewright.jobs.weighing import weighed_of
from probewright.machine import read
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import draw_laws
from probewright.prediction.provoking import AGAIN, UNPROVOKED, chances, provoked_nats
from probewright.readings import PROVOKE, Question, Reading
from probewright.readings.hearing import Context, hear
from probewright.record import Book

MACHINE = read(brute_force.MACHINE, "two-stage.yaml")
MODEL = build_model(MACHINE, "x")
LAWS = draw_laws(MODEL)
NOW = "2026-11-25T10:00:00+00:00"


def provoked(how: str, place: str, answer: str) -> Reading:
    return Reading(Question(PROVOKE, place, how), answer, "h1")


def nats(suspect: str, *said: Reading) -> float:
    return float(provoked_nats(MODEL, said)[MODEL.suspect_of == MODEL.index[suspect]][0])


# Heard -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "how", "place", "answer"),
    [
        ("tapped C2 area: fault shows", "tap", "near C2", "comes"),
        ("flex board near R6: crackles", "flex", "near R6", "comes"),
        ("freeze Q2: cured", "cold", "Q2", "goes"),
        ("freezing Q2 cures it", "cold", "Q2", "goes"),
        ("froze Q2 and it works", "cold", "Q2", "goes"),
        ("warm q1: fault comes", "warm", "Q1", "comes"),
        ("works while I probe R5", "probe", "R5", "goes"),
        ("pressed on R5.1, nothing", "press", "R5.1", "same"),
        ("probing Q2's base: same", "probe", "Q2.b", "same"),
        ("tap OUT, no change", "tap", "OUT", "same"),
        ("freeze spray on Q2 sets it off", "cold", "Q2", "comes"),
        ("heat gun on Q1 brings it back to life", "warm", "Q1", "goes"),
        ("tapping C2 makes it crackle", "tap", "C2", "comes"),
    ],
)
def test_a_provocation_is_heard_in_the_words_of_the_bench(line: str, how: str, place: str, answer: str):
    heard = hear(line, Context(machine=MACHINE))
    assert not heard.doubts
    (reading,) = heard.readings
    assert (reading.question.instrument, reading.question.red, reading.question.black) == (PROVOKE, place, how)
    assert reading.answer == answer
    assert place in heard.echo[0]


@pytest.mark.parametrize(
    ("line", "asks"),
    [
        ("tapped J9: same", "no place 'J9'"),
        ("tapped the board: crackles", "where"),
        ("tap C2: hum?", "what did the fault"),
    ],
)
def test_what_cannot_be_placed_is_asked_back(line: str, asks: str):
    heard = hear(line, Context(machine=MACHINE))
    assert not heard.readings
    assert asks in heard.doubts[0].text


@pytest.mark.parametrize("before", ["tapped C2: same", "swapped Q1 with Q2: fault followed"])
def test_the_same_as_what_a_tap_or_an_exchange_did_is_asked_back(before: str):
    said = hear(before, Context(machine=MACHINE)).readings
    assert said
    heard = hear("C2.1 same", Context(machine=MACHINE, said=said))
    assert not heard.readings and "the same as what" in heard.doubts[0].text


@pytest.mark.parametrize("line", ["warm Q1", "Q1 warm", "Q2 c 11.8", "C2 1.2 V"])
def test_what_tells_of_no_answer_is_no_provocation(line: str):
    assert all(r.question.instrument != PROVOKE for r in hear(line, Context(machine=MACHINE)).readings)


def test_a_fault_that_came_begins_a_new_sitting_and_one_that_stayed_does_not():
    heard = hear("tap C2: same\nOUT 5.0 V\ntap C2: comes\nOUT 4.0 V", Context(machine=MACHINE))
    assert [r.sitting for r in heard.readings] == [0, 0, 0, 1]


# Weighed ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("item", "place", "distance"),
    [
        ("C2.1", "C2", "at"), ("C2.1", "C2.2", "near"), ("C2", "C2.2", "at"), ("R6.2", "BYP", "at"), ("R6", "BYP", "near"),
        ("R6", "C2", "near"), ("R5.1", "C1", "far"), ("Q2.b~Q2.c", "Q2", "at"), ("OUT", "R5", "near"), ("OUT", "OUT", "at"),
        ("R1", "R3", "far"),  # they share nothing but the supply
    ],
)  # fmt: skip
def test_near_is_near_along_small_nets(item: str, place: str, distance: str):
    assert distance_of(MACHINE, item, place) == distance


def test_an_unknown_place_is_refused():
    with pytest.raises(KeyError):
        distance_of(MACHINE, "C2", "C99")


def test_every_chance_is_neither_nought_nor_one_and_the_answers_sum_to_one():
    for how in {row["how"] for row in rows("provocations")}:
        for place in ("C2", "near Q1", "R5.1", "OUT"):
            said = [(provoked(how, place, one),) for one in ("comes", "goes", "same")]
            each = np.exp([provoked_nats(MODEL, one) for one in said])  # (answer, cell), every suspect at once
            assert each.sum(axis=0) == pytest.approx(1.0, abs=1e-12)
            assert np.all(0.01 < each.min(axis=0)) and np.all(each.min(axis=0) < each.max(axis=0))
            assert np.all(each.max(axis=0) < 0.99)


def test_asking_again_takes_the_chance_away_and_then_tells_no_more():
    """Answers share whether the fault answers at all: q prod a + (1 - q) prod b, written out; the limit is log q."""
    said = provoked("tap", "C2", "comes")
    one = reaction(MACHINE, MODEL.suspects[MODEL.index["C2.1 joint-open"]], "tap", "C2")
    with_it = UNPROVOKED + (AGAIN - 2 * UNPROVOKED) * one.comes
    for times in (1, 3):
        wanted = log(one.chance * with_it**times + (1 - one.chance) * UNPROVOKED**times)
        assert nats("C2.1 joint-open", *[said] * times) == pytest.approx(wanted)
    far = "R5.1 joint-open"
    gains = [nats("C2.1 joint-open", *[said] * n) - nats(far, *[said] * n) for n in (1, 2, 6, 7)]
    assert gains[0] < gains[1] < gains[2]
    assert gains[3] - gains[2] < 0.01
    assert gains[3] < log(1 / 0.25) + 0.01  # a knock is felt far away by one in four


def test_a_tap_speaks_for_joints_and_a_chill_for_silicon():
    tap, chill = provoked("tap", "Q2", "comes"), provoked("cold", "Q2", "goes")
    assert nats("Q2.e joint-open", tap) > nats("Q2 leak-ce", tap) + 1.0
    assert nats("Q2 leak-ce", chill) > nats("Q2.e joint-open", chill) + 0.5
    assert (
        nats("C2 high-esr", provoked("cold", "C2", "comes")) > nats("C2 high-esr", provoked("cold", "C2", "goes")) + 1.0
    )
    assert nats(NOTHING_WRONG, tap) < nats(NOT_LISTED, tap)


def test_chances_of_a_fault_that_comes_by_itself_are_less_telling():
    one = reaction(MACHINE, MODEL.suspects[MODEL.index["C2.1 joint-open"]], "tap", "C2")
    assert chances(one, False, True)["comes"] > chances(one, False, False)["comes"]


# A repair --------------------------------------------------------------------------------------


def tied(book: Book) -> Case:
    case = bench.open_job(book, Intake("amplifier", ticks={"sound left": "bad"}, key="k"), NOW)
    agreed = adding.propose_tie(case, brute_force.MACHINE, "two-stage.yaml", {})
    return adding.tie(book, case, brute_force.MACHINE, agreed, NOW)


def share(case: Case, part: str) -> float:
    """How much of the belief lies on this part, on the draws at hand: half a minute less than the refined answer."""
    belief = weigh(LAWS, weighed_of(case).readings)
    return float(sum(p for p, one in zip(belief.probability, belief.suspects, strict=True) if one.id.startswith(part)))


def test_story_a_cracked_joint_that_no_meter_catches_is_found_by_tapping(book: Book):
    """Planted: the joint of C2 cracks when knocked. Every volt is right while it holds."""
    case = tied(book)
    right = LAWS.healthy(Question("dc", "OUT"))[1]
    for line in (f"OUT {right:.2f} V; not showing",):
        case = bench.enter_line(book, case, line, NOW)
    before = share(case, "C2.")
    for line in (
        "tapped C1: same",
        "tapped Q2: same",
        "tapped near C2: crackles",
        "tapped C2: fault comes",
        "press C2: cured",
    ):
        case = bench.enter_line(book, case, line, NOW)
        assert case.lines[-1].status == "counts", case.lines[-1]
    after = share(bench.find_case(book, case.number), "C2.")
    print(f"joints of C2: {before:.3f} before, {after:.3f} after")
    assert after > 0.4
    assert after > 10 * before
    case = bench.enter_line(book, case, "tapped C99: same", NOW)
    assert "C99" in " ".join(case.lines[-1].says)
