"""The bench page without a browser: forms, sessions, what is shown before it counts, and what may not happen."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from html import unescape
from html.parser import HTMLParser
from types import SimpleNamespace

import pytest
from starlette.testclient import TestClient

from conftest import HERE
from probewright.jobs import bench
from probewright.jobs.cases import Intake
from probewright.jobs.proving import begin_run, comes_and_goes
from probewright.record import Book
from probewright.web.guarding import secret_beside
from probewright.web.sheets import coded
from probewright.web.showing import _usual

VOID = {"meta", "link", "input", "br", "img", "rect", "path", "circle", "line", "polyline", "polygon", "ellipse"}


def hidden(text: str, name: str) -> str:
    """The last hidden field of that name: the entry form's."""
    found = re.findall(rf'name="{name}"[^>]* value="([^"]*)"', text)
    return unescape(found[-1]) if found else ""


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


def test_what_is_asked_back_ends_in_its_question_mark(page, book):
    """ "where on Q7?; write" has two ends; on the page while it is typed, and in the list where it is kept."""
    opened(page)
    assert "where on Q7? Write <code>Q7" in unescape(page.get("/jobs/1/echo?line=Q7+5+V").text)
    bench.enter_line(book, bench.find_case(book, 1), "Q7 5 V", "2026-11-20T13:00:00+00:00")
    text = unescape(page.get("/jobs/1").text)
    assert "where on Q7? Write <code>Q7" in text and "?;" not in text
    assert "“Q7 5 V”: where on Q7?</span>" in unescape(page.get("/jobs").text)


def test_what_is_to_be_typed_is_shown_as_such(page, book):
    opened(page)
    asked = page.post("/jobs/1/lines", data={"line": "lift R4.1", **form(page.get("/jobs/1").text)})
    assert "<code>set-up: power off, lift R4.1</code>" in asked.text and "`" not in asked.text
    assert coded("a `<b>` c `d") == "a <code>&lt;b&gt;</code> c <code>d</code>"


def test_undo_takes_back_that_line_once(page, book):
    opened(page)
    for line in ("Q7 c 11.8", "Q7 b 0.9"):
        page.post("/jobs/1/lines", data={**form(page.get("/jobs/1").text), "line": line, "seen": line})
    first = bench.find_case(book, 1).lines[0].event
    for _ in range(2):
        page.post("/jobs/1/undo", data={"token": form(page.get("/jobs/1").text)["token"], "event": str(first)})
    assert texts(book) == [("Q7 c 11.8", "undone"), ("Q7 b 0.9", "counts")]


def test_an_answer_that_a_newer_line_overtook_is_let_go_in_silence(page, book):
    from threading import Event
    from time import sleep

    from probewright.web.desk import Desk

    opened(page)
    desk, hold = Desk(book), Event()
    desk._worker.submit(hold.wait)
    try:
        with ThreadPoolExecutor(1) as other:
            waiting = other.submit(desk.wait, bench.find_case(book, 1), 20.0)
            while not desk._coming:
                sleep(0.01)
            assert next(iter(desk._coming.values())).cancel()
            assert waiting.result(5.0) is None
    finally:
        hold.set()
        desk._worker.shutdown()


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


def test_an_address_that_only_takes_forms_leads_to_the_page_of_its_form(page):
    """A tab taken up again after a question asks anew for where its form was sent."""
    opened(page)
    app = page.app
    routes = [one for one in app.routes if getattr(one, "methods", None)]
    shown = {one.path for one in routes if "GET" in one.methods}
    only_forms = {one.path for one in routes} - shown
    assert len(only_forms) > 10 and "/jobs/{job:int}/lines" in only_forms
    for path in only_forms:
        answer = page.get(path.replace("{job:int}", "1").replace("{name}", "x"), follow_redirects=False)
        assert answer.status_code == 303 and answer.headers["location"] == answer.url.path.rpartition("/")[0], path
    assert page.get("/jobs/1/lines").url.path == "/jobs/1"


@pytest.mark.parametrize("path", ["/teapot", "/jobs/1/teapot", "/jobs/one"])
def test_no_page_is_said_in_words_with_a_way_back(page, path):
    opened(page)
    answer = page.get(path)
    assert (
        answer.status_code == 404
        and "There is no page at this address" in answer.text
        and 'href="/jobs"' in answer.text
    )
    assert page.get("/static/teapot.css").text == "Not Found"


def test_what_could_not_be_done_on_a_job_leads_back_to_its_bench(page):
    opened(page)
    assert 'href="/jobs/1"' in page.get("/jobs/1/photos/x").text
    assert 'href="/jobs/7"' not in page.get("/jobs/7/photos/x").text


def test_a_chain_shows_its_card_with_both_probes_and_its_diagram(page, book):
    opened(page)
    case = bench.find_case(book, 1)
    from probewright.jobs.adding import tell_chain

    tell_chain(book, case, "head > preamp > volume > phones", "2026-11-25T13:00:00+00:00")
    text = settled(page)
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
    settled(page)
    from probewright.jobs.standing import kept_view

    case = bench.find_case(book, 1)
    view, machine = kept_view(book, case), bench.machine_of(case)
    place = next(iter(machine.nets))
    for wanted, standing, said in (("off", "on", "Power off"), ("on", "off", "Power on"), ("off", "off", "")):
        ask = Question("ohms" if wanted == "off" else "dc", place, setup=Setup(power=wanted))
        action = replace(view.card, kind="reading", ask=ask)
        card = showing.card(replace(view, card=action, would_read=()), machine, {}, Setup(power=standing))
        assert said in " ".join(card.first) and bool(card.first) == bool(said)
        assert card.setting == (f"set-up: power {wanted}" if said else "")


def test_iron_and_plugs_are_used_with_power_off_only():
    from probewright.readings import Setup
    from probewright.web.setting import POWER_FIRST, steps

    now = Setup(stimulus="tone", lifted=("R1.1",), linked=(("A", "B"),))
    there = Setup(unplugged=("fader",), replaced=("C1",))
    assert steps(now, there, None) == (
        POWER_FIRST["off"], "Solder R1.1 back in.", "Unplug fader.", "Swap in a good C1.",
        "Take away the wire from A to B.", POWER_FIRST["on"],
    )  # fmt: skip
    assert steps(now, replace(now, stimulus=""), None) == ()  # a signal that nobody asked for may stay
    assert steps(Setup(), Setup(stimulus="tone"), None) == ("Signal: stimulus tone.",)
    assert steps(Setup(), Setup(power="off"), None) == (POWER_FIRST["off"],)


def tied(page: TestClient, book: Book) -> None:
    """A job on the mixer of the demo."""
    from importlib.resources import files

    opened(page)
    text = (files("probewright.demo") / "fernside-lm-2.yaml").read_text()
    bench.know(book, bench.find_case(book, 1), "file", "tied lm-2", text, "lm-2", "2026-11-25T13:00:00+00:00")


def settled(page: TestClient) -> str:
    """The bench once the refined answer is there, however busy this computer is."""
    for _ in range(20):
        text = page.get("/jobs/1/refined").text
        if 'class="cardhead"' in text and "rough, settling" not in text:
            return text
    raise AssertionError("the refined answer did not come")


def taps(text: str) -> dict[str, dict[str, str]]:
    """What each tap of the set-up would send, by what it is called."""
    strip = text[text.index('class="setup"') : text.index('id="bench"')]
    found = {}
    for piece in strip.split("<form ")[1:]:
        label = re.search(r'aria-label="([^"]*)"', piece)
        if label:
            told = {name: hidden(piece, name) for name in ("token", "once", "mark", "line", "seen")}
            found[label[1]] = told
    return found


def test_one_tap_changes_the_set_up_and_another_takes_it_back(page, book):
    tied(page, book)
    form = re.findall(r'action="/jobs/1/setup".*?</form>', page.get("/jobs/1").text, re.DOTALL)[0]
    told = {name: hidden(form, name) for name in ("token", "once", "mark")}
    page.post("/jobs/1/setup", data={**told, "way": "lift", "name": "R14L.2"})
    text = page.get("/jobs/1").text
    assert bench.find_case(book, 1).bench.setup.lifted == ("R14L.2",)
    page.post("/jobs/1/lines", data=taps(text)["Power On: turn it off"])
    text = page.get("/jobs/1").text
    assert bench.find_case(book, 1).bench.setup.power == "off" and "Power Off: turn it on" in taps(text)
    page.post("/jobs/1/lines", data=taps(text)["R14L.2 Lifted: it is back in its hole"])
    now = bench.find_case(book, 1).bench.setup
    assert now.lifted == () and now.power == "off"


def test_ohms_do_not_say_that_the_power_is_on(page, book):
    opened(page)
    for line, state in (
        ("R1 47 ohm", "Not said"),
        ("Q7 c 11.8", "On"),
        ("R1 47 ohm", "Not said"),
        ("power off", "Off"),
    ):
        bench.enter_line(book, bench.find_case(book, 1), line, "2026-11-20T13:00:00+00:00")
        assert f"<span>Power</span> <strong>{state}</strong>" in page.get("/jobs/1").text, line


def test_a_set_up_with_a_wrong_name_changes_nothing_and_says_which(page, book):
    tied(page, book)
    form = re.findall(r'action="/jobs/1/setup".*?</form>', page.get("/jobs/1").text, re.DOTALL)[0]
    told = {name: hidden(form, name) for name in ("token", "once", "mark")}
    text = page.post("/jobs/1/setup", data={**told, "way": "unplug", "name": "R99"}).text
    assert "R99" in text and "parts" in text and bench.find_case(book, 1).bench.setup.unplugged == ()


def test_a_place_on_the_picture_leads_to_the_entry_box_with_its_name(page, book):
    tied(page, book)
    drawn = page.get("/jobs/1/pictures").text
    assert 'href="/jobs/1?at=OPAL"' in drawn
    assert 'name="line" value="OPAL "' in page.get("/jobs/1?at=OPAL").text


def test_the_picture_shows_what_a_suspect_would_read_beside_the_healthy_figure(page, book):
    tied(page, book)
    for line in ("OUTR 2.02 Vpp, power on, tone", "OUTL 1.08 Vpp, power on, tone"):
        page.post("/jobs/1/lines", data={**form(page.get("/jobs/1").text), "line": line, "seen": line})
    settled(page)
    healthy = page.get("/jobs/1/pictures?show=pp").text
    letters = re.findall(r'name="suspect" value="([A-Z])"', healthy)
    assert letters and 'class="pw-volts"' in healthy and 'class="pw-odd"' not in healthy
    shown = {one: page.get(f"/jobs/1/pictures?suspect={one}&show=pp").text for one in letters}
    odd = {one: re.findall(r'class="pw-odd"[^>]*>([^<]*)<', text) for one, text in shown.items()}
    assert any(odd.values())  # the left output is down, so some suspect says so
    for one, said in odd.items():
        assert all(figure.startswith(f"{one} ") and ", healthy " in figure for figure in said)
        assert ("Places that read otherwise" in shown[one]) == bool(said)


@pytest.mark.parametrize("factor", [2.0, 3.4])
def test_a_risen_resistor_lowers_the_gain_as_the_closed_form_says(factor):
    """Gain of a non-inverting amplifier, 1 + R13 / R14, from any textbook of operational amplifiers."""
    from importlib.resources import files

    from probewright.jobs.everywhere import read_everywhere
    from probewright.jobs.view import FaultView, SuspectView
    from probewright.machine import read
    from probewright.readings import Setup

    machine = read((files("probewright.demo") / "fernside-lm-2.yaml").read_text(), "lm-2")
    risen = FaultView("R14L", "drift-up", factor, "x")
    suspect = SuspectView("R14L drift-up", 0, 0.5, 0.5, 0.5, "R14L has risen", "", "", (risen,), False, False, ())
    rows = {(row.place, row.instrument): row for row in read_everywhere(machine, Setup(stimulus="tone"), suspect)}
    left, right = rows["DRVL", "pp"], rows["DRVR", "pp"]
    assert left.suspect / left.healthy == pytest.approx((1 + 22 / (10 * factor)) / (1 + 22 / 10), rel=2e-3)
    assert right.suspect == pytest.approx(right.healthy, rel=1e-3)


def test_a_job_is_closed_and_taken_up_again_on_the_page(page, book):
    opened(page)
    token = form(page.get("/jobs/1").text)["token"]
    page.post("/jobs/1/safety", data={"token": token, "do": "elsewhere", "by": "A. Tester"})
    page.post("/jobs/1/close", data={"token": token, "ending": "repaired", "words": "R14L replaced"})
    assert bench.find_case(book, 1).closed["words"] == "R14L replaced"
    text = page.get("/jobs/1").text
    assert "Closed as repaired" in text and 'id="entry"' not in text and "/setup" not in text
    assert "<summary>Suspects when it was closed</summary>" in text
    page.post("/jobs/1/reopen", data={"token": token})
    assert bench.find_case(book, 1).closed is None
    refused = page.post("/jobs/1/close", data={"token": token, "ending": "melted", "words": ""})
    assert refused.status_code == 400 and "melted" in refused.text and bench.find_case(book, 1).closed is None


def test_each_line_says_for_whom_it_speaks(page, book):
    tied(page, book)
    for line in ("OUTR 2.02 Vpp, power on, tone", "OUTL 1.08 Vpp, power on, tone"):
        page.post("/jobs/1/lines", data={**form(page.get("/jobs/1").text), "line": line, "seen": line})
    text = settled(page)
    rows = text[text.index('class="lines"') :]
    assert "Speaks for" in rows[: rows.index("OUTR 2.02")] and 'class="counts powered"' in rows


def test_a_sum_is_worked_out_at_once_and_kept_as_a_note(page, book):
    opened(page)
    echo = page.get("/jobs/1/echo", params={"line": "120 mV at 0.8 A"}).text
    assert "Worked out" in echo and "0.15" in echo and "kept as a note" in echo
    line = "120 mV at 0.8 A"
    page.post("/jobs/1/lines", data={**form(page.get("/jobs/1").text), "line": line, "seen": line})
    assert texts(book) == [(line, "note")]


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


def test_a_line_that_changes_the_set_up_heads_what_was_read_in_it(page, book):
    opened(page)
    for line in ("Q7 c 11.8 V", "power off", "R3 4k7"):
        bench.enter_line(book, bench.find_case(book, 1), line, "2026-11-25T13:00:00+00:00")
    text = page.get("/jobs/1").text
    rows = re.findall(
        r"<h3>([^<]*)</h3>|<div><strong>([^<]*)</strong>",
        text[text.index('class="lines"') : text.index("Kept, not weighed")],
    )
    assert [head or line for head, line in rows] == [
        "power off and discharged",
        "R3 4k7",
        "power off",
        "power on",
        "Q7 c 11.8 V",
    ]


def test_a_suspect_of_a_chain_with_a_supply_is_shown_in_shares_of_healthy(page, book):
    opened(page)
    from probewright.jobs.adding import tell_chain

    tell_chain(book, bench.find_case(book, 1), "head > preamp on 12V > volume > phones", "2026-11-25T13:00:00+00:00")
    settled(page)
    text = page.get("/jobs/1/pictures?show=pp").text
    shown = [
        page.get(f"/jobs/1/pictures?show=pp&suspect={one}")
        for one in re.findall(r'name="suspect" value="([A-Z])"', text)
    ]
    assert shown and all(answer.status_code == 200 for answer in shown)
    said = [figure for answer in shown for figure in re.findall(r'class="pw-odd"[^>]*>([^<]*)<', answer.text)]
    assert any(figure.endswith("none, healthy 100 %") for figure in said) and not any(
        "nan" in figure for figure in said
    )


def test_yes_counts_only_the_line_that_was_asked_about(page, book):
    tied(page, book)
    asked = page.post("/jobs/1/lines", data={**form(page.get("/jobs/1").text), "line": "V8 61 V"}).text
    assert 'name="sure" value="V8 61 V"' in asked
    told = {**form(asked), "sure": "V8 61 V"}
    page.post("/jobs/1/lines", data={**told, "line": "V8 71 V"})
    assert [line for line in texts(book) if line[1] == "counts"] == []
    page.post("/jobs/1/lines", data={**told, "line": "V8 61 V"})
    assert texts(book)[-1] == ("V8 61 V", "counts")


def test_a_line_for_a_job_that_was_closed_meanwhile_is_given_back(page, book):
    opened(page)
    told = {**form(page.get("/jobs/1").text), "line": "Q7 c 11.8", "seen": "Q7 c 11.8"}
    bench.close(book, bench.find_case(book, 1), "parked", "waits for a part", "2026-11-25T13:00:00+00:00")
    text = page.post("/jobs/1/lines", data=told).text
    assert 'value="Q7 c 11.8" readonly' in text and "Take it up again" in text
    text = page.post("/jobs/1/close", data={**told, "ending": "repaired", "words": "new fuse"}).text
    assert 'value="new fuse" readonly' in text and bench.find_case(book, 1).closed["words"] == "waits for a part"


def test_a_tap_on_an_old_page_changes_nothing_and_a_change_sent_twice_counts_once(page, book):
    tied(page, book)
    old = page.get("/jobs/1").text
    change = re.findall(r'action="/jobs/1/setup".*?</form>', old, re.DOTALL)[0]
    told = {name: hidden(change, name) for name in ("token", "once", "mark")}
    for _ in range(2):
        text = page.post("/jobs/1/setup", data={**told, "way": "lift", "name": "R14L.2"}).text
        assert "moved on" not in text
    assert bench.find_case(book, 1).bench.setup.lifted == ("R14L.2",)
    lines = bench.find_case(book, 1).lines
    text = page.post("/jobs/1/lines", data={**taps(old)["Power Not said: turn it on"], "tap": "yes"}).text
    assert "stands as shown" in text and bench.find_case(book, 1).lines == lines


def test_a_refined_answer_that_failed_is_tried_anew(page, book, monkeypatch):
    tied(page, book)
    from probewright.web import desk

    real = desk.refine_anew

    def fails(*_):
        monkeypatch.setattr(desk, "refine_anew", real)
        raise ArithmeticError("once")

    monkeypatch.setattr(desk, "refine_anew", fails)
    with pytest.raises(ArithmeticError):
        page.get("/jobs/1/refined")
    assert "rough, settling" not in settled(page)


def test_what_was_proposed_before_a_line_was_taken_back_is_no_longer_offered(page, book):
    from probewright.jobs.standing import asked

    opened(page)
    page.get("/jobs/1")
    assert asked(bench.find_case(book, 1)) is not None
    case = bench.enter_line(book, bench.find_case(book, 1), "Q7 c 11.8", "2026-11-25T13:00:00+00:00")
    page.get("/jobs/1")
    bench.undo(book, case, "2026-11-25T13:01:00+00:00")
    assert asked(bench.find_case(book, 1)) is None


def test_look_alikes_share_a_row_and_its_letter(page, book):
    opened(page)
    from probewright.jobs.adding import tell_chain
    from probewright.jobs.standing import kept_view
    from probewright.web import showing

    tell_chain(book, bench.find_case(book, 1), "head > preamp > volume > phones", "2026-11-25T13:00:00+00:00")
    text = settled(page)
    view = kept_view(book, bench.find_case(book, 1))
    classes = [one for one in view.search.classes if len(one.members) > 1]
    rows = showing.rows(view)
    assert classes and any(others for _, others in rows) and "These read alike" in text
    for one, others in rows:
        home = next((c.members for c in view.search.classes if one.id in c.members), (one.id,))
        assert {one.id, *(other.id for other in others)} <= set(home)
        assert all(one.probability >= other.probability for other in others)


@pytest.mark.parametrize("query", ["choice=" + "9" * 5000, "choice=-1", "choice=x", "choice=99"])
def test_a_choice_that_was_not_offered_shows_the_first(page, query):
    opened(page)
    assert 'class="cardhead"' in page.get(f"/jobs/1?{query}").text


def test_undo_without_a_line_takes_nothing_back(page, book):
    opened(page)
    page.post("/jobs/1/lines", data={**form(page.get("/jobs/1").text), "line": "Q7 c 11.8", "seen": "Q7 c 11.8"})
    answer = page.post("/jobs/1/undo", data={"token": form(page.get("/jobs/1").text)["token"], "event": "last"})
    assert answer.status_code == 400 and texts(book) == [("Q7 c 11.8", "counts")]


def test_a_broken_secret_is_refused_with_its_mend(tmp_path):
    from probewright.errors import BadInput

    (tmp_path / "bench.db.secret").write_text("")
    with pytest.raises(BadInput) as refused:
        secret_beside(tmp_path / "bench.db")
    assert "delete it" in str(refused.value)
    assert re.fullmatch(r"[0-9a-f]{64}", secret_beside(tmp_path / "other.db"))
    assert [one.name for one in tmp_path.glob("other*")] == ["other.db.secret"]  # no half-written one beside it


# Whether the fault shows -------------------------------------------------------------------------


def showing(page: TestClient, line: str, chip: str) -> str:
    """One line with a chip, shown and counted; the page afterwards."""
    told = form(page.get("/jobs/1").text)
    seen = page.post("/jobs/1/lines", data={**told, "line": line, "showing": chip}).text
    return page.post("/jobs/1/lines", data={**form(seen), "line": line, "showing": chip}).text


def checked(text: str) -> str:
    """The chip that is chosen."""
    return re.findall(r'name="showing" value="([^"]*)" checked', text)[0].replace("&#39;", "'")


@pytest.mark.parametrize(
    ("line", "chip", "kept", "showing_is"),
    [
        ("Q7 c 11.8", "no", "Q7 c 11.8; not showing", "no"),
        ("Q7 c 11.8", "can't tell", "Q7 c 11.8; can't tell", "can't tell"),
        ("Q7 c 11.8", "yes", "Q7 c 11.8", "yes"),
        ("Q7 c 11.8; not showing", "can't tell", "Q7 c 11.8; not showing", "no"),  # what was typed outweighs a chip
        ("Q7 c 11.8 # by the window", "no", "Q7 c 11.8; not showing # by the window", "no"),
    ],
)
def test_a_chip_says_whether_the_fault_shows(page, book, line, chip, kept, showing_is):
    opened(page)
    after = showing(page, line, chip)
    case = bench.find_case(book, 1)
    assert [(one.text, one.status) for one in case.lines] == [(kept, "counts")]
    assert case.readings[-1].showing == showing_is == checked(after)


def test_once_all_works_since_the_repair_the_fault_is_not_taken_to_show(page, book):
    opened(page)
    ticked = list(bench.find_case(book, 1).intake.ticks)
    assert checked(showing(page, "fitted a new C4", "yes")) == "yes"
    for name in ticked:
        last = showing(page, f"{name} ok", "yes")
    assert checked(last) == "no"
    showing(page, "Q7 c 11.8", "no")
    assert bench.find_case(book, 1).readings[-1].showing == "no" and not comes_and_goes(bench.find_case(book, 1))
    assert checked(showing(page, f"{ticked[0]} none", "no")) == "yes"  # it is back, whatever the chip said


@pytest.mark.parametrize("line", ["power off", "10k || 22k", "resoldered: U4 U5", "IC2 is dead"])
def test_a_chip_says_nothing_of_a_line_without_a_reading(page, book, line):
    opened(page)
    showing(page, line, "no")
    assert all(one.text == line for one in bench.find_case(book, 1).lines)


def test_a_chip_changed_after_the_line_was_shown_is_shown_again_before_it_counts(page, book):
    opened(page)
    told = form(page.get("/jobs/1").text)
    seen = page.post("/jobs/1/lines", data={**told, "line": "Q7 c 11.8", "showing": "no"}).text
    again = page.post("/jobs/1/lines", data={**form(seen), "line": "Q7 c 11.8", "showing": "yes"}).text
    assert texts(book) == [] and "Understood" in again and checked(again) == "yes"


def test_a_zone_of_a_job_is_on_its_page(page, book):
    opened(page)
    showing(page, "leak around C14 C15", "yes")
    assert "leak around C14, C15" in page.get("/jobs/1").text
    assert "leak around C14, C15" in page.get("/jobs/1/zones").text


@pytest.mark.parametrize(("at", "pressed"), [("/jobs/99", "see “Jobs”"), ("/jobs/99/healthy", "see “Jobs”")])
def test_a_mend_says_what_to_press_and_no_command(page, at, pressed):
    answer = page.get(at)
    assert answer.status_code == 400
    assert pressed in answer.text and "probewright job" not in answer.text


def test_a_closed_job_says_where_it_is_taken_up_again(page, book):
    opened(page)
    bench.close(book, bench.find_case(book, 1), "returned", "", "2026-11-25T10:00:00+00:00")
    told = {"token": hidden(page.get("/jobs").text, "token"), "line": "Q7 c 11.8", "seen": "Q7 c 11.8"}
    text = page.post("/jobs/1/lines", data={**told, "token": hidden(page.get("/jobs/1").text, "token")}).text
    assert "probewright job" not in text and "Take it up again" in unescape(text)


def test_what_is_refused_on_a_page_names_no_option_of_the_command_line(page, book):
    """Every form of what follows a repair, with nonsense in it."""
    case = bench.open_job(book, Intake("radio", key="k"), "2026-11-26T13:00:00+00:00")
    bench.enter_line(book, case, "fitted a new C4", "2026-11-26T13:00:00+00:00")
    token = re.search(r'name="token" value="([^"]+)"', page.get("/jobs/1/proof").text)
    assert token is not None
    for at, said in (
        ("proof", {"starts": "many"}), ("proof", {"ran": "999h"}), ("proof", {"ran": "9999h"}),
        ("parts", {"do": "add", "part": ""}), ("parts", {"do": "tell", "part": "R9"}),
        ("safety", {"check": "earth", "figure": "1 ohm 2 V"}), ("safety", {"check": "insulation", "figure": "200M"}),
        ("papers", {"do": "charge", "what": "", "price": "x"}), ("decision", {"do": "option", "name": ""}),
        ("share", {}), ("forget", {"meant": "yes"}),
    ):  # fmt: skip
        answer = page.post(f"/jobs/1/{at}", data={"token": token[1], **said})
        alert = re.search(r'role="alert">(.*?)</div>', answer.text, re.DOTALL)
        assert answer.status_code == 422 and alert is not None, (at, said)
        assert "--" not in alert[1] and "probewright" not in alert[1] and "4k7K" not in alert[1], alert[1]


def test_a_run_on_trial_shows_how_long_it_goes_by_now(page, book):
    now = datetime.now(UTC)
    began = [(now - timedelta(minutes=minutes)).isoformat(timespec="seconds") for minutes in (90, 65)]
    case = bench.enter_line(book, bench.open_job(book, Intake("radio", key="k"), began[0]), "fitted a new C4", began[0])
    begin_run(book, case, "warm", began[1])
    assert re.search(r"data-ran=\"39\d\d\">1 h 0[56] min</span> by now", page.get("/jobs/1/proof").text)


def test_no_line_ends_between_a_chance_and_its_sign():
    one, view = SimpleNamespace(prior=0.09, handbook=0.001), SimpleNamespace(case=SimpleNamespace(depth="circuit"))
    assert _usual(one, view) == "usual: old machines 9\N{NO-BREAK SPACE}%, handbooks <1\N{NO-BREAK SPACE}%"
