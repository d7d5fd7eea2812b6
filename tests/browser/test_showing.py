"""Whether the fault shows, said by one of three chips: by thumb, by keyboard, kept within the sitting and no longer."""

from __future__ import annotations

import pytest

from browser.conftest import LAPTOP, PHONE
from browser.pages import NOW, enter, tie
from browser.serving import Served
from probewright.jobs import bench
from probewright.jobs.cases import Intake
from probewright.record import open_book

SLOW = 60_000  # ms, chosen: a refined answer with every core at work on something else


def opened(served: Served) -> None:
    """A mixer on the bench, power on and the tone going."""
    with open_book(served.book) as book:
        bench.open_job(book, Intake("mixer", ticks={}, key="showing"), NOW)
        tie(book, 1)
        enter(book, 1, "set-up: power on, tone")


def chosen(page) -> str:
    return page.locator("#showing input:checked").get_attribute("value")


@pytest.mark.parametrize("size", [LAPTOP, PHONE], ids=["laptop", "phone"])
def test_three_chips_large_enough_for_a_thumb_say_whether_the_fault_shows(window, served: Served, size):
    opened(served)
    page = window(served, size)
    page.goto("/jobs/1")
    chips = page.locator("#showing label")
    assert [chips.nth(n).inner_text().strip() for n in range(3)] == ["Yes", "No", "Can’t tell"]
    for n in range(3):
        box = chips.nth(n).bounding_box()
        assert box is not None and box["height"] >= 44 and box["width"] >= 44
    assert chosen(page) == "yes"
    page.locator("#showing label", has_text="No").click()
    page.fill("#line", "DRVL 0.32 Vpp")
    page.wait_for_selector("#understood .said", timeout=SLOW)
    assert "fault not showing" in page.locator("#understood").inner_text()
    page.get_by_role("button", name="Count it").click()
    page.wait_for_selector("#readings >> text=DRVL 0.32 Vpp; not showing", timeout=SLOW)
    assert served.case().readings[-1].showing == "no"
    assert chosen(page) == "no"  # the fault is as it was
    assert "as with your last line" in page.locator("#showing").inner_text()
    assert page.input_value("#line") == ""  # what was counted is not brought back


def test_by_keyboard_and_only_till_something_is_disturbed(window, served: Served):
    opened(served)
    page = window(served, LAPTOP)
    page.goto("/jobs/1")
    page.focus("#line")
    page.keyboard.type("INL 0.2 Vpp")
    for _ in range(8):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.name") == "showing":
            break
    assert page.evaluate("document.activeElement.name") == "showing"
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    assert chosen(page) == "can't tell"
    page.wait_for_selector("#understood >> text=can't tell", timeout=SLOW)
    page.keyboard.press("Enter")
    page.wait_for_selector("#readings >> text=INL 0.2 Vpp; can't tell", timeout=SLOW)
    assert chosen(page) == "can't tell"
    page.fill("#line", "set-up: power off")
    page.wait_for_selector("#understood .said", timeout=SLOW)
    page.get_by_role("button", name="Count it").click()
    page.wait_for_selector("#readings >> text=set-up: power off", timeout=SLOW)
    assert chosen(page) == "yes"  # nobody has looked since


def test_without_script_the_chip_is_sent_with_the_line(window, served: Served):
    opened(served)
    page = window(served, LAPTOP, java_script_enabled=False)
    page.goto("/jobs/1")
    page.check("#showing input[value=no]", force=True)
    page.fill("#line", "DRVL 0.32 Vpp")
    page.get_by_role("button", name="Count it").click()
    assert "not showing" in page.locator("#understood").inner_text()
    assert chosen(page) == "no"
    page.get_by_role("button", name="Count it").click()
    assert served.case().readings[-1].showing == "no"
