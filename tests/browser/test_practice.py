"""A practice by taps on a phone and by keyboard, from the list of jobs to the two paths, with and without a script."""

from __future__ import annotations

from browser.conftest import LAPTOP, PHONE
from browser.looking import look
from browser.pages import NOW
from browser.serving import Served
from dividers import DIVIDERS
from probewright.jobs import bench
from probewright.jobs.cases import Intake
from probewright.record import open_book

SLOW = 120_000  # ms, chosen: both paths with every core at work on something else


def own_machine(served: Served) -> None:
    """An owner's job with a machine that is quick to practise on."""
    with open_book(served.book) as book:
        case = bench.open_job(book, Intake("amplifier", model="Two dividers", key="k"), NOW)
        bench.know(book, case, "file", "tied", DIVIDERS, "dividers.yaml", NOW)


def test_a_practice_on_a_phone_by_taps(window, served: Served):
    own_machine(served)
    page = window(served, PHONE)
    page.set_default_timeout(SLOW)
    page.goto("/jobs")
    page.get_by_role("link", name="Practise", exact=True).tap()
    page.locator("fieldset").get_by_text("Two dividers").tap()
    page.get_by_role("button", name="Hide a fault in it").tap()
    page.wait_for_url("**/jobs/2")
    assert page.locator(".practice").inner_text() == "Practice: a made-up fault, nothing is wired. 0 min so far."
    page.locator(".measure .main").tap()
    page.wait_for_selector(".answered strong")
    assert page.locator(".answered strong").inner_text() == served.lines(2)[-1][0]
    assert look(page, "bench-practice-measured") == {}
    page.set_viewport_size(PHONE["viewport"])
    page.locator("#line").fill("MID ?")
    page.wait_for_selector("#understood .piece.asks")
    page.get_by_role("button", name="Do it").tap()
    page.wait_for_selector(".answered strong:text('MID')")
    page.wait_for_selector("#card:not([data-refined])")
    page.locator("#naming summary").tap()
    page.locator("#naming label span").first.tap()
    page.get_by_role("button", name="That is it").tap()
    page.wait_for_url("**/jobs/2/paths")
    page.wait_for_selector(".paths")
    boxes = [one.bounding_box() for one in page.locator(".path").all()]
    assert boxes[0]["x"] == boxes[1]["x"] and boxes[0]["y"] < boxes[1]["y"]  # one after the other
    assert look(page, "paths-named") == {}
    page.set_viewport_size(LAPTOP["viewport"])
    boxes = [one.bounding_box() for one in page.locator(".path").all()]
    assert boxes[0]["x"] < boxes[1]["x"] and boxes[0]["y"] == boxes[1]["y"]  # side by side
    assert served.case(2).closed["ending"] == "named"
    assert "practice" not in [case.intake.kind for case in _owners(served)]


def test_a_practice_without_a_script(window, served: Served):
    own_machine(served)
    page = window(served, LAPTOP, java_script_enabled=False)
    page.set_default_timeout(SLOW)
    page.goto("/practice")
    page.locator("fieldset").get_by_text("Two dividers").click()
    page.get_by_role("button", name="Hide a fault in it").click()
    for _ in range(2):  # shown first, then measured
        page.fill("#line", "OUT ?")
        page.get_by_role("button", name="Do it").click()
    assert served.lines(2)[-1][0].startswith("OUT ")
    page.locator("#naming summary").click()
    page.get_by_role("button", name="Give up").click()
    page.get_by_role("link", name="Show both paths").click()
    while not page.locator(".paths").count():
        page.get_by_role("link", name="Show both paths").click()
    assert "given up" in page.locator(".path").first.inner_text().lower()


def _owners(served: Served):
    with open_book(served.book) as book:
        return bench.every_case(book)
