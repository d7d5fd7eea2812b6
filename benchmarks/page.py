"""The bench page in a browser: from a reading counted to the cards on the screen; how light and quick it is."""

from __future__ import annotations

import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchmarks.quick import QUICK, REFINED
from benchmarks.table import Row
from probewright.jobs import adding, bench
from probewright.jobs.cases import Intake
from probewright.record import open_book, stamp

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

READY, WEIGHT = 1000.0, 400.0  # ms, KB; the goals of the bench page
SLOWED = 4  # times, the phone of the goal
WIRE = {"offline": False, "latency": 40, "downloadThroughput": 1.25e6, "uploadThroughput": 1.25e6}  # ms, B/s: 10 Mbit/s
PAUSE = 5.0  # s, chosen: placing two probes takes longer; the program works ahead meanwhile
PATIENCE = 60_000  # ms, chosen
PHONE: dict[str, Any] = {"viewport": {"width": 390, "height": 844}, "is_mobile": True, "has_touch": True}
ARGUMENTS = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
             "--disable-component-update", "--disable-sync")  # fmt: skip

# In the page: when the form was sent, when a card was first painted, when the refined one was.
WATCH = """
addEventListener("submit", () => sessionStorage.setItem("sent", performance.timeOrigin + performance.now()));
const painted = then => requestAnimationFrame(() => requestAnimationFrame(() =>
  then(performance.timeOrigin + performance.now())));
const watch = () => {
  const card = document.getElementById("card");
  if (card && card.querySelector(".cardhead")) {
    if (!window.rough) { window.rough = -1; painted(at => { window.rough = at; }); }
    if (!card.dataset.refined && !window.refined) { window.refined = -1; painted(at => { window.refined = at; }); }
  }
};
new MutationObserver(watch).observe(document, { childList: true, subtree: true, attributes: true });
"""

LOADED = """Math.max(performance.getEntriesByType("navigation")[0].loadEventEnd,
  ...performance.getEntriesByName("first-contentful-paint").map(one => one.startTime))"""


def on_screen(readings: int | None = None, visits: int = 5, pause: float = PAUSE) -> Iterator[Row]:
    """The mixer's recorded lines typed and counted one by one; then visits of the page by a slow phone.

    readings: at most so many are timed; pause: s between two, as a person needs to place the probes.
    """
    chromium = shutil.which("chromium")
    try:
        from playwright.sync_api import sync_playwright
    except ModuleNotFoundError:
        chromium = None
    if chromium is None:
        yield Row("bench page, chromium is missing: sudo apt-get install chromium, then make bench", float("nan"))
        return
    with tempfile.TemporaryDirectory() as folder, serving(Path(folder) / "bench.db") as address:
        with sync_playwright() as player:
            browser = player.chromium.launch(executable_path=chromium, args=ARGUMENTS)
            strangers: list[str] = []
            yield from counting(browser, address, strangers, readings, pause)
            yield from visiting(browser, address, strangers, visits)
            yield Row("requests to other hosts", float(len(strangers)), "", 0.0, "<=", " ".join(strangers[:3]))
            browser.close()


@contextmanager
def serving(book: Path) -> Iterator[str]:
    """The command on a book with the mixer's job, before its first answer."""
    with open_book(book) as opened:
        told = Intake("mixer", ticks={"sound left": "bad", "sound right": "good"}, words="One side has gone quiet.")
        case = bench.open_job(opened, told, stamp())
        text = (files("probewright.demo") / "fernside-lm-2.yaml").read_text("utf-8")
        adding.tie(opened, case, text, adding.propose_tie(case, text, "fernside-lm-2.yaml", {}), stamp())
    command = [str(Path(sys.executable).with_name("probewright")), "serve", "--port", "0"]
    with subprocess.Popen(
        command, env=os.environ | {"PROBEWRIGHT_BOOK": str(book)}, stdout=subprocess.PIPE, text=True
    ) as server:  # fmt: skip
        assert server.stdout is not None
        said = re.search(r"http://[\d.:]+", server.stdout.readline())
        assert said is not None
        try:
            yield said[0]
        finally:
            server.kill()


def opened(browser: Browser, address: str, strangers: list[str], **like: Any) -> BrowserContext:
    """A fresh browser; requests to other hosts are noted."""
    context = browser.new_context(base_url=address, **like)
    context.set_default_timeout(PATIENCE)
    context.on("request", lambda one: None if one.url.startswith(f"{address}/") else strangers.append(one.url))
    context.add_init_script(WATCH)
    return context


def counting(
    browser: Browser, address: str, strangers: list[str], readings: int | None, pause: float
) -> Iterator[Row]:  # fmt: skip
    """Each recorded line; the readings of a meter are timed."""
    context = opened(browser, address, strangers)
    page = context.new_page()
    start = time.perf_counter()
    page.goto("/jobs/1")
    page.wait_for_selector("#card .cardhead")
    yield Row("first card of a job on a machine file, from its address", 1e3 * (time.perf_counter() - start), "ms")
    times: list[tuple[str, float, float]] = []
    said = (files("probewright.demo") / "fernside-lm-2.readings").read_text("utf-8").splitlines()
    for line in said:
        if not line or line.startswith("#") or len(times) == readings:
            continue
        timed = ":" not in line  # what works and the set-up are said with a colon
        if timed:
            page.wait_for_selector("#card:not([data-refined])")
            page.wait_for_timeout(1e3 * pause)
        send(page, line)
        page.wait_for_selector(f'.lines strong:text-is("{line}")')
        if timed:
            page.wait_for_selector("#card:not([data-refined]) .cardhead")
            page.wait_for_timeout(100)
            sent, *shown = page.evaluate("[Number(sessionStorage.getItem('sent')), window.rough, window.refined]")
            times.append((line, shown[0] - sent, shown[1] - sent))
    context.close()
    rough_ones, refined_ones = [one[1] for one in times], [one[2] for one in times]
    for what, figures, goal in (("rough", rough_ones, QUICK), ("refined", refined_ones, REFINED)):
        name = f"{what} card on the screen, median of {len(times)} readings"
        yield Row(name, statistics.median(figures), "ms", goal, "<=", f"longest {max(figures):.0f} ms")
    for line, rough, refined in times:
        yield Row(f"  after {line}", rough, "ms", note=f"refined {refined:.0f} ms")


def send(page: Page, line: str) -> None:
    """Type a line, wait for what was understood, count it, insisting where that is offered."""
    page.locator("#line").fill(line)
    understood = page.locator(f'#understood [name=seen][value="{line}"], #understood [name=sure]')
    understood.wait_for(state="attached")
    insist = page.locator("#understood [name=sure]")
    (insist if insist.count() else page.locator("#entry button.main")).click(no_wait_after=True)


def visiting(browser: Browser, address: str, strangers: list[str], visits: int) -> Iterator[Row]:
    """The bench page of that job on a slowed phone that never saw it: until it is loaded and painted; what was sent."""
    ready, sent, requests = [], [], 0
    for _ in range(visits):
        context = opened(browser, address, strangers, **PHONE)
        page = context.new_page()
        player = context.new_cdp_session(page)
        player.send("Network.enable")
        player.send("Network.emulateNetworkConditions", WIRE)
        player.send("Emulation.setCPUThrottlingRate", {"rate": SLOWED})
        lengths: list[float] = []
        player.on("Network.loadingFinished", lambda one, lengths=lengths: lengths.append(one["encodedDataLength"]))
        page.goto("/jobs/1", wait_until="load")
        page.wait_for_timeout(300)
        ready.append(page.evaluate(LOADED))
        sent.append(sum(lengths) / 1e3)
        requests = len(lengths)
        context.close()
    yield Row(f"page ready, phone slowed {SLOWED} times, 10 Mbit/s, median of {visits}", statistics.median(ready), "ms",
              READY, "<=", f"longest {max(ready):.0f} ms")  # fmt: skip
    yield Row("sent for it, nothing kept from before", max(sent), "KB", WEIGHT, "<=", f"{requests} requests")
