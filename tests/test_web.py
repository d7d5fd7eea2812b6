"""The bench page without a browser: forms, sessions, what is shown before it counts, and what may not happen."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from probewright.jobs import bench
from probewright.record import Book, open_book
from probewright.web.app import make_app
from probewright.web.guarding import secret_beside

HERE = "http://127.0.0.1:8620"
VOID = {"meta", "link", "input", "br", "img", "rect", "path", "circle", "line", "polyline", "polygon", "ellipse"}


@pytest.fixture
def book(tmp_path: Path):
    with open_book(tmp_path / "bench.db") as opened:
        yield opened


@pytest.fixture
def page(tmp_path: Path):
    with TestClient(make_app(open_book(tmp_path / "bench.db"), "secret"), base_url=HERE) as client:
        yield client


def hidden(text: str, name: str) -> str:
    """The last hidden field of that name: the entry form's."""
    found = re.findall(rf'name="{name}"[^>]* value="([^"]*)"', text)
    return found[-1].replace("&#34;", '"') if found else ""


def opened(page: TestClient, **more: str) -> None:
    text = page.get("/jobs/new?kind=amplifier").text
    told = {"token": hidden(text, "token"), "once": hidden(text, "once"), "kind": "amplifier", "tick sound left": "bad"}
    answer = page.post("/jobs", data={**told, **more}, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/jobs/1")


def form(text: str) -> dict[str, str]:
    """The entry form as the browser would send it."""
    start = text.index('id="entry"')
    entry = text[start : text.index("</form>", start)]
    return {name: hidden(entry, name) for name in ("token", "once", "mark", "asked", "seen") if hidden(entry, name)}


def texts(book: Book) -> list[tuple[str, str]]:
    return [(line.text, line.status) for line in bench.find_case(book, 1).lines]


def test_a_line_is_shown_first_and_counts_when_sent_again(page, book):
    opened(page)
    shown = page.post("/jobs/1/lines", data={**form(page.get("/jobs/1").text), "line": "Q7 c 11.8"})
    assert "Understood" in shown.text and "11.8 V" in shown.text and texts(book) == []
    counted = page.post("/jobs/1/lines", data={**form(shown.text), "line": "Q7 c 11.8"})
    assert counted.url.path == "/jobs/1" and texts(book) == [("Q7 c 11.8", "counts")]


def test_what_was_changed_after_it_was_shown_is_shown_anew(page, book):
    opened(page)
    shown = page.post("/jobs/1/lines", data={**form(page.get("/jobs/1").text), "line": "Q7 c 11.8"})
    page.post("/jobs/1/lines", data={**form(shown.text), "line": "Q7 c 1.18"})
    assert texts(book) == []


def test_a_form_sent_twice_counts_once(page, book):
    opened(page)
    told = {**form(page.get("/jobs/1").text), "line": "Q7 c 11.8", "seen": "Q7 c 11.8"}
    for _ in range(3):
        assert page.post("/jobs/1/lines", data=told).status_code == 200
    assert texts(book) == [("Q7 c 11.8", "counts")]


def test_an_intake_sent_twice_is_one_job(page, book):
    opened(page, once="a")
    opened(page, once="a")
    assert book.jobs() == (1,)


def test_a_stale_tab_is_told_so_and_loses_nothing(page, book):
    opened(page)
    old = form(page.get("/jobs/1").text)
    page.post("/jobs/1/lines", data={**old, "line": "Q7 c 11.8", "seen": "Q7 c 11.8"})
    told = page.post("/jobs/1/lines", data={**old, "line": "Q7 b 0.9", "seen": "Q7 b 0.9"})
    assert "moved on" in told.text and 'value="Q7 b 0.9"' in told.text
    assert texts(book) == [("Q7 c 11.8", "counts")]
    page.post("/jobs/1/lines", data={**form(told.text), "line": "Q7 b 0.9"})
    assert [text for text, _ in texts(book)] == ["Q7 c 11.8", "Q7 b 0.9"]


def test_a_bare_answer_goes_to_the_card_that_was_on_the_page(page, book):
    opened(page)
    text = page.get("/jobs/1").text
    page.post("/jobs/1/lines", data={**form(text), "line": "same", "seen": "same"})
    asked = bench.find_case(book, 1).readings[0].question
    assert f'"red": "{asked.red}"' in form(text)["asked"] or f"swap {asked.red}" in form(text)["asked"]


def test_a_question_does_not_count_until_it_is_insisted_on(page, book):
    opened(page)
    text = page.get("/jobs/1").text
    told = page.post("/jobs/1/lines", data={**form(text), "line": "blah blah", "seen": "blah blah"})
    assert 'class="piece asked"' in told.text and 'value="blah blah"' in told.text and texts(book) == []


def test_undo_takes_back_that_line_once(page, book):
    opened(page)
    for line in ("Q7 c 11.8", "Q7 b 0.9"):
        page.post("/jobs/1/lines", data={**form(page.get("/jobs/1").text), "line": line, "seen": line})
    first = bench.find_case(book, 1).lines[0].event
    for _ in range(2):
        page.post("/jobs/1/undo", data={"token": form(page.get("/jobs/1").text)["token"], "event": str(first)})
    assert texts(book) == [("Q7 c 11.8", "undone"), ("Q7 b 0.9", "counts")]


# Who may ask --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("headers", "token", "code"),
    [
        ({}, None, 403),
        ({}, "0" * 64, 403),
        ({}, "é", 403),
        ({"origin": "http://elsewhere.example"}, "own", 403),
        ({"origin": "null"}, "own", 403),
        ({"origin": HERE}, "own", 200),
        ({}, "own", 200),
        ({"host": "bench.example"}, "own", 400),
        ({"host": "127.0.0.1.example:8620"}, "own", 400),
    ],
)
def test_a_change_needs_the_token_and_comes_from_here(page, book, headers, token, code):
    opened(page)
    told = {**form(page.get("/jobs/1").text), "line": "Q7 c 11.8", "seen": "Q7 c 11.8"}
    if token is None:
        del told["token"]
    elif token != "own":
        told["token"] = token
    assert page.post("/jobs/1/lines", data=told, headers=headers).status_code == code
    assert len(texts(book)) == (code == 200)


def test_a_session_that_was_lost_or_forged_changes_nothing(page, book):
    opened(page)
    told = {**form(page.get("/jobs/1").text), "line": "Q7 c 11.8", "seen": "Q7 c 11.8"}
    for cookie in ("", "ImZvcmdlZCI.AAAA"):
        page.cookies.clear()
        page.cookies.set("bench", cookie)
        assert page.post("/jobs/1/lines", data=told).status_code == 403
    assert texts(book) == []


def test_the_cookie_is_kept_from_scripts_and_other_sites(page):
    cookie = page.get("/jobs").headers["set-cookie"].lower()
    assert "httponly" in cookie and "samesite=strict" in cookie


def test_a_page_asks_nothing_of_any_other_host(page):
    opened(page)
    for path in ("/jobs", "/jobs/new", "/jobs/new?kind=amplifier", "/jobs/1", "/jobs/1/pictures"):
        answer = page.get(path)
        assert answer.status_code == 200 and "default-src 'none'" in answer.headers["content-security-policy"]
        addresses = re.findall(r'(?:src|href|action)="([^"]*)"', answer.text)
        assert addresses and all(one.startswith("/") and not one.startswith("//") for one in addresses)


def test_a_line_of_a_megabyte_is_refused_in_one_sentence(page, book):
    opened(page)
    answer = page.post("/jobs/1/lines", data={**form(page.get("/jobs/1").text), "line": "x" * 1_000_000})
    assert answer.status_code == 403 and answer.text.count(".") == 1 and texts(book) == []


def test_the_secret_is_made_once_and_only_for_its_owner(tmp_path):
    first = secret_beside(tmp_path / "bench.db")
    assert first == secret_beside(tmp_path / "bench.db") and len(first) == 64
    assert (tmp_path / "bench.db.secret").stat().st_mode & 0o077 == 0


# What is shown ------------------------------------------------------------------------------------


def test_words_of_a_person_are_never_markup(page):
    opened(page, words="<script>alert(1)</script>", model='"><img src=x>')
    for path in ("/jobs", "/jobs/1"):
        text = page.get(path).text
        assert "<script>alert" not in text and "<img" not in text and "&lt;script&gt;alert" in text


@pytest.mark.parametrize("path", ["/jobs/7", "/jobs/new?kind=teapot", "/jobs/7/pictures"])
def test_what_is_not_there_is_said_in_words(page, path):
    answer = page.get(path)
    assert answer.status_code == 400 and "could not be done" in answer.text and "Traceback" not in answer.text


def test_a_chain_shows_its_card_with_both_probes_and_its_diagram(page, book):
    opened(page)
    case = bench.find_case(book, 1)
    from probewright.jobs.adding import tell_chain

    tell_chain(book, case, "head > preamp > volume > phones", "2026-11-25T13:00:00+00:00")
    text = page.get("/jobs/1/refined").text
    assert 'class="cardhead"' in text and "rough, settling" not in text and 'class="bar"' in text
    drawn = page.get("/jobs/1/pictures").text
    assert all(f'data-part="{part}"' in drawn for part in ("preamp", "volume"))


def test_a_card_that_wants_power_off_says_so_first_while_it_is_on(page, book):
    opened(page)
    case = bench.find_case(book, 1)
    from probewright.jobs.adding import tell_chain
    from probewright.readings import Question, Setup
    from probewright.web import showing

    tell_chain(book, case, "head > preamp > phones", "2026-11-25T13:00:00+00:00")
    page.get("/jobs/1/refined")
    from probewright.jobs.standing import kept_view

    case = bench.find_case(book, 1)
    view, machine = kept_view(book, case), bench.machine_of(case)
    place = next(iter(machine.nets))
    for wanted, standing, said in (("off", "on", "power off"), ("on", "off", "power on"), ("off", "off", "")):
        ask = Question("ohms" if wanted == "off" else "dc", place, setup=Setup(power=wanted))
        action = replace(view.card, kind="reading", ask=ask)
        first = showing.card(replace(view, card=action, would_read=()), machine, {}, standing).first
        assert said in first and bool(first) == bool(said)


class Nested(HTMLParser):
    """Every element that is opened is closed in order, and no id is given twice."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []
        self.wrong: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.ids += [value for name, value in attrs if name == "id"]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag in VOID:
            return
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)


@pytest.mark.parametrize("path", ["/jobs", "/jobs/new", "/jobs/new?kind=amplifier", "/jobs/1", "/jobs/1/pictures"])
def test_every_page_is_well_nested_and_every_field_has_a_label(page, path):
    opened(page)
    text = page.get(path).text
    seen = Nested()
    seen.feed(text.replace("<option", "<meta"))  # an option needs no end
    assert not [t for t in seen.wrong if t != "li"] and len(set(seen.ids)) == len(seen.ids)
    fields = re.findall(r'<(?:input|textarea)(?![^>]*type="(?:hidden|radio)")[^>]*>', text)
    for field in fields:
        name = re.search(r'id="(\w+)"', field)
        assert (name and f'for="{name[1]}"' in text) or re.search(rf"<label>[^<]*{re.escape(field)}", text), field
