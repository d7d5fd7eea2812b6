"""A machine opened and put together on a phone, without a script, one button after the other."""

from __future__ import annotations

from pathlib import Path

from browser.conftest import PHONE
from browser.pages import MIXER, NOW, demo_text
from browser.serving import ServedHere
from probewright.jobs import bench
from probewright.jobs.cases import Intake
from probewright.jobs.putting_together import refit
from probewright.record import open_book


def test_opened_and_put_together_with_a_screw_left_over(window, tmp_path: Path):
    with open_book(tmp_path / "bench.db") as book:
        case = bench.open_job(book, Intake("mixer", model="Fernside LM-2", key="k"), NOW)
        bench.know(book, case, "file", MIXER, demo_text(), MIXER, NOW)
    served = ServedHere(tmp_path / "bench.db")
    page = window(served, PHONE, java_script_enabled=False)
    page.goto("/jobs/1/strip")
    for layer in ("lid", "board"):
        assert page.locator(".hand .big").inner_text() == layer
        with page.expect_navigation():
            page.locator(".hand button.main").tap()
    page.get_by_role("link", name="Putting together").tap()
    page.wait_for_selector(".ticks-list")
    for _ in range(page.locator(".ticks-list li").count()):
        if "4 screws M3 6 mm" in page.locator(".hand .big").inner_text():
            page.locator(".hand").get_by_label("How many").fill("3")
        with page.expect_navigation():
            page.locator(".hand button.main").tap()
    assert page.locator(".hand").count() == 0
    assert "1 screw M3 6 mm left over" in page.get_by_role("alert").inner_text()
    served.stop()
    with open_book(tmp_path / "bench.db") as book:
        view = refit(bench.find_case(book, 1))
    assert [(one.out, one.back) for one in view.counts] == [(4, 3), (5, 5)] and all(one.checked for one in view.layers)
