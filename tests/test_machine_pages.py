"""The machine page without a browser: chain, shelf, editor, checking, tying."""

from __future__ import annotations

import re
from html import unescape
from importlib.resources import files
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from probewright.jobs import bench
from probewright.record import Book, open_book
from probewright.web.app import make_app

HERE = "http://127.0.0.1:8620"
SMALL = """machine: Tone box
extras:
  PSU: source 9V series 1R limit 1A  VIN > GND
sections:
  divider:
    parts:
      R1: resistor 10k  VIN > MID
      R2: resistor 10k  MID > GND
"""


@pytest.fixture
def book(tmp_path: Path):
    with open_book(tmp_path / "bench.db") as opened:
        yield opened


@pytest.fixture
def page(tmp_path: Path):
    with TestClient(make_app(open_book(tmp_path / "bench.db"), "secret"), base_url=HERE) as client:
        text = client.get("/jobs/new?kind=amplifier").text
        client.post("/jobs", data={**fields(text, 'class="intake"'), "tick sound left": "bad"})
        yield client


def fields(text: str, mark: str) -> dict[str, str]:
    """The hidden fields of the form that has this mark in its tag."""
    form = text[text.rindex("<form", 0, text.index(mark) + len(mark)) :]
    form = form[: form.index("</form>")]
    return {n: unescape(v) for n, v in re.findall(r'type="hidden" name="([^"]*)" value="([^"]*)"', form)}


def case(book: Book):
    return bench.find_case(book, 1)


def kept(page: TestClient) -> str:
    """The text in the editor."""
    found = re.search(r'<textarea id="text"[^>]*>\n(.*?)</textarea>', page.get("/jobs/1/machine").text, re.DOTALL)
    return unescape(found[1])


def test_a_chain_is_shown_as_understood_and_counts_once(page, book):
    echo = page.get("/jobs/1/chain", params={"chain": "head > preamp > phones"}).text
    assert "preamp" in echo and case(book).known is None
    told = {**fields(page.get("/jobs/1/machine").text, 'action="/jobs/1/chain"'), "chain": "head > preamp > phones"}
    for _ in range(2):
        assert page.post("/jobs/1/chain", data=told, follow_redirects=False).headers["location"] == "/jobs/1"
    assert [line.text for line in case(book).lines] == ["head > preamp > phones"]


def test_a_refused_chain_comes_back_as_typed_with_what_is_wrong(page, book):
    told = {**fields(page.get("/jobs/1/machine").text, 'action="/jobs/1/chain"'), "chain": "head >> phones >"}
    answer = page.post("/jobs/1/chain", data=told)
    assert answer.status_code == 422 and 'value="head &gt;&gt; phones &gt;"' in answer.text
    assert 'role="alert"' in answer.text and case(book).known is None


@pytest.mark.parametrize(
    ("back", "goes"),
    [("/jobs/1/photos", "/jobs/1/photos"), ("/jobs/2", "/jobs/1"), ("https://far.example/", "/jobs/1"),
     ("//far.example", "/jobs/1"), ("/jobs/1//far.example", "/jobs/1"), ("/jobs/1/\\far", "/jobs/1")],
)  # fmt: skip
def test_a_form_leads_back_to_this_jobs_pages_only(page, back, goes):
    told = {**fields(page.get("/jobs/1/machine").text, 'action="/jobs/1/chain"'), "chain": "head > preamp > phones"}
    assert page.post("/jobs/1/chain", data={**told, "back": back}, follow_redirects=False).headers["location"] == goes


def test_a_stage_of_the_shelf_asks_its_questions_and_is_put_in_once(page, book):
    text = page.get("/jobs/1/machine?stage=linear-supply").text
    assert 'name="value raw"' in text and 'name="join RAW"' not in text
    told = {**fields(text, 'action="/jobs/1/stage"'), "name": "PS", "value raw": "12V", "value output": "5V"}
    told["value current"] = "0.3A"
    for _ in range(2):
        page.post("/jobs/1/stage", data=told)
    assert len(case(book).lines) == 1 and case(book).known.how == "shelf"
    assert 'name="join RAW"' in page.get("/jobs/1/machine?stage=linear-supply").text  # now there is something to join


def test_a_refused_stage_says_why_and_keeps_what_was_typed(page, book):
    text = page.get("/jobs/1/machine?stage=linear-supply").text
    told = {**fields(text, 'action="/jobs/1/stage"'), "value raw": "plenty", "value output": "5V"}
    answer = page.post("/jobs/1/stage", data=told)
    assert answer.status_code == 422 and 'value="plenty"' in answer.text and case(book).known is None


def test_checking_shows_errors_at_their_line_and_what_a_readable_text_reads(page, book):
    told = fields(page.get("/jobs/1/machine").text, 'id="editor"')
    wrong = page.post("/jobs/1/machine/check", data={**told, "text": SMALL.replace("R2: resistor", "R2: resistr")}).text
    assert "Line 8, column" in wrong and 'data-line="8"' in wrong and "resistr" in wrong
    fine = page.post("/jobs/1/machine/check", data={**told, "text": SMALL}, headers={"X-Piece": "1"}).text
    assert "<html" not in fine and 'data-part="R2"' in fine and case(book).known is None
    cells = re.search(r'<th scope="row">MID</th><td>direct volts</td><td>([^<]*)</td>', fine)
    assert cells[1] == "4.5 V"  # two equal resistors halve 9 V; the 10 Mohm meter takes less than the digits show


@pytest.mark.parametrize(
    "text", ["\t\t:\n", "a: [", "- 1\n" * 400, "{" * 3000, "machine: \u0001", "é" * 500, "machine: x\n" * 2]
)
def test_hostile_texts_get_complaints_and_no_failure(page, text):
    told = fields(page.get("/jobs/1/machine").text, 'id="editor"')
    answer = page.post("/jobs/1/machine/check", data={**told, "text": text})
    assert answer.status_code == 200 and "Not readable yet" in answer.text and "goto" in answer.text


def test_a_text_is_put_to_the_job_and_stands_in_the_editor_byte_for_byte(page, book):
    told = fields(page.get("/jobs/1/machine").text, 'id="editor"')
    text = SMALL + "# a < b & c\n"
    answer = page.post("/jobs/1/machine", data={**told, "text": text.replace("\n", "\r\n")}, follow_redirects=False)
    assert answer.headers["location"] == "/jobs/1" and case(book).known.text == text
    assert kept(page) == text and page.get("/jobs/1/machine.yaml").text == text
    page.post("/jobs/1/machine", data={**told, "text": text})  # sent twice
    assert len(case(book).lines) == 1


def test_an_unreadable_text_is_not_put_to_the_job_and_comes_back(page, book):
    told = fields(page.get("/jobs/1/machine").text, 'id="editor"')
    answer = page.post("/jobs/1/machine", data={**told, "text": "machine: [half"})
    assert answer.status_code == 422 and "machine: [half" in answer.text and case(book).known is None


def test_names_read_before_are_matched_by_the_person_and_a_free_one_keeps_its_reading(page, book):
    for line in ("tap 4.4 V", "far end 3.1 V"):
        bench.enter_line(book, case(book), line, "2026-11-25T13:00:00+00:00")
    told = fields(page.get("/jobs/1/machine").text, 'id="editor"')
    asked = page.post("/jobs/1/machine", data={**told, "text": SMALL}).text
    assert "Which place is which?" in asked and 'name="place tap"' in asked and case(book).known is None
    names = {**fields(asked, 'class="names"'), "place tap": "MID", "place far end": ""}
    wrong = page.post("/jobs/1/machine", data={**names, "place tap": "MIDD"})
    assert wrong.status_code == 422 and "MIDD" in wrong.text and case(book).known is None
    page.post("/jobs/1/machine", data=names)
    assert dict(case(book).known.names) == {"tap": "MID"} and case(book).known.text == SMALL
    assert "far end" in page.get("/jobs/1/refined").text  # kept, not weighed


def test_a_stale_editor_is_told_so_and_its_text_is_kept_on_the_page(page, book):
    old = fields(page.get("/jobs/1/machine").text, 'id="editor"')
    other = fields(page.get("/jobs/1/machine").text, 'id="editor"')
    page.post("/jobs/1/machine", data={**other, "text": SMALL})
    answer = page.post("/jobs/1/machine", data={**old, "text": SMALL.replace("10k", "22k")})
    assert "changed since" in answer.text and "22k" in answer.text and "22k" not in case(book).known.text
    page.post("/jobs/1/machine", data={**fields(answer.text, 'id="editor"'), "text": SMALL.replace("10k", "22k")})
    assert "22k" in case(book).known.text


def test_a_demo_machine_can_be_taken_to_begin_with(page, book):
    text = page.get("/jobs/1/machine?start=fernside-lm-2").text
    demo = (files("probewright.demo") / "fernside-lm-2.yaml").read_text()
    assert unescape(re.search(r'<textarea id="text"[^>]*>\n(.*?)</textarea>', text, re.DOTALL)[1]) == demo
    assert case(book).known is None and page.get("/jobs/1/machine?start=../../secret").status_code == 200


def test_nothing_is_put_to_a_closed_job(page, book):
    told = fields(page.get("/jobs/1/machine").text, 'id="editor"')
    bench.close(book, case(book), "parked", "", "2026-11-25T13:00:00+00:00")
    answer = page.post("/jobs/1/machine", data={**told, "text": SMALL})
    assert "closed" in answer.text and case(book).known is None and "tone box" in answer.text.lower()
