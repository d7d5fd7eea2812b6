"""A waveform on the bench: dropped on the card, chosen by tap, and without a script; the picture comes by itself."""

from __future__ import annotations

import pytest

from browser.conftest import LAPTOP, PHONE
from browser.looking import look
from browser.pages import NOW, enter, ripple
from browser.serving import Served
from probewright.jobs import bench
from probewright.jobs.cases import Intake
from probewright.record import open_book
from timed_machines import SUPPLY

SLOW = 90_000  # ms, chosen: a refined answer with every core at work on something else
CSV = {"name": "ripple.csv", "mimeType": "text/csv", "buffer": ripple()}

# A file dropped on a place, as the browser tells of it.
DROP = """([where, name, text]) => {
  const carried = new DataTransfer();
  carried.items.add(new File([text], name, { type: "text/csv" }));
  for (const kind of ["dragenter", "dragover", "drop"])
    document.querySelector(where).dispatchEvent(
      new DragEvent(kind, { bubbles: true, cancelable: true, dataTransfer: carried }));
}"""


def opened(served: Served, file: str = SUPPLY) -> None:
    """A supply that hums, switched on."""
    with open_book(served.book) as book:
        case = bench.open_job(book, Intake("radio", ticks={}, key="waveform"), NOW)
        if file:
            bench.know(book, case, "file", file, file, "supply.yaml", NOW)
            enter(book, 1, "set-up: power on, run")


def lines(served: Served) -> list[str]:
    return [line.text for line in served.case().live if line.capture is not None]


def test_a_file_dropped_on_the_card_becomes_the_reading(window, served: Served):
    opened(served)
    page = window(served, LAPTOP)
    page.goto("/jobs/1")
    page.evaluate("() => document.getElementById('at').value = 'RAW'")
    page.evaluate(DROP, ["#card", "ripple.csv", ripple().decode()])
    page.wait_for_selector("#says", timeout=SLOW)
    assert "RAW to ground" in page.locator("#says").inner_text() and lines(served) == []
    page.get_by_role("button", name="Count it").dblclick()
    page.wait_for_selector("#traced", timeout=SLOW)
    assert lines(served) == ["waveform ripple.csv at RAW"]
    page.wait_for_selector("#traced svg", state="attached", timeout=SLOW)
    page.wait_for_function("() => document.querySelector('#traced .pw-band')", timeout=SLOW)
    assert "healthy" in page.locator("#traced .at-large").text_content()
    assert look(page, "bench-traced") == {}


def test_on_a_phone_a_file_is_chosen_by_tap_and_the_picture_fits(window, served: Served):
    opened(served)
    page = window(served, PHONE)
    page.goto("/jobs/1")
    page.locator("#waveform summary").tap()
    page.set_input_files("#file", CSV)
    page.locator("#at").fill("RAW")
    page.get_by_role("button", name="Read it").tap()
    page.wait_for_selector("#says", timeout=SLOW)
    page.locator("#picture .at-large").wait_for(state="hidden")  # the answer is there before its style sheet
    box = page.locator("#picture .at-small svg").bounding_box()
    assert box is not None and 300 < box["width"] <= 374
    page.get_by_role("button", name="Count it").tap()
    page.wait_for_selector("#readings >> text=waveform ripple.csv", timeout=SLOW)
    assert lines(served) == ["waveform ripple.csv at RAW"]


@pytest.mark.parametrize("file", [SUPPLY, ""], ids=["with a machine file", "from nothing"])
def test_without_a_script_the_same_forms_do(window, served: Served, file: str):
    opened(served, file)
    page = window(served, PHONE, java_script_enabled=False)
    page.goto("/jobs/1")
    page.locator("#waveform summary").tap()
    page.set_input_files("#file", CSV)
    page.get_by_role("button", name="Read it").tap()
    page.locator("#wrong >> text=Where was it taken?").or_(page.locator("#says")).wait_for()
    page.locator("#at").fill("RAW")
    page.get_by_role("button", name="Read it so").tap()
    page.locator("#says").wait_for()
    page.get_by_role("button", name="Count it").tap()
    page.get_by_role("link", name="Picture of waveform ripple.csv").tap()
    page.locator("#piece .at-small svg").wait_for()
    assert lines(served) == ["waveform ripple.csv at RAW"]


def test_what_is_no_waveform_dropped_says_why_and_leaves_the_bench(window, served: Served):
    opened(served, "")
    page = window(served, LAPTOP)
    page.goto("/jobs/1")
    page.evaluate(DROP, ["#suspects", "note.txt", "a letter to my aunt, with a comma"])
    page.wait_for_selector("#wrong", timeout=SLOW)
    assert page.locator("#wrong").inner_text().startswith("note.txt")
    assert look(page, "waveform-wrong") == {}
    page.get_by_role("link", name="Back to the bench").click()
    page.wait_for_url("**/jobs/1")


def test_what_is_typed_outlives_a_file_that_is_dropped(window, served: Served):
    opened(served, "")
    page = window(served, LAPTOP)
    page.goto("/jobs/1")
    page.fill("#line", "Q7 c 11.8")
    page.evaluate(DROP, ["#card", "ripple.csv", ripple().decode()])
    page.wait_for_selector("#wrong", timeout=SLOW)
    page.get_by_role("link", name="Back to the bench").click()
    page.wait_for_url("**/jobs/1")
    assert page.input_value("#line") == "Q7 c 11.8"
