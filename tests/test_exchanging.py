"""Like parts in each other's place, where each is now, and figures that are not what they were."""

from __future__ import annotations

import numpy as np
import pytest

import brute_force
from probewright.hypotheses.exchanging import exchanged
from probewright.inference.belief import weigh
from probewright.jobs import adding, bench
from probewright.jobs.cases import Case, Intake
from probewright.jobs.moving import say_changed, where_now
from probewright.jobs.weighing import weighed_of
from probewright.machine import read
from probewright.prediction.cells import build_model
from probewright.prediction.circuit_laws import draw_laws
from probewright.readings import EXCHANGE, Question, Reading, Setup
from probewright.readings.hearing import Context, hear
from probewright.record import Book

MACHINE = read(brute_force.MACHINE, "two-stage.yaml")
LAWS = draw_laws(build_model(MACHINE, "x"))
NOW = "2026-11-25T10:00:00+00:00"


def swapped(one: str, other: str, answer: str) -> Reading:
    return Reading(Question(EXCHANGE, one, other), answer, "h1")


@pytest.mark.parametrize(
    ("line", "answer"),
    [
        ("swapped Q1 with Q2: fault followed", "followed"),
        ("exchanged Q2 and Q1, fault stayed with the place", "stayed"),
        ("swapped q1 with q2: it moved with the part", "followed"),
        ("swapped Q1 with Q2 back: fault gone", "gone"),
    ],
)
def test_an_exchange_is_heard(line: str, answer: str):
    heard = hear(line, Context(machine=MACHINE))
    assert not heard.doubts
    (reading,) = heard.readings
    assert (reading.question.instrument, reading.question.red, reading.question.black) == (EXCHANGE, "Q1", "Q2")
    assert reading.answer == answer
    assert "exchanged" in heard.echo[0]


@pytest.mark.parametrize(
    ("line", "asks"),
    [
        ("swapped Q1 with Q9: fault followed", "no part 'Q9'"),
        ("swapped Q1 with R1: fault followed", "a resistor"),
        ("swapped Q1 with Q2: hm", "what did the fault do"),
    ],
)
def test_what_cannot_be_an_exchange_is_asked_back(line: str, asks: str):
    heard = hear(line, Context(machine=MACHINE))
    assert not heard.readings
    assert asks in heard.doubts[0].text


def test_a_lead_exchanged_stays_a_swap():
    (reading,) = hear("swapped the lead, same", Context(extras=("lead",))).readings
    assert reading.question.instrument == "swap"


def test_the_chances_of_an_exchange_sum_to_one_and_none_is_sure():
    for suspect in LAWS.model.suspects:
        found = exchanged(suspect, "Q1", "Q2")
        assert sum(found.values()) == pytest.approx(1.0)
        assert 0.0 < min(found.values()) < max(found.values()) < 1.0


def test_followed_speaks_for_the_parts_and_stayed_for_the_rest():
    index = LAWS.model.index
    start = weigh(LAWS, ()).probability
    for answer, risen, fallen in (("followed", "Q2 leak-ce", "Q2.c joint-open"), ("stayed", "R3 open", "Q1 low-gain"),
                                  ("gone", "Q2.c joint-open", "R3 open")):  # fmt: skip
        gain = np.log(weigh(LAWS, [swapped("Q1", "Q2", answer)]).probability / start)
        assert gain[index[risen]] > gain[index[fallen]] + 1.0


def test_parts_are_followed_through_several_exchanges():
    said = [swapped("U4", "U5", "stayed"), swapped("U5", "U6", "stayed")]
    # U4 went to U5's place, and from there to U6's: three like parts in a ring
    assert where_now(said) == {"U4": "U6", "U5": "U4", "U6": "U5"}
    assert where_now(said[:1] * 2) == {}
    assert where_now([]) == {}


# What is not as it was -------------------------------------------------------------------------


def volts(value: float, sitting: int, *lifted: str) -> Reading:
    return Reading(
        Question("dc", "OUT", setup=Setup(lifted=lifted)), value, f"h{sitting}", sitting=sitting, text=f"OUT {value} V"
    )


def sounds(answer: str, sitting: int) -> Reading:
    return Reading(Question("works", "left output"), answer, f"w{sitting}", sitting=sitting)


def test_a_figure_off_now_with_another_complaint_asks_for_a_fault_made_at_the_bench():
    earlier = [sounds("bad", 0), volts(5.0, 0), sounds("ok", 1)]
    assert "made at the bench" in say_changed(volts(1.0, 1), earlier)
    assert "left output: bad, now ok" in say_changed(volts(1.0, 1), earlier)
    assert "come and go" in say_changed(volts(1.0, 1), earlier[:2])


@pytest.mark.parametrize(
    ("now", "why"),
    [
        (volts(5.01, 1), "within the errors"),
        (volts(1.0, 0), "the same sitting"),
        (volts(1.0, 1, "R5.1"), "another set-up"),
    ],
)
def test_what_may_read_otherwise_is_not_asked_about(now: Reading, why: str):
    assert say_changed(now, [volts(5.0, 0)]) == "", why


# A repair --------------------------------------------------------------------------------------


def share(case: Case, item: str) -> float:
    belief = weigh(LAWS, weighed_of(case).readings)
    return float(sum(p for p, one in zip(belief.probability, belief.suspects, strict=True) if one.id.startswith(item)))


def test_story_two_transistors_change_places_and_the_fault_goes_with_one(book: Book):
    """Planted: Q2 is bad. It follows into the place of Q1; then they go back, and a slip of the hand is asked about."""
    case = bench.open_job(book, Intake("amplifier", ticks={"sound left": "bad"}, key="k"), NOW)
    agreed = adding.propose_tie(case, brute_force.MACHINE, "two-stage.yaml", {})
    case = adding.tie(book, case, brute_force.MACHINE, agreed, NOW)
    before = share(case, "Q1 ") + share(case, "Q2 ")
    case = bench.enter_line(book, case, "VCC 11.9 V", NOW)
    case = bench.enter_line(book, case, "swapped Q1 with Q2: fault followed", NOW)
    assert "Q1 is now in the place of Q2, Q2 is now in the place of Q1" in case.lines[-1].says
    case = bench.enter_line(book, case, "OUT 3.1 V", NOW)
    assert "Q1 is now in the place of Q2" in " ".join(case.lines[-1].says)
    weighed = weighed_of(case)
    assert "exchanged" in weighed.left_out[-1][1]
    after = share(case, "Q1 ") + share(case, "Q2 ")
    print(f"the two transistors: {before:.3f} before, {after:.3f} after")
    assert after > 0.6
    assert after > 4 * before
    case = bench.enter_line(book, case, "swapped Q1 with Q2: fault followed", NOW)
    assert "every part is in its own place again" in case.lines[-1].says
    case = bench.enter_line(book, case, "VCC 8.2 V", NOW)
    assert "VCC was 11.9 V DC in an earlier sitting" in " ".join(case.lines[-1].says)
    again = bench.find_case(book, case.number)
    assert [one.answer for one in again.readings if one.question.instrument == EXCHANGE] == ["followed", "followed"]
