"""Each page on a laptop, on a phone and on the narrowest one: accessible, large enough, light enough, kept as a picture."""

from __future__ import annotations

from contextlib import suppress

import pytest
from playwright.sync_api import Error, Request

from browser.conftest import guarded
from browser.looking import PICTURES, look, violations
from browser.pages import SHEETS, Sheet
from browser.serving import ServedHere
from conftest import ROOT
from probewright.record import open_book
from probewright.report.paper import Block, Paper, Table
from probewright.report.paper_html import html

LIGHTEST = 400  # KB, the goal of the page without photographs
# Words, and minutes with their unit, whose letters stand on two lines in a piece of the page.
BROKEN = """piece => {
  const found = [], walk = document.createTreeWalker(document.querySelector(piece), NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) for (const word of walk.currentNode.textContent.matchAll(/[\\d.]+ min|[^\\s-]+/g)) {
    const letters = document.createRange();
    letters.setStart(walk.currentNode, word.index);
    letters.setEnd(walk.currentNode, word.index + word[0].length);
    if (new Set([...letters.getClientRects()].map(one => Math.round(one.top))).size > 1) found.push(word[0]);
  }
  return found;
}"""


@pytest.mark.parametrize("sheet", SHEETS, ids=[one.name for one in SHEETS])
def test_a_page_can_be_read_and_pressed_by_everybody(window, shown, sheet: Sheet):
    served, named = shown
    page = window(served)
    said: list[str] = []
    heavy: list[Request] = []
    page.on("console", lambda one: said.append(one.text) if one.type == "error" else None)
    page.on("pageerror", lambda one: said.append(str(one)))
    page.on("requestfinished", lambda one: heavy.append(one))
    answer = page.goto(sheet.path.format(**named), wait_until="networkidle")
    assert answer is not None and answer.status == sheet.code
    assert [one for one in said if "status of 400" not in one] == []
    assert weight(heavy) < LIGHTEST
    assert look(page, sheet.name) == {}


def weight(requests: list[Request]) -> float:
    """KB that were sent, without photographs."""
    sent = 0
    for one in requests:
        if one.resource_type != "image" or one.url.split("?")[0].endswith(".svg"):
            sizes = one.sizes()
            sent += sizes["responseBodySize"] + sizes["responseHeadersSize"]
    return sent / 1000.0


def test_forced_colours_and_reduced_motion_leave_the_bench_whole(window, shown):
    """Colours by the system alone: the chosen one, the set-up's state and the entry box keep an edge; nothing moves."""
    served, named = shown
    page = window(served, forced_colors="active", reduced_motion="reduce")
    page.goto("/jobs/{mixer}".format(**named))
    assert violations(page, contrast=False) == []
    edges = "all => all.every(one => parseFloat(getComputedStyle(one).borderTopWidth) >= 1)"
    for which in ("#line", "button", ".chip", ".letter", ".card", ".handle"):
        assert page.locator(which).count() and page.eval_on_selector_all(which, edges), which
    moving = "() => document.getAnimations().length"
    assert page.evaluate(moving) == 0
    page.screenshot(path=PICTURES / "bench-forced-colours.png")


def test_every_action_of_a_stranger_is_caught(browser, shown):
    """The guard of this folder itself: a request elsewhere fails a test."""
    served, _ = shown
    caught: list[str] = []
    context = guarded(browser, served.address, caught)
    page = context.new_page()
    page.goto("/jobs")
    page.evaluate("() => { document.createElement('img').src = 'http://elsewhere.example/a.png'; return 0 }")
    with suppress(Error):
        page.goto("http://elsewhere.example/b")
    context.close()
    assert caught[-1] == "http://elsewhere.example/b"


@pytest.mark.parametrize("what", ["pair", "join", "join-used"])
def test_the_pages_that_pair_a_device_can_be_read_and_pressed_by_everybody(tmp_path, window, what):
    with open_book(tmp_path / "bench.db"):
        served = ServedHere(tmp_path / "bench.db", lan=True)
    try:
        page = window(served)
        secret = served.shared.links[0].rpartition("/")[2] if what == "join" else "gone"
        page.goto("/pair" if what == "pair" else f"/join/{secret}", wait_until="networkidle")
        assert page.locator("h1").is_visible() and look(page, what) == {}
    finally:
        served.stop()


def test_no_column_of_a_paper_is_a_letter_wide_on_a_phone(browser):
    """Money stands unbroken beside what it is for: that has room for its words all the same, and the table is moved."""
    row = ("Work, up to now and to come", "1.25 h", "60.00 EUR", "1075.00 EUR", "215.00 EUR", "1290.00 EUR")
    table = Table(("What", "Amount", "Each", "Net", "VAT 20 %", "Sum"), (row,), tuple(range(1, 6)))
    page = browser.new_page(viewport={"width": 390, "height": 844})
    try:
        page.set_content(html(Paper("Estimate", (), "A radio", (), (Block("What it comes to", table=table),))))
        first = page.locator("td").first.bounding_box()
        assert first is not None and first["width"] >= 120
        assert page.evaluate("() => document.documentElement.scrollWidth") == 390
    finally:
        page.close()


def test_a_box_to_tick_keeps_its_size_beside_long_words(browser):
    page = browser.new_page(viewport={"width": 390, "height": 844})
    try:
        words = "Its culprit counts among those of this bench: I trust that repair"
        page.set_content(f'<main><form class="learn"><label><input type="checkbox"> {words}</label></form></main>')
        page.add_style_tag(path=ROOT / "src/probewright/web/static/page.css")
        box = page.locator("input").bounding_box()
        assert box is not None and (box["width"], box["height"]) == (24, 24)
    finally:
        page.close()


def test_the_button_that_opens_a_job_stands_below_the_whole_form(window, shown):
    served, _ = shown
    page = window(served)
    page.goto("/jobs/new?kind=mixer")
    form, last = (page.locator(one).bounding_box() for one in (".intake", ".intake > .go"))
    assert last["width"] >= form["width"] > 0
    sides = [one.bounding_box() for one in page.locator(".intake > .side").all()]
    assert last["y"] >= max(one["y"] + one["height"] for one in sides)
    assert max(one["x"] + one["width"] for one in sides) == form["x"] + form["width"]  # no column is left empty


def test_the_minutes_of_a_bench_are_read_on_a_phone(browser, page):
    """A step, a box and "0.25 min" beside each other in 374 px: no word is broken, and no figure from its unit."""
    shown = browser.new_page(viewport={"width": 390, "height": 844})
    try:
        shown.set_content(page.get("/kit").text)
        shown.add_style_tag(path=ROOT / "src/probewright/web/static/page.css")
        assert shown.evaluate(BROKEN, ".kit table") == []
        assert shown.evaluate("() => document.documentElement.scrollWidth") == 390
        tops = [one.bounding_box()["y"] for one in shown.locator(".kit fieldset").first.locator("input").all()[:2]]
        assert tops[0] == tops[1]
    finally:
        shown.close()
