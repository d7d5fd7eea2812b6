"""The machine page without a browser: chain, shelf, editor, checking, tying."""

from __future__ import annotations

import re
import socket
import threading
import time
from html import unescape
from importlib.resources import files
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from conftest import HERE
from probewright.jobs import bench
from probewright.jobs.files import healthy_laws
from probewright.jobs.functioning import read_functions
from probewright.machine import read
from probewright.record import Book, open_book
from probewright.web import proofs
from probewright.web.app import make_app

NOW = "2026-11-25T13:00:00+00:00"
SMALL = """machine: Tone box
extras:
  PSU: source 9V series 1R limit 1A  VIN > GND
sections:
  divider:
    parts:
      R1: resistor 10k  VIN > MID
      R2: resistor 10k  MID > GND
"""
WORKING = (
    SMALL
    + """points:
  TP1: {at: MID}
stimuli:
  rest: {}
  low: {PSU: 6V}
works:
  sound left: MID dc at rest; below 4V = weak; above 5V = loud
"""
)


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


def editor(page: TestClient) -> dict[str, str]:
    """The hidden fields of the editor as it stands."""
    return fields(page.get("/jobs/1/machine").text, 'id="editor"')


def in_editor(page_text: str) -> str:
    """The text in the editor of a page."""
    box = re.search(r'<textarea id="text"[^>]*>\n(.*?)</textarea>', page_text, re.DOTALL)
    return unescape(box[1])


def found(answer) -> str:
    """What a page says, its figures with plain blanks."""
    return answer.text.replace("\N{NO-BREAK SPACE}", " ")


def put(page: TestClient, text: str, **more: str):
    """The text put to the job, every question answered as proposed."""
    return page.post("/jobs/1/machine", data={**editor(page), "text": text, "agreed": "yes", **more})


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
    assert answer.status_code == 422 and ">\nhead &gt;&gt; phones &gt;</textarea>" in answer.text
    assert 'role="alert"' in answer.text and case(book).known is None


def test_a_chain_of_several_lines_can_be_shown_before_it_counts(page, book):
    told = {**fields(page.get("/jobs/1/machine").text, 'action="/jobs/1/chain"'), "show": "yes"}
    answer = page.post("/jobs/1/chain", data={**told, "chain": "head > preamp > phones\r\npreamp on 12V"})
    assert "preamp on 12V</li>" in answer.text and case(book).known is None
    assert ">\nhead &gt; preamp &gt; phones\npreamp on 12V</textarea>" in answer.text


@pytest.mark.parametrize(
    ("back", "goes"),
    [("/jobs/1/photos", "/jobs/1/photos"), ("/jobs/1/photos/a1.jpg?full=1#spot-2", "/jobs/1/photos/a1.jpg?full=1#spot-2"),
     ("", "/jobs/1"), ("/jobs/2", None), ("/jobs/12", None), ("https://far.example/", None), ("//far.example", None),
     ("/jobs/1//far.example", None), ("/jobs/1/\\far", None), ("/jobs/1/../2", None), ("/jobs/1/photos\r\nX: y", None)],
)  # fmt: skip
def test_a_form_leads_back_to_this_jobs_pages_and_nowhere_else(page, book, back, goes):
    told = {**fields(page.get("/jobs/1/machine").text, 'action="/jobs/1/chain"'), "chain": "head > preamp > phones"}
    answer = page.post("/jobs/1/chain", data={**told, "back": back}, follow_redirects=False)
    assert answer.headers.get("location") == goes and answer.status_code == (303 if goes else 400)
    assert (case(book).known is None) == (goes is None)


def test_a_chain_from_a_page_on_which_the_file_was_another_is_asked_again_and_kept_as_typed(page, book):
    told = {**fields(page.get("/jobs/1/machine").text, 'action="/jobs/1/chain"'), "chain": "head > preamp > phones"}
    put(page, SMALL)
    answer = page.post("/jobs/1/chain", data={**told, "back": "/jobs/1/photos"})
    assert "changed since" in answer.text and "head &gt; preamp &gt; phones</textarea>" in answer.text
    again = {**fields(answer.text, 'action="/jobs/1/chain"'), "chain": told["chain"]}
    assert case(book).known.text == SMALL and again["back"] == "/jobs/1/photos"
    page.post("/jobs/1/chain", data=again)
    assert case(book).known.how == "chain"


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


def test_a_stage_says_what_it_assumes_and_is_asked_in_the_form_it_is_built(page):
    plain = page.get("/jobs/1/machine?stage=common-emitter&form=plain").text
    assert "left empty: 10u" in plain and 'name="value bypass"' not in plain
    assert 'name="value bypass"' in page.get("/jobs/1/machine?stage=common-emitter").text


def test_a_stage_is_joined_to_the_file_and_its_parts_are_named_as_printed(page, book):
    put(page, SMALL)
    text = page.get("/jobs/1/machine?stage=follower").text
    told = {**fields(text, 'action="/jobs/1/stage"'), "name": "buf", "join SUP": "VIN", "printed": "Q1=Q17"}
    told |= {"value supply": "9V", "value upper": "100k", "value lower": "100k", "value emitter": "4k7"}
    wrong = page.post("/jobs/1/stage", data={**told, "printed": "Q1 Q17"})
    assert wrong.status_code == 422 and 'value="Q1 Q17"' in wrong.text and 'value="VIN"' in wrong.text
    page.post("/jobs/1/stage", data=told)
    assert "Q17" in case(book).known.text and "c=VIN" in case(book).known.text and SMALL in case(book).known.text


def test_a_stage_that_is_sent_again_under_another_name_is_another_stage(page, book):
    told = fields(page.get("/jobs/1/machine?stage=lead").text, 'action="/jobs/1/stage"')
    page.post("/jobs/1/stage", data={**told, "name": "one"})
    answer = page.post("/jobs/1/stage", data={**told, "name": "two"})  # from the browser's history
    assert "changed since" in answer.text and 'value="two"' in answer.text and len(case(book).lines) == 1


def test_checking_shows_errors_at_their_line_and_what_a_readable_text_reads(page, book):
    told = editor(page)
    wrong = page.post("/jobs/1/machine/check", data={**told, "text": SMALL.replace("R2: resistor", "R2: resistr")}).text
    assert "Line 8, column" in wrong and 'data-line="8"' in wrong and "resistr" in wrong
    fine = found(page.post("/jobs/1/machine/check", data={**told, "text": SMALL}, headers={"X-Piece": "found"}))
    assert "<html" not in fine and 'data-part="R2"' in fine and case(book).known is None
    cells = re.search(r'<th scope="row">MID</th><td>([^<]*) <span class="second">middle ([^<]*)</span></td>', fine)
    assert cells[2] == "4.5 V"  # two equal resistors halve 9 V; the 10 Mohm meter takes less than the digits show
    low, high = (float(one.removesuffix(" V")) for one in cells[1].split(" to "))
    assert 4.0 < low < 4.4 and 4.6 < high < 5.3  # two tolerances of 5 % and the supply's own


def test_the_table_names_points_functions_and_the_set_up_it_is_for(page):
    text = found(page.post("/jobs/1/machine/check", data={**editor(page), "text": WORKING, "at": "low"}))
    assert "<option selected>low</option>" in text and ">TP1</span>" in text and "middle 3 V" in text
    assert "MID, direct volts at rest" in text and "✓ works" in text
    off = page.post("/jobs/1/machine/check", data={**editor(page), "text": WORKING, "at": "power off"}).text
    assert '<th scope="col">Ohms</th>' in off


def test_a_function_that_fails_when_healthy_says_so_in_its_row(page):
    text = WORKING.replace("below 4V", "below 4.7V")
    said = page.post("/jobs/1/machine/check", data={**editor(page), "text": text}).text
    assert "✕ does not" in said and "does not work on the healthy machine" in said


def test_the_range_of_a_function_holds_what_its_file_says():
    row = read_functions(healthy_laws(read(WORKING)))[0]
    assert (row.name, row.says, row.unit, row.works) == ("sound left", "MID, direct volts at rest", "V", True)
    assert row.low < row.mid < row.high and row.mid == pytest.approx(9.0 / 2.0, rel=1e-3)


def test_what_is_wrong_is_said_before_anything_is_drawn(page):
    said = page.post("/jobs/1/machine/check", data={**editor(page), "text": SMALL}, headers={"X-Piece": "said"}).text
    assert 'data-loads="yes"' in said and "<svg" not in said


def test_the_last_text_that_could_be_read_stays_in_the_picture_without_a_script(page):
    told = editor(page)
    page.post("/jobs/1/machine/check", data={**told, "text": SMALL})
    text = page.post("/jobs/1/machine/check", data={**told, "text": SMALL + "nonsense"}).text
    assert 'id="last">' in text and 'data-part="R2"' in text and "Not readable yet" in text


HOSTILE = [
    "\t\t:\n", "a: [", "- 1\n" * 400, "{" * 3000, "machine: \u0001", "é" * 500, "machine: x\n" * 2, "a: &b [*b, *b]",
    "machine: !!python/object:os.system x", "x" * 300_000, "[" * 99 + "]" * 99, "? a\n: b", "%YAML 9.9\n---", "machine: x\u2028y",
    "machine: x\nparts:\n  R1: resistor 1e999  A > GND", "machine: x\nparts:\n  R1: resistor nan  A > GND",
]  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_texts_get_complaints_and_no_failure(page, book, text):
    told = editor(page)
    for path, code in (("machine/check", 200), ("machine", 422)):
        answer = page.post(f"/jobs/1/{path}", data={**told, "text": text})
        assert answer.status_code == code and "Not readable yet" in answer.text and "goto" in answer.text
    assert case(book).known is None


def test_a_megabyte_is_refused_in_one_sentence(page):
    answer = page.post("/jobs/1/machine/check", data={**editor(page), "text": "x" * 1_100_000})
    assert answer.status_code == 403 and answer.text.count(".") == 1


def test_a_text_longer_than_any_machine_is_not_read(page):
    text = SMALL + "# more\n" * 40_000
    said = page.post("/jobs/1/machine/check", data={**editor(page), "text": text}).text
    assert "at most 250000" in said and 'data-loads="no"' in said and "<svg" not in said


def test_a_machine_too_large_to_wait_for_is_read_and_says_why_it_is_not_drawn(page):
    parts = "".join(f"  R{n}: resistor 1k  N{n} > N{n + 1}\n" for n in range(300))
    text = f"machine: Long\nparts:\n  V1: source 5V  N0 > GND\n{parts}  R999: resistor 1k  N300 > GND\n"
    said = page.post("/jobs/1/machine/check", data={**editor(page), "text": text}).text
    assert "302 parts are too many to draw" in said and "302 parts are too many to compute" in said


def test_the_newest_text_of_a_session_wins_and_others_wait_for_nobody(monkeypatch):
    begun, go, answers = threading.Event(), threading.Event(), {}
    real = proofs.read

    def slow(text):
        if text == "first":
            begun.set()
            assert go.wait(10)
        return real(text)

    monkeypatch.setattr(proofs, "read", slow)
    desk = proofs.Proofs()

    def send(who: str, text: str) -> threading.Thread:
        def run() -> None:
            answers[who, text] = desk.remarks(who, text)

        thread = threading.Thread(target=run, daemon=True)
        thread.start()
        return thread

    first = send("me", "first")
    assert begun.wait(10)
    second = send("me", "second")
    time.sleep(0.05)
    third = send("me", "third")
    second.join(10)
    send("you", "first of you").join(10)
    assert answers["me", "second"] is None and answers["you", "first of you"] is not None  # while the first still runs
    assert ("me", "third") not in answers
    go.set()
    first.join(10)
    third.join(10)
    assert answers["me", "third"] is not None and not desk._busy and not desk._newest


def test_a_text_is_put_to_the_job_and_stands_in_the_editor_byte_for_byte(page, book):
    told = editor(page)
    text = SMALL + "# a < b & c\n"
    answer = page.post("/jobs/1/machine", data={**told, "text": text.replace("\n", "\r\n")})
    assert "put to the job" in answer.text and "Undo" in answer.text and case(book).known.text == text
    assert in_editor(page.get("/jobs/1/machine").text) == text and page.get("/jobs/1/machine.yaml").text == text
    page.post("/jobs/1/machine", data={**told, "text": text})  # sent twice
    assert len(case(book).lines) == 1


def test_the_same_text_again_is_no_line_of_the_job(page, book):
    put(page, SMALL)
    assert "very text already" in put(page, SMALL, agreed="").text and len(case(book).lines) == 1


def test_taking_the_line_back_takes_the_file_back(page, book):
    put(page, SMALL)
    put(page, SMALL.replace("10k", "22k"))
    last = case(book).lines[-1].event
    page.post("/jobs/1/undo", data={"token": editor(page)["token"], "event": str(last)})
    assert in_editor(page.get("/jobs/1/machine").text) == SMALL


def test_an_unreadable_text_is_not_put_to_the_job_and_comes_back(page, book):
    answer = page.post("/jobs/1/machine", data={**editor(page), "text": "machine: [half"})
    assert answer.status_code == 422 and in_editor(answer.text) == "machine: [half" and case(book).known is None


def test_a_file_is_opened_in_the_editor_without_a_script_and_is_not_put_to_the_job(page, book):
    told = {**editor(page), "text": "typed before", "open": "yes"}
    sent = {"upload": ("C:\\work\\box.yaml", SMALL.replace("\n", "\r\n").encode())}
    answer = page.post("/jobs/1/machine/check", data=told, files=sent)
    assert in_editor(answer.text) == SMALL and 'name="file" value="box.yaml"' in answer.text
    assert case(book).known is None
    page.post("/jobs/1/machine", data={**fields(answer.text, 'id="editor"'), "text": SMALL, "agreed": "yes"})
    assert case(book).known.file == "box.yaml"


def test_a_file_that_is_no_text_is_refused_and_what_was_typed_stays(page):
    told = {**editor(page), "text": SMALL, "open": "yes"}
    answer = page.post("/jobs/1/machine/check", data=told, files={"upload": ("box.yaml", b"machine: \xff\xfe")})
    assert answer.status_code == 422 and "is not text" in answer.text and in_editor(answer.text) == SMALL


def test_names_read_before_are_matched_by_the_person_and_a_free_one_keeps_its_reading(page, book):
    for line in ("tap 4.4 V", "left output 3.1 V"):
        bench.enter_line(book, case(book), line, NOW)
    asked = page.post("/jobs/1/machine", data={**editor(page), "text": SMALL}).text
    assert "Names that were read" in asked and 'name="place tap"' in asked and case(book).known is None
    names = {**fields(asked, 'class="names"'), "text": SMALL, "other tap": "MID", "place left output": ""}
    wrong = page.post("/jobs/1/machine", data={**names, "other tap": "MIDD"})
    assert wrong.status_code == 422 and 'value="MIDD"' in wrong.text and case(book).known is None
    kept = page.post("/jobs/1/machine", data=names).text
    assert dict(case(book).known.names) == {"tap": "MID"} and case(book).known.text == SMALL
    assert "Kept, not weighed on this file: 2" in kept and "left output 3.1 V" in kept
    assert "sound left, bad: weighs nothing: the machine file does not say what should work" in kept
    assert "left output" in page.get("/jobs/1/refined").text  # kept, not weighed


def test_legs_of_a_part_are_offered_as_choices_and_what_was_settled_is_not_asked_again(page, book):
    for line in ("R2 left leg 4.4 V", "left output 3.1 V"):
        bench.enter_line(book, case(book), line, NOW)
    asked = page.post("/jobs/1/machine", data={**editor(page), "text": SMALL}).text
    assert 'value="R2.1"' in asked and 'value="R2.2"' in asked and "stays free" in asked
    names = {**fields(asked, 'class="names"'), "text": SMALL, "place R2 left leg": "R2.1", "place left output": ""}
    page.post("/jobs/1/machine", data=names)
    assert dict(case(book).known.names) == {"R2 left leg": "R2.1"}
    page.post("/jobs/1/machine", data={**editor(page), "text": SMALL + "# more\n"})  # nothing new to settle
    assert case(book).known.text.endswith("# more\n") and dict(case(book).known.names) == {"R2 left leg": "R2.1"}


def test_ticks_of_the_intake_are_tied_to_functions_by_the_person(page, book):
    asked = page.post("/jobs/1/machine", data={**editor(page), "text": WORKING}).text
    assert "sound left, bad" in asked and "<option selected>sound left</option>" in asked
    told = {**fields(asked, 'class="names"'), "text": WORKING}
    left = "sound left, bad: weighs nothing: fits none of its functions"
    assert left in page.post("/jobs/1/machine", data={**told, "tick sound left": ""}).text
    assert dict(case(book).known.functions) == {} and left in page.get("/jobs/1").text
    assert left not in put(page, WORKING + "# again\n", **{"tick sound left": "sound left"}).text
    assert dict(case(book).known.functions) == {"sound left": "sound left"}


def test_the_text_goes_back_to_the_editor_from_the_names(page, book):
    bench.enter_line(book, case(book), "tap 4.4 V", NOW)
    asked = page.post("/jobs/1/machine", data={**editor(page), "text": SMALL}).text
    back = page.post("/jobs/1/machine/check", data={**fields(asked, 'class="names"'), "text": SMALL})
    assert in_editor(back.text) == SMALL and 'formaction="/jobs/1/machine/check">Back to the text' in asked


def test_a_stale_editor_is_told_so_and_its_text_is_kept_on_the_page(page, book):
    old = editor(page)
    other = editor(page)
    page.post("/jobs/1/machine", data={**other, "text": SMALL})
    answer = page.post("/jobs/1/machine", data={**old, "text": SMALL.replace("10k", "22k")})
    assert "changed since" in answer.text and "22k" in answer.text and "22k" not in case(book).known.text
    page.post("/jobs/1/machine", data={**fields(answer.text, 'id="editor"'), "text": SMALL.replace("10k", "22k")})
    assert "22k" in case(book).known.text


def test_a_demo_machine_can_be_taken_to_begin_with(page, book):
    text = page.get("/jobs/1/machine?start=fernside-lm-2").text
    demo = (files("probewright.demo") / "fernside-lm-2.yaml").read_text()
    assert in_editor(text) == demo and "not put to the job yet" in text
    assert case(book).known is None and page.get("/jobs/1/machine?start=../../secret").status_code == 200


def test_nothing_is_put_to_a_closed_job(page, book):
    told = editor(page)
    bench.close(book, case(book), "parked", "", NOW)
    answer = page.post("/jobs/1/machine", data={**told, "text": SMALL})
    assert "closed" in answer.text and case(book).known is None and "tone box" in answer.text.lower()


# In a browser -------------------------------------------------------------------------------------

QUIET = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]
LAPTOP = {"viewport": {"width": 1366, "height": 768}}
PATIENCE = 20_000  # ms, chosen: every core may be at work on something else


@pytest.fixture
def served(page: TestClient):
    """The address of the pages of one job, served as `probewright serve` does."""
    import uvicorn

    door = socket.socket()
    door.bind(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(page.app, log_level="error", lifespan="off"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [door]})
    thread.start()
    yield f"http://127.0.0.1:{door.getsockname()[1]}"
    server.should_exit = True
    thread.join()
    door.close()


@pytest.fixture
def window(chromium):
    """Opens a page of a browser that is fresh, or of the one given."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as made:
        started = made.chromium.launch(executable_path=chromium, args=QUIET)

        def opened(**like):
            context = started.new_context(**{**LAPTOP, **like})
            context.set_default_timeout(PATIENCE)
            return context.new_page()

        yield opened
        started.close()


def write(tab, text: str) -> None:
    """The text in the editor, and its answer waited for."""
    tab.fill("#text", text)
    tab.wait_for_selector(f"#state >> text=/^{'Readable' if 'nonsense' not in text else 'Not readable'}/")


def test_text_that_was_not_put_to_the_job_outlives_the_tab_and_is_let_go_once_it_is(served, window, book):
    tab = window()
    tab.goto(f"{served}/jobs/1/machine")
    write(tab, SMALL)
    other = tab.context.new_page()
    tab.close()
    other.goto(f"{served}/jobs/1/machine")
    other.wait_for_selector("#found svg")
    assert other.input_value("#text") == SMALL
    other.click("text=Put it to the job")
    other.wait_for_selector("#kept")
    assert case(book).known.text == SMALL and other.evaluate("localStorage.length") == 0
    assert not other.is_visible("#older")


def test_text_for_a_file_that_changed_since_is_offered_and_not_put_in(served, window, book, page):
    tab = window()
    tab.goto(f"{served}/jobs/1/machine")
    write(tab, SMALL.replace("10k", "22k"))
    put(page, SMALL)
    tab.goto(f"{served}/jobs/1/machine")
    assert tab.input_value("#text") == SMALL and tab.is_visible("#older")
    tab.click("#bring")
    assert "22k" in tab.input_value("#text") and not tab.is_visible("#older")
    tab.goto(f"{served}/jobs/1/machine?start=fernside-ds-3")
    assert "Tone box" not in tab.input_value("#text") and tab.is_visible("#older")
    tab.click("#bring")
    assert "Tone box" in tab.input_value("#text")


def test_a_complaint_puts_the_cursor_there_the_last_diagram_stays_and_tab_leaves_the_text(served, window):
    tab = window()
    tab.goto(f"{served}/jobs/1/machine")
    long = SMALL + "".join(f"      R{n}: resistor 10k  MID > GND\n" for n in range(3, 90))
    write(tab, SMALL)
    write(tab, long.replace("R80: resistor", "R80: resistr nonsense"))
    assert tab.is_visible("#last") and tab.locator("#found [data-part=R2]").count() == 1
    tab.click(".goto")
    spot, above = tab.evaluate(
        "[document.getElementById('text').selectionStart, document.getElementById('paper').scrollTop]"
    )
    assert tab.input_value("#text")[spot:].startswith("resistr nonsense") and above > 1000
    assert tab.evaluate("document.activeElement.id") == "text"
    tab.keyboard.press("Tab")
    assert tab.evaluate("document.activeElement.textContent") == "Put it to the job"
    write(tab, SMALL)
    assert not tab.is_visible("#last")


@pytest.mark.parametrize("script", [True, False])
def test_each_number_stands_beside_its_line(served, window, page, script):
    put(page, SMALL + "# more\n" * 200 + f"# {'wide ' * 60}\n")
    tab = window(java_script_enabled=script)
    tab.goto(f"{served}/jobs/1/machine")
    numbers, text = (tab.locator(one).bounding_box() for one in ("#numbers", "#text"))
    tab.locator("#paper").evaluate("one => { one.scrollTop = 1500; one.scrollLeft = 900; }")
    moved, along = (tab.locator(one).bounding_box() for one in ("#numbers", "#text"))
    assert numbers["y"] == text["y"] and moved["y"] == along["y"] == numbers["y"] - 1500
    assert abs(numbers["height"] - text["height"]) <= 24 and moved["x"] == numbers["x"]


def test_nobody_is_kept_out_of_the_machine_page(served, window, page, book):
    from axe_playwright_python.sync_playwright import Axe

    bench.enter_line(book, case(book), "R2 left leg 4.4 V", NOW)
    for width, scheme in ((1366, "light"), (320, "dark")):
        tab = window(viewport={"width": width, "height": 700}, color_scheme=scheme, bypass_csp=True)
        for path in ("?stage=common-emitter", "?start=fernside-lm-2", "", "names"):
            tab.goto(f"{served}/jobs/1/machine{path if path != 'names' else ''}")
            if path in ("", "names"):
                write(tab, WORKING + "nonsense" * (path == ""))
            if path == "names":
                tab.click("text=Put it to the job")
                tab.wait_for_selector("#names")
            wrong = Axe().run(tab).response["violations"]
            assert not wrong, (path, width, [(one["id"], one["nodes"][0]["target"]) for one in wrong])
            assert tab.evaluate("document.documentElement.scrollWidth") <= width
