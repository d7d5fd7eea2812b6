"""The pages of a practice without a browser: forms, what is shown before it is measured, and how it ends."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from dividers import DIVIDERS
from probewright.jobs import bench, practice
from probewright.jobs.cases import Intake
from probewright.record import Book
from test_practice import HOT, NOW, of_fault
from test_web import form, hidden


def send(page: TestClient, path: str, **said: str):
    token = hidden(page.get("/practice").text, "token")
    return page.post(path, data={"token": token, **said})


def opened(page: TestClient, book: Book, once: str = "k") -> int:
    """A practice on the machine of an owner's job; its number."""
    if not bench.every_case(book):
        case = bench.open_job(book, Intake("amplifier", model="Two dividers", key="k"), NOW)
        bench.know(book, case, "file", "tied small.yaml", DIVIDERS, "small.yaml", NOW)
    send(page, "/practice", machine="job 1", once=once)
    return bench.every_practice(book)[-1].number


def typed(page: TestClient, job: int, line: str):
    """A line as a person sends it: shown first, then once more."""
    shown = page.post(f"/jobs/{job}/lines", data={**form(page.get(f"/jobs/{job}").text), "line": line})
    return shown, page.post(f"/jobs/{job}/lines", data={**form(shown.text), "line": line})


def test_a_machine_is_chosen_and_a_form_sent_twice_is_one_practice(page, book):
    job = opened(page, book)
    assert opened(page, book) == job and len(bench.every_practice(book)) == 1
    text = page.get("/practice").text
    assert "Two dividers" in text and "Fernside DS-3" in text and f'href="/jobs/{job}"' in text
    assert "No machine was chosen" in send(page, "/practice", machine="demo nothing").text


def test_what_would_be_measured_is_shown_first_and_read_when_it_is_sent_again(page, book):
    job = opened(page, book)
    shown, done = typed(page, job, "OUT ?")
    assert "To be measured:" in shown.text and "red on OUT" in shown.text
    last = bench.find_case(book, job).lines[-1]
    assert last.text.startswith("OUT ") and last.text.endswith("V") and last.text in done.text
    assert "3 min so far" in done.text and "nothing is wired" in done.text


@pytest.mark.parametrize("line", ["OUT 5 V", "what?", "it is R3", ""])
def test_a_messy_line_is_refused_and_stays_in_the_box(page, book, line):
    job = opened(page, book)
    before = bench.find_case(book, job).lines
    shown, again = typed(page, job, line)
    assert ('class="piece refused"' in shown.text) == bool(line)
    assert f'value="{line}"' in again.text and bench.find_case(book, job).lines == before


def test_a_live_place_that_can_hurt_is_told_of_before_it_is_measured(page, book):
    job = practice.open_practice(book, HOT, "hot.yaml", "k", NOW).number
    assert "take it for live" in page.get(f"/jobs/{job}/echo?line=OUT+%3F").text  # nothing is worked out yet
    page.get(f"/jobs/{job}/refined")
    text = page.get(f"/jobs/{job}/echo?line=OUT+%3F").text
    assert "which can kill" in text and text.index("which can kill") < text.index("To be measured:")
    assert "caution" not in page.get(f"/jobs/{job}/echo?line=10k+||+22k").text


def test_a_line_sent_twice_counts_once_and_the_second_leads_to_the_bench_too(page, book):
    job = opened(page, book)
    told = {**form(page.get(f"/jobs/{job}").text), "line": "OUT ?", "seen": "OUT ?"}
    answers = [page.post(f"/jobs/{job}/lines", data=told) for _ in range(2)]
    assert all(answer.url.path == f"/jobs/{job}" for answer in answers)
    assert sum(len(line.readings) for line in bench.find_case(book, job).lines[2:]) == 1


def test_the_card_is_measured_by_one_tap_and_a_second_one_does_nothing(page, book):
    job = opened(page, book)
    text = page.get(f"/jobs/{job}/refined").text
    start = text.index('class="measure"')
    said = {name: hidden(text[start : text.index("</form>", start)], name) for name in ("token", "once", "asked")}
    for _ in range(2):
        page.post(f"/jobs/{job}/measure", data=said)
    case = bench.find_case(book, job)
    assert sum(len(line.readings) for line in case.lines[2:]) == 1
    assert "asks for no reading" in send(page, f"/jobs/{job}/measure", asked="{").text


def test_it_has_no_forms_of_an_owners_machine(page, book):
    job = opened(page, book)
    typed(page, job, "OUT ?")
    text = page.get(f"/jobs/{job}").text
    for way in ("/undo", "/close", "/waveform", "Fault showing?", "/machine", "/photos"):
        assert way not in text
    owners = page.get("/jobs/1").text
    assert "nothing is wired" not in owners and "/close" in owners and "Fault showing?" in owners


def test_a_fault_is_named_by_a_tap_or_typed_and_the_two_paths_are_shown(page, book):
    job = of_fault(book, "R3 open").number
    text = page.get(f"/jobs/{job}/refined").text
    assert 'name="fault" value="R3 open"' in text
    done = send(page, f"/jobs/{job}/name", fault="R1 open", typed="R3 open")
    assert done.url.path == f"/jobs/{job}/paths" and "you named it: R3 is open" in done.text
    ended = page.get(f"/jobs/{job}/paths?wait=yes").text
    assert "You: 0 min" in ended and "The plan: " in ended and "Named R3 open: right." in ended
    assert page.get(f"/jobs/{job}/paths").text.count("<table>") == 2  # kept beside the book by now
    assert bench.find_case(book, job).closed["named"] == "R3 open"
    assert "has ended" in page.get(f"/jobs/{job}").text


def test_the_line_that_names_it_and_the_repair_that_cures_it_end_it_too(page, book):
    for line, ending in (("it is R3 open", "named"), ("fitted a new R3", "mended")):
        job = of_fault(book, "R3 open").number
        _, done = typed(page, job, line)
        assert done.url.path == f"/jobs/{job}/paths"
        assert bench.find_case(book, job).closed["ending"] == ending


def test_giving_up_twice_is_giving_up_once(page, book):
    job = opened(page, book)
    for _ in range(2):
        assert send(page, f"/jobs/{job}/give-up").url.path == f"/jobs/{job}/paths"
    assert "given up" in page.get("/jobs").text


def test_practices_stand_apart_in_the_list_of_jobs(page, book):
    job = opened(page, book)
    text = page.get("/jobs").text
    apart = text.index("Practice: made-up faults")
    assert f'href="/jobs/{job}"' in text[apart:] and f'href="/jobs/{job}"' not in text[:apart]
    assert 'href="/jobs/1"' in text[:apart]
    hidden_one = practice.hidden_of(bench.find_case(book, job)).hidden
    assert hidden_one.id not in text[apart:] and hidden_one.says not in text[apart:]


@pytest.mark.parametrize("named", ["NETX short", "R3", "MID"])
def test_a_name_that_nothing_has_comes_back_with_the_practice_and_what_was_typed(page, book, named):
    job = opened(page, book)
    answer = send(page, f"/jobs/{job}/name", typed=named)
    assert answer.status_code == 422 and 'class="card' in answer.text and 'id="naming" open' in answer.text
    alert = answer.text[answer.text.index('id="naming"') :]
    assert f'value="{named}"' in alert and 'role="alert"' in alert
    assert bench.find_case(book, job).closed is None
    assert send(page, f"/jobs/{job}/name", typed="R3 open").url.path == f"/jobs/{job}/paths"


def test_naming_nothing_is_answered_without_the_list_of_the_whole_file(page, book):
    answer = send(page, f"/jobs/{opened(page, book)}/name")
    alert = answer.text[answer.text.index('id="naming"') :]
    assert answer.status_code == 422 and "No fault was named; say which part and how it is broken" in alert
