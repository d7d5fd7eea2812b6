"""What a place should read where nobody knew it beforehand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from pytest import approx

from probewright import jobs, machine
from probewright.jobs import circuit_words
from probewright.jobs.circuit_words import CircuitWords
from probewright.jobs.learnt import Range, channel_of, healthy_now, say_range, unknown_worth_measuring
from probewright.machine.chains import read_chain
from probewright.readings import Question, Reading, Setup

ON = Setup("on", "playing")
CHAIN = "left, right: head > preamp > equaliser > volume > driver > phones"


def pp(place: str) -> Question:
    return Question("pp", place, setup=ON)


@pytest.fixture(scope="module")
def opened() -> jobs.Search:
    said = [
        Reading(Question("works", "phones left"), "silent", "a"),
        Reading(Question("works", "phones right"), "ok", "b"),
    ]
    return jobs.enter_readings(jobs.open_search(machine.read(read_chain(CHAIN))), said)


@pytest.fixture(scope="module")
def compared(opened: jobs.Search) -> jobs.Search:
    return jobs.enter_readings(opened, [Reading(pp("after-volumeR"), 1.1, "c")])


def test_before_any_figure_nothing_is_known(opened: jobs.Search) -> None:
    known = healthy_now(opened.belief, pp("after-volumeL"))
    assert known.learnt_from is None and known.high > 100.0 * known.low
    assert say_range(opened.belief, pp("after-volumeL"), known) == "not known yet"


def test_the_good_channel_tells_what_the_bad_one_should_read(compared: jobs.Search) -> None:
    known = healthy_now(compared.belief, pp("after-volumeL"))
    assert known.mid == approx(1.1, rel=0.1)
    assert 0.5 < known.low < 1.0 and 1.2 < known.high < 2.5
    assert compared.readings[known.learnt_from or 0].question.red == "after-volumeR"
    assert say_range(compared.belief, pp("after-volumeL"), known) == "about 1.1 V, learnt from the right channel"


def test_the_bad_channel_does_not_pull_down_what_is_healthy(compared: jobs.Search) -> None:
    dead = jobs.enter_readings(compared, [Reading(pp("after-volumeL"), 0.0, "d")])
    assert healthy_now(dead.belief, pp("after-volumeL")).mid == approx(1.1, rel=0.15)
    weak = jobs.enter_readings(compared, [Reading(pp("after-volumeL"), 0.3, "d")])
    assert healthy_now(weak.belief, pp("after-volumeL")).mid == approx(1.1, rel=0.25)


def test_a_place_reads_as_it_was_read(compared: jobs.Search) -> None:
    known = healthy_now(compared.belief, pp("after-volumeR"))
    assert (known.low, known.high) == (approx(1.1, rel=0.1), approx(1.1, rel=0.1))
    assert say_range(compared.belief, pp("after-volumeR"), known) == "about 1.1 V"


def test_other_places_know_less(compared: jobs.Search) -> None:
    at, beside = (healthy_now(compared.belief, pp(place)) for place in ("after-volumeL", "after-driverL"))
    assert np.log(beside.high / beside.low) > 3.0 * np.log(at.high / at.low)


def test_where_every_figure_is_known_it_is_what_sound_machines_read() -> None:
    one = jobs.open_search(
        machine.read(
            "machine: M\nparts:\n  S1: source 10V  A > GND\n  R1: resistor 1k  A > B\n  R2: resistor 1k  B > GND\n"
        )
    )
    ask = Question("dc", "B")
    known = healthy_now(one.belief, ask)
    assert known == Range(*one.laws.healthy(ask))
    assert say_range(one.belief, ask, known) == "about 5 V"
    assert unknown_worth_measuring(one.belief) is None


def test_the_one_unknown_worth_measuring_is_on_the_good_channel(opened: jobs.Search, compared: jobs.Search) -> None:
    first = unknown_worth_measuring(opened.belief)
    assert first is not None and first.ask.instrument == "pp"
    assert channel_of(opened.machine, first.ask.red) == "right"  # the left one may be dead there
    assert first.ask.red[:-1] + "L" in first.foretells
    assert "left channel" in first.why
    then = unknown_worth_measuring(compared.belief)
    assert then is not None and then.ask.red != "after-volumeR"


def test_measuring_it_narrows_what_it_foretells(opened: jobs.Search) -> None:
    worth = unknown_worth_measuring(opened.belief)
    assert worth is not None
    after = jobs.enter_readings(opened, [Reading(worth.ask, 0.8, "x")])
    for place in worth.foretells[:3]:
        before, now = (healthy_now(one.belief, pp(place)) for one in (opened, after))
        assert np.log(now.high / now.low) < 0.75 * np.log(before.high / before.low)


@pytest.mark.parametrize(
    ("high", "words"), [(3e3, ["18 V", "18 V to 3 kV", "3 kV"]), (31.23, ["17.56 V", "17.56 V to 31.2 V", "31.2 V"])]
)
def test_an_answer_is_held_against_round_figures_where_healthy_is_too_wide_to_be_shown(
    opened: jobs.Search, monkeypatch: pytest.MonkeyPatch, high: float, words: list[str]
) -> None:
    monkeypatch.setattr(circuit_words, "healthy_now", lambda *_: Range(17.56, 20.0, high, None))
    ask = pp("after-volumeL")
    choice: Any = SimpleNamespace(
        action=SimpleNamespace(ask=ask), table=SimpleNamespace(words=(), edges=np.arange(4.0))
    )
    named = CircuitWords(opened.belief.laws.model.machine, opened.belief).groups(choice)
    assert [name for name, _ in named] == [f"below {words[0]}", words[1], f"above {words[2]}"]
