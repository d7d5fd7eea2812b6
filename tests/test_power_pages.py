"""First power and the owner's yes on the bench page, without a browser: what is shown, and what its forms record."""

from __future__ import annotations

import re
from html import unescape
from importlib.resources import files

from starlette.testclient import TestClient

from follower import FOLLOWER, ITS_LOAD_LIFTED
from hidden import NOW
from probewright.jobs import bench
from probewright.jobs.cases import Case, Intake
from probewright.readings.owner import Owner
from probewright.record import Book
from test_danger import TALL

FORM = re.compile(r"<form[^>]*action=\"(?P<to>[^\"]*)\"[^>]*>(?P<body>.*?)</form>", re.S)
FIELD = re.compile(r"<input[^>]*name=\"(?P<name>[^\"]*)\"[^>]*?(?: value=\"(?P<value>[^\"]*)\")?[^>]*>")
UNIT = (files("probewright") / "demo/fernside-ds-3.yaml").read_text("utf-8")


def job(book: Book, text: str, *lines: str) -> Case:
    case = bench.open_job(book, Intake("amplifier", key="k"), NOW)
    case = bench.know(book, case, "file", "m.yaml", text, "m.yaml", NOW)
    for line in lines:
        case = bench.enter_line(book, case, line, NOW)
    return case


def refined(page: TestClient) -> str:
    return page.get("/jobs/1/refined").text


def press(page: TestClient, text: str, button: str, **more: str) -> str:
    """Send the form with this button; the page that comes back."""
    sent = next(one for one in FORM.finditer(text) if button in one["body"])
    told = {unescape(name): unescape(value) for name, value in FIELD.findall(sent["body"])}
    answer = page.post(sent["to"], data={**told, **more})
    assert answer.status_code == 200
    return answer.text


def test_first_power_stands_above_the_card_and_its_buttons_are_lines(page, book):
    job(book, UNIT, "speech: silent")
    text = refined(page)
    power = text[text.index('id="firstpower"') : text.index('id="card"')]
    for said in ("15 V on RAW", "limit ", "A sound machine takes", "Switch off at once", "RAW goes above"):
        assert said in power, said
    press(page, text, 'aria-label="The supply is on: set-up')
    (supplied,) = bench.find_case(book, 1).bench.setup.supplied
    assert supplied[:2] == ("RAW", 15.0) and 0.02 < supplied[2] < 0.06
    press(page, refined(page), ">First power done</button>")
    last = bench.find_case(book, 1).lines[-1]
    assert (last.text, last.status) == ("first power done", "counts")
    assert "First power" not in refined(page)


def test_after_a_trip_that_nothing_was_found_is_a_button_and_the_limit_comes_again(page, book):
    text = (files("probewright") / "demo/fernside-tg-8.yaml").read_text("utf-8")
    job(book, text, "series lamp stays bright")
    shown = refined(page)
    card = shown[shown.index('id="card"') : shown.index('id="entry"')]
    assert "Power stays off" in card and "nothing found with the power off" in shown
    press(page, shown, ">Nothing found with the power off</button>")
    assert bench.find_case(book, 1).lines[-1].text == "nothing found with the power off"
    again = refined(page)
    assert "nothing was found with the power off" in again[again.index('id="firstpower"') : again.index('id="card"')]


def test_the_current_is_read_back_before_it_counts(page, book):
    job(book, UNIT, "speech: silent")
    shown = press(page, refined(page), ">Read it</button>", line="supply current 24 mA")
    assert "SUPPLY gives 24 mA" in shown
    assert bench.find_case(book, 1).lines[-1].text == "speech: silent"


def test_the_owner_is_asked_on_the_card_and_the_answer_is_recorded_with_the_words(page, book):
    case = job(book, FOLLOWER, *ITS_LOAD_LIFTED)
    text = refined(page)
    card = text[text.index('id="card"') : text.index('id="entry"')]
    assert "Ask the owner" in card and "With a yes: Fit a new U1" in card and "Healthy" not in card
    before = len(case.lines)
    again = press(page, text, "The owner says yes", words='"please" do', answer="yes")
    found = bench.find_case(book, 1)
    assert len(found.lines) == before + 1 and found.owner == Owner(frozenset({"new U1"}))
    assert found.lines[-1].owner.words == "'please' do"
    assert "The owner was asked" in again
    press(page, text, "The owner says yes", words="twice", answer="yes")  # the same form once more
    assert len(bench.find_case(book, 1).lines) == before + 1
    card = refined(page)
    assert "Fit a new U1" in card and "Ask the owner" not in card


def test_an_answer_that_is_neither_yes_nor_no_is_refused(page, book):
    case = job(book, FOLLOWER, *ITS_LOAD_LIFTED)
    sent = next(one for one in FORM.finditer(refined(page)) if "The owner says yes" in one["body"])
    told = {unescape(name): unescape(value) for name, value in FIELD.findall(sent["body"])}
    answer = page.post(sent["to"], data={**told, "answer": "perhaps"})
    assert answer.status_code == 400 and "Nothing was answered" in answer.text
    assert len(bench.find_case(book, 1).lines) == len(case.lines)


def test_the_list_in_one_go_does_not_say_again_what_the_card_warns_of(page, book):
    job(book, TALL)
    text = refined(page)
    assert "C1 may keep" in text[text.index('id="card"') : text.index('id="entry"')]
    group = text[text.index('id="group"') : text.index('id="because"')]
    assert group.count("<li") >= 2 and "may keep" not in group
