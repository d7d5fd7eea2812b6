"""Healthy values learnt from another machine of the same model."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from checked import checked
from probewright.errors import BadInput
from probewright.jobs import bench
from probewright.jobs.cases import Case, Intake
from probewright.jobs.standing import stand
from probewright.jobs.taught import healthy_readings, lessons_weighed, say_learnt
from probewright.jobs.teaching import learn
from probewright.jobs.weighing import weighed_of
from probewright.readings import Question
from probewright.record import Book, open_book
from probewright.web.app import make_app

NOW = "2026-01-01T00:00:00Z"
INTAKE = Intake("other", model="Model 7", key="k")
DIVIDER = """
machine: divider
parts:
  S1: source 10V 0.1%  TP1 > GND
  R1: resistor 10k 5%  TP1 > TP2
  R2: resistor 10k 5%  TP2 > GND
"""


@pytest.fixture
def book(tmp_path: Path):
    with open_book(tmp_path / "bench.book") as opened:
        yield opened


def job_with(book: Book, *lines: str, intake: Intake = INTAKE, ending: str = "") -> Case:
    case = bench.open_job(book, intake, NOW)
    for line in lines:
        case = bench.enter_line(book, case, line, NOW)
        assert case.lines[-1].status == "counts", case.lines[-1].says
    if ending == "repaired":
        case = checked(book, case, NOW)
    return bench.close(book, case, ending, "", NOW) if ending else case


def test_a_cured_machine_teaches_its_last_sitting_and_a_sick_one_nothing(book: Book) -> None:
    lines = ("U2.7 0.2 V", "U2.7 5.1 V; new sitting", "U2.6 2.5 V", "U2.6 2.4 V")
    cured = job_with(book, *lines, ending="repaired")
    assert [(one.question.red, one.answer) for one in healthy_readings(cured)] == [("U2.7", 5.1), ("U2.6", 2.4)]
    assert not healthy_readings(job_with(book, *lines))
    assert not healthy_readings(job_with(book, *lines, ending="returned"))
    beside = job_with(book, "U2.7 0.2 V, sister 5.1 V", ending="returned")
    assert [one.answer for one in healthy_readings(beside)] == [5.1]


def test_the_next_machine_of_the_model_is_told_and_it_can_be_taken_back(book: Book) -> None:
    teacher = job_with(book, "U2.7 5.1 V", "D3 diode test 0.58", ending="nothing wrong")
    case = learn(book, job_with(book), teacher.number, "M1", False, NOW)
    case = bench.fold(book.events(case.number))  # as it will be read from the record in a year
    assert say_learnt(case, Question("dc", "U2.7")) == f"about 5.1 V, learnt from job {teacher.number}, with meter M1"
    said = bench.enter_line(book, case, "U2.7 2.6 V", NOW).lines[-1].says
    assert any("not the same: 0.51 of a healthy one (5.1 V" in one and "with meter M1" in one for one in said)
    assert any("the same" in one for one in bench.enter_line(book, case, "U2.7 5.2 V", NOW).lines[-1].says)
    back = bench.undo(book, case, NOW, event=case.lines[-1].event)
    assert not back.lessons and say_learnt(back, Question("dc", "U2.7")) == ""


def test_a_diode_value_of_another_meter_is_shown_and_weighs_nothing(book: Book) -> None:
    teacher = job_with(book, "U2.7 5.1 V", "D3 diode test 0.58", ending="nothing wrong")
    other = learn(book, job_with(book), teacher.number, "M1", False, NOW)
    same = learn(book, job_with(book), teacher.number, "M1", True, NOW)
    assert {one.question.instrument for one in lessons_weighed(other)} == {"dc"}
    assert {one.question.instrument for one in lessons_weighed(same)} == {"dc", "diode"}
    ask = next(one.question for one in other.lessons[0].readings if one.question.instrument == "diode")
    here = replace(ask, setup=replace(ask.setup, sister=False))
    assert say_learnt(other, here).endswith("another meter, so only a hint")
    assert say_learnt(same, here).endswith("with meter M1")


def test_another_model_or_a_job_without_a_sound_machine_is_refused(book: Book) -> None:
    other = job_with(book, "U2.7 5.1 V", intake=replace(INTAKE, model="Model 8"), ending="repaired")
    sick = job_with(book, "U2.7 0.1 V")
    case = job_with(book)
    refused = {other.number: "Model 8", sick.number: "no reading of a sound", case.number: "itself", 99: "no job 99"}
    for number, words in refused.items():
        with pytest.raises(BadInput, match=words):
            learn(book, case, number, "", False, NOW)
    assert not bench.fold(book.events(case.number)).lessons


def test_on_a_machine_file_a_lesson_is_weighed_as_a_sister_and_the_card_says_so(book: Book) -> None:
    teacher = job_with(book, "TP2 5.02 V", "TP1 10 V", ending="repaired")
    case = bench.know(book, job_with(book), "file", "tied divider", DIVIDER, "divider", NOW)
    case = learn(book, case, teacher.number, "M1", False, NOW)
    weighed = weighed_of(case).readings
    assert {one.question.red for one in weighed} == {"TP1", "TP2"} and all(one.question.setup.sister for one in weighed)
    view = stand(book, case, NOW)
    assert view.card is not None
    if view.card.ask is not None and view.card.ask.instrument == "dc":
        assert f"learnt from job {teacher.number}" in view.learnt
    assert view.search.finding == "undecided"


# On its page ------------------------------------------------------------------------------------


@pytest.fixture
def page(tmp_path: Path):
    with TestClient(make_app(open_book(tmp_path / "bench.book"), "secret"), base_url="http://127.0.0.1:8620") as client:
        yield client


def posted(page: TestClient, at: str, **said: str) -> Response:
    """A form of the page at this address, sent as a browser without a script would."""
    text = page.get(at).text
    form = text[text.rindex("<form") :]
    told = {name: re.findall(rf'name="{name}" value="([^"]*)"', form)[-1] for name in ("token", "once")}
    return page.post(at, data={**told, **said})


def test_a_page_shows_what_was_learnt_and_takes_over_more(page: TestClient, book: Book) -> None:
    teacher = job_with(book, "U2.7 5.1 V", "D3 diode test 0.58", ending="nothing wrong")
    case = job_with(book, intake=replace(INTAKE, ticks={"sound right": "good"}, kind="amplifier"))
    bench.enter_line(book, case, "right preamp out 0.32 Vpp", NOW)
    at = f"/jobs/{case.number}/healthy"
    before = page.get(at).text
    assert "Read on the right channel, which works" in before and "320 mV" in before
    assert f"Job {teacher.number}, nothing wrong: 2 healthy values" in before
    after = posted(page, at, **{"from": str(teacher.number), "meter": "M1"}).text
    assert f"Learnt from job {teacher.number}, with meter M1" in after and "5.1 V" in after
    assert "another meter: only a hint" in after and "No other job of Model 7" in after
    (lesson,) = bench.find_case(book, case.number).lessons
    assert (lesson.job, lesson.meter, lesson.same_meter) == (teacher.number, "M1", False)
    event = re.findall(r'name="event" value="(\d+)"', after)[0]
    page.post(
        f"/jobs/{case.number}/undo",
        data={"token": re.findall(r'name="token" value="([^"]*)"', after)[0], "event": event},
    )
    assert not bench.find_case(book, case.number).lessons


def test_a_form_sent_twice_teaches_once_and_a_wrong_one_says_why(page: TestClient, book: Book) -> None:
    teacher = job_with(book, "U2.7 5.1 V", ending="nothing wrong")
    other = job_with(book, "U2.7 5.1 V", intake=replace(INTAKE, model="Model 8"), ending="nothing wrong")
    case = job_with(book)
    at = f"/jobs/{case.number}/healthy"
    text = page.get(at).text
    told = {name: re.findall(rf'name="{name}" value="([^"]*)"', text)[-1] for name in ("token", "once")}
    for _ in range(2):
        page.post(at, data={**told, "from": str(teacher.number)})
    assert len(bench.find_case(book, case.number).lessons) == 1
    refused = page.post(at, data={"token": told["token"], "from": str(other.number)})
    assert refused.status_code == 422 and "Model 8" in refused.text
    assert page.post(at, data={"token": told["token"], "from": "x"}).status_code == 422


def test_a_refused_form_comes_back_as_it_was_typed(page: TestClient, book: Book, monkeypatch) -> None:
    first, _ = (job_with(book, sound, ending="nothing wrong") for sound in ("U2.7 5.1 V", "U2.7 5.2 V"))
    other = job_with(book, "U2.7 5.1 V", intake=replace(INTAKE, model="Model 8"), ending="nothing wrong")
    at = f"/jobs/{job_with(book).number}/healthy"
    told = {"meter": "10 Mohm & more", "same_meter": "yes"}
    refused = posted(page, at, **told, **{"from": str(other.number)})
    assert refused.status_code == 422 and 'name="meter" value="10 Mohm &amp; more"' in refused.text
    assert 'name="same_meter" value="yes" checked' in refused.text
    assert refused.text.count(" checked") == 1  # no other job than the one that was refused

    def refuse(*said: object) -> None:
        raise bench.complaint("it moved on", "look again")

    monkeypatch.setattr("probewright.web.healthy_pages.learn", refuse)
    chosen = posted(page, at, **told, **{"from": str(first.number)}).text
    assert chosen.count('name="from"') == 2 and f'value="{first.number}" checked' in chosen
    assert chosen.count(" checked") == 2
