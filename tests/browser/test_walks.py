"""The whole demo job, from a machine that comes in to the located part: by keyboard alone, and on a phone by taps."""

from __future__ import annotations

import json
from urllib.parse import parse_qs, urlsplit

from playwright.sync_api import Page

from browser.conftest import LAPTOP, PHONE
from browser.looking import focus, look
from browser.pages import demo_lines, demo_text
from browser.serving import Served

PLANTED = json.loads(demo_text("planted.json"))["lm-2"]["faults"][0]["item"]
SLOW = 60_000  # ms, chosen: a refined answer with every core at work on something else


def test_the_whole_demo_job_by_keyboard_alone(window, served: Served):
    page = window(served, LAPTOP)
    page.goto("/jobs")
    tab_to(page, "a[href='/jobs/new']")
    enter(page, "/jobs/new")
    tab_to(page, "a[href='/jobs/new?kind=mixer']")
    enter(page, "/jobs/new?kind=mixer")
    for field, words in (("model", "Fernside LM-2"), ("words", "One side has gone quiet.")):
        tab_to(page, f"[name={field}]")
        page.keyboard.type(words)
    for function, presses in (("sound left", 1), ("sound right", 2)):  # from "not tried" onwards: good, partly, bad
        tab_to(page, f"[name='tick {function}']")
        for _ in range(4 - presses if function == "sound left" else 1):
            page.keyboard.press("ArrowRight")
    assert page.locator("[name='tick sound left']:checked").get_attribute("value") == "bad"
    assert page.locator("[name='tick sound right']:checked").get_attribute("value") == "good"
    tab_to(page, "button.main")
    enter(page, "/jobs/1")
    tab_to(page, "nav a[href='/jobs/1/machine']")
    enter(page, "/jobs/1/machine")
    tab_to(page, "a[href*='start=fernside-lm-2']")
    enter(page, "/jobs/1/machine?start=fernside-lm-2*")
    tab_to(page, "#editor button.main")
    page.keyboard.press("Enter")
    page.wait_for_selector("h1:text('What is what')")
    assert look(page, "machine-names") == {}
    page.set_viewport_size(LAPTOP["viewport"])
    tab_to(page, "#names button.main")
    page.keyboard.press("Enter")
    page.wait_for_selector("#kept")
    tab_to(page, "#kept a.main")
    enter(page, "/jobs/1")
    tab_to(page, "summary.chip")  # round the page once, past all that is sticky
    page.keyboard.press("/")
    for line in demo_lines():
        count(page, line)
    located(page, served)
    assert look(page, "bench-located") == {}
    page.set_viewport_size(LAPTOP["viewport"])
    access_key(page, "n")
    page.wait_for_url("**/jobs/1?choice=*")
    tab_to(page, ".ending summary")
    page.keyboard.press("Enter")
    tab_to(page, ".ending input[name=ending]")
    for _ in range(3):  # repaired, outside, nothing wrong, returned: nothing was mended or checked here
        page.keyboard.press("ArrowDown")
    tab_to(page, "#words")
    page.keyboard.type("R14L it is")
    tab_to(page, ".ending button")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=Closed as returned")
    assert served.case().closed["words"] == "R14L it is"


def test_the_whole_demo_job_on_a_phone_by_taps(window, served: Served):
    page = window(served, PHONE)
    page.goto("/jobs")
    for link in ("New job", "mixer"):
        page.get_by_role("link", name=link, exact=True).tap()
    page.get_by_label("Machine", exact=True).fill("Fernside LM-2")
    for function, how in (("sound left", "Bad"), ("sound right", "Good")):
        page.get_by_role("group", name=function, exact=True).locator("label", has_text=how).tap()
    page.get_by_role("button", name="Open the job").tap()
    page.wait_for_url("**/jobs/1")
    page.get_by_role("link", name="Machine", exact=True).tap()
    page.locator("a[href*='start=fernside-lm-2']").tap()
    page.get_by_role("button", name="Put it to the job", exact=True).tap()
    page.get_by_role("button", name="Put it to the job so").tap()
    page.get_by_role("link", name="To the bench").tap()
    for line in demo_lines():
        page.wait_for_load_state()
        if line == "set-up: power on, tone":
            page.get_by_role("button", name="tone Off: put it on").tap()
            page.get_by_role("button", name="tone On: take it away").wait_for()
        elif line == "set-up: off":
            page.get_by_role("button", name="tone On: take it away").tap()
            page.get_by_role("button", name="Power On: turn it off").tap()
            page.get_by_role("button", name="Power Off: turn it on").wait_for()
        elif line == "V8 8.12 V":
            page.get_by_role("link", name="Pictures", exact=True).tap()
            page.locator("svg a[href='/jobs/1?at=V8']").first.tap()
            page.wait_for_url("**at=V8")
            page.locator("#line").tap()
            for key in "8.12":
                page.locator(f"#pad [data-key='{key}']").tap()
            page.locator("#pad [data-key='V']").tap()
            page.wait_for_selector('#understood [name=seen][value="V8 8.12V"]', state="attached")
            tap_count(page, "V8 8.12V")
        else:
            page.locator("#line").tap()
            page.locator("#pad [data-key='abc']").tap()
            tap_count(page, line, typed(page, line))
    located(page, served)


def tab_to(page: Page, wanted: str, most: int = 90) -> None:
    """Press Tab until the focus is there; every stop on the way can be seen."""
    page.wait_for_load_state()  # a page without its styles yet has no ring to show
    for _ in range(most):
        page.keyboard.press("Tab")
        at = focus(page)
        if at["what"].startswith("<body"):
            continue  # between the end of the page and its beginning
        assert at["ring"], f"no ring round {at}"
        assert at["clear"], f"something covers {at}"
        if page.evaluate("wanted => document.activeElement.matches(wanted)", wanted):
            return
    raise AssertionError(f"{most} Tabs do not lead to {wanted}")


def access_key(page: Page, letter: str) -> None:
    """Alt and a letter as a keyboard sends them; Playwright's own leaves out the letter that access keys go by."""
    key = {"modifiers": 1, "key": letter, "code": f"Key{letter.upper()}", "unmodifiedText": letter}
    player = page.context.new_cdp_session(page)
    for kind in ("keyDown", "keyUp"):
        player.send("Input.dispatchKeyEvent", {"type": kind, **key, "windowsVirtualKeyCode": ord(letter.upper())})


def enter(page: Page, path: str) -> None:
    """Press Enter and be there."""
    page.keyboard.press("Enter")
    page.wait_for_url(f"**{path}")


def typed(page: Page, line: str) -> bool:
    """Type a line and wait until the page says what it understood of it; whether it asks back."""
    with page.expect_response(lambda answer: parse_qs(urlsplit(answer.url).query).get("line") == [line]) as echo:
        page.keyboard.type(line)
    asked = 'name="sure"' in echo.value.text()
    page.wait_for_selector(
        "#understood [name=sure]" if asked else f'#understood [name=seen][value="{line}"]', state="attached"
    )
    page.wait_for_timeout(100)  # the last piece takes the place of one that came before it
    return asked


def counted(page: Page, line: str) -> None:
    """Wait until the newest of the readings is this line."""
    page.wait_for_selector(f'.lines > li:not(.head) strong:text-is("{line}")')
    page.wait_for_load_state()


def count(page: Page, line: str) -> None:
    """Type a line and count it, insisting where that is offered; the entry box has the focus by itself."""
    page.wait_for_selector("#line:focus")
    if typed(page, line):
        tab_to(page, "[name=sure]")
    page.keyboard.press("Enter")
    counted(page, line)


def tap_count(page: Page, line: str, asked: bool = False) -> None:
    """Count what is in the entry box, by the thumb."""
    page.get_by_role("button", name="Yes, it is so" if asked else "Count it").tap()
    counted(page, line)


def located(page: Page, served: Served) -> None:
    """The refined answer comes by itself, and it is the planted part."""
    page.wait_for_selector(".finding.located", timeout=SLOW)
    page.wait_for_selector("#card:not([data-refined])", timeout=SLOW)
    assert page.locator(".finding").inner_text().startswith("Located")
    assert PLANTED in page.locator(".suspects .who").first.inner_text()
    assert PLANTED in page.locator("#card").inner_text()
    shown = served.case().shown
    assert shown["finding"] == "located" and shown["suspects"][0][0].startswith(PLANTED)
