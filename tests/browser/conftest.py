"""A browser a worker, a fresh book and server a test, and no request to any other host."""

from __future__ import annotations

import json
import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route, sync_playwright

from browser.pages import make_book
from browser.serving import Served, ServedHere

ARGUMENTS = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
             "--disable-component-update", "--disable-sync")  # fmt: skip
LAPTOP: dict[str, Any] = {"viewport": {"width": 1366, "height": 768}}
PHONE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844}, "is_mobile": True, "has_touch": True, "device_scale_factor": 2,
}  # fmt: skip

PATIENCE = 20_000  # ms, chosen: every core may be at work on something else

Window = Callable[..., Page]


@pytest.fixture(scope="package")
def browser(chromium: str) -> Iterator[Browser]:
    """Chromium, started once; ended before other tests, whose event loops it would be in the way of."""
    with sync_playwright() as player:
        opened = player.chromium.launch(executable_path=chromium, args=ARGUMENTS)
        yield opened
        opened.close()


def guarded(browser: Browser, address: str, strangers: list[str], **like: Any) -> BrowserContext:
    """A fresh browser at an address; what is asked of any other is refused and noted."""

    def refuse(route: Route) -> None:
        strangers.append(route.request.url)
        route.abort()

    context = browser.new_context(base_url=address, **like)
    context.set_default_timeout(PATIENCE)
    context.route(lambda url: not url.startswith((f"{address}/", "data:", "blob:")), refuse)
    return context


@pytest.fixture
def window(browser: Browser) -> Iterator[Window]:
    """Opens a page of a fresh browser; the test fails when anything was asked of another host."""
    opened: list[BrowserContext] = []
    strangers: list[str] = []

    def open_(served: Served | ServedHere, like: dict[str, Any] = LAPTOP, **more: Any) -> Page:
        opened.append(guarded(browser, served.address, strangers, **{**like, **more}))
        return opened[-1].new_page()

    yield open_
    for context in opened:
        context.close()
    assert strangers == []


@pytest.fixture(scope="session")
def every_state(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, str]]:
    """A book with a job in every state, made by whichever worker comes first, and what the braces of a path mean."""
    made = tmp_path_factory.getbasetemp().parent / "every-state"
    done = made / "named.json"
    try:
        made.mkdir()
    except FileExistsError:
        end = time.monotonic() + 300.0  # s, chosen: as long as the first worker may take with every core busy
        while not done.exists() and time.monotonic() < end:
            time.sleep(0.1)
    else:
        named = make_book(made / "bench.db")
        (made / "named.new").write_text(json.dumps(named))
        (made / "named.new").rename(done)
    return made / "bench.db", json.loads(done.read_text())


@pytest.fixture(scope="package")
def own_copy(tmp_path_factory: pytest.TempPathFactory, every_state: tuple[Path, dict[str, str]]) -> Path:
    """That book, to be written to."""
    there = tmp_path_factory.mktemp("copy") / "bench.db"
    shutil.copytree(every_state[0].parent, there.parent, dirs_exist_ok=True)
    return there


@pytest.fixture(scope="package")
def shown(own_copy: Path, every_state: tuple[Path, dict[str, str]]) -> Iterator[tuple[ServedHere, dict[str, str]]]:
    """The pages on a book with a job in every state."""
    served = ServedHere(own_copy)
    yield served, every_state[1]
    served.stop()


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """The command on the book of this test; what the book must hold first is written before this is asked for."""
    running = Served(tmp_path / "bench.db")
    yield running
    running.kill()
