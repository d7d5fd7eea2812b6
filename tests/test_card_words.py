"""Whatever a card tells the person to type is understood: the words of every kind of card, on every machine of the demo
and on the table of every kind of machine."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from dividers import DIVIDERS
from probewright import jobs, machine
from probewright.hypotheses import symptoms
from probewright.jobs import bench
from probewright.jobs.cases import Intake
from probewright.jobs.standing import answered, stand
from probewright.jobs.telling import _why
from probewright.jobs.view import plain
from probewright.machine import Machine
from probewright.readings import PROVOKE, Question, echo
from probewright.readings.context import Context
from probewright.readings.echo import PROVOKE_SO
from probewright.readings.hearing import hear
from probewright.readings.owner import NO, YES, line
from probewright.record import Book
from probewright.report import text

NOW = "2026-11-26T10:00:00+00:00"


def asked_on(known: Machine) -> Iterator[Question]:
    """One question of every kind that a card offers words for."""
    yield from (Question("works", works.name) for works in known.works)
    parts = list(known.parts.values())
    for extra in (one.name for one in parts if one.role == "extra"):
        yield from (Question("swap", extra), Question("swap back", extra))
    yield from (Question(PROVOKE, parts[0].name, how) for how in PROVOKE_SO)
    yield Question("share", next(iter(known.nets)))


@pytest.mark.parametrize("name", ["lm-2", "ds-3", "tg-8"])
def test_the_words_of_every_card_are_understood_on_the_demo_machines(name: str, demo_folder: Path) -> None:
    known = machine.load(demo_folder / f"fernside-{name}.yaml")
    asks = list(asked_on(known))
    assert {ask.instrument for ask in asks} >= {"works", PROVOKE, "share"}
    for ask in asks:
        words = echo.offered(ask, known)
        said = {str(heard.readings[0].answer) for word in words
                for heard in [hear(word, Context(known, asked=ask))] if not heard.doubts}  # fmt: skip
        assert len(said) == len(words) > 1, (ask, words, said)  # each is understood, as something of its own
        assert all(word in echo.ask(ask, known) for word in words) or ask.instrument in ("swap back", PROVOKE)


def test_the_words_of_the_swaps_there_and_back_are_two_readings(book: Book) -> None:
    case = bench.open_job(book, Intake("amplifier", ticks={"sound left": "bad"}, key="a"), NOW)
    for ask, head in ((Question("swap", "audio lead"), ""), (None, "swapped audio lead: ")):
        for words, end in (("cured and back with the old one", "back"), ("Cured and stays so.", "away")):
            made = bench.understand(case, head + words, ask)
            assert made.kind == "said", made
            assert made.heard is not None
            heard = [(one.question.instrument, one.question.red, one.answer) for one in made.heard.readings]
            assert heard == [("swap", "audio lead", "cured"), ("swap back", "audio lead", end)]
    assert bench.understand(case, "cured and stays so").kind == "asked"  # nobody knows what was exchanged


@pytest.mark.parametrize("kind", symptoms.kinds())
def test_the_words_of_every_test_of_a_table_are_understood(kind: str, book: Book) -> None:
    case = bench.open_job(book, Intake(kind, ticks={symptoms.functions(kind)[0]: "bad"}, key=kind), NOW)
    view = stand(book, case, NOW)
    steps = [one for one in view.search.actions if one.ask is not None]
    assert steps
    for step in steps:
        for outcome in step.outcomes:
            assert outcome.if_ in step.do
            made = bench.understand(case, outcome.if_, answered(plain(step.ask)))
            assert made.kind == "said", (step.do, outcome.if_, made)


def test_the_lines_that_record_what_the_owner_said_are_understood(book: Book) -> None:
    case = bench.open_job(book, Intake("amplifier", key="b"), NOW)
    for wish in ("new U3", "U3 out"):
        for answer in (YES, NO):
            made = bench.understand(case, line(wish, answer, "..."))
            assert (made.kind, made.payload["wish"], made.payload["answer"]) == ("owner", wish, answer)


def test_what_a_card_says_of_suspects_is_words_and_no_id() -> None:
    view = jobs.look(jobs.open_search(machine.read(DIVIDERS)))
    ids = [one.id for one in view.suspects if one.id != one.says]
    assert "R1 open" in ids and "nothing-wrong" in ids
    shown = [text.job(view), *(one.why for one in view.actions)]
    assert any("“" in one for one in shown)
    assert not [(one, said) for said in shown for one in ids if re.search(rf"(?<!\S){re.escape(one)}\b", said)]


@pytest.mark.parametrize(("honest", "but"), [((1.0, 1.0), ""), ((1.0, 0.1), " but one"), ((0.1, 0.1), " but 2")])
def test_why_a_repair_is_proposed_begins_with_a_capital_and_leaves_the_name_as_it_is_listed(honest, but: str) -> None:
    belief = SimpleNamespace(weight=np.ones(1), honest=np.array([honest]))
    words = SimpleNamespace(name=lambda n: "“tip is shorted”")
    said = _why(words, SimpleNamespace(suspects=(0,), belief=belief), SimpleNamespace(why="cure"), ())
    assert said == f"Every reading{but} is explained by “tip is shorted”."
