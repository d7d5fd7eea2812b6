"""What cannot be taken back: asked first, done only with the owner's recorded yes; and the proof a rare part is worth."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from follower import FOLLOWER
from hidden import NOW, HiddenBench, opened
from probewright.errors import BadInput
from probewright.inference.answers import Table
from probewright.jobs import bench
from probewright.jobs.asking_first import ASK_OWNER
from probewright.jobs.cases import fold
from probewright.jobs.standing import stand
from probewright.jobs.weighing import weigh_case
from probewright.machine import read
from probewright.planning.actions import Action
from probewright.planning.asking import RARE_SURE, loads, wishes
from probewright.planning.choosing import HALF, LEAST_GAIN, WELL_ENOUGH, Choice, in_order_of_risk
from probewright.planning.minutes import RUNGS, rows, rung
from probewright.readings import Question, Reading, Setup
from probewright.readings.doubts import Unsure
from probewright.readings.kit import Kit
from probewright.readings.owner import Answer, Owner, line, to_answer
from probewright.record import open_book
from probewright.report import bench as words

ORDINARY = FOLLOWER.replace("rare: [U1]\n", "")
DEAD = ("hand: bad", "OUT 0.0 V", "IN ? V")  # the output reads nought to a tenth of a volt: the part, or its load
SCOPE_ONLY = Kit(has=frozenset({"scope", "meter"}))


@pytest.fixture
def book(tmp_path: Path):
    with open_book(tmp_path / "bench.db") as found:
        yield found


def on_bench(book, text: str, *fault: str) -> HiddenBench:
    one = opened(book, text, *fault)
    one.case = replace(one.case, kit=SCOPE_ONLY)
    one.type(*DEAD)
    return one


def says(one: HiddenBench, said: str) -> None:
    """A line that is kept as it is."""
    one.case = bench.enter_line(one.book, one.case, said, NOW)


def led(one: HiddenBench, most: int = 8) -> list:
    """The cards until one is no reading, each answered as the hidden machine does."""
    cards = []
    for _ in range(most):
        card = one.now().card
        assert card is not None
        cards.append(card)
        if card.ask is None:
            return cards
        one.type(one.answer_to(card.ask))
    raise AssertionError([card.do for card in cards])


# Order of risk ------------------------------------------------------------------------------------


def step(at: int, gain: float, minutes: float = 1.0) -> Choice:
    return Choice(
        Action("reading", None, RUNGS[at], minutes, at), gain, gain / minutes, Table(np.ones((1, 1)), np.zeros(0))
    )


@pytest.mark.parametrize(("low", "high"), [*combinations(range(len(RUNGS)), 2)])
def test_of_each_two_rungs_the_lower_comes_first_while_it_still_tells_well_enough(low: int, high: int) -> None:
    best = step(high, 1.0)
    for enough in (1.0, 1.01 * max(WELL_ENOUGH, HALF)):
        assert in_order_of_risk([best, step(low, enough)])[0].action.rung == low
    for too_little in (0.99 * HALF, 0.5 * LEAST_GAIN):
        assert in_order_of_risk([best, step(low, too_little)])[0].action.rung == high
    slow = step(low, 1.0, 1.01 / WELL_ENOUGH)
    assert in_order_of_risk([best, slow])[0].action.rung == high


def test_the_rungs_are_those_of_the_trade_and_every_step_stands_on_its_own() -> None:
    """Common practice, no source: what can break least comes first."""
    stands = {
        "swap": "swap outside", "ohms": "unpowered", "limited power": "limited power", "dc": "passive probing",
        "tap": "provoke", "lift a leg": "reversible disconnection", "take out": "substitution",
        "repair two pins": "substitution", "irreversible": "irreversible",
    }  # fmt: skip
    assert {what: RUNGS[rung(what)] for what in stands} == stands
    assert set(stands) - {"irreversible"} <= set(rows())


# What is asked ------------------------------------------------------------------------------------


def test_a_part_that_comes_out_is_asked_for_and_one_leg_is_not() -> None:
    found = read(ORDINARY)
    gone = Question("ohms", "OUT", setup=Setup(power="off", unplugged=("U1",)))
    leg = Question("ohms", "C1.1", "C1.2", Setup(power="off", lifted=("C1.1",)))
    assert wishes(found, ["OUT"], gone, None) == ("U1 out",)
    assert wishes(found, ["OUT"], gone, Setup(power="off", unplugged=("U1",))) == ()  # it is out already
    assert wishes(found, ["C1.1"], leg, None) == ()


def test_a_new_part_is_asked_for_where_it_is_rare_only() -> None:
    assert wishes(read(FOLLOWER), ["C1", "U1"], None, None) == ("new U1",)
    assert wishes(read(ORDINARY), ["C1", "U1"], None, None) == ()


def test_a_case_is_rare_with_all_its_units() -> None:
    two = FOLLOWER.replace("rare: [U1]", "rare: [IC1]").replace(
        "  U1: opamp  vplus=VP vminus=GND plus=IN minus=OUT out=OUT\n",
        "  IC1: opamp dual  vplus=VP vminus=GND\n  U1: of IC1  plus=IN minus=OUT out=OUT\n"
        "  U2: of IC1  plus=GND minus=W out=W\n",
    )
    assert wishes(read(two), ["IC1"], None, None) == ("new IC1",)
    assert {name for name, part in read(two).parts.items() if part.rare} == {"U1", "U2"}


# In the machine file ------------------------------------------------------------------------------


def test_a_rare_part_that_is_not_there_is_named_with_the_nearest() -> None:
    with pytest.raises(BadInput) as bad:
        read(FOLLOWER.replace("rare: [U1]", "rare: [U11]"))
    (complaint,) = bad.value.complaints
    assert complaint.line == 6 and "U11" in complaint.text and "U1" in complaint.mend


def test_without_the_key_no_part_is_rare() -> None:
    assert not any(part.rare for part in read(ORDINARY).parts.values())


# What the owner says ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "answer"),
    [
        ('owner says yes to a new U1: "go ahead"', Answer("new U1", "yes", "go ahead")),
        ("owner says yes to a new u1: go ahead", Answer("new U1", "yes", "go ahead")),
        ("The owner said no to a new U1", Answer("new U1", "no", "")),
        ("owner agrees to replacing U1", Answer("new U1", "yes", "")),
        ('owner says no to taking U1 out: "not that one"', Answer("U1 out", "no", "not that one")),
        ("owner: yes, to taking U1 out", Answer("U1 out", "yes", "")),
        ("owner says yes to cutting the track at OUT", Answer("cutting the track at OUT", "yes", "")),
    ],
)
def test_an_answer_is_understood(text: str, answer: Answer) -> None:
    assert to_answer(text, read(FOLLOWER)) == answer
    assert to_answer(line(answer.wish, answer.answer, answer.words), read(FOLLOWER)) == answer


@pytest.mark.parametrize("text", ["owner says it hums", "U1 out 0 V", "the owner: C5 is new"])
def test_other_lines_are_no_answer(text: str) -> None:
    assert to_answer(text, read(FOLLOWER)) is None


def test_an_answer_about_a_part_that_nobody_knows_is_asked_back(book) -> None:
    one = on_bench(book, FOLLOWER, "U1 output-open")
    assert "has no part 'U7'" in one.ask("owner says yes to a new U7")
    assert one.case.owner == Owner()


def test_a_yes_to_a_new_part_lets_the_old_one_come_out() -> None:
    assert Owner(frozenset({"new U1"})).allows("U1 out")
    assert not Owner(frozenset({"U1 out"})).allows("new U1")


# Whole repairs ------------------------------------------------------------------------------------


def test_the_rare_part_is_bad_and_is_new_only_after_the_load_was_lifted_and_the_owner_said_yes(book) -> None:
    one = on_bench(book, FOLLOWER, "U1 output-open")
    *readings, asked = led(one)
    assert any(card.ask.setup.lifted and card.ask.setup.power == "on" for card in readings)
    assert "rare part" in next(card.why for card in readings if card.ask.setup.lifted)
    assert asked.kind == ASK_OWNER and asked.needs_yes.wishes == ("new U1",)
    assert asked.ask is None and not asked.live
    proved = {one_.id: one_.probability for one_ in one.now().search.suspects}
    assert proved["U1 output-open"] > RARE_SURE
    says(one, 'owner says yes to a new U1: "go ahead"')
    card = one.now().card
    assert card.kind == "repair" and card.where == "U1" and card.needs_yes is None
    one.case = bench.undo(one.book, one.case, NOW)
    assert one.now().card.kind == ASK_OWNER
    says(one, 'owner says no to a new U1: "not that one"')
    view = one.now()
    assert view.card is None or view.card.where != "U1"
    assert all("U1" not in action.where.split(" and ") or action.kind != "repair" for action in view.search.actions)
    text = words.report(view)
    assert "a new U1: no: not that one; it is not proposed again" in text and NOW[:10] in text


def test_the_load_is_shorted_and_the_rare_part_stays_in(book) -> None:
    one = on_bench(book, FOLLOWER, "C1 short")
    cards = led(one)
    assert cards[-1].kind == "repair" and cards[-1].where == "C1"
    assert all(card.kind != ASK_OWNER for card in cards)
    assert all(card.where != "U1" or card.kind == "reading" for card in cards)


def test_an_ordinary_part_is_named_without_its_load_lifted_and_nobody_is_asked(book) -> None:
    """The same fault in the same machine, but for one line of the file."""
    one = on_bench(book, ORDINARY, "U1 output-open")
    *readings, last = led(one)
    assert last.kind == "repair" and last.where == "U1" and last.needs_yes is None
    assert not any(card.ask.setup.lifted for card in readings)


def test_a_no_holds_for_an_ordinary_part_too(book) -> None:
    """Nobody has to be asked for it; who was asked all the same has said no."""
    one = on_bench(book, ORDINARY, "U1 output-open")
    one.case = bench.enter_line(book, one.case, 'owner says no to a new U1: "leave it as it is"', NOW)
    offered = []
    while (card := one.now().card) is not None and card.ask is not None:
        offered += one.now().search.actions
        one.type(one.answer_to(card.ask))
    assert one.now().search.finding == "located"
    offered += one.now().search.actions
    assert any(action.kind == "repair" for action in offered)
    assert not any((action.kind, action.where) == ("repair", "U1") for action in offered)


def test_loads_are_the_likely_ones_and_each_only_once(book) -> None:
    one = on_bench(book, FOLLOWER, "U1 output-open")
    belief = bench_belief(one)
    assert {leg.rpartition(".")[0] for leg, _ in loads(belief, "U1")} == {"C1", "R3"}
    lifted = Reading(Question("dc", "OUT", setup=Setup(lifted=("C1.1",))), 0.0, "h9")  # as likely as before, but read
    assert {leg.rpartition(".")[0] for leg, _ in loads(replace(belief, readings=(lifted,)), "U1")} == {"R3"}


def bench_belief(one: HiddenBench):
    return weigh_case(one.case)[0].belief


def test_what_was_said_is_an_event_with_its_words_and_time_and_is_replayed(book) -> None:
    one = on_bench(book, FOLLOWER, "U1 output-open")
    says(one, 'owner says yes to a new U1: "go ahead"')
    (event,) = [event for event in book.events(one.case.number) if event.kind == "owner"]
    assert (event.payload["wish"], event.payload["answer"], event.payload["words"]) == ("new U1", "yes", "go ahead")
    assert event.at == NOW
    assert fold(book.events(one.case.number)).owner == one.case.owner == Owner(frozenset({"new U1"}))
    (view,) = stand(book, one.case, NOW).case.owner
    assert (view.wish, view.answer, view.words, view.at) == ("a new U1", "yes", "go ahead", NOW)


def test_the_last_word_counts(book) -> None:
    one = on_bench(book, FOLLOWER, "U1 output-open")
    says(one, "owner says no to a new U1")
    says(one, "owner says yes to a new U1")
    assert one.case.owner == Owner(frozenset({"new U1"}))
    one.case = bench.undo(one.book, one.case, NOW)
    assert one.case.owner == Owner(no=frozenset({"new U1"}))


def test_the_question_is_told_with_the_lines_that_answer_it(book) -> None:
    one = on_bench(book, FOLLOWER, "U1 output-open")
    led(one)
    text = words.standing(one.now())
    assert "Ask the owner: A new U1: may it be done?" in text
    assert "With a yes: Fit a new U1" in text
    assert 'Record it: owner says yes to a new U1: "..."' in text
    assert 'Record it: owner says no to a new U1: "..."' in text


@pytest.mark.parametrize(
    "line, wish",
    [
        ("owner says no to a new R1, it is too dear", "new R1"),
        ("owner says no to desoldering R1", "R1 out"),
        ("owner says no to removing R1", "R1 out"),
    ],
)
def test_a_refusal_as_people_say_it(line, wish):
    said = to_answer(line, None)
    assert said is not None and (said.wish, said.answer) == (wish, "no")


@pytest.mark.parametrize("line", ["owner says no sound since Monday", "owner says no, he wants his money back"])
def test_a_remark_is_no_refusal(line):
    assert to_answer(line, None) is None


def test_what_names_a_part_and_is_not_clear_is_asked_back():
    with pytest.raises(Unsure, match="not clear"):
        to_answer("owner says no to fiddling with R1 again", None)
