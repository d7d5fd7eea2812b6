"""Nothing that was entered is lost, and nothing counts twice: the network pulled, the program killed, tabs, history."""

from __future__ import annotations

from contextlib import suppress
from importlib.resources import files
from pathlib import Path

import pytest
from playwright.sync_api import Error, Page, Route

from browser.conftest import PHONE
from browser.pages import NOW
from browser.serving import Served
from probewright.jobs import bench
from probewright.jobs.cases import Intake
from probewright.record import open_book

LINE, OTHER = "Q7 c 11.8", "Q7 b 0.9"


@pytest.fixture
def opened(tmp_path: Path) -> None:
    """A job on the bench; no machine file, so that every answer is quick."""
    with open_book(tmp_path / "bench.db") as book:
        bench.open_job(book, Intake("amplifier", ticks={"sound left": "bad"}, key="k"), NOW)


@pytest.fixture
def page(opened, window, served: Served) -> Page:
    page = window(served)
    page.goto("/jobs/1")
    return page


def type_(page: Page, line: str = LINE) -> None:
    """Type a line and wait until the page says what it understood."""
    page.locator("#line").fill(line)
    page.wait_for_selector(f'#understood input[name="seen"][value="{line}"]', state="attached")


def send(page: Page) -> None:
    """Press Enter; nobody may be there to answer."""
    page.locator("#line").press("Enter", no_wait_after=True)


def counted(page: Page, line: str = LINE) -> None:
    page.wait_for_selector(f'.lines strong:text-is("{line}")')


def gone(page: Page) -> None:
    """Wait until the browser says that nobody answers."""
    with pytest.raises(Error, match="net::ERR"):
        page.wait_for_url("chrome-error:**")


def box(page: Page) -> str:
    return page.locator("#line").input_value()


def test_a_line_typed_while_the_network_is_gone_is_there_when_it_is_back(page, served):
    page.context.set_offline(True)
    page.locator("#line").fill(LINE)
    page.context.set_offline(False)
    page.goto("/jobs/1")
    assert box(page) == LINE
    page.wait_for_selector("#understood .piece.said")
    send(page)
    counted(page)
    assert served.lines() == [(LINE, "counts")] and box(page) == ""


def test_a_line_sent_while_the_network_is_gone_is_there_when_it_is_back(page, served):
    type_(page)
    page.context.set_offline(True)
    send(page)
    gone(page)
    assert served.lines() == []
    page.context.set_offline(False)
    page.goto("/jobs/1")
    assert box(page) == LINE
    type_(page)
    send(page)
    counted(page)
    assert served.lines() == [(LINE, "counts")]


def test_a_line_typed_before_the_program_was_killed_counts_after_its_start(page, served):
    type_(page)
    served.kill()
    page.locator("#line").press("End")
    page.keyboard.type("5")
    served.start()
    send(page)  # what is shown was understood before the last figure came: it is shown anew
    page.wait_for_url("**/lines")
    assert box(page) == f"{LINE}5" and served.lines() == []
    send(page)
    counted(page, f"{LINE}5")
    assert served.lines() == [(f"{LINE}5", "counts")]


def test_a_line_that_the_killed_program_never_read_is_there_again(page, served):
    type_(page)
    served.halt()
    send(page)
    page.wait_for_timeout(200)  # it lies in the door
    served.kill()
    served.start()
    gone(page)
    page.goto("/jobs/1")
    assert served.lines() == [] and box(page) == LINE
    type_(page)
    send(page)
    counted(page)
    assert served.lines() == [(LINE, "counts")]


def test_a_line_whose_answer_never_came_counts_once(page, served):
    type_(page)

    def lose_answer(route: Route) -> None:
        route.fetch(max_redirects=0)
        served.kill()
        route.abort()

    page.route("**/lines", lose_answer)
    send(page)
    gone(page)
    page.unroute("**/lines")
    served.start()
    page.go_back()
    if box(page) == LINE and page.locator("#understood .piece.said").count():
        send(page)
    page.goto("/jobs/1")
    counted(page)
    assert served.lines() == [(LINE, "counts")] and box(page) == ""


def test_of_two_tabs_the_stale_one_is_told_so_and_its_line_comes_after(page, served):
    other = page.context.new_page()
    other.goto("/jobs/1")
    type_(page)
    send(page)
    counted(page)
    type_(other, OTHER)
    send(other)
    other.wait_for_selector("text=This job moved on")
    assert box(other) == OTHER and served.lines() == [(LINE, "counts")]
    other.wait_for_selector("#understood .piece.said")
    send(other)
    counted(other, OTHER)
    assert served.lines() == [(LINE, "counts"), (OTHER, "counts")]


def test_a_bare_figure_in_a_stale_tab_answers_the_card_of_that_tab(page, served):
    asked = page.locator("#asked").input_value()
    other = page.context.new_page()
    other.goto("/jobs/1")
    type_(page)
    send(page)
    counted(page)
    other.locator("#line").fill("same")
    send(other)
    other.wait_for_selector("text=This job moved on")
    assert other.locator("#asked").input_value() == asked
    send(other)
    counted(other, "same")
    said = served.case().readings[-1].question.red.removeprefix("swap ")
    assert said and said in asked


def test_history_back_and_sending_again_counts_once(page, served):
    type_(page)
    send(page)
    counted(page)
    page.go_back()
    assert box(page) == ""
    for _ in range(2):
        with page.expect_navigation():
            send(page)
    page.goto("/jobs/1")
    counted(page)
    assert served.lines() == [(LINE, "counts")]


def test_a_page_kept_by_history_sends_its_line_once(page, served):
    """Without a script the first Enter shows the line; that page, kept or sent again, counts once."""
    page.route("**/*.js*", lambda route: route.abort())
    page.reload()
    page.locator("#line").fill(LINE)
    send(page)
    page.wait_for_url("**/lines")
    page.wait_for_selector("#understood .piece.said")
    send(page)
    counted(page)
    with suppress(Error):  # "confirm form resubmission"
        page.go_back()
    with page.expect_navigation():  # confirmed
        page.reload()
    assert page.url.endswith("/lines") and "moved on" in page.content()
    page.goto("/jobs/1")
    counted(page)
    assert served.lines() == [(LINE, "counts")]


def test_a_double_click_counts_once(page, served):
    type_(page)
    page.locator("#entry button.main").dblclick(no_wait_after=True)
    counted(page)
    page.wait_for_load_state()
    assert page.url.endswith("/jobs/1") and box(page) == ""  # nor is anybody told that the job moved on
    assert served.lines() == [(LINE, "counts")]


def test_a_double_click_opens_one_job(page, served):
    page.goto("/jobs/new?kind=amplifier")
    page.get_by_role("button", name="Open the job").dblclick(no_wait_after=True)
    page.wait_for_url("**/jobs/2")
    page.goto("/jobs")
    assert page.locator(".number").count() == 2


def test_a_reload_after_a_line_counts_nothing_again(page, served):
    type_(page)
    send(page)
    counted(page)
    for _ in range(2):
        page.reload()
    counted(page)
    assert served.lines() == [(LINE, "counts")]


def test_a_reload_of_the_page_that_shows_a_line_counts_nothing(page, served):
    page.locator("#line").fill(LINE)
    page.evaluate("document.querySelector('#understood').replaceChildren()")
    page.evaluate("document.getElementById('entry').requestSubmit()")
    page.wait_for_url("**/lines")
    for _ in range(2):
        page.reload()
    assert box(page) == LINE and served.lines() == []


def test_what_a_phone_has_typed_outlives_its_browser_being_ended(opened, window, served):
    page = window(served, PHONE)
    page.goto("/jobs/1")
    page.locator("#line").fill(LINE)
    again = page.context.new_page()
    page.close()
    again.goto("/jobs/1")
    assert box(again) == LINE


def test_undo_pressed_twice_takes_one_line_back(page, served):
    for line in (LINE, OTHER):
        type_(page, line)
        send(page)
        counted(page, line)
    page.get_by_role("button", name=f"Undo {OTHER}").dblclick(no_wait_after=True)
    page.wait_for_selector(f'.undone strong:text-is("{OTHER}")')
    assert served.lines() == [(LINE, "counts"), (OTHER, "undone")]


def test_a_tap_of_the_set_up_sent_twice_counts_once(page, served):
    page.get_by_role("button", name="Power Not said: turn it on").dblclick(no_wait_after=True)
    page.get_by_role("button", name="Power On: turn it off").wait_for()
    page.goto("/jobs/1")
    assert [status for _, status in served.lines()] == ["counts"] and served.case().bench.setup.power == "on"


def test_without_a_script_a_page_that_waits_for_its_answer_keeps_what_is_typed(tmp_path, window, served):
    """A page that loads itself anew would throw the line away; the link leads to the answer instead."""
    with open_book(tmp_path / "bench.db") as book:
        case = bench.open_job(book, Intake("amplifier", ticks={"sound left": "bad"}, key="k"), NOW)
        text = (files("probewright.demo") / "fernside-lm-2.yaml").read_text()
        bench.know(book, case, "file", "tied lm-2", text, "lm-2", NOW)
    page = window(served, java_script_enabled=False)
    page.goto("/jobs/1")
    page.locator("#line").fill(LINE)
    page.wait_for_timeout(8000)  # longer than such a page used to wait
    assert box(page) == LINE and page.url.endswith("/jobs/1")
    page.locator("#line").press("Enter")
    page.wait_for_timeout(8000)
    assert box(page) == LINE and page.locator(".piece").is_visible()
    assert page.get_by_role("link", name="Show the refined answer").count() <= 1


def test_a_place_pressed_over_a_line_not_sent_brings_the_line_back_on_demand(page):
    type_(page)
    page.goto("/jobs/1?at=OPAL")
    assert box(page) == "OPAL "
    page.locator("#line").press_sequentially("2.1")
    page.reload()
    page.get_by_role("button", name=f"Bring back: {LINE}").click()
    assert box(page) == LINE


def test_no_address_carries_the_token_of_the_session(page):
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    type_(page)
    token = page.locator('#entry input[name="token"]').input_value()
    assert any("/echo?" in address for address in asked) and not any(token in address for address in asked)
